"""Contradictions about where things are: ports, windows, studs, obstacles."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from geomgen.errors import Problem
from geomgen.geometry.frames import Vec, cross, norm, unit
from geomgen.ports import NoOutline, outline
from geomgen.profiles.distances import inside, loop_to_loop, point_to_loop
from geomgen.profiles.loops import Loop, placed
from geomgen.spec.contradictions import Rule, Sections, complaint, twice
from geomgen.spec.engine import Head
from geomgen.spec.positions import cylinders, port_centres, studs


def head_cylinders(s: Sections) -> Iterator[Problem]:
    """The heads have cylinders of the engine, each once; all of them unless they are named."""
    if s.engine is None or s.heads is None:
        return
    wanted = set(range(1, s.engine.cylinders + 1))
    seen: set[int] = set()
    for i, head in enumerate(s.heads):
        numbers = cylinders(head, s.engine.cylinders)
        path = ("heads", i, "cylinders")
        strange = [n for n in numbers if n not in wanted]
        again = [n for k, n in enumerate(numbers) if n in seen or n in numbers[:k]]
        if strange or again:
            yield complaint(
                path,
                f"cylinders {list(numbers)}",
                f"cylinders of {sorted(wanted)}, each once over all heads",
                "name the head's cylinders in their order along it",
            )
        elif head.cylinders is None and len(s.heads) > 1:
            yield complaint(
                path,
                "no cylinders, with more than one head",
                "the cylinders of each head",
                "name the head's cylinders in their order along it",
            )
        seen.update(numbers)


def ports_placed(s: Sections) -> Iterator[Problem]:
    """Every port has a place, and a direction of its own only if all have."""
    if s.engine is None or s.heads is None:
        return
    for i, head in enumerate(s.heads):
        count = len(cylinders(head, s.engine.cylinders))
        path = ("heads", i, "ports")
        if head.ports.at is None and head.ports.pitch is None and count > 1:
            yield complaint(
                path,
                f"{count} ports with neither pitch nor at",
                "pitch, or at with one centre for every cylinder",
                "add pitch: the distance from one port's centre to the next",
            )
        for key in ("at", "directions"):
            said = getattr(head.ports, key)
            if said is not None and len(said) != count:
                yield complaint(
                    (*path, key),
                    f"{len(said)} for {count} cylinders",
                    f"one for every cylinder, {count}",
                    "give one for every cylinder, in their order along the head",
                )


def _ports(s: Sections, head: Head) -> list[tuple[int, Loop]]:
    """Every port's edge in its place, with its cylinder; none while their places are open."""
    if s.engine is None:
        return []
    numbers = cylinders(head, s.engine.cylinders)
    centres = port_centres(head, len(numbers)) or ()
    try:
        edge = outline(head.ports, s.files).loop
    except NoOutline:  # told where files are read
        return []
    return [(n, placed(edge, (c[0], c[1]))) for n, c in zip(numbers, centres, strict=False)]


def _margin(s: Sections) -> float | None:
    """From a port's edge to its window's edge [mm]."""
    if s.flange is None or s.runners is None:
        return None
    if s.flange.window == "butt":
        return 0.0
    return s.runners.tube.wall + s.flange.fit / 2.0


def windows(s: Sections) -> Iterator[Problem]:
    """Neighbouring windows leave the land between them."""
    margin = _margin(s)
    if s.heads is None or s.flange is None or margin is None:
        return
    for i, head in enumerate(s.heads):
        ports = _ports(s, head)
        for (a, edge), (b, other) in pairwise(ports):
            left = _apart(edge, other) - 2.0 * margin
            if left < s.flange.land - 1e-9:
                key = "pitch" if head.ports.pitch is not None else "at"
                lies = (
                    f"{left:.2f} mm between the windows of cylinders {a} and {b}"
                    if left >= 0.0
                    else f"the windows of cylinders {a} and {b} one over the other"
                )
                yield complaint(
                    ("heads", i, "ports", key),
                    f"{lies} (each port grows by {margin:g} mm all round)",
                    f"at least the land, {s.flange.land:g} mm",
                    "correct pitch or port width, or make flange.land smaller",
                )
                break


def _apart(a: Loop, b: Loop) -> float:
    """Gap between two edges; negative or nothing where one lies over the other."""
    if inside(a[0].start, b) or inside(b[0].start, a):
        return -math.inf
    return loop_to_loop(a, b)


def stud_count(s: Sections) -> Iterator[Problem]:
    """Two studs hold a flange; one lets it tip."""
    for i, head in enumerate(s.heads or ()):
        said, path = head.studs, ("heads", i, "studs")
        if (said.at is None) == (said.at_each_port is None):
            both = said.at is not None
            yield complaint(
                (*path, "at") if both else path,
                "both at and at_each_port" if both else "neither at nor at_each_port",
                "one of the two",
                "take one out" if both else "add at_each_port: [[x, y], [x, y]]",
            )
            continue
        key = "at" if said.at is not None else "at_each_port"
        places = said.at if said.at is not None else said.at_each_port
        if len(places or ()) < 2:
            each = "a flange" if key == "at" else "a port"
            yield complaint(
                (*path, key),
                f"{len(places or ())} stud {each}",
                f"at least 2 studs {each}",
                "add the others; where ports share studs, give all of them by at",
            )


def stud_places(s: Sections) -> Iterator[Problem]:
    """A stud stands in metal, and in a place of its own."""
    margin = _margin(s)
    if s.engine is None:
        return
    for i, head in enumerate(s.heads or ()):
        said = head.studs
        key = "at" if said.at is not None else "at_each_port"
        radius = float(said.size[1:]) / 2.0
        numbers = cylinders(head, s.engine.cylinders)
        seen: list[tuple[str, Vec]] = []
        told: set[int] = set()
        for k, stud in enumerate(studs(head, numbers)):
            row = k % max(len(said.at_each_port or said.at or ()), 1)
            path = ("heads", i, "studs", key, row)
            for number, edge in _ports(s, head) if margin is not None else ():
                room = _from_window(stud.face, edge) - (margin or 0.0)
                if room < radius and row not in told:
                    told.add(row)
                    yield complaint(
                        path,
                        f"stud {stud.name} in the window of cylinder {number}"
                        if room < -radius
                        else f"stud {stud.name}, {room:.1f} mm from the window of cylinder "
                        f"{number}",
                        f"a place at least {radius:g} mm outside every window",
                        "measure from the port's centre, x to the right and y up, seen from "
                        "the tube side",
                    )
            for name, other in seen:
                if math.dist(stud.face, other) < 2.0 * radius and row not in told:
                    told.add(row)
                    yield complaint(
                        path,
                        f"stud {stud.name} where stud {name} stands",
                        "every stud once, apart by more than its thread",
                        "where ports share studs, give all of them by at",
                    )
            seen.append((stud.name, stud.face))


def _from_window(p: Vec, edge: Loop) -> float:
    """Distance of a point from a loop, negative inside [mm]."""
    flat = (p[0], p[1])
    away = point_to_loop(flat, edge)
    return -away if inside(flat, edge) else away


def stud_names(s: Sections) -> Iterator[Problem]:
    """Every stud has a name of its own."""
    for i, head in enumerate(s.heads or ()):
        named = [
            (("heads", i, "studs", "at", k, "name"), stud.name)
            for k, stud in enumerate(head.studs.at or ())
            if stud.name != "_"
        ]
        yield from twice(list(named), "stud")


def bead(s: Sections) -> Iterator[Problem]:
    """A tube that is set back still stands in the plate."""
    f = s.flange
    if f is not None and f.window != "butt" and f.set_back >= f.thickness:
        yield complaint(
            ("flange", "set_back"),
            f"{f.set_back:g} mm in a plate of {f.thickness:g} mm",
            f"less than the plate, {f.thickness:g} mm",
            "2 mm leaves room for the inside bead",
        )


def obstacle_shapes(s: Sections) -> Iterator[Problem]:
    """Boxes and bars have a size."""
    for i, thing in enumerate(s.obstacles or ()):
        box, bar = thing.box, thing.cylinder
        if box is not None:
            bad = [axis for axis, a, b in zip("xyz", box.from_, box.to, strict=True) if a >= b]
            if bad:
                yield complaint(
                    ("obstacles", i, "box", "from"),
                    f"from {list(box.from_)} to {list(box.to)}: {' and '.join(bad)} not growing",
                    "from with the smaller x, y and z, to with the larger",
                    f"swap the {' and '.join(bad)} values of from and to",
                )
        if bar is not None and not math.dist(bar.from_, bar.to) > 0.0:
            yield complaint(
                ("obstacles", i, "cylinder", "to"),
                "the same point as from",
                "two ends that lie apart",
                "give the other end of the axis",
            )
        solid = thing.solid
        if solid is not None and norm(cross(unit(solid.x), unit(solid.z))) < 1e-3:
            yield complaint(
                ("obstacles", i, "solid", "x"),
                f"x {list(solid.x)} along z {list(solid.z)}",
                "two directions, about square to one another",
                "give the way that the file's x axis points",
            )


def names(s: Sections) -> Iterator[Problem]:
    """Obstacles and tools have names of their own."""
    yield from twice(
        [(("obstacles", i, "name"), o.name) for i, o in enumerate(s.obstacles or ())], "obstacle"
    )
    yield from twice(
        [(("tools", i, "name"), t.name) for i, t in enumerate(s.tools or ()) if t.name is not None],
        "tool",
    )


RULES: tuple[Rule, ...] = (
    head_cylinders,
    ports_placed,
    windows,
    stud_count,
    stud_places,
    stud_names,
    bead,
    obstacle_shapes,
    names,
)
