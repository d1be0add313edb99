"""Attachments and the stretches of stepped runners, as ``result.json`` has them."""

from __future__ import annotations

from typing import Any

from geomgen.design.model import Attachment, Runner

ATTACHMENT_FIELDS = (
    ("attachments[].kind", "`wastegate`, `bung`, `end`, `support` or `flex`"),
    ("attachments[].name", "of its part"),
    ("attachments[].use", "what for: of a bung, an end; of a wastegate its named gas end"),
    ("attachments[].host", "pipe that it stands on"),
    ("attachments[].cylinders[]", "whose gas passes it, where that is certain"),
    ("attachments[].at_mm[]", "where its axis leaves the host's axis"),
    ("attachments[].axis[]", "direction from there"),
    ("attachments[].flow[]", "the way the gas goes there"),
    ("attachments[].facts.*", "its numbers, each with its unit"),
)
"""Every field of an attachment, with what it means."""

SECTION_FIELDS = (
    ("runners[].sections[].part", "part of a stepped runner; empty where it is one tube"),
    ("runners[].sections[].is_step", "whether it is an expander"),
    ("runners[].sections[].length_mm", "along the centreline"),
    ("runners[].sections[].od_start_mm", "outside diameter where the gas enters it"),
    ("runners[].sections[].od_end_mm", "and where it leaves"),
    ("runners[].sections[].wall_mm", "wall where the gas enters it"),
    ("runners[].sections[].moved_mm", "of an expander: how far it stands from its wanted place"),
)
"""Every field of a stepped runner's stretches."""


def attachment_row(one: Attachment) -> dict[str, Any]:
    """One attachment."""
    fitted = one.fitted
    return {
        "kind": fitted.kind,
        "name": fitted.name,
        "use": fitted.use,
        "host": fitted.host,
        "cylinders": list(one.cylinders),
        "at_mm": list(fitted.at),
        "axis": list(fitted.axis),
        "flow": list(fitted.flow),
        "facts": dict(fitted.facts),
    }


def section_rows(runner: Runner) -> list[dict[str, Any]]:
    """The stretches of a stepped runner; none where its tube is one."""
    return [
        {
            "part": section.part,
            "is_step": section.is_step,
            "length_mm": section.path.length,
            "od_start_mm": 2.0 * section.outer[0],
            "od_end_mm": 2.0 * section.outer[1],
            "wall_mm": section.outer[0] - section.inner[0],
            "moved_mm": section.moved,
        }
        for section in runner.sections
    ]
