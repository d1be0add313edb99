"""Ports, collector and shelf, drawn before any layout is looked for.

Head frame: x along the row of ports, y up the head face, z out of the head.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from problem_set.fillets import Ends, Floats, Rules

Random = np.random.Generator


@dataclass(frozen=True)
class Plan:
    """What kind of problem is wanted.

    Attributes:
        style: ``na``, ``turbo`` or ``vee`` (two heads, two rings).
        tubes: how many.
        margin: least margin of the planted answer [mm].
        reach: ``near`` (target within 3 % of the floor), ``short`` or ``long``.
        crowded: many obstacles, or few.
        radii: how many different radii are on the shelf.
        uneven: ports unevenly spaced, at different heights and directions.
        unequal: a target of its own for each tube.
        pins: how many tubes have their slot given.
        one_ring: eight tubes to one collector, not to two.
        bends: how many bends a planted path may have.
    """

    style: str
    tubes: int
    margin: float
    reach: str
    crowded: bool
    radii: int
    uneven: bool
    unequal: bool = False
    pins: int = 0
    one_ring: bool = False
    bends: tuple[int, ...] = (2, 3, 4)


@dataclass(frozen=True)
class Bar:
    """Round bar: every point within ``radius`` of the axis from ``begin`` to ``end`` [mm]."""

    name: str
    begin: Floats
    end: Floats
    radius: float


@dataclass(frozen=True)
class Scene:
    """Everything fixed: starts, slots, stubs, bars, shelf.

    ``ring`` says which collector each slot belongs to; ``home`` the one for each tube.
    """

    starts: tuple[tuple[Floats, Floats], ...]
    slots: tuple[tuple[Floats, Floats], ...]
    stubs: tuple[float, ...]
    transitions: tuple[Bar, ...]
    bodies: tuple[Bar, ...]
    rules: Rules
    radius: float
    gap: float
    ring: tuple[int, ...]
    home: tuple[int, ...]
    bends: tuple[int, ...] = (2, 3, 4)

    def ends(self, tube: int, slot: int) -> Ends:
        """Where a tube begins and ends."""
        (p, z), (q, w) = self.starts[tube], self.slots[slot]
        return Ends(p, z, q, w)


_OD = {"na": (38.0, 42.4, 44.5, 48.3, 50.8, 54.0), "turbo": (33.7, 38.0, 42.4, 44.5)}


def unit(v: Floats) -> Floats:
    """Its direction."""
    return np.asarray(v / np.linalg.norm(v))


def _axes(z: Floats) -> tuple[Floats, Floats]:
    hint = np.eye(3)[int(np.argmin(np.abs(z)))]
    x = unit(hint - (hint @ z) * z)
    return x, np.cross(z, x)


def drawn(rng: Random, plan: Plan) -> Scene:
    """A scene of the wanted kind."""
    od = float(rng.choice(_OD["turbo" if plan.style == "turbo" else "na"]))
    if plan.tubes >= 6:
        od = min(od, 48.3)
    rules = _shelf(rng, plan, od)
    gap = float(rng.choice([3.0, 4.0, 5.0, 6.0, 8.0]))
    pitch = max(float(rng.uniform(85.0, 110.0)), od + gap + 34.0)
    if plan.style == "vee":
        return _vee(rng, plan, od, gap, rules, pitch)
    starts = _ports(rng, plan, plan.tubes, pitch)
    middle = np.mean([p for p, _ in starts], axis=0)
    rings = (4, 4) if plan.tubes == 8 and not plan.one_ring else (plan.tubes,)
    slots, stubs, bodies = [], [], []
    for i, count in enumerate(rings):
        here = middle
        if len(rings) == 2:
            here = middle + np.array([(i - 0.5) * 4.0 * pitch, 0.0, 0.0])
        at, axis = _collector(rng, plan, here, pitch)
        if len(rings) == 2:
            at = here + np.array([0.0, 0.0, 0.0]) + (at - here) * np.array([0.4, 1.0, 1.0])
            axis = unit(axis * np.array([0.5, 1.0, 1.0]))
        ring = _ring(rng, count, od, at, axis)
        slots += ring[0]
        stubs += ring[1]
        bodies += _cone(rng, i, count, od, at, axis, ring[1][0])
    home = tuple(i * len(rings) // plan.tubes for i in range(plan.tubes))
    ring_of = tuple(i for i, count in enumerate(rings) for _ in range(count))
    return Scene(
        tuple(starts),
        tuple(slots),
        tuple(stubs),
        _transitions(rng, starts, od),
        tuple(bodies),
        rules,
        0.5 * od,
        gap,
        ring_of,
        home,
        plan.bends,
    )


def _shelf(rng: Random, plan: Plan, od: float) -> Rules:
    low, high = (1.0, 1.5) if plan.style == "turbo" or plan.reach == "near" else (1.0, 2.0)
    first = round(od * float(rng.uniform(low, high)), 1)
    radii, most = [first], [math.radians(float(rng.choice([120.0, 150.0, 180.0])))]
    if plan.radii == 2:
        radii.append(round(min(2.0 * od, first + od * float(rng.uniform(0.25, 0.8))), 1))
        most.append(math.radians(float(rng.choice([90.0, 120.0, 180.0]))))
    straight = float(rng.choice([0.0, 0.0, 5.0, 10.0]))
    at_start = float(rng.choice([5.0, 10.0, 15.0, 20.0]))
    at_end = float(rng.choice([15.0, 20.0, 30.0]))
    if plan.style == "turbo":
        straight, at_start, at_end = min(straight, 5.0), min(at_start, 10.0), min(at_end, 15.0)
    return Rules(tuple(radii), tuple(most), straight, at_start, at_end)


def _ports(rng: Random, plan: Plan, count: int, pitch: float) -> list[tuple[Floats, Floats]]:
    way = 1.0 if rng.random() < 0.6 else -1.0
    down = math.radians(float(rng.uniform(0.0, 12.0)))
    height = float(rng.uniform(50.0, 75.0))
    starts, x = [], 0.0
    for i in range(count):
        yaw, tilt, y = 0.0, down, 0.0
        if plan.uneven:
            yaw = math.radians(float(rng.uniform(-6.0, 6.0)))
            tilt += math.radians(float(rng.uniform(-4.0, 4.0)))
            y = float(rng.uniform(-8.0, 8.0))
        z = np.array(
            [math.sin(yaw), -math.sin(tilt) * math.cos(yaw), math.cos(tilt) * math.cos(yaw)]
        )
        starts.append((np.array([x, y, height]), unit(z)))
        x += way * (pitch * (float(rng.uniform(0.97, 1.25)) if plan.uneven and i % 2 else 1.0))
    return starts


def _collector(rng: Random, plan: Plan, middle: Floats, pitch: float) -> tuple[Floats, Floats]:
    """Axis point at the slots and direction of the gas, somewhere a fabricator would put it."""
    side = 1.0 if rng.random() < 0.5 else -1.0
    width = pitch * plan.tubes / 2.0
    if plan.style == "turbo":
        at = np.array(
            [rng.uniform(-0.4, 0.4) * width, rng.uniform(-60, 130), rng.uniform(130, 230)]
        )
        axis = [
            np.array([side * rng.uniform(0.6, 1.0), rng.uniform(-0.5, 0.3), rng.uniform(0.0, 0.6)]),
            np.array([side * rng.uniform(0.0, 0.5), -1.0, rng.uniform(0.2, 0.9)]),
            np.array([side * rng.uniform(0.0, 0.6), rng.uniform(-0.3, 0.6), 1.0]),
        ][int(rng.integers(3))]
        if axis[1] < -0.8:
            at[1] = rng.uniform(-140.0, -40.0)
        return middle + at, unit(axis)
    kind = int(rng.integers(3))
    if kind == 0:  # behind and below, running rearward
        at = np.array(
            [side * rng.uniform(0.4, 1.2) * width, rng.uniform(-380, -220), rng.uniform(90, 220)]
        )
        axis = np.array([side, rng.uniform(-0.4, 0.1), rng.uniform(-0.1, 0.3)])
    elif kind == 1:  # below, running down
        at = np.array(
            [side * rng.uniform(0.0, 0.5) * width, rng.uniform(-460, -300), rng.uniform(110, 260)]
        )
        axis = np.array([side * rng.uniform(0.0, 0.5), -1.0, rng.uniform(-0.1, 0.4)])
    else:  # out to the side of the car
        at = np.array(
            [side * rng.uniform(0.0, 0.5) * width, rng.uniform(-280, -120), rng.uniform(250, 420)]
        )
        axis = np.array([side * rng.uniform(0.0, 0.7), rng.uniform(-0.9, -0.3), 1.0])
    return middle + at, unit(axis)


def _ring(
    rng: Random, count: int, od: float, at: Floats, axis: Floats
) -> tuple[list[tuple[Floats, Floats]], list[float]]:
    merge = math.radians(float(rng.uniform(7.0, 15.0)))
    spacing = od + float(rng.uniform(1.0, 4.0))
    around = 0.5 * spacing / math.sin(math.pi / count)
    roll = float(rng.uniform(0.0, 2.0 * math.pi))
    stub = float(rng.uniform(0.25, 0.7)) * 0.5 * od / math.tan(merge)
    x, y = _axes(axis)
    slots = []
    for i in range(count):
        t = roll + 2.0 * math.pi * i / count
        out = math.cos(t) * x + math.sin(t) * y
        slots.append((at + around * out, unit(math.cos(merge) * axis - math.sin(merge) * out)))
    return slots, [stub] * count


def _cone(
    rng: Random, index: int, count: int, od: float, at: Floats, axis: Floats, stub: float
) -> list[Bar]:
    wide = od * {2: 0.9, 3: 1.0, 4: 1.1, 6: 1.4, 7: 1.6, 8: 1.8}.get(count, 1.2)
    outlet = od * {2: 0.65, 3: 0.7, 4: 0.75, 6: 0.9, 7: 0.95, 8: 1.0}.get(count, 0.8)
    begin = at + (stub + 0.6 * wide) * axis
    middle = begin + float(rng.uniform(60.0, 110.0)) * axis
    end = middle + float(rng.uniform(80.0, 200.0)) * axis
    return [
        Bar(f"cone_{index + 1}", begin, middle, round(wide, 2)),
        Bar(f"outlet_{index + 1}", middle, end, round(outlet, 2)),
    ]


def _transitions(rng: Random, starts: list[tuple[Floats, Floats]], od: float) -> tuple[Bar, ...]:
    length = float(rng.uniform(30.0, 50.0))
    radius = round(0.5 * od + float(rng.uniform(0.5, 3.0)), 2)
    return tuple(
        Bar(f"transition_{i + 1}", p - length * z, p, radius) for i, (p, z) in enumerate(starts)
    )


def _vee(rng: Random, plan: Plan, od: float, gap: float, rules: Rules, pitch: float) -> Scene:
    """Two heads, each with its own row and ring; the second head turned about the crank."""
    each = plan.tubes // 2
    part = replace(plan, style="na", tubes=each)
    turn = math.radians(180.0 + float(rng.choice([60.0, 90.0])))
    c, s = math.cos(turn), math.sin(turn)
    rotate = np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
    apart = np.array([float(rng.uniform(-30.0, 30.0)), -30.0, -float(rng.uniform(330.0, 400.0))])
    starts, slots, stubs, bodies = [], [], [], []
    for bank in range(2):
        row = _ports(rng, part, each, pitch)
        middle = np.mean([p for p, _ in row], axis=0)
        at, axis = _collector(rng, part, middle, pitch)
        ring = _ring(rng, each, od, at, axis)
        cone = _cone(rng, bank, each, od, at, axis, ring[1][0])
        if bank == 1:
            flip = rotate @ np.diag([1.0, -1.0, 1.0])
            row = [(flip @ p + apart, flip @ z) for p, z in row]
            ring = ([(flip @ q + apart, flip @ w) for q, w in ring[0]], ring[1])
            cone = [
                replace(b, begin=flip @ b.begin + apart, end=flip @ b.end + apart) for b in cone
            ]
        starts += row
        slots += ring[0]
        stubs += ring[1]
        bodies += cone
    return Scene(
        tuple(starts),
        tuple(slots),
        tuple(stubs),
        _transitions(rng, starts, od),
        tuple(bodies),
        rules,
        0.5 * od,
        gap,
        tuple(i // each for i in range(plan.tubes)),
        tuple(i // each for i in range(plan.tubes)),
    )
