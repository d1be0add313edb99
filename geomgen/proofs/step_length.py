"""Every runner's length, measured in the written STEP.

What: the tube's length from its cylinder and torus faces, and the blend from the plate to
the tube's end as found in the file; the plate and the stub as the design has them.
Why: it is what the header was tuned by.
Limit: 0.05 mm off the design's length, the project's own bar.
Source: project's own bar.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from geomgen.design.model import Design, Runner, Secondary
from geomgen.errors import Finding
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import angle_between, distance, sub, unit
from geomgen.proofs._step_parts import TubePart, cast, finding, tube_parts, tube_paths
from geomgen.proofs._step_reading import ReadStep, Unreadable, on_assembly
from geomgen.proofs._tube_reading import JOINED, ReadPiece, ReadTube, read_holes, read_tube

NAME = "step-length"

OFF = 0.05
"""What a length may be off the design's [mm]."""

LEAN = math.radians(0.01)
"""What tubes of a stepped runner may lean against each other [rad]."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """One finding for every runner; its value is the measured length. None of a casting."""
    if cast(design):
        return ()

    def on(step: ReadStep) -> list[Finding]:
        parts = {tube.tube.centreline: tube for tube in tube_parts(design)}
        found = []
        for runner in design.tubes:
            subject = runner.name
            try:
                tube = _whole([_read(step, parts.get(path), path) for path in tube_paths(runner)])
            except Unreadable as error:
                found.append(finding(NAME, subject, False, str(error)))
            else:
                found.append(_measured(subject, runner, tube))
        return found

    return on_assembly(NAME, on, design, files)


def _read(step: ReadStep, tube: TubePart | None, path: Centreline) -> ReadTube:
    shape = step.part("" if tube is None else tube.part.name).shape
    return read_tube(shape, path.start.origin, () if tube is None else read_holes(tube))


def _whole(tubes: list[ReadTube]) -> ReadTube:
    """Tubes with the expanders between them: straights from one's end to the next one's start.

    Raises:
        Unreadable: the two are not in one line.
    """
    pieces = list(tubes[0].pieces)
    kink = 0.0
    for tube in tubes[1:]:
        here, there = pieces[-1], tube.pieces[0]
        gap = distance(here.end, there.start)
        if gap > JOINED:
            way = unit(sub(there.start, here.end))
            kink = max(kink, angle_between(here.onward, way), angle_between(way, there.outset))
            pieces.append(ReadPiece(here.end, there.start, way, way, gap))
        pieces += tube.pieces
    if kink > LEAN:
        raise Unreadable(f"its tubes are not in line: a kink of {math.degrees(kink):.3g} deg")
    worst = max(kink, *(tube.kink for tube in tubes))
    return ReadTube(tuple(pieces), worst, tubes[-1].radii)


def _measured(subject: str, runner: Runner | Secondary, tube: ReadTube) -> Finding:
    account = runner.account
    if isinstance(runner, Secondary):
        return _behind_junction(runner, tube)
    behind_plate = runner.transition.entry.moved(runner.transition.plate).origin
    blend = distance(behind_plate, tube.joints[0])
    length = account.plate + blend + tube.length + account.stub
    off = abs(length - account.total)
    return finding(
        NAME,
        subject,
        off <= OFF,
        f"{length:.3f} mm: plate {account.plate:.3f}, blend {blend:.3f} and tube "
        f"{tube.length:.3f} as measured, stub {account.stub:.3f}; design {account.total:.3f} mm",
        value=length,
        limit=account.total,
        unit="mm",
    )


def _behind_junction(secondary: Secondary, tube: ReadTube) -> Finding:
    account = secondary.account
    gap = distance(secondary.entry.origin, tube.joints[0])
    length = account.junction + tube.length + account.stub
    off = abs(length - account.total)
    return finding(
        NAME,
        secondary.name,
        off <= OFF and gap <= OFF,
        f"{length:.3f} mm: junction {account.junction:.3f}, tube {tube.length:.3f} as measured, "
        f"stub {account.stub:.3f}; design {account.total:.3f} mm; begins {gap:.2g} mm off its "
        "junction",
        value=length,
        limit=account.total,
        unit="mm",
    )
