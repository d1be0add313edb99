"""Every tube's centreline, found again in the written STEP, runs where the design says.

What: straights and bends rebuilt from the cylinder and torus faces of each tube; ends and
every joint against the design's, bend radii against the shelf.
Why: it is the one measure of a runner that does not come from what drew it.
Limit: 0.05 mm and 0.01 degree, the project's own bar; radii 0.01 mm.
Source: project's own bar.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.geometry.centreline import Bend, Centreline
from geomgen.geometry.frames import Vec, angle_between, distance
from geomgen.proofs._step_parts import TubePart, cast, finding, tube_parts, tube_paths
from geomgen.proofs._step_reading import ReadStep, Unreadable, on_assembly
from geomgen.proofs._tube_reading import ReadTube, read_holes, read_tube
from geomgen.solids.paths import merged

NAME = "step-centreline"

PLACE = 0.05
"""What an end or joint may be off [mm]."""

LEAN = math.radians(0.01)
"""What a direction may be off [rad]."""

RADIUS = 0.01
"""What a radius may be off [mm]."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """Two findings for every tube: places, and shape; none of a casting."""
    if cast(design):
        return ()

    def on(step: ReadStep) -> list[Finding]:
        found: list[Finding] = []
        for tube in tube_parts(design):
            found += _prove(design, tube, step)
        made = {tube.tube.centreline for tube in tube_parts(design)}
        missing = [
            wanted.name for wanted in design.tubes if not made.issuperset(tube_paths(wanted))
        ]
        for subject in missing:
            found.append(finding(NAME, subject, False, f"no part is the tube of {subject}"))
        return found

    return on_assembly(NAME, on, design, files)


def _prove(design: Design, tube: TubePart, step: ReadStep) -> list[Finding]:
    try:
        read = read_tube(
            step.part(tube.part.name).shape, tube.tube.centreline.start.origin, read_holes(tube)
        )
    except Unreadable as error:
        return [finding(NAME, tube.subject, False, f"{tube.part.name}: {error}")]
    wanted = Centreline(tube.tube.centreline.start, merged(tube.tube.centreline.pieces))
    if len(wanted.pieces) != len(read.pieces):
        message = f"{len(read.pieces)} straights and bends, the design has {len(wanted.pieces)}"
        return [finding(NAME, tube.subject, False, message)]
    return [
        _places(tube, wanted, read),
        _directions(tube, read),
        _shape(design, tube, wanted, read),
    ]


def _ends(tube: TubePart) -> tuple[tuple[Vec, Vec], tuple[Vec, Vec]]:
    """Where a tube must begin and end: at what it is welded to, if that is known."""
    start, end = tube.tube.centreline.start, tube.tube.centreline.end
    if tube.runner is not None and start == tube.runner.path.start:
        start = tube.runner.entry
    return (start.origin, start.z), (end.origin, end.z)


def _places(tube: TubePart, wanted: Centreline, read: ReadTube) -> Finding:
    first, last = (end[0] for end in _ends(tube))
    pairs = [
        (first, read.joints[0]),
        *zip((frame.origin for frame in wanted.frames[1:-1]), read.joints[1:-1], strict=True),
        (last, read.joints[-1]),
    ]
    worst, where = max((distance(a, b), b) for a, b in pairs)
    return finding(
        NAME,
        tube.subject,
        worst <= PLACE,
        f"port end off by {distance(first, read.joints[0]):.2g} mm, far end by "
        f"{distance(last, read.joints[-1]):.2g} mm, worst joint by {worst:.2g} mm",
        value=worst,
        limit=PLACE,
        unit="mm",
        where=where,
    )


def _directions(tube: TubePart, read: ReadTube) -> Finding:
    (_, first), (_, last) = _ends(tube)
    off = (
        angle_between(first, read.pieces[0].outset),
        angle_between(last, read.pieces[-1].onward),
        read.kink,
    )
    worst = math.degrees(max(off))
    return finding(
        NAME,
        f"{tube.subject} directions",
        max(off) <= LEAN,
        f"port end leans {math.degrees(off[0]):.2g} deg, far end {math.degrees(off[1]):.2g} deg, "
        f"worst kink {math.degrees(off[2]):.2g} deg",
        value=worst,
        limit=math.degrees(LEAN),
        unit="deg",
    )


def _shape(design: Design, tube: TubePart, wanted: Centreline, read: ReadTube) -> Finding:
    off = [
        abs(a - b)
        for a, b in zip(read.radii, (tube.tube.outer_radius, tube.tube.inner_radius), strict=False)
    ]
    lean = 0.0
    for piece, found in zip(wanted.pieces, read.pieces, strict=True):
        if isinstance(piece, Bend):
            off.append(abs(piece.radius - found.radius))
            lean = max(lean, abs(piece.angle - found.angle))
        else:
            off.append(found.radius)
    bends = [piece for piece in read.pieces if piece.radius > 0.0]
    od = 2.0 * tube.tube.outer_radius
    shelf = [s.clr for s in design.stock if not s.od or abs(s.od - od) < 1e-6]
    unlisted = [
        f"{bend.radius:.3f}"
        for bend in bends
        if tube.runner is not None
        and not any(abs(bend.radius - radius) <= RADIUS for radius in shelf)
    ]
    message = (
        f"bends of {', '.join(unlisted)} mm are not on the shelf"
        if unlisted
        else f"{len(bends)} bends; radii off by {max(off):.2g} mm, "
        f"angles by {math.degrees(lean):.2g} deg"
    )
    return finding(
        NAME,
        f"{tube.subject} bends",
        not unlisted and max(off) <= RADIUS and lean <= LEAN,
        message,
        value=max(off),
        limit=RADIUS,
        unit="mm",
    )
