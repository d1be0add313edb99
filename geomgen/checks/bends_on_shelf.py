"""Every bend can be cut from what is on the shelf.

What: radius and angle of every bend against the stock's and against the step asked for, and
their number. Lines of whole angles that the layout could not be told of are named.
Why: a radius that nobody stocks cannot be bought; an angle beyond the stock bend's cannot
be cut from it; a very shallow bend cannot be measured.
Limit: the shelf of the spec, ``shelf.min_angle``, ``shelf.angle_step``, ``shelf.most_bends``.
A bend that was there before the layout, tacked or pinned, is had already and only warns.
Source: the spec.
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.kept import kept_pieces
from geomgen.design.model import Design, Runner, Secondary, Stock
from geomgen.errors import Finding, Verdict
from geomgen.geometry.centreline import Bend, Centreline, bends_at
from geomgen.routing.problem import Edge, Shelf, shelf_of

NAME = "bends-on-shelf"

_SLACK = 1e-6


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner: the number of bends that are not to be had; none of a casting."""
    if design.collector.casting:
        return ()
    found = tuple(
        _finding(design, tube, edge)
        for tube, edge in zip(design.tubes, design.problem.edges, strict=True)
    )
    return (*found, *_left_out(design))


def _finding(design: Design, tube: Runner | Secondary, edge: Edge) -> Finding:
    shelf = shelf_of(design.problem, edge)
    bends, most = tube.path.bends, shelf.most_bends
    stocks = [design.stock_for(tube.size_at(at)[0]) for at in bends_at(tube.path)]
    off = [
        i
        for i, (bend, stock) in enumerate(zip(bends, stocks, strict=True), 1)
        if not _to_be_had(shelf, stock, bend)
    ]
    there = _numbers(tube.path, kept_pieces(edge, tube.path))
    many = most is not None and len(bends) > most
    had = not many and bool(off) and set(off) <= there
    angles = ", ".join(f"{math.degrees(bend.angle):.1f}" for bend in bends) or "none"
    radii = " and ".join(f"{r:g}" for r in sorted({bend.radius for bend in bends}))
    text = f"bends of {angles} deg" + (f" at CLR {radii} mm" if radii else "")
    if off:
        text += f": number {', '.join(map(str, off))} is not on the shelf"
    if many:
        text += f"; {len(bends)} bends, and at most {most} are wanted"
    return Finding(
        NAME,
        tube.name,
        judged(not off and not many, Verdict.WARN if had else Verdict.FAIL),
        text,
        float(len(off)),
        0.0,
        "count",
        "solve again, or allow more bends" if many else _remedy(off, had),
    )


def _remedy(off: list[int], had: bool) -> str:
    if not off:
        return ""
    return "it is there already" if had else "add the bend to the shelf, or solve again"


def _numbers(path: Centreline, pieces: frozenset[int]) -> set[int]:
    """Numbers of the bends among some pieces of a path, from 1."""
    bends = [i for i, piece in enumerate(path.pieces) if isinstance(piece, Bend)]
    return {number for number, i in enumerate(bends, 1) if i in pieces}


def _to_be_had(shelf: Shelf, stock: tuple[Stock, ...], bend: Bend) -> bool:
    if bend.angle < shelf.least_angle - _SLACK:
        return False
    if shelf.angle_step is not None:
        times = bend.angle / shelf.angle_step
        if abs(times - round(times)) * shelf.angle_step > _SLACK:
            return False
    return any(_gives(line, bend) for line in stock)


def _gives(stock: Stock, bend: Bend) -> bool:
    if abs(stock.clr - bend.radius) > _SLACK or bend.angle > stock.most + _SLACK:
        return False
    return not stock.angles or any(abs(bend.angle - angle) <= _SLACK for angle in stock.angles)


def _left_out(design: Design) -> tuple[Finding, ...]:
    """Lines of the shelf that the router could not be told of."""
    return tuple(
        Finding(
            NAME,
            f"shelf / {stock.label}",
            Verdict.WARN,
            "not used: whole stock angles go into a layout only where no other bend is on the "
            "shelf and they are the multiples of one step",
            remedy="take it off the shelf, or let it be cut",
        )
        for stock in design.stock
        if not stock.used
    )
