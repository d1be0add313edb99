"""``result.json``: every number of the design and every verdict, for other programs.

The document is versioned: a field is never renamed or given another unit under the same
``format``. ``FIELDS`` documents each one.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from geomgen.design.model import AreaStation, CommonLength, Design, FlatPart, Runner
from geomgen.errors import Finding, Verdict
from geomgen.exports.hole_table_csv import slot_degrees
from geomgen.profiles.loops import area
from geomgen.report._attached import (
    ATTACHMENT_FIELDS,
    SECTION_FIELDS,
    attachment_row,
    section_rows,
)
from geomgen.report.cautions import CAUTIONS
from geomgen.report.result_rows import (
    HEAD_FIELDS,
    SECONDARY_FIELDS,
    finding_row,
    head_row,
    secondary_row,
)
from geomgen.routing.score import OUT_OF_ORDER
from geomgen.targets.firing import intervals
from geomgen.targets.model import Target

FILE = "result.json"
FORMAT = 1

FIELDS: tuple[tuple[str, str], ...] = (
    ("format", "version of this document, 1"),
    ("name", "of the manifold"),
    ("revision", "of the spec"),
    ("title", "one line"),
    ("units", "in words; every field name ends in its own unit"),
    ("verdict", "worst unwaived verdict: pass, warn or fail"),
    ("exit_code", "0 released; 1 something unwaived fails"),
    ("withheld[]", "files that were made and not released"),
    ("firing_order[]", "cylinder numbers"),
    ("tuned.rule", "rule that chose the lengths; `spec` when the spec gave a number"),
    ("tuned.rpm", "speed tuned for"),
    ("tuned.sound_m_s", "speed of sound in the primaries"),
    ("tuned.length_to", "end that lengths count to: entry, first-join or throat"),
    ("tuned.valve_to_face_mm", "length of the port in the head"),
    ("runners[].cylinder", "number"),
    ("runners[].bank", "that its port is in; empty where there is but one"),
    ("runners[].slot", "place round the collector, from 0"),
    ("runners[].material", "grade"),
    ("runners[].od_mm", "outside diameter of the tube"),
    ("runners[].wall_mm", "wall of the tube"),
    ("runners[].target_mm", "length wanted, z = 0 to the stated end"),
    ("runners[].length_mm", "length as designed, z = 0 to the stated end"),
    ("runners[].length_from_step_mm", "the same, re-measured from the written STEP; or null"),
    ("runners[].plate_mm", "part of the length inside the plate"),
    ("runners[].transition_mm", "part of the length in the transition"),
    ("runners[].tube_mm", "part of the length in the bent tube"),
    ("runners[].stub_mm", "part of the length inside the collector"),
    ("runners[].ends[].end", "entry, first-join or throat"),
    ("runners[].ends[].length_mm", "length from z = 0 to that end"),
    ("runners[].bends", "number of bends"),
    ("runners[].total_bend_deg", "sum of all bend angles"),
    ("runners[].tightest_clr_mm", "smallest centreline radius; null without bends"),
    ("runners[].areas[].station_mm", "distance from z = 0"),
    ("runners[].areas[].area_mm2", "bore area there"),
    ("runners[].areas[].what", "what is there"),
    *SECTION_FIELDS,
    *HEAD_FIELDS,
    *SECONDARY_FIELDS,
    ("spread.shortest_mm", "shortest runner"),
    ("spread.longest_mm", "longest runner"),
    ("spread.mean_mm", "mean length"),
    ("spread.spread_mm", "longest less shortest"),
    ("spread.spread_percent", "the same over the mean"),
    ("collector.family", "family of the manifold"),
    ("collector.cylinders[]", "cylinder at each slot, round the collector"),
    ("collector.groups[].cylinders[]", "that meet at one junction, the last where all have met"),
    ("collector.groups[].firing_order[]", "its cylinders in the order that they fire"),
    (
        "collector.groups[].intervals_deg[]",
        "crank angle from each of those to the next, 720 in all",
    ),
    ("collector.groups[].least_interval_deg", "the least of them"),
    ("collector.in_order", "whether neighbours follow the firing order"),
    ("collector.areas[].station_mm", "distance from the entry face along one gas path"),
    ("collector.areas[].area_mm2", "bore area there"),
    ("collector.areas[].what", "what is there"),
    ("collector.facts.*", "further numbers of the family, each with its unit"),
    *ATTACHMENT_FIELDS,
    ("flats[].name", "of the plate part and its DXF"),
    ("flats[].title", "in words"),
    ("flats[].material", "grade"),
    ("flats[].thickness_mm", "of the plate, finished"),
    ("flats[].cut_thickness_mm", "of the plate as it is cut, before facing"),
    ("flats[].process", "how it is cut"),
    ("flats[].quantity", "how many"),
    ("flats[].notes[]", "what the shop must know beyond the tables"),
    ("flats[].holes[].name", "of the hole"),
    ("flats[].holes[].x_mm", "centre, as seen from the tube side"),
    ("flats[].holes[].y_mm", "centre, as seen from the tube side"),
    ("flats[].holes[].diameter_mm", "finished; a tapped hole's tap drill, a slot's width"),
    ("flats[].holes[].thread", "of the fastener; empty for a dowel"),
    ("flats[].holes[].kind", "clearance, tapped or dowel"),
    ("flats[].holes[].how", "`cut` to size, `pilot`: cut small and drilled, or `mark` and drill"),
    ("flats[].holes[].pilot_mm", "diameter that is cut of a pilot hole; else null"),
    ("flats[].holes[].slot_mm", "between the centres of a slot's ends; 0 for a round hole"),
    ("flats[].holes[].slot_deg", "direction of the slot, from x towards y"),
    ("flats[].holes[].note", "what else the shop must know of it"),
    ("flats[].holes[].cut_ratio", "diameter over plate thickness"),
    ("flats[].holes[].cut_limit", "least ratio that the process cuts"),
    ("ports[].cylinder", "number"),
    ("ports[].shape", "of the port"),
    ("ports[].area_mm2", "of its opening at the gasket face"),
    ("ports[].facts.*", "of a traced outline: how well it is known; empty for other shapes"),
    ("studs[].name", "of the stud"),
    ("studs[].bank", "of its head; empty where there is but one"),
    ("studs[].thread", "size"),
    ("studs[].x_mm", "root in its own head's frame"),
    ("studs[].y_mm", "root in its own head's frame"),
    ("studs[].z_mm", "root in its own head's frame"),
    ("studs[].protrusion_mm", "out of the head face"),
    ("layout_score", "of the routes, lower is better"),
    ("layout_order_cost", "part of it for neighbours that do not follow the firing order"),
    ("shortest.found_mm", "smallest common length found; null unless `length: shortest`"),
    ("shortest.bound_mm", "no layout is shorter; null unless `length: shortest`"),
    ("tolerance_mm", "what a runner may be off as built"),
    ("checks[].name", "of the check or proof"),
    ("checks[].source", "`check` on the design, `proof` on the written files"),
    ("checks[].subject", "what was looked at"),
    ("checks[].verdict", "pass, warn, fail, waived or not-run"),
    ("checks[].value", "what was found, in `unit`; null without a number"),
    ("checks[].limit", "what it was held against, in `unit`; null without one"),
    ("checks[].unit", "of value and limit"),
    ("checks[].message", "one sentence"),
    ("checks[].remedy", "what to do; empty when nothing"),
    ("checks[].where_mm[]", "worst point in the head frame; null without one"),
    ("targets[].rule", "name of the tuning rule"),
    ("targets[].kind", "length, bore, collector, speed or gas"),
    ("targets[].value", "in `unit`"),
    ("targets[].unit", "of value"),
    ("targets[].datum", "from where to where it counts"),
    ("targets[].formula", "as text"),
    ("targets[].inputs[]", "the numbers that went in"),
    ("targets[].lift_mm", "cam lift that the rule was made for; null without cam events"),
    ("targets[].source", "where the rule comes from"),
    ("targets[].mark", "how far to trust the source: S2, M or P"),
    ("targets[].note", "what else to know"),
    ("targets[].warning", "why the rule does not fit this spec; empty when it does"),
    ("limits.*", "every limit that checks use"),
    ("cautions[].topic", "of the caution"),
    ("cautions[].text", "to be printed on everything that a shop reads"),
    ("inputs.*", "SHA-256 of what the design was made from"),
    ("versions.*", "of geomgen and the libraries that made the files"),
)
"""Path and meaning of every field. ``*`` stands for names that depend on the spec."""


@dataclass(frozen=True)
class Facts:
    """What the report knows beside the design.

    Attributes:
        findings: of checks and proofs, waivers applied.
        targets: rows of the tuning rules.
        from_step: length re-measured from the STEP by cylinder [mm].
        withheld: files that are not released.
        exit_code: of the command.
        inputs: hashes of what went in.
        versions: of what made the files.
    """

    findings: tuple[Finding, ...]
    targets: tuple[Target, ...] = ()
    from_step: Mapping[int, float] = field(default_factory=dict)
    withheld: tuple[str, ...] = ()
    exit_code: int = 0
    inputs: Mapping[str, str] = field(default_factory=dict)
    versions: Mapping[str, str] = field(default_factory=dict)


def result(design: Design, facts: Facts) -> bytes:
    """The document as bytes: sorted keys, numbers rounded once to 1e-6."""
    return as_bytes(document(design, facts))


def as_bytes(tree: Any) -> bytes:
    """Any plain tree as JSON text; numbers that are not finite become null."""
    text = json.dumps(_rounded(tree), indent=2, sort_keys=True, allow_nan=False)
    return (text + "\n").encode("ascii")


def document(design: Design, facts: Facts) -> dict[str, Any]:
    """The document as a plain tree."""
    return {
        "format": FORMAT,
        "name": design.name,
        "revision": design.revision,
        "title": design.title,
        "units": "mm and degrees; every field name ends in its own unit",
        "verdict": str(worst(facts.findings)),
        "exit_code": facts.exit_code,
        "withheld": list(facts.withheld),
        "firing_order": list(design.firing_order),
        "tuned": {
            "rule": design.tuning.rule,
            "rpm": design.tuning.rpm,
            "sound_m_s": design.tuning.sound,
            "length_to": design.tuning.length_to,
            "valve_to_face_mm": design.tuning.valve_to_face,
        },
        "runners": [
            _runner(r, facts.from_step.get(r.cylinder), design.bank_of(r)) for r in design.runners
        ],
        "secondaries": [secondary_row(tube) for tube in design.secondaries],
        "heads": [head_row(head, design.engine) for head in design.heads],
        "spread": spread(design),
        "collector": {
            "family": design.collector.family,
            "cylinders": list(design.collector.cylinders),
            "groups": [_group(design, group) for group in design.collector.groups if group],
            "in_order": design.collector.in_order,
            "areas": _areas(design.collector.areas),
            "facts": dict(design.collector.facts),
        },
        "attachments": [attachment_row(one) for one in design.attachments],
        "flats": [_flat(flat) for flat in design.flats],
        "ports": [
            {
                "cylinder": port.cylinder,
                "shape": port.shape,
                "area_mm2": area(port.loop),
                "facts": dict(port.facts),
            }
            for port in design.ports
        ],
        "studs": [
            {
                "name": stud.name,
                "bank": design.heads[stud.head].name if design.heads else "",
                "thread": stud.thread,
                "x_mm": stud.at[0],
                "y_mm": stud.at[1],
                "z_mm": stud.at[2],
                "protrusion_mm": stud.protrusion,
            }
            for stud in design.studs
        ],
        "layout_score": design.score,
        "layout_order_cost": 0.0 if design.collector.in_order else OUT_OF_ORDER,
        "shortest": common_length(design.shortest),
        "tolerance_mm": design.tolerance,
        "checks": [finding_row(finding) for finding in facts.findings],
        "targets": [target_row(row) for row in facts.targets],
        "limits": dict(design.limits.values),
        "cautions": [{"topic": c.topic, "text": c.text} for c in CAUTIONS],
        "inputs": dict(facts.inputs),
        "versions": dict(facts.versions),
    }


def common_length(length: CommonLength | None) -> dict[str, float | None]:
    """Found and bound, each by its name [mm]."""
    return {
        "found_mm": length.found if length is not None else None,
        "bound_mm": length.bound if length is not None else None,
    }


def worst(findings: Iterable[Finding]) -> Verdict:
    """The worst verdict: fail, then warn, then pass. Waived and not-run do not count."""
    verdicts = [finding.verdict for finding in findings]
    for verdict in (Verdict.FAIL, Verdict.WARN):
        if verdict in verdicts:
            return verdict
    return Verdict.PASS


def spread(design: Design) -> dict[str, float]:
    """How equal the runners are [mm, %]."""
    lengths = [runner.account.total for runner in design.runners]
    mean = math.fsum(lengths) / len(lengths)
    shortest, longest = min(lengths), max(lengths)
    return {
        "shortest_mm": shortest,
        "longest_mm": longest,
        "mean_mm": mean,
        "spread_mm": longest - shortest,
        "spread_percent": 100.0 * (longest - shortest) / mean,
    }


def target_row(row: Target) -> dict[str, Any]:
    """One tuning rule's answer."""
    return {
        "rule": row.rule,
        "kind": row.kind,
        "value": row.value,
        "unit": row.unit,
        "datum": row.datum,
        "formula": row.formula,
        "inputs": list(row.inputs),
        "lift_mm": row.lift,
        "source": row.source,
        "mark": row.mark,
        "note": row.note,
        "warning": row.warning,
    }


def _runner(runner: Runner, from_step: float | None, bank: str) -> dict[str, Any]:
    radii = [bend.radius for bend in runner.path.bends]
    return {
        "cylinder": runner.cylinder,
        "bank": bank,
        "slot": runner.slot,
        "material": runner.material,
        "od_mm": 2.0 * runner.outer_radius,
        "wall_mm": runner.outer_radius - runner.inner_radius,
        "target_mm": runner.target,
        "length_mm": runner.account.total,
        "length_from_step_mm": from_step,
        "plate_mm": runner.account.plate,
        "transition_mm": runner.account.transition,
        "tube_mm": runner.account.tube,
        "stub_mm": runner.account.stub,
        "ends": [{"end": end, "length_mm": length} for end, length in runner.to_ends],
        "bends": len(radii),
        "total_bend_deg": math.degrees(runner.path.total_angle),
        "tightest_clr_mm": min(radii, default=None),
        "areas": _areas(runner.areas),
        "sections": section_rows(runner),
    }


def _group(design: Design, group: tuple[int, ...]) -> dict[str, Any]:
    gaps = intervals(design.firing_order, group)
    return {
        "cylinders": list(group),
        "firing_order": [cylinder for cylinder, _ in gaps],
        "intervals_deg": [math.degrees(gap) for _, gap in gaps],
        "least_interval_deg": math.degrees(min(gap for _, gap in gaps)),
    }


def _areas(stations: Iterable[AreaStation]) -> list[dict[str, Any]]:
    return [{"station_mm": a.station, "area_mm2": a.area, "what": a.what} for a in stations]


def _flat(flat: FlatPart) -> dict[str, Any]:
    return {
        "name": flat.name,
        "title": flat.title,
        "material": flat.material,
        "thickness_mm": flat.thickness,
        "cut_thickness_mm": flat.cut_thickness,
        "process": flat.process,
        "quantity": flat.quantity,
        "notes": list(flat.notes),
        "holes": [
            {
                "name": hole.name,
                "x_mm": hole.at[0],
                "y_mm": hole.at[1],
                "diameter_mm": hole.diameter,
                "thread": hole.thread,
                "kind": hole.kind,
                "how": hole.how,
                "pilot_mm": hole.pilot if hole.how == "pilot" else None,
                "slot_mm": hole.slot,
                "slot_deg": slot_degrees(hole),
                "note": hole.note,
                "cut_ratio": hole.cut_ratio,
                "cut_limit": hole.cut_limit,
            }
            for hole in flat.holes
        ],
    }


def _rounded(tree: Any) -> Any:
    if isinstance(tree, float):
        return round(tree, 6) + 0.0 if math.isfinite(tree) else None
    if isinstance(tree, Mapping):
        return {str(key): _rounded(value) for key, value in tree.items()}
    if isinstance(tree, list | tuple):
        return [_rounded(value) for value in tree]
    return tree
