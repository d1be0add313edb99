"""Proven gaps of a design, shared by the checks on them."""

from __future__ import annotations

from dataclasses import replace

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.geometry.centreline import Bend
from geomgen.routing.problem import Clearance
from geomgen.routing.prove import clearances

MEASURE = "geomgen build or geomgen route measures it and keeps that beside the STEP file"
"""What to do about a solid that has not been measured."""


def gaps(design: Design) -> tuple[Clearance, ...]:
    """Every proven gap of the layout."""
    paths = tuple(tube.path for tube in design.tubes)
    slots = tuple(tube.slot for tube in design.tubes)
    return clearances(design.problem, paths, slots)


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
