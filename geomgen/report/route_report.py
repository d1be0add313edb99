"""What moved between the layout in a lock and one that was solved anew, as text and as JSON."""

from __future__ import annotations

import math
from typing import Any

from geomgen.design.model import CommonLength, Runner, Secondary
from geomgen.design.moved import RunnerMove
from geomgen.design.reroute import Rerouted
from geomgen.report.result_json import common_length
from geomgen.report.summary import kept_lines, order_line, shortest_lines, table

FORMAT = 1

FIELDS: tuple[tuple[str, str], ...] = (
    ("format", "version of this document, 1"),
    ("name", "of the manifold"),
    ("exit_code", "0"),
    ("written", "whether the new layout was written to the lock"),
    ("verdict", "first, other inputs, better, same or worse; the last two are not written"),
    ("score_before", "of the lock's layout, lower is better; null without one"),
    ("score", "of the new layout"),
    ("shortest_before.found_mm", "common length in the lock; null when none was sought"),
    ("shortest_before.bound_mm", "its bound"),
    ("shortest.found_mm", "new common length found; null when none was sought"),
    ("shortest.bound_mm", "no layout is shorter"),
    ("in_order", "whether neighbours round the collector follow the firing order"),
    ("runners[].cylinder", "number"),
    ("runners[].still", "whether it stands as it was; null without a layout before"),
    ("runners[].slot_before", "place round the collector, from 0; null without one before"),
    ("runners[].slot", "the same now"),
    ("runners[].bends_before", "number of bends; null without one before"),
    ("runners[].bends", "the same now"),
    ("runners[].total_bend_before_deg", "sum of all bend angles; null without one before"),
    ("runners[].total_bend_deg", "the same now"),
    ("runners[].moved_mm", "largest distance from a point of either centreline to the other"),
    ("runners[].where_mm[]", "that point, in the head frame; null without one"),
    ("runners[].where_was", "whether that point is on the old centreline; null without one"),
    ("secondaries[].name", "of a tube between junctions; its other fields as of a runner"),
    ("secondaries[].cylinders[]", "whose gas it carries"),
    ("pins[].cylinder", "of a pinned part that has another number now"),
    ("pins[].pinned", "what the spec calls it"),
    ("pins[].now", "what the new bend table calls it"),
)
"""Path and meaning of every field."""


def lines(rerouted: Rerouted) -> list[str]:
    """What moved, for a person."""
    design = rerouted.new.design
    said = [f"{design.name}: laid out anew", ""]
    said += _score_lines(rerouted)
    if rerouted.length_before is not None:
        said.append(_length_before(rerouted.length_before))
    said += shortest_lines(design)
    said += [order_line(design), *kept_lines(design), "", *_runner_lines(rerouted)]
    said += [
        f"pin on {pinned} of {name}: the new bend table calls it {now}"
        for name, pinned, now in rerouted.renamed
    ]
    return said


def _score_lines(rerouted: Rerouted) -> list[str]:
    now = f"{rerouted.new.design.score:.3f} now (lower is better)"
    if rerouted.score_before is None:
        return [f"score {now}"]
    return [f"score {rerouted.score_before:.3f} before, {now}"]


def _length_before(length: CommonLength) -> str:
    return f"common length before: found {length.found:.2f} mm, bound {length.bound:.2f} mm"


def _runner_lines(rerouted: Rerouted) -> list[str]:
    header = ("runner", "slot", "bends", "turn, deg", "moved, mm")
    if rerouted.moved is None:
        return table(header, (_row(tube) for tube in rerouted.new.design.tubes))
    rows = [_moved_row(move) for move in rerouted.moved]
    return table((*header, "farthest at [mm]"), rows)


def _row(tube: Runner | Secondary) -> tuple[str, ...]:
    turn = math.degrees(tube.path.total_angle)
    name = tube.name.removeprefix("runner ")
    return (name, str(tube.slot), str(len(tube.path.bends)), f"{turn:.1f}", "-")


def _moved_row(move: RunnerMove) -> tuple[str, ...]:
    turn = tuple(f"{math.degrees(angle):.1f}" for angle in move.turn)
    slots, bends = (tuple(map(str, pair)) for pair in (move.slot, move.bends))
    cells = (move.name.removeprefix("runner "), _change(slots), _change(bends), _change(turn))
    if move.still:
        return (*cells, "0", "stands as it was")
    at = ", ".join(f"{value:.0f}" for value in move.where)
    return (*cells, f"{move.farthest:.1f}", f"[{at}]{', where it was' if move.was else ''}")


def _change(pair: tuple[str, ...]) -> str:
    before, now = pair
    return now if before == now else f"{before} -> {now}"


def document(rerouted: Rerouted, written: bool) -> dict[str, Any]:
    """The same as a plain tree."""
    design = rerouted.new.design
    moved = rerouted.moved or (None,) * len(design.tubes)
    count = len(design.runners)
    return {
        "format": FORMAT,
        "name": design.name,
        "exit_code": 0,
        "written": written,
        "verdict": rerouted.verdict,
        "score_before": rerouted.score_before,
        "score": design.score,
        "shortest_before": common_length(rerouted.length_before),
        "shortest": common_length(design.shortest),
        "in_order": design.collector.in_order,
        "runners": [
            {"cylinder": runner.cylinder, **_tube(runner, move)}
            for runner, move in zip(design.runners, moved[:count], strict=True)
        ],
        "secondaries": [
            {"name": tube.name, "cylinders": list(tube.cylinders), **_tube(tube, move)}
            for tube, move in zip(design.secondaries, moved[count:], strict=True)
        ],
        "pins": [
            {"cylinder": int(name.removeprefix("runner ")), "pinned": pinned, "now": now}
            for name, pinned, now in rerouted.renamed
        ],
    }


def _tube(tube: Runner | Secondary, move: RunnerMove | None) -> dict[str, Any]:
    return {
        "still": move.still if move else None,
        "slot_before": move.slot[0] if move else None,
        "slot": tube.slot,
        "bends_before": move.bends[0] if move else None,
        "bends": len(tube.path.bends),
        "total_bend_before_deg": math.degrees(move.turn[0]) if move else None,
        "total_bend_deg": math.degrees(tube.path.total_angle),
        "moved_mm": move.farthest if move else None,
        "where_mm": list(move.where) if move and not move.still else None,
        "where_was": move.was if move and not move.still else None,
    }
