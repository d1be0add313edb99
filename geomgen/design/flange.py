"""The head flange: outline, port windows, stud holes and marks, from plain numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import partial
from typing import Literal

import numpy as np

from geomgen.design.fasteners import FASTENERS, HoleClass
from geomgen.design.lettering import ARROW, Block, layouts
from geomgen.design.marking import Mask, Placed, Points, Room, caps, cross, place, room
from geomgen.design.model import FlatPart, Hole, Port, Process, Stud
from geomgen.geometry.frames import Frame
from geomgen.profiles.convex import offset
from geomgen.profiles.loops import Line, Loop, Point2, Profile, area, bounding_box, circle, placed
from geomgen.profiles.union import closing, erode

FILLETS = tuple(
    float(r)
    for r in (10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000, 2000, 5000)
)
"""Radii tried between bosses and ports, smallest first [mm]."""

CLEAR = 2.0
"""From lettering to every edge [mm]."""

CAP_LEAST, CAP_MOST = 3.0, 10.0
"""Least and greatest height of a capital [mm]; common practice, no source."""


def head_flange(
    *,
    name: str,
    title: str,
    text: str,
    ports: Sequence[Port],
    studs: Sequence[Stud],
    frame: Frame,
    wall: float,
    fit: float,
    land: float,
    thickness: float,
    material: str,
    process: Process,
    hole_ratio: float,
    hole_floor: float = 0.0,
    hole_class: HoleClass = "medium",
    window: Literal["socket", "butt"] = "socket",
    edge_factor: float = 1.5,
    neck: float | None = None,
    fillet: float | None = None,
    quantity: int = 1,
) -> FlatPart:
    """One head flange, drawn from the tube side in the x-y plane of ``frame``.

    Args:
        name: of the part, ``[a-z0-9_]+``.
        title: one line for a sheet's head.
        text: lettering: part name and revision.
        ports: with frames at the gasket face; each axis square to the face.
        studs: in the same world frame as the ports.
        frame: of the plate: z = 0 is the gasket face, z out of the head.
        wall: of the tube [mm].
        fit: between formed tube and window, over both sides [mm].
        land: metal left round every window [mm].
        thickness: of the plate [mm].
        material: grade of the plate.
        process: how it is cut.
        hole_ratio: least hole over thickness that the process cuts to size [-].
        hole_floor: least hole that the process cuts at all [mm].
        hole_class: series of ISO 273.
        window: ``socket`` takes the formed tube; ``butt`` is the port's own shape.
        edge_factor: hole centre to edge over hole diameter [-].
        neck: least width between any two parts of the plate [mm]; twice the greater of
            land and thickness when left out, and never more than the smallest boss or
            window with its land can give.
        fillet: radius between bosses and ports [mm]; the smallest of ``FILLETS`` that
            gives one piece with the neck when left out.
        quantity: how many are cut.

    Raises:
        ValueError: a port's axis leans, or no outline of the wanted kind exists.
    """
    windows, bores = _windows(ports, frame, wall + fit / 2.0 if window == "socket" else 0.0)
    holes = _holes(studs, frame, thickness, hole_class, (hole_ratio, hole_floor), edge_factor)
    shapes = [offset(loop, land) for loop in windows]
    shapes += [circle(hole.at, hole.boss) for hole in holes]
    outer = _outline(shapes, 2.0 * max(land, thickness) if neck is None else neck, fillet)
    finished = tuple(circle(hole.at, hole.diameter / 2.0) for hole in holes)
    cut = tuple(loop for hole, loop in zip(holes, finished, strict=True) if hole.how == "cut")
    marks = [
        stroke
        for hole in holes
        if hole.how == "mark"
        for stroke in cross(hole.at, min(3.0, 0.35 * hole.diameter))
    ]
    cylinders = tuple(port.cylinder for port in ports)
    lettering, notes = _lettering(outer, (*windows, *finished), windows, cylinders, text)
    return FlatPart(
        name=name,
        title=title,
        material=material,
        thickness=thickness,
        process=process,
        quantity=quantity,
        frame=frame,
        profile=Profile(outer, (*windows, *cut)),
        drilled=Profile(outer, (*windows, *finished)),
        windows=windows,
        holes=holes,
        marks=(*marks, *lettering),
        reference=bores,
        cylinders=cylinders,
        window_fit=fit if window == "socket" else 0.0,
        window_style=window,
        notes=notes,
    )


def _windows(
    ports: Sequence[Port], frame: Frame, by: float
) -> tuple[tuple[Loop, ...], tuple[Loop, ...]]:
    """Windows and port bores in the plate's x-y, by port."""
    windows, bores = [], []
    for port in ports:
        axis, across = frame_components(frame, port.frame)
        if math.hypot(axis[0], axis[1]) > 1e-9:
            raise ValueError(
                f"port {port.cylinder}: its axis leans; windows for leaning ports are not made yet"
            )
        x, y, _ = frame.local(port.frame.origin)
        turn = math.atan2(across[1], across[0])
        bores.append(placed(port.loop, (x, y), turn))
        windows.append(placed(offset(port.loop, by), (x, y), turn))
    return tuple(windows), tuple(bores)


def frame_components(plate: Frame, other: Frame) -> tuple[Point2, Point2]:
    """The other frame's z and x as seen in the plate's x-y plane."""
    origin = plate.origin
    ends = [
        plate.local((origin[0] + v[0], origin[1] + v[1], origin[2] + v[2]))
        for v in (other.z, other.x)
    ]
    return (ends[0][0], ends[0][1]), (ends[1][0], ends[1][1])


def _holes(
    studs: Sequence[Stud],
    frame: Frame,
    thickness: float,
    hole_class: HoleClass,
    process: tuple[float, float],
    edge_factor: float,
) -> tuple[Hole, ...]:
    ratio, floor = process
    limit = max(ratio, floor / thickness)
    holes = []
    for stud in studs:
        fastener = FASTENERS[stud.thread]
        diameter = fastener.hole(hole_class)
        x, y, _ = frame.local(stud.at)
        holes.append(
            Hole(
                name=f"stud {stud.name.removeprefix('stud ')}",
                at=(x, y),
                diameter=diameter,
                thread=stud.thread,
                how="cut" if diameter >= limit * thickness - 1e-9 else "mark",
                cut_ratio=diameter / thickness,
                cut_limit=limit,
                boss=max(
                    fastener.washer_od / 2.0 + 1.0, fastener.socket_radius, edge_factor * diameter
                ),
            )
        )
    return tuple(holes)


def _outline(shapes: list[Loop], neck: float, fillet: float | None) -> Loop:
    """One outline round all shapes; holes that close between bosses are left solid."""
    if fillet is not None:
        loops = closing(shapes, fillet)
        if _pieces(loops) != 1:
            raise ValueError(f"a fillet of {fillet:g} mm leaves the flange in several pieces")
        return loops[0]
    boxes = [bounding_box(shape) for shape in shapes]
    widest = min(min(box.width, box.height) for box in boxes)
    wanted = min(neck, 0.95 * widest)
    low, high = 0, len(FILLETS) - 1
    found: Loop | None = None
    while low <= high:
        middle = (low + high) // 2
        loops = closing(shapes, FILLETS[middle])
        if _holds(loops, wanted):
            found, high = loops[0], middle - 1
        else:
            low = middle + 1
    if found is None:
        raise ValueError("ports and studs lie too far apart for one flange")
    return found


def _pieces(loops: Sequence[Loop]) -> int:
    """How many separate pieces a region has: its counter-clockwise loops."""
    return sum(area(loop) > 0.0 for loop in loops)


def _holds(loops: tuple[Loop, ...], neck: float) -> bool:
    """Whether a region is one piece, and still is with half the neck taken off all round."""
    return _pieces(loops) == 1 and _pieces(erode(loops[:1], neck / 2.0)) == 1


def _lettering(
    outer: Loop,
    cuts: tuple[Loop, ...],
    windows: tuple[Loop, ...],
    cylinders: tuple[int, ...],
    text: str,
) -> tuple[list[Line], tuple[str, ...]]:
    """Strokes of all lettering, and a note for each that found no room."""
    plate = room(outer, cuts, CLEAR)
    strokes: list[Line] = []
    notes: list[str] = []
    box = bounding_box(outer)
    middle = ((box.left + box.right) / 2.0, (box.bottom + box.top) / 2.0)
    wanted: list[tuple[str, tuple[Block, ...], bool]] = [
        ("UP with an arrow", (Block(("UP" + ARROW,)), Block((ARROW, "UP"))), False),
        ("TUBE SIDE", layouts("TUBE SIDE"), True),
        (text, layouts(text), True),
    ]
    for what, blocks, turnable in wanted:
        found = place(plate, blocks, (CAP_LEAST, CAP_MOST), middle, turnable=turnable)
        if found is None:
            notes.append(_no_room(what))
            continue
        strokes.extend(found.strokes)
        plate = plate.with_taken(found)
    for number in _numbers(plate, windows, cylinders, notes):
        strokes.extend(number.strokes)
    return strokes, tuple(notes)


def _numbers(
    plate: Room, windows: tuple[Loop, ...], cylinders: tuple[int, ...], notes: list[str]
) -> list[Placed]:
    """Cylinder numbers, one height for all, each as near above its own window as can be."""
    boxes = [bounding_box(window) for window in windows]
    centres = [((b.left + b.right) / 2.0, (b.bottom + b.top) / 2.0) for b in boxes]

    def own(k: int, places: Points) -> Mask:
        """Places that are nearer to window k than to any other."""
        away = np.array([np.hypot(places[:, 0] - x, places[:, 1] - y) for x, y in centres])
        nearest: Mask = away[k] <= away.min(axis=0) + 1e-9
        return nearest

    blocks = [Block((str(cylinder),)) for cylinder in cylinders]
    room_for = [
        float(caps(plate, plate.places[own(k, plate.places)], block, True).max(initial=0.0))
        for k, block in enumerate(blocks)
    ]
    cap = min([6.0, *(math.floor(4.0 * c) / 4.0 for c in room_for if c >= CAP_LEAST)])
    found = []
    for k, (cylinder, block) in enumerate(zip(cylinders, blocks, strict=True)):
        near = (centres[k][0], boxes[k].top)
        number = place(plate, (block,), (CAP_LEAST, cap), near, partial(own, k), turnable=False)
        if number is None:
            notes.append(_no_room(f"cylinder number {cylinder}"))
        else:
            found.append(number)
            plate = plate.with_taken(number)
    return found


def _no_room(what: str) -> str:
    return (
        f"{what}: no place {CLEAR:g} mm clear of every edge for letters "
        f"of {CAP_LEAST:g} mm; mark it by hand"
    )
