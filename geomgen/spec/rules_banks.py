"""Contradictions about heads: how many, which bank each is of, and where they stand."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import product

from geomgen.errors import Problem
from geomgen.geometry.frames import angle_between, distance, dot, norm, scale, sub, unit
from geomgen.ports import NoOutline, outline
from geomgen.profiles.loops import area
from geomgen.spec.contradictions import Rule, Sections, complaint
from geomgen.spec.engine import ENDS, Head
from geomgen.spec.positions import cylinders, head_frame, port_centres
from geomgen.units import in_degrees

_OFF_SQUARE = math.radians(5.0)
"""How far a head's x may be from square to its z; what it is off is taken out of it."""


def banks(s: Sections) -> Iterator[Problem]:
    """Two heads are the two banks of a vee or flat engine, and it is said which is which."""
    if s.engine is None or s.heads is None:
        return
    inline = s.engine.layout == "inline"
    if len(s.heads) > (1 if inline else 2):
        yield complaint(
            ("heads", 1 if inline else 2),
            f"{len(s.heads)} heads of an engine that is {s.engine.layout}",
            "one head" if inline else "one head, or both",
            "a vee or flat engine has two banks; write one spec for each manifold",
        )
        return
    for i, head in enumerate(s.heads):
        if head.bank is None and not inline:
            yield complaint(
                ("heads", i),
                f"no bank, on an engine that is {s.engine.layout}",
                "bank: left, or bank: right",
                "say which bank the head is of; it is printed on everything",
            )
        if head.bank is not None and inline:
            yield complaint(
                ("heads", i, "bank"),
                f"bank: {head.bank}, on an engine that is {s.engine.layout}",
                "a bank of a vee or flat engine",
                "take bank out, or correct engine.layout",
            )
        if head.place is None and len(s.heads) > 1:
            yield complaint(
                ("heads", i),
                "no place, with more than one head",
                "place: {at, x, z} for each head",
                "say where each head stands in the engine's frame",
            )
    both = [head.bank for head in s.heads if head.bank is not None]
    if len(both) > 1 and both[0] == both[1]:
        yield complaint(
            ("heads", 1, "bank"),
            f"a second {both[0]} bank",
            "one left and one right",
            "correct one of the two",
        )


def title_says_the_bank(s: Sections) -> Iterator[Problem]:
    """The title of one bank's manifold does not name the other bank."""
    if not s.title or s.heads is None or len(s.heads) != 1 or s.heads[0].bank is None:
        return
    bank, title = s.heads[0].bank, s.title.lower()
    other = "right" if bank == "left" else "left"
    if f"{other} bank" in title and f"{bank} bank" not in title:
        yield complaint(
            ("heads", 0, "bank"),
            f"bank: {bank}, and a title of the {other} bank",
            "one bank in both",
            "see which bank the head is of, and correct the other place",
        )


def title_says_the_end(s: Sections) -> Iterator[Problem]:
    """The title does not say the other end of the engine."""
    if not s.title or s.engine is None or s.engine.banks is None:
        return
    seen, title = s.engine.banks.seen_from, s.title.lower()
    own, other = (f"seen from {ENDS[end]}" for end in (seen, *sorted({*ENDS} - {seen})))
    if other in title and own not in title:
        yield complaint(
            ("engine", "banks", "seen_from"),
            f"{seen}, and a title that has the banks {other}",
            "one end in both",
            "see which end it is, and correct the other place; the title need not say it",
        )


def square(s: Sections) -> Iterator[Problem]:
    """A head's x is square to its z."""
    for i, head in enumerate(s.heads or ()):
        if head.place is None:
            continue
        x, z = unit(head.place.x), unit(head.place.z)
        between = angle_between(x, z)
        if abs(between - math.pi / 2.0) <= _OFF_SQUARE:
            continue
        across = sub(x, scale(z, dot(x, z)))
        near = "give the way that the head's x points, along the row of ports"
        if norm(across) > 0.1:
            near += f"; square to this z, [{', '.join(f'{v + 0.0:.4g}' for v in unit(across))}]"
        yield complaint(
            ("heads", i, "place", "x"),
            f"x {list(head.place.x)}, {in_degrees(between):.1f} deg from z {list(head.place.z)}",
            "two directions, square to one another",
            near,
        )


def apart(s: Sections) -> Iterator[Problem]:
    """No two heads have a port in the same place."""
    if s.engine is None or s.heads is None or len(s.heads) != 2:
        return
    one, two = (_discs(s, head, s.engine.cylinders) for head in s.heads)
    near = [
        (distance(a, b), m, n)
        for (m, a, r), (n, b, q) in product(one, two)
        if distance(a, b) < r + q and m != n
    ]
    if near:
        gap, m, n = min(near)
        yield complaint(
            ("heads", 1, "place"),
            f"the port of cylinder {n} in that of cylinder {m}, {gap:.1f} mm from middle to middle",
            "a place of its own for every head",
            "correct at, x and z of one of the two heads",
        )


def _discs(
    s: Sections, head: Head, count: int
) -> list[tuple[int, tuple[float, float, float], float]]:
    """Each port's cylinder, its middle in the engine, and the radius of as large a disc [mm]."""
    numbers = cylinders(head, count)
    try:
        radius = math.sqrt(area(outline(head.ports, s.files).loop) / math.pi)
    except NoOutline:  # told where files are read
        return []
    frame, centres = head_frame(head), port_centres(head, len(numbers)) or ()
    return [(n, frame.point(c), radius) for n, c in zip(numbers, centres, strict=False)]


RULES: tuple[Rule, ...] = (banks, title_says_the_bank, title_says_the_end, square, apart)
