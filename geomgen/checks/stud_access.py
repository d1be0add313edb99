"""At every stud and bolt, of heads and of all other flanges, one of the listed tools works.

What: room for a socket on its extension, straight out or leaning within its cone, for a ring
spanner's swing, or for an open-ended spanner's swing and its way on to the nut from the side,
in some direction; with play, clear of runners, transitions, collector, other studs with their
nuts, and obstacles. Bolts that are screwed in have their heads there, on whichever side those
are. Runners are laid out round the tools of heads and turbines alone. At gates, outlets and other
plates what comes next counts as thick as the plate, and where no listed tool is of the size an
ordinary one is tried: it warns if that reaches.
Why: a nut that cannot be reached with the runners in place cannot be tightened.
Limit: ``limits.tool_play`` round the tool; sizes of tools from the spec or from their size
across flats.
Source: common practice, no source.
"""

from __future__ import annotations

from geomgen.checks import judged
from geomgen.checks._clearances import beside_unseen
from geomgen.checks._rooms import Left, left_by_runners
from geomgen.design.access import Site, Tried, nut_way, places_at, sites_of, tried_at
from geomgen.design.joint_access import joints_of
from geomgen.design.model import Design, Stud
from geomgen.errors import Finding, Verdict
from geomgen.fasteners import FASTENERS
from geomgen.routing.problem import ToolPlace

NAME = "stud-access"

_REMEDY = "list another tool (thinner, shorter, open-ended, one that leans), or solve again"
_REMEDY_STILL = (
    "list another tool (thinner, shorter, open-ended, one that leans), or move bolts and what bars "
    "them apart: it stands still, whatever the layout"
)
_REMEDY_BESIDE = (
    "list another tool (thinner, shorter, open-ended, one that leans), move the bolts away from "
    "the pipe, turn the flange, or keep runners away with an obstacle"
)


def run(design: Design) -> tuple[Finding, ...]:
    """One finding a stud: room beyond the tool's play [mm]."""
    if not design.tools:
        return (
            Finding(
                NAME,
                "all studs",
                Verdict.NOT_RUN,
                "the spec lists no tools",
                remedy="list the tools that you have under tools",
            ),
        )
    sites = (*sites_of(design), *joints_of(design))
    found = tuple(_finding(design, site, stud) for site in sites for stud in site.studs)
    return beside_unseen(design, found)


def _finding(design: Design, site: Site, stud: Stud) -> Finding:
    nut = nut_way(site, stud)
    left: dict[str, Left] = {}
    routed = (place for place in design.problem.places if place.stud == stud.name)
    for place in routed if site.routed else places_at(site, stud):
        # The nut's own way is the check on starting it, not the tool's.
        fields = tuple(field for field in place.fields if field != nut)
        left[place.tool] = left_by_runners(design, fields)
        if left[place.tool].room >= 0.0:
            return _free(site, stud, place, left[place.tool].room)
    tried = tried_at(site, stud)
    best = max((found.room for found in left.values()), default=None)
    return Finding(
        NAME,
        stud.called,
        judged(False),
        f"no listed tool has room: {'; '.join(_told(tool, left) for tool in tried)}",
        best,
        0.0,
        "mm",
        _remedy(site, bool(left)),
        site.frame.point(stud.at),
    )


def _remedy(site: Site, runners_bar: bool) -> str:
    if not site.routed:
        return _REMEDY_BESIDE
    return _REMEDY if runners_bar else _REMEDY_STILL


def _free(site: Site, stud: Stud, place: ToolPlace, room: float) -> Finding:
    return Finding(
        NAME,
        stud.called,
        judged(site.listed, Verdict.WARN),
        f"{place.tool}, at least {room:.1f} mm to spare"
        + ("" if site.listed else f"; no tool for {stud.thread} is listed"),
        room,
        0.0,
        "mm",
        "" if site.listed else f"list one under tools: {_flats(stud):g} mm across flats",
        site.frame.point(stud.at),
    )


def _flats(stud: Stud) -> float:
    return FASTENERS[stud.thread].across_flats


def _told(tool: Tried, left: dict[str, Left]) -> str:
    """What bars a tool where it is barred least."""
    nearest = max(
        (left[way] for way in tool.ways if way in left), key=lambda found: found.room, default=None
    )
    if nearest is not None:
        return f"{tool.tool} lacks {-nearest.room:.1f} mm beside {nearest.runner}"
    if tool.bar is not None:
        return f"{tool.tool} lacks {tool.bar.lacks:.1f} mm beside {tool.bar.name}"
    return f"{tool.tool} has room where the nut has none"
