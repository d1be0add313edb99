"""Rows of ``result.json`` for tubes between junctions and for heads, with their fields."""

from __future__ import annotations

import math
from typing import Any

from geomgen.design.model import EngineRows, HeadPlace, Secondary
from geomgen.errors import Finding

SECONDARY_FIELDS: tuple[tuple[str, str], ...] = (
    ("secondaries[].name", "of a tube between two junctions"),
    ("secondaries[].cylinders[]", "whose gas it carries"),
    ("secondaries[].slot", "place at the collector, from 0, counted on from the runners'"),
    ("secondaries[].material", "grade"),
    ("secondaries[].od_mm", "outside diameter of the tube"),
    ("secondaries[].wall_mm", "wall of the tube"),
    ("secondaries[].target_mm", "length wanted, from the first join before it to the stated end"),
    ("secondaries[].length_mm", "the same as designed"),
    ("secondaries[].junction_mm", "part of the length in the junction before it"),
    ("secondaries[].tube_mm", "part of the length in the bent tube"),
    ("secondaries[].stub_mm", "part of the length inside the collector"),
    ("secondaries[].ends[].end", "entry, first-join or throat"),
    ("secondaries[].ends[].length_mm", "length from the first join before it to that end"),
    ("secondaries[].bends", "number of bends"),
    ("secondaries[].total_bend_deg", "sum of all bend angles"),
    ("secondaries[].tightest_clr_mm", "smallest centreline radius; null without bends"),
)
"""Path and meaning of every field of a secondary."""

HEAD_FIELDS: tuple[tuple[str, str], ...] = (
    ("heads[].bank", "left or right; empty where there is but one head"),
    ("heads[].seen_from", "`flywheel` or `front`: end that it is left or right from; or empty"),
    ("heads[].front_to_flywheel[]", "all cylinders of its bank; empty without `engine.banks`"),
    ("heads[].cylinders[]", "of its ports, in their order along it"),
    ("heads[].at_mm[]", "origin of its frame: its first port, on the flange's gasket face"),
    ("heads[].x[]", "along the head, to the right as one looks at it from outside"),
    ("heads[].z[]", "out of the head"),
)
"""Path and meaning of every field of a head."""


def head_row(head: HeadPlace, engine: EngineRows) -> dict[str, Any]:
    """One head, where it stands."""
    return {
        "bank": head.name,
        "seen_from": engine.seen_from if head.name else "",
        "front_to_flywheel": list(engine.row(head.name)),
        "cylinders": list(head.cylinders),
        "at_mm": list(head.frame.origin),
        "x": list(head.frame.x),
        "z": list(head.frame.z),
    }


def secondary_row(tube: Secondary) -> dict[str, Any]:
    """One tube between junctions."""
    radii = [bend.radius for bend in tube.path.bends]
    return {
        "name": tube.name,
        "cylinders": list(tube.cylinders),
        "slot": tube.slot,
        "material": tube.material,
        "od_mm": 2.0 * tube.outer_radius,
        "wall_mm": tube.outer_radius - tube.inner_radius,
        "target_mm": tube.target,
        "length_mm": tube.account.total,
        "junction_mm": tube.account.junction,
        "tube_mm": tube.account.tube,
        "stub_mm": tube.account.stub,
        "ends": [{"end": end, "length_mm": length} for end, length in tube.to_ends],
        "bends": len(radii),
        "total_bend_deg": math.degrees(tube.path.total_angle),
        "tightest_clr_mm": min(radii, default=None),
    }


def finding_row(finding: Finding) -> dict[str, Any]:
    """What a check or proof found, as a plain tree."""
    return {
        "name": finding.name,
        "source": finding.source,
        "subject": finding.subject,
        "verdict": str(finding.verdict),
        "value": finding.value,
        "limit": finding.limit,
        "unit": finding.unit,
        "message": finding.message,
        "remedy": finding.remedy,
        "where_mm": None if finding.where is None else list(finding.where),
    }
