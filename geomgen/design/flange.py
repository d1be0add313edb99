"""The head flange: windows, holes, outline and notes, as plates to be cut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

from geomgen.design.cutting import Cutter
from geomgen.design.flats import flat_part
from geomgen.design.growth import HotGrowth, opened
from geomgen.design.model import FlatPart, Port, Process, Stud
from geomgen.design.outlines import Relief, apart, bar, boss_of, hugging, relieved
from geomgen.design.slot_mouths import warnings
from geomgen.design.window_fit import Fit, advice, small_side
from geomgen.design.windows import Style, Window, windows_of
from geomgen.fasteners import FASTENERS, HoleClass
from geomgen.geometry.frames import Frame, angle_between
from geomgen.plates import Plate, PlateHole
from geomgen.profiles.distances import point_to_loop
from geomgen.profiles.loops import Loop, Point2
from geomgen.profiles.union import grown

Outline = Literal["hugging", "bar", "separate"]

TAP_DRILL = {"M6": 5.0, "M8": 6.8, "M10": 8.5, "M12": 10.2}
"""Tap drills of coarse threads [mm]: ISO 2306, as quoted in public tables."""

SHARED = 2.0
"""A stud that is nearer to one port than to the next by less belongs to both [mm]."""


@dataclass(frozen=True)
class Slotted:
    """A stud's hole that is asked for as a slot: its stud, length and direction [mm, rad]."""

    stud: str
    length: float
    turn: float


@dataclass(frozen=True)
class HeadFlange:
    """What a head flange is to be, in plain numbers.

    Attributes:
        name: of the part, ``[a-z0-9_]+``.
        title: one line for a sheet's head.
        ports: with frames at the gasket face.
        studs: in the same world frame as the ports.
        frame: of the plate: z = 0 is the gasket face, z out of the head.
        wall: of the tube [mm].
        inner_radius: of the tube [mm].
        fit: between tube and window, over both sides [mm].
        land: metal left round every window [mm].
        thickness: of the plate, finished [mm].
        material: grade of the plate.
        facing: stock on the gasket face, faced off after welding [mm].
        hole_class: series of ISO 273.
        window: ``socket`` takes the formed tube, ``round-socket`` the round one; ``butt`` is
            the port's own shape.
        edge_factor: hole centre to edge over hole diameter [-].
        corner: least radius of an inside corner that the process cuts [mm].
        outline: ``hugging``, ``bar`` or ``separate``.
        neck: least width between any two parts of a hugging plate [mm]; twice the greater of
            land and thickness when left out, and never more than the smallest boss or
            window with its land can give.
        fillet: radius between bosses and ports [mm]; the smallest that gives one piece with
            the neck when left out.
        relief: slots between the ports; None for none.
        growth: hot growth, which opens holes.
        slotted: stud holes that are slots.
        more: dowel holes and tapped holes beside those of the studs.
        quantity: how many are cut.
    """

    name: str
    title: str
    ports: tuple[Port, ...]
    studs: tuple[Stud, ...]
    frame: Frame
    wall: float
    inner_radius: float
    fit: float
    land: float
    thickness: float
    material: str
    facing: float = 0.0
    hole_class: HoleClass = "medium"
    window: Style = "socket"
    edge_factor: float = 1.5
    corner: float = 0.0
    outline: Outline = "hugging"
    neck: float | None = None
    fillet: float | None = None
    relief: Relief | None = None
    growth: HotGrowth | None = None
    slotted: tuple[Slotted, ...] = ()
    more: tuple[PlateHole, ...] = ()
    quantity: int = 1

    @property
    def row(self) -> float:
        """Direction of the row of ports in the plate, to the right [rad]."""
        (x0, y0), (x1, y1) = (
            self.frame.local(port.frame.origin)[:2] for port in (self.ports[0], self.ports[-1])
        )
        if math.hypot(x1 - x0, y1 - y0) < 1e-6:
            return 0.0
        turn = math.atan2(y1 - y0, x1 - x0)
        return (
            turn if -math.pi / 2.0 < turn <= math.pi / 2.0 else turn - math.copysign(math.pi, turn)
        )


def head_flange(
    wanted: HeadFlange,
    *,
    text: str,
    process: Process,
    cutter: Cutter,
    fits: Sequence[Fit] = (),
) -> tuple[FlatPart, ...]:
    """One head flange as it is cut: one part, or one a port, in the ports' order.

    Args:
        wanted: what it is to be.
        text: lettering: manifold and revision.
        process: how it is cut.
        cutter: what the process holds.
        fits: of the windows as they are cut, for the notes.

    Raises:
        ValueError: no flange of the wanted kind exists.
    """
    return tuple(
        flat_part(plate, text=text, process=process, cutter=cutter)
        for plate in head_plates(wanted, cutter, fits)
    )


def windows(wanted: HeadFlange) -> tuple[Window, ...]:
    """The windows of a head flange, in the ports' order.

    Raises:
        ValueError: a port's shape or direction has no window.
    """
    return windows_of(
        wanted.ports,
        wanted.frame,
        style=wanted.window,
        wall=wanted.wall,
        inner_radius=wanted.inner_radius,
        fit=wanted.fit,
        depth=wanted.thickness,
        corner=wanted.corner,
    )


def head_plates(wanted: HeadFlange, cutter: Cutter, fits: Sequence[Fit] = ()) -> tuple[Plate, ...]:
    """The plates of a head flange.

    Raises:
        ValueError: no flange of the wanted kind exists.
    """
    cut = windows(wanted)
    holes = _stud_holes(wanted)
    if wanted.outline == "separate":
        return _separate(wanted, cut, holes, fits)
    holes, notes = _grown(wanted, holes, cutter)
    return (_plate(wanted, cut, (*holes, *wanted.more), fits, notes),)


def _plate(
    wanted: HeadFlange,
    cut: Sequence[Window],
    holes: tuple[PlateHole, ...],
    fits: Sequence[Fit],
    notes: tuple[str, ...] = (),
) -> Plate:
    loops = tuple(window.loop for window in cut)
    cylinders = {window.cylinder for window in cut}
    ported = [port for port in wanted.ports if port.cylinder in cylinders]
    shapes = [grown(loop, wanted.land) for loop in loops]
    shapes += [boss_of(hole) for hole in holes]
    if wanted.outline == "bar":
        outer = bar(shapes, wanted.row)
    else:
        least = 2.0 * max(wanted.land, wanted.thickness)
        outer = hugging(shapes, least if wanted.neck is None else wanted.neck, wanted.fillet)
    whole: Loop | None = None
    warned: tuple[str, ...] = ()
    if wanted.relief is not None and len(cut) > 1:
        whole = outer
        outer, missing, horns = relieved(
            whole, loops, holes, wanted.row, wanted.land, wanted.relief
        )
        warned = warnings(missing, horns, len(cut) - 1)
    return Plate(
        name=wanted.name,
        title=wanted.title,
        frame=wanted.frame,
        thickness=wanted.thickness,
        material=wanted.material,
        outer=outer,
        windows=loops,
        holes=holes,
        reference=tuple(window.bore for window in cut),
        cylinders=tuple(window.cylinder for window in cut),
        window_fit=0.0 if wanted.window == "butt" else wanted.fit,
        window_style=wanted.window,
        facing=wanted.facing,
        quantity=wanted.quantity,
        notes=(*_notes(wanted, fits), *notes, *warned),
        whole=whole,
        warnings=warned,
        lean=max(angle_between(port.frame.z, wanted.frame.z) for port in ported),
    )


def _notes(wanted: HeadFlange, fits: Sequence[Fit]) -> tuple[str, ...]:
    """What the shop must know of facing and windows."""
    notes = []
    if wanted.facing > 0.0:
        notes.append(
            f"cut from {wanted.thickness + wanted.facing:g} mm; face the gasket side to "
            f"{wanted.thickness:g} mm after welding"
        )
    if fits:
        notes.append(small_side(wanted.window))
    # the worst fit speaks for all: they differ only where ports lean differently
    if worst := max(fits, key=lambda fit: fit.file, default=None):
        notes += [advice(worst)] if wanted.window != "butt" and advice(worst) else []
    return tuple(notes)


def _stud_holes(wanted: HeadFlange) -> tuple[PlateHole, ...]:
    slots = {slotted.stud: slotted for slotted in wanted.slotted}
    names = [stud.name.removeprefix("stud ") for stud in wanted.studs]
    for name in slots:
        if name not in names:
            raise ValueError(f"no stud is called {name}; there are {', '.join(names)}")
    holes = []
    for name, stud in zip(names, wanted.studs, strict=True):
        fastener = FASTENERS[stud.thread]
        diameter = fastener.hole(wanted.hole_class)
        x, y, _ = wanted.frame.local(stud.at)
        boss = max(
            fastener.washer_od / 2.0 + 1.0, fastener.socket_radius, wanted.edge_factor * diameter
        )
        hole = PlateHole(f"stud {name}", (x, y), diameter, stud.thread, boss)
        if name in slots:
            hole = replace(hole, slot=slots[name].length, turn=slots[name].turn, note="slotted")
        holes.append(hole)
    return tuple(holes)


def _grown(
    wanted: HeadFlange, holes: tuple[PlateHole, ...], cutter: Cutter
) -> tuple[tuple[PlateHole, ...], tuple[str, ...]]:
    """Stud holes of a one-piece flange, opened for hot growth, and what is to be said of it."""
    growth, thickness = wanted.growth, wanted.thickness + wanted.facing
    if growth is None or not growth.wanted or len(holes) < 2:
        return holes, ()
    strain = growth.strain(wanted.material)
    if strain is None:
        return holes, (f"hot growth not reckoned: the expansion of {wanted.material} is not known",)

    def can_cut(diameter: float) -> bool:
        return cutter.made("clearance", diameter, thickness)[0] == "cut"

    grown = opened(holes, wanted.row, growth, strain, can_cut, wanted.edge_factor)
    register = [hole.name for hole in grown if hole.note == "register"]
    if not register:
        return grown, ()
    said = (
        f"hot growth: {register[0]} is the register; plate {growth.flange:g} degC, "
        f"{growth.head_material} head {growth.head:g} degC"
    )
    return grown, (said,)


def dowel(name: str, at: Point2, diameter: float, edge_factor: float) -> PlateHole:
    """A dowel's hole, drilled and reamed to size [mm]."""
    return PlateHole(name, at, diameter, "", edge_factor * diameter, "dowel", note="ream H7")


def tapped(name: str, at: Point2, thread: str, edge_factor: float) -> PlateHole:
    """A tapped hole; its diameter is the tap drill's [mm]."""
    boss = edge_factor * FASTENERS[thread].diameter
    return PlateHole(name, at, TAP_DRILL[thread], thread, boss, "tapped", note=f"tap {thread}")


def _separate(
    wanted: HeadFlange,
    cut: tuple[Window, ...],
    holes: tuple[PlateHole, ...],
    fits: Sequence[Fit],
) -> tuple[Plate, ...]:
    """One plate a port, each with the bolts that are nearest to its window.

    A stud between two ports that belongs to neither more than to the other cannot be
    shared: each piece needs two bolts of its own, or it tips on its gasket.
    """
    owners = [_owner(hole, cut) for hole in (*holes, *wanted.more)]
    plates = []
    for k, window in enumerate(cut):
        own = tuple(
            hole for hole, owner in zip((*holes, *wanted.more), owners, strict=True) if owner == k
        )
        if sum(hole.kind == "clearance" for hole in own) < 2:
            raise ValueError(
                f"cylinder {window.cylinder} would have fewer than two bolts of its own; ports "
                "that share studs need one piece: outline hugging or bar"
            )
        single = replace(
            wanted,
            name=f"{wanted.name}_{window.cylinder}",
            title=f"{wanted.title}, cylinder {window.cylinder}",
            outline="hugging",
            relief=None,
        )
        plates.append(_plate(single, (window,), own, fits[k : k + 1]))
    nearest = apart([plate.outer for plate in plates])
    if nearest is not None and nearest[2] <= 0.0:
        a, b = (cut[i].cylinder for i in nearest[:2])
        raise ValueError(
            f"the pieces of cylinders {a} and {b} would lie over one another; make them one "
            "piece, or make flange.land smaller"
        )
    return tuple(plates)


def _owner(hole: PlateHole, cut: Sequence[Window]) -> int:
    """Which port's piece has a hole."""
    away = sorted((point_to_loop(hole.at, window.loop), k) for k, window in enumerate(cut))
    if len(away) > 1 and hole.kind == "clearance" and away[1][0] - away[0][0] < SHARED:
        a, b = (cut[k].cylinder for _, k in away[:2])
        raise ValueError(
            f"{hole.name} stands between cylinders {a} and {b}, and one piece a port cannot "
            "share a stud; make them one piece: outline hugging or bar"
        )
    return away[0][1]
