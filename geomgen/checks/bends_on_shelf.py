"""Every bend can be cut from what is on the shelf.

What: radius and angle of every bend against the stock's.
Why: a radius that nobody stocks cannot be bought; an angle beyond the stock bend's cannot
be cut from it; a very shallow bend cannot be measured.
Limit: the shelf of the spec, ``shelf.min_angle``. A bend that was there before the layout,
tacked or pinned, is had already and only warns.
Source: the spec.
"""

from __future__ import annotations

import math

from geomgen.checks import judged
from geomgen.design.kept import kept_pieces
from geomgen.design.model import Design, Stock
from geomgen.errors import Finding, Verdict
from geomgen.geometry.centreline import Bend, Centreline

NAME = "bends-on-shelf"

_SLACK = 1e-6


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner: the number of bends that are not to be had."""
    found = []
    for runner, edge in zip(design.runners, design.problem.edges, strict=True):
        bends = runner.path.bends
        off = [i + 1 for i, bend in enumerate(bends) if not _to_be_had(design, bend)]
        there = _numbers(runner.path, kept_pieces(edge, runner.path))
        had = bool(off) and set(off) <= there
        angles = ", ".join(f"{math.degrees(bend.angle):.1f}" for bend in bends) or "none"
        radii = " and ".join(f"{r:g}" for r in sorted({bend.radius for bend in bends}))
        named = ", ".join(map(str, off))
        text = f"bends of {angles} deg" + (f" at CLR {radii} mm" if radii else "")
        found.append(
            Finding(
                NAME,
                f"runner {runner.cylinder}",
                judged(not off, Verdict.WARN if had else Verdict.FAIL),
                text if not off else f"{text}: number {named} is not on the shelf",
                float(len(off)),
                0.0,
                "count",
                _remedy(off, had),
            )
        )
    return (*found, *_left_out(design))


def _remedy(off: list[int], had: bool) -> str:
    if not off:
        return ""
    return "it is there already" if had else "add the bend to the shelf, or solve again"


def _numbers(path: Centreline, pieces: frozenset[int]) -> set[int]:
    """Numbers of the bends among some pieces of a path, from 1."""
    bends = [i for i, piece in enumerate(path.pieces) if isinstance(piece, Bend)]
    return {number for number, i in enumerate(bends, 1) if i in pieces}


def _to_be_had(design: Design, bend: Bend) -> bool:
    shelf = design.problem.shelf
    if bend.angle < shelf.least_angle - _SLACK:
        return False
    if shelf.angle_step is not None:
        times = bend.angle / shelf.angle_step
        if abs(times - round(times)) * shelf.angle_step > _SLACK:
            return False
    return any(_gives(stock, bend) for stock in design.stock)


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
