"""At every stud at least one of the listed tools works.

What: room for a socket on its extension, straight out, or for a ring spanner's swing in
some direction; with play, clear of runners, transitions, other studs and obstacles.
Why: a nut that cannot be reached with the runners in place cannot be tightened.
Limit: ``limits.tool_play`` round the tool; sizes of tools from the spec or from their size
across flats.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.design.model import Design
from geomgen.errors import Finding, Verdict
from geomgen.routing.prove import free_places

NAME = "stud-access"


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a stud: room beyond the tool's play [mm]."""
    if not design.problem.studs:
        return (
            Finding(
                NAME,
                "all studs",
                Verdict.NOT_RUN,
                "the spec lists no tools",
                remedy="list the tools that you have under tools",
            ),
        )
    paths = tuple(runner.path for runner in design.runners)
    places = {stud.name: stud.at for stud in design.studs}
    found = []
    for stud, tool, room in free_places(design.problem, paths):
        ok = room >= 0.0
        shut = room == float("-inf")
        found.append(
            Finding(
                NAME,
                f"stud {stud}",
                judged(ok),
                _message(tool, room),
                None if shut else room,
                0.0,
                "mm",
                "" if ok else "list another tool (thinner, shorter), or solve again",
                places[stud],
            )
        )
    return tuple(found)


def _message(tool: str, room: float) -> str:
    if room >= 0.0:
        return f"{tool}, at least {room:.1f} mm to spare"
    if room == float("-inf"):
        return "no listed tool has room beside what stands still"
    return f"no listed tool has room; nearest to it is the {tool}, which lacks {-room:.1f} mm"
