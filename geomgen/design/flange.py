"""The head flange: outline, port windows, stud holes and marks, from plain numbers."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from geomgen.design.cutting import Cutter
from geomgen.design.flats import flat_part
from geomgen.design.model import FlatPart, Port, Process, Stud
from geomgen.fasteners import FASTENERS, HoleClass
from geomgen.geometry.frames import Frame
from geomgen.plates import Plate, PlateHole
from geomgen.profiles.convex import offset
from geomgen.profiles.loops import Loop, Point2, area, bounding_box, circle, placed
from geomgen.profiles.union import closing, erode

FILLETS = tuple(
    float(r)
    for r in (10, 12, 15, 20, 25, 30, 40, 50, 60, 80, 100, 150, 200, 300, 500, 1000, 2000, 5000)
)
"""Radii tried between bosses and ports, smallest first [mm]."""


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
    cutter: Cutter | None = None,
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
        cutter: what the process holds, in place of ``hole_ratio`` and ``hole_floor``.

    Raises:
        ValueError: a port's axis leans, or no outline of the wanted kind exists.
    """
    windows, bores = _windows(ports, frame, wall + fit / 2.0 if window == "socket" else 0.0)
    holes = _holes(studs, frame, hole_class, edge_factor)
    shapes = [offset(loop, land) for loop in windows]
    shapes += [circle(hole.at, hole.boss) for hole in holes]
    outer = _outline(shapes, 2.0 * max(land, thickness) if neck is None else neck, fillet)
    plate = Plate(
        name=name,
        title=title,
        frame=frame,
        thickness=thickness,
        material=material,
        outer=outer,
        windows=windows,
        holes=holes,
        reference=bores,
        cylinders=tuple(port.cylinder for port in ports),
        window_fit=fit if window == "socket" else 0.0,
        window_style=window,
        quantity=quantity,
    )
    return flat_part(
        plate, text=text, process=process, ratio=hole_ratio, floor=hole_floor, cutter=cutter
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
    studs: Sequence[Stud], frame: Frame, hole_class: HoleClass, edge_factor: float
) -> tuple[PlateHole, ...]:
    holes = []
    for stud in studs:
        fastener = FASTENERS[stud.thread]
        diameter = fastener.hole(hole_class)
        x, y, _ = frame.local(stud.at)
        boss = max(fastener.washer_od / 2.0 + 1.0, fastener.socket_radius, edge_factor * diameter)
        name = f"stud {stud.name.removeprefix('stud ')}"
        holes.append(PlateHole(name, (x, y), diameter, stud.thread, boss))
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
