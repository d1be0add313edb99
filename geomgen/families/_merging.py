"""N tubes on a circle into one: the geometry that every family with a merge shares.

The tubes stand on a circle and lean inwards by the merge angle, so each cope is a plane
cut of a round tube.

Going with the gas: entry face, first join (neighbouring bores meet), the tubes' walls
close round the axis (the merge spike is their own edges), and the trim plane, square to
the axis, where the lobed bore has the throat's area; a ruled cone leads to the round outlet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from geomgen.families import AreaAt, DoesNotFit, Ends, Envelope, Piece, TubeSize
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, Plane, Vec
from geomgen.profiles.loops import Arc, CurvedLoop, EllipseArc, Line, Point2, area
from geomgen.recipe.nodes import Node, Placed, RuledWall, Section, Trim, Tube

_CONE_ANGLE = math.radians(7.0)  # wall of the cone to the outlet; common practice, no source
_CONE_LEAST = 30.0


@dataclass(frozen=True)
class MergeSize:
    """What a merge is made to [mm, rad].

    Attributes:
        angle: from a tube's axis to the merge's axis.
        entry_gap: between neighbouring tubes at the entry face.
        outlet: round tube behind the cone.
        throat: diameter of a circle with the bore area wanted at the trim plane; the
            outlet's bore when None.
        key: of the spec's section that says all this, for messages.
        outlet_key: below that, of the outlet's size.
    """

    angle: float
    entry_gap: float
    outlet: TubeSize
    throat: float | None = None
    key: tuple[str | int, ...] = ("collector",)
    outlet_key: tuple[str, ...] = ("outlet", "od")


@dataclass(frozen=True)
class Merged:
    """A merge laid out in the world, from its slots to the round end of its cone.

    Attributes:
        home: its own frame at the entry face; x is tube 0's side.
        slots: entry poses in order round it.
        ends: length from a slot to ``entry``, ``first-join`` and ``throat`` [mm].
        stubs: metal and bore of each tube.
        cone: metal and bore of the cone.
        envelopes: of stubs and cone, slots counted from 0.
        exit: frame at the cone's round end.
        stations: bore area from slot to the cone's end.
        centre: station of the cone's end along a stub's axis [mm].
        facts: further numbers, by name with unit suffix.
    """

    home: Frame
    slots: tuple[Frame, ...]
    ends: Ends
    stubs: tuple[tuple[Node, Node], ...]
    cone: tuple[Node, Node]
    envelopes: tuple[Envelope, ...]
    exit: Frame
    stations: tuple[AreaAt, ...]
    facts: tuple[tuple[str, float], ...]

    @property
    def length(self) -> float:
        """From a slot to the cone's end, along the gas [mm]."""
        return self.stations[-1].station

    def behind_join(self) -> float:
        """From the first join to the cone's end, along the gas [mm]."""
        return self.length - dict(self.ends)["first-join"]

    def pieces(self, first_slot: int = 0, cone: str = "cone") -> tuple[Piece, ...]:
        """The metal, slots counted from ``first_slot``."""
        stubs = (Piece("stub", first_slot + i, node) for i, (node, _) in enumerate(self.stubs))
        return (*stubs, Piece(cone, None, self.cone[0]))

    @property
    def gas(self) -> tuple[Node, ...]:
        """The bores."""
        return (*(bore for _, bore in self.stubs), self.cone[1])


@lru_cache(maxsize=64)
def _made(
    size: MergeSize, tube: TubeSize, count: int
) -> tuple[Array, float, Cone, tuple[AreaAt, ...]]:
    """What does not depend on where the merge stands."""
    array = Array(size, tube, count)
    trim = array.trim_station()
    cone = array.cone(trim)
    return array, trim, cone, _stations(array, trim, cone)


def merge(home: Frame, size: MergeSize, tube: TubeSize, count: int) -> Merged:
    """Lay out a merge.

    Args:
        home: frame at its entry face; z is the way the gas goes, x is tube 0's side.
        size: what it is made to.
        tube: the tubes that enter.
        count: how many, at least 2.

    Raises:
        DoesNotFit: the numbers leave no closed merge.
    """
    array, trim, cone, stations = _made(size, tube, count)
    turned = [home.rolled(array.azimuth(i)) for i in range(count)]
    slots = tuple(turn.carried(array.slot()) for turn in turned)
    metal, bore = array.stub(trim)
    return Merged(
        home=home,
        slots=slots,
        ends=(
            ("entry", 0.0),
            ("first-join", array.first_join() / array.cos),
            ("throat", trim / array.cos),
        ),
        stubs=tuple((Placed(metal, turn), Placed(bore, turn)) for turn in turned),
        cone=(Placed(cone.metal, home), Placed(cone.bore, home)),
        envelopes=_envelopes(array, home, slots, trim, cone.length),
        exit=home.moved(trim + cone.length),
        stations=stations,
        facts=(
            ("merge_angle_deg", math.degrees(size.angle)),
            ("included_angle_deg", 2.0 * math.degrees(size.angle)),
            ("first_join_from_entry_mm", array.first_join()),
            ("throat_from_entry_mm", trim),
            ("throat_area_mm2", array.lobed_area(trim, tube.inner_radius)),
            ("cone_length_mm", cone.length),
        ),
    )


class Cone:
    """The ruled wall from lobed section to round outlet, in the collector's own frame."""

    def __init__(
        self,
        lobes: tuple[CurvedLoop, CurvedLoop],
        rounds: tuple[CurvedLoop, CurvedLoop],
        at: float,
        length: float,
    ) -> None:
        self.length = length
        near, far = Frame().moved(at), Frame().moved(at + length)
        outer = (Section(near, lobes[0]), Section(far, rounds[0]))
        inner = (Section(near, lobes[1]), Section(far, rounds[1]))
        self.metal: Node = RuledWall(outer, inner)
        self.bore: Node = RuledWall(inner)
        self.inner = (lobes[1], rounds[1])


class Array:
    """The tubes' geometry in the collector's own frame: z along its axis, entry at z = 0."""

    def __init__(self, size: MergeSize, tube: TubeSize, count: int) -> None:
        self.size, self.tube, self.count = size, tube, count
        self.alpha = size.angle
        self.beta = math.pi / count
        self.sin, self.cos, self.tan = (
            math.sin(self.alpha),
            math.cos(self.alpha),
            math.tan(self.alpha),
        )
        self.k = self.sin * math.sin(self.beta)  # approach to the half-way plane per mm of tube
        self.q = math.sqrt(1.0 - self.k**2)
        self.rho = (tube.outer_radius * self.q + size.entry_gap / 2.0) / math.sin(self.beta)

    def azimuth(self, index: int) -> float:
        """Direction of a tube from the axis [rad]."""
        return 2.0 * self.beta * index

    def slot(self) -> Frame:
        """Entry pose of the tube at azimuth 0."""
        return Frame((self.rho, 0.0, 0.0), (self.cos, 0.0, self.sin), (-self.sin, 0.0, self.cos))

    def rho_at(self, z: float) -> float:
        """Distance of a tube's axis from the collector's at a station [mm]."""
        return self.rho - z * self.tan

    def first_join(self) -> float:
        """Station of the point, nearest the ports, where neighbouring bores meet [mm].

        The bore cuts the half-way plane in an ellipse; this is the least axial coordinate
        on it, in closed form.
        """
        r, k, q = self.tube.inner_radius, self.k, self.q
        along = self.cos / (k * q)
        across = math.sqrt(max(self.sin**2 - (k * self.cos / q) ** 2, 0.0))
        return self.rho * math.sin(self.beta) * self.cos / k - r * math.hypot(along, across)

    def lobes(self, z: float, radius: float) -> CurvedLoop:
        """Section of all tubes of a radius, square to the axis: one elliptical arc a tube.

        The station is one where each tube holds the axis.
        """
        rho = self.rho_at(z)
        major = radius / self.cos
        # Where the ray half-way to the neighbour leaves the ellipse:
        #   ((t cos b - rho) / major)^2 + (t sin b / radius)^2 = 1
        cb, sb = math.cos(self.beta), math.sin(self.beta)
        a = (cb / major) ** 2 + (sb / radius) ** 2
        b = -2.0 * cb * rho / major**2
        c = (rho / major) ** 2 - 1.0
        t = (-b + math.sqrt(b * b - 4.0 * a * c)) / (2.0 * a)
        half = math.atan2(t * sb / radius, (t * cb - rho) / major)
        return tuple(
            EllipseArc(
                (rho * math.cos(phi), rho * math.sin(phi)), major, radius, phi, -half, 2.0 * half
            )
            for phi in (self.azimuth(i) for i in range(self.count))
        )

    def lobed_area(self, z: float, radius: float) -> float:
        """Area inside the lobes [mm2]."""
        return area(self.lobes(z, radius))

    def trim_station(self) -> float:
        """Station where the lobed bore has the throat's area [mm]."""
        inner = self.tube.inner_radius
        bore = 2.0 * self.size.outlet.inner_radius
        wanted = math.pi / 4.0 * (self.size.throat or bore) ** 2
        # The bores close round the axis where it enters each of them.
        near = (self.rho - 0.98 * inner / self.cos) / self.tan
        far = self.rho / self.tan
        most, least = self.lobed_area(near, inner), self.lobed_area(far, inner)
        if not least < wanted < most:
            low, high = (2.0 * math.sqrt(x / math.pi) for x in (least, most))
            key = ("throat",) if self.size.throat else self.size.outlet_key
            raise DoesNotFit(
                (*self.size.key, *key),
                f"a throat of {2.0 * math.sqrt(wanted / math.pi):.1f} mm bore",
                f"between {low:.1f} and {high:.1f} mm for these tubes",
                "choose another outlet or throat",
            )
        for _ in range(200):
            mid = 0.5 * (near + far)
            if self.lobed_area(mid, inner) > wanted:
                near = mid
            else:
                far = mid
        if near <= self.first_join():
            raise DoesNotFit(
                (*self.size.key, "merge_angle"),
                f"{math.degrees(self.alpha):g} deg",
                "an angle at which the bores join before the throat",
                "choose a smaller merge angle or a smaller throat",
            )
        return near

    def cone(self, at: float) -> Cone:
        """From the trim plane to the round outlet."""
        sizes = (
            (self.tube.outer_radius, self.size.outlet.outer_radius),
            (self.tube.inner_radius, self.size.outlet.inner_radius),
        )
        lobes = [self.lobes(at, radius) for radius, _ in sizes]
        rounds = [self._round(radius) for _, radius in sizes]
        change = max(
            abs(math.hypot(*_at(segment, f)) - radius)
            for loop, (_, radius) in zip(lobes, sizes, strict=True)
            for segment in loop[:1]
            for f in (0.0, 0.5)
        )
        length = max(_CONE_LEAST, 5.0 * math.ceil(change / math.tan(_CONE_ANGLE) / 5.0))
        return Cone((lobes[0], lobes[1]), (rounds[0], rounds[1]), at, length)

    def _round(self, radius: float) -> CurvedLoop:
        return tuple(
            Arc((0.0, 0.0), radius, self.azimuth(i) - self.beta, 2.0 * self.beta)
            for i in range(self.count)
        )

    def stub(self, trim: float) -> tuple[Node, Node]:
        """Metal and bore of the tube at azimuth 0, trimmed on its planes."""
        reach = trim / self.cos + 2.0 * self.tube.outer_radius * self.tan + 10.0
        path = Centreline(self.slot(), (Straight(reach),))
        axis: Vec = (0.0, 0.0, 0.0)
        sb, cb = math.sin(self.beta), math.cos(self.beta)
        planes = (
            Plane(axis, (-sb, cb, 0.0)),
            Plane(axis, (-sb, -cb, 0.0)),
            Plane((0.0, 0.0, trim), (0.0, 0.0, 1.0)),
        )
        inner = self.tube.inner_radius
        return (
            Trim(Tube(path, self.tube.outer_radius, inner), planes),
            Trim(Tube(path, inner), planes),
        )


def _envelopes(
    array: Array,
    home: Frame,
    slots: tuple[Frame, ...],
    trim: float,
    cone: float,
) -> tuple[Envelope, ...]:
    outer = array.tube.outer_radius
    stubs = [
        Envelope("stub", i, Centreline(slot, (Straight(trim / array.cos),)), outer)
        for i, slot in enumerate(slots)
    ]
    widest = max(array.rho_at(trim) + outer / array.cos, array.size.outlet.outer_radius)
    return (
        *stubs,
        Envelope("cone", None, Centreline(home.moved(trim), (Straight(cone),)), widest),
    )


def _stations(array: Array, trim: float, cone: Cone) -> tuple[AreaAt, ...]:
    one = math.pi * array.tube.inner_radius**2
    throat = array.lobed_area(trim, array.tube.inner_radius)
    rows = [
        AreaAt(0.0, one, "slot"),
        AreaAt(array.first_join() / array.cos, one, "first join"),
        AreaAt(trim / array.cos, throat, "throat"),
    ]
    for i in range(1, 5):
        f = i / 5.0
        rows.append(AreaAt(trim / array.cos + f * cone.length, _blend_area(*cone.inner, f), "cone"))
    behind = trim / array.cos + cone.length
    rows.append(AreaAt(behind, math.pi * array.size.outlet.inner_radius**2, "outlet"))
    return tuple(rows)


def _blend_area(a: CurvedLoop, b: CurvedLoop, fraction: float, steps: int = 400) -> float:
    """Area of the section part of the way along a ruled wall [mm2], within 1e-4 relative."""
    points = []
    for p, q in zip(a, b, strict=True):
        for i in range(steps):
            (x0, y0), (x1, y1) = _at(p, i / steps), _at(q, i / steps)
            points.append((x0 + fraction * (x1 - x0), y0 + fraction * (y1 - y0)))
    return 0.5 * sum(
        x0 * y1 - x1 * y0
        for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1], strict=True)
    )


def _at(segment: Line | Arc | EllipseArc, fraction: float) -> Point2:
    assert not isinstance(segment, Line)
    return segment.at(fraction)
