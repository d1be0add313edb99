"""Proven gaps of a design, shared by the checks on them."""

from __future__ import annotations

from dataclasses import replace

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.geometry.centreline import Bend, Centreline, piece_at
from geomgen.geometry.distance import Span, to_field
from geomgen.geometry.fields import Cylinder
from geomgen.geometry.frames import distance
from geomgen.routing.problem import Clearance
from geomgen.routing.prove import TOLERANCE, clearances, last_straight

MEASURE = "geomgen build or geomgen route measures it and keeps that beside the STEP file"
"""What to do about a solid that has not been measured."""


_SAME = 1e-6


def gaps(design: Design) -> tuple[Clearance, ...]:
    """Every proven gap of the layout."""
    paths = tuple(tube.path for tube in design.tubes)
    slots = tuple(tube.slot for tube in design.tubes)
    return clearances(design.problem, paths, slots)


def slip_gaps(design: Design) -> tuple[Clearance, ...]:
    """Proven gap of every runner, before its last straight, from every other's slip tube.

    The router knows a runner's end inside its slip tube as the runner alone; the tube over it is
    wider. Neighbouring slip tubes are what the array leaves apart, and where it leaves less than
    the gap between a slip tube and a runner in the slot beside it, that is enough.
    """
    return tuple(
        _beside_slip(design, number, name, path, radius)
        for name, path, radius in design.collector.envelopes
        for number, tube in enumerate(design.tubes)
        if name.startswith("slip ") and distance(tube.path.end.origin, path.end.origin) > _SAME
    )


def _beside_slip(
    design: Design, number: int, name: str, slip: Centreline, radius: float
) -> Clearance:
    tube = design.tubes[number]
    held = tube.path.length - last_straight(tube.path)
    solid = Cylinder(slip.start.origin, slip.end.origin, radius)
    near = to_field(Span(tube.path, 0.0, held), solid, TOLERANCE / 10.0)
    slot = Span(tube.path, held, tube.path.length)
    array = to_field(slot, solid, TOLERANCE / 10.0).lower - tube.outer_radius
    return Clearance(
        tube.name,
        name,
        near.lower - tube.outer_radius,
        near.upper - tube.outer_radius,
        min(design.problem.gap, round(array - TOLERANCE, 2)),
        piece_at(tube.path, near.station),
        near,
    )


def finding(name: str, design: Design, gap: Clearance, remedy: str) -> Finding:
    """The finding on one gap, with the worst point and the piece that comes nearest."""
    ok = gap.gap >= gap.needed
    x, y, z = gap.nearest.point
    return Finding(
        name,
        f"{gap.subject} / {gap.other}",
        judged(ok),
        f"gap at least {gap.gap:.2f} mm, needs {gap.needed:g} mm; nearest at "
        f"({x:.0f}, {y:.0f}, {z:.0f}), {piece_name(design, gap)}",
        gap.gap,
        gap.needed,
        "mm",
        "" if ok else remedy,
        gap.nearest.point,
    )


def beside_unseen(design: Design, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Findings that count all obstacles: none passes while one of those was not measured.

    What fails without it fails with it too.
    """
    if not design.unseen:
        return findings
    names = " and ".join(f"{name} ({file})" for name, file in design.unseen)
    return tuple(
        replace(
            found,
            verdict=Verdict.NOT_RUN,
            message=f"no pass: {names} has not been measured",
            remedy=MEASURE,
        )
        if found.verdict is Verdict.PASS
        else found
        for found in findings
    )


def piece_name(design: Design, gap: Clearance) -> str:
    """Which piece of the runner comes nearest, in words."""
    for tube in design.tubes:
        if gap.subject != tube.name:
            continue
        pieces = tube.path.pieces
        index = min(gap.piece, len(pieces) - 1)
        count = 1 + sum(
            isinstance(piece, Bend) == isinstance(pieces[index], Bend) for piece in pieces[:index]
        )
        return f"{'bend' if isinstance(pieces[index], Bend) else 'straight'} {count}"
    return gap.subject
