"""No edge faces the gas between port, formed end, round end and tube.

What: how far the tube's bore stands inside the port's edge at the gasket face, and the
tube inside the transition's round end; and how far outside (an outward step).
Why: an edge that faces the flow is a dam; a flange slightly smaller than the port cost a
tested engine four of its 231 hp.
Limit: ``limits.inward_step`` fails, ``limits.outward_step`` warns.
Source: supplier's port-fit article (0.030 in outward); none inward: common practice.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design, Runner
from geomgen.errors import Finding, Verdict
from geomgen.profiles.distances import inside, point_to_loop
from geomgen.profiles.loops import Arc, Loop, Point2

NAME = "inward-step"

_SAMPLES = 24


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a runner [mm]."""
    ports = {port.cylinder: port.loop for port in design.ports}
    return tuple(_finding(design, runner, ports[runner.cylinder]) for runner in design.runners)


def _finding(design: Design, runner: Runner, port: Loop) -> Finding:
    near, far = runner.transition.bore
    inward, outward = steps(port, near)
    round_end = max(piece.radius for piece in far if isinstance(piece, Arc))
    inward = max(inward, round_end - runner.entry_inner)
    outward = max(outward, runner.entry_inner - round_end)
    limit = design.limits["inward_step"]
    verdict = judged(inward <= limit)
    if verdict is Verdict.PASS and outward > design.limits["outward_step"]:
        verdict = Verdict.WARN
    return Finding(
        NAME,
        f"runner {runner.cylinder}",
        verdict,
        f"largest step into the gas {inward:.2f} mm, away from it {outward:.2f} mm",
        inward,
        limit,
        "mm",
        "" if verdict is Verdict.PASS else "match tube and port: a larger tube or another window",
    )


def steps(before: Loop, after: Loop) -> tuple[float, float]:
    """Largest step into the gas and away from it where ``before`` opens into ``after`` [mm]."""
    inward = max(_beyond(p, after) for p in _round(before))
    outward = max(_beyond(p, before) for p in _round(after))
    return max(inward, 0.0), max(outward, 0.0)


def _beyond(point: Point2, loop: Loop) -> float:
    away = point_to_loop(point, loop)
    return 0.0 if away < 1e-9 or inside(point, loop) else away


def _round(loop: Loop) -> list[Point2]:
    points: list[Point2] = []
    for piece in loop:
        for i in range(_SAMPLES):
            f = i / _SAMPLES
            if isinstance(piece, Arc):
                points.append(piece.at(f))
            else:
                (x0, y0), (x1, y1) = piece.start, piece.end
                points.append((x0 + f * (x1 - x0), y0 + f * (y1 - y0)))
    return points
