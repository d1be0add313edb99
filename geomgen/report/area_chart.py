"""A chart of the bore from port to outlet, one line a cylinder, as SVG: dips and steps at a glance.

Above it, where each station is for each cylinder; below it, the same in numbers. Pure text,
the same bytes for the same design.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from geomgen.design.gas_ways import BEFORE, Way, ways
from geomgen.design.model import Design
from geomgen.report._area_words import Alike, Named, alike, notes
from geomgen.report._svg import INK, PALE, SOFT, hexed, n, polyline, sheet, spread, text, ticks

NAME = "area-chart"

FILE = "area_chart.svg"

_LEFT, _RIGHT, _WIDE = 178.0, 90.0, 1200.0
_NAMES, _LANE, _PLOT = 150.0, 17.0, 400.0
"""Where names of stations stand, a cylinder's lane, and the chart itself [px]."""
_THIN, _RIM = 1.8, 3.2
"""Width of the top line, and how much wider each line below is, so that all are seen [px]."""
_TURN, _APART = -58, 15.0
_ROW = 16.0
_HALO = 'stroke="#ffffff" stroke-width="3" paint-order="stroke"'
_DASHED = ' stroke-dasharray="7 4"'


@dataclass(frozen=True)
class _Axes:
    """Scales of the chart: to 0 at (left, foot)."""

    foot: float
    per_mm: float
    per_mm2: float

    def x(self, station: float) -> float:
        return _LEFT + self.per_mm * station

    def y(self, area: float) -> float:
        return self.foot - self.per_mm2 * area

    def at(self, row: tuple[float, float]) -> tuple[float, float]:
        return self.x(row[0]), self.y(row[1])


def pictures(design: Design) -> dict[str, bytes]:
    """The chart, by file name; none where there are no runners."""
    if not design.runners:
        return {}
    return {FILE: picture(design).encode("utf-8")}


def picture(design: Design) -> str:
    """The chart as SVG text."""
    found = ways(design)
    groups = alike(found)
    top = _NAMES + _LANE * len(groups)
    foot = top + _PLOT
    rows = [row for way in found for row in way.rows]
    across, up = ticks(max(r.station for r in rows), 15), ticks(max(r.area for r in rows), 8)
    wide = _WIDE - _LEFT - _RIGHT
    axes = _Axes(foot, wide / across[-1], (_PLOT - 14.0) / up[-1])
    table, end = _table(groups, foot + 76.0)
    words = [line for said in notes(design, found, groups) for line in textwrap.wrap(said, 165)]
    body = [
        text(20, 30, "Bore area from port to outlet", 19, 'font-weight="bold"'),
        text(20, 49, f"{design.name}, revision {design.revision}", 12, SOFT),
        *_grid(axes, across, up),
        *_lanes(groups, axes),
        *_lines(found, axes),
        *table,
        *(text(20, end + 20 + _ROW * k, said, 11.5) for k, said in enumerate(words)),
    ]
    right = 230.0 + 118.0 * len(groups) + 20.0
    height = end + 20 + _ROW * len(words) + 6
    return sheet(f"Bore area of {design.name}", max(_WIDE, right), height, body)


def _grid(axes: _Axes, across: Sequence[float], up: Sequence[float]) -> list[str]:
    right, middle = axes.x(across[-1]), axes.foot - _PLOT / 2.0
    lines = []
    for area in up:
        y = axes.y(area)
        lines.append(polyline([(_LEFT, y), (right, y)], f'stroke="{PALE}"'))
        lines.append(text(_LEFT - 8, y + 4, n(area), 11, f'text-anchor="end" {SOFT}'))
    for station in across:
        x = axes.x(station)
        lines.append(polyline([(x, axes.foot), (x, axes.foot + 5)], 'stroke="#5b6673"'))
        lines.append(text(x, axes.foot + 18, n(station), 11, f'text-anchor="middle" {SOFT}'))
    turned = f'text-anchor="middle" transform="rotate(-90 {n(_LEFT - 58)} {n(middle)})"'
    return [
        *lines,
        polyline([(_LEFT, axes.foot), (right, axes.foot)], 'stroke="#5b6673"'),
        text(
            (_LEFT + right) / 2.0,
            axes.foot + 38,
            "distance from z = 0 along the gas [mm]",
            12,
            'text-anchor="middle"',
        ),
        text(_LEFT - 58, middle, "bore area [mm2]", 12, turned),
    ]


def _lanes(groups: Sequence[Alike], axes: _Axes) -> list[str]:
    """Names of the stations on top; below, where each of them is for each group."""
    longest = max(groups, key=lambda group: len(group.stations)).stations
    first = {named.key: axes.x(named.station) for named in groups[0].stations}
    on_top = [s for s in longest if s.key in first and not s.name.startswith(BEFORE)]
    shown, placed = [s.name for s in on_top], [first[s.key] for s in on_top]
    lines: list[str] = []
    y = _NAMES - 26.0
    for name, x, at in zip(shown, placed, spread(placed, _APART), strict=True):
        turned = f'transform="rotate({_TURN} {n(at + 3)} {n(y - 3)})"'
        lines.append(text(at + 3, y - 3, name, 11.5, turned))
        lines.append(polyline([(at, y), (x, _NAMES), (x, _NAMES + 4)], f'stroke="{PALE}"'))
    middles = [_NAMES + _LANE * (k + 0.5) - 2.0 for k in range(len(groups))]
    for (above, one), (below, other) in pairwise(zip(middles, groups, strict=True)):
        lines += _links(one, above, other, below, axes)
    for y, group in zip(middles, groups, strict=True):
        lines += _lane(group, y, axes)
    return lines


def _colour(group: Alike) -> str:
    return hexed(group.cylinders[0]) if len(group.cylinders) == 1 else INK


def _links(one: Alike, above: float, other: Alike, below: float, axes: _Axes) -> list[str]:
    there = {named.key: axes.x(named.station) for named in other.stations}
    return [
        polyline([(axes.x(named.station), above), (there[named.key], below)], f'stroke="{PALE}"')
        for named in one.stations
        if named.key in there
    ]


def _lane(group: Alike, y: float, axes: _Axes) -> list[str]:
    colour = _colour(group)
    end = axes.x(group.stations[-1].station)
    last = group.stations[-1]
    marks = [
        polyline([(axes.x(s.station), y - 5), (axes.x(s.station), y + 5)], f'stroke="{colour}"')
        for s in group.stations
    ]
    return [
        text(_LEFT - 10, y + 4, group.title, 11.5, 'text-anchor="end"'),
        polyline([(_LEFT, y), (end, y)], f'stroke="{colour}" stroke-width="1.6"'),
        *marks,
        text(end + 7, y + 4, f"{last.station:.0f} mm", 11, f"{SOFT} {_HALO}"),
    ]


def _lines(found: Sequence[Way], axes: _Axes) -> list[str]:
    """One line a cylinder, the later the narrower: where they lie on each other all are seen."""
    rim = min(_RIM, 14.0 / max(1, len(found) - 1))
    lines = []
    for k, way in enumerate(found):
        width = _THIN + rim * (len(found) - 1 - k)
        style = f'stroke="{hexed(way.cylinder)}" stroke-width="{n(width)}"'
        lines += [
            polyline([axes.at(p) for p in run], style + (_DASHED if dashed else ""))
            for run, dashed in _runs(way)
        ]
    for way in found[::-1]:
        lines += [
            f'<circle cx="{n(axes.x(row.station))}" cy="{n(axes.y(row.area))}" r="2.6" '
            f'fill="#ffffff" stroke="{hexed(way.cylinder)}"/>'
            for row in way.rows
            if Named.shows(row)
        ]
    return lines


def _runs(way: Way) -> list[tuple[list[tuple[float, float]], bool]]:
    """Stretches of a line, and whether only their ends were worked out."""
    runs: list[tuple[list[tuple[float, float]], bool]] = []
    for one, other in pairwise(way.rows):
        open_ = Named.is_open(one, other)
        ends = [(one.station, one.area), (other.station, other.area)]
        if runs and not open_ and not runs[-1][1]:
            runs[-1][0].append(ends[1])
        else:
            runs.append((ends, open_))
    return runs


def _table(groups: Sequence[Alike], top: float) -> tuple[list[str], float]:
    """Stations down, cylinders across: distance and area; gives where it ends."""
    longest = max(groups, key=lambda group: len(group.stations)).stations
    lines = [text(20, top, "station", 11.5, f'font-weight="bold" {SOFT}')]
    for k, group in enumerate(groups):
        x = 230.0 + 118.0 * k
        lines.append(
            text(
                x + 52,
                top - 15,
                group.short,
                11.5,
                f'text-anchor="end" font-weight="bold" fill="{_colour(group)}"',
            )
        )
        for dx, head in ((0.0, "mm"), (52.0, "mm2")):
            lines.append(text(x + dx, top, head, 11.5, f'text-anchor="end" {SOFT}'))
    for i, named in enumerate(longest, 1):
        y = top + _ROW * i
        lines.append(text(20, y, named.name, 11.5))
        for k, group in enumerate(groups):
            cell = next((s for s in group.stations if s.key == named.key), None)
            lines += [] if cell is None else _cell(cell, 230.0 + 118.0 * k, y)
    return lines, top + _ROW * (len(longest) + 0.4)


def _cell(cell: Named, x: float, y: float) -> list[str]:
    right = 'text-anchor="end"'
    return [
        text(x, y, f"{cell.station:.1f}", 11.5, right),
        text(x + 52, y, f"{cell.area:.1f}", 11.5, right),
    ]
