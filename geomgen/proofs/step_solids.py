"""Every part in the written STEP is the one closed solid that the recipe makes.

What: re-read, each part is one closed, valid, positive solid whose volume and centre
are those of the recipe's own solid; each part file holds the assembly's body, word for word.
Why: a face left out, a number altered or parts exchanged would be cut as they stand.
Limit: 1e-6 of volume, 1e-3 mm of place: what a STEP's digits keep, with a margin.
Source: project's own bar.
"""

from __future__ import annotations

from collections.abc import Mapping

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.exports.step import assembly_path, part_path
from geomgen.geometry.frames import distance
from geomgen.proofs._step_parts import finding
from geomgen.proofs._step_reading import (
    ReadPart,
    ReadStep,
    Unreadable,
    on_assembly,
    text_of,
    unreadable,
)
from geomgen.recipe.nodes import Part, parts_of
from geomgen.solids.build import build
from geomgen.solids.measure import is_closed, is_valid, measured, solids_of
from geomgen.solids.part21 import body_digests
from geomgen.solids.products import products_of
from geomgen.solids.retrace import retraced

NAME = "step-solids"

RELATIVE = 1e-6
"""What volume may be off, as a share."""

PLACE = 1e-3
"""What a centre may be off [mm]."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """A finding for every part of the assembly, and for every part file."""

    def on(step: ReadStep) -> list[Finding]:
        found = []
        for part in parts_of(design.assembly):
            try:
                found.append(_prove(part, step.part(part.name)))
            except Unreadable as error:
                found.append(finding(NAME, part.name, False, str(error)))
        return found

    return (*on_assembly(NAME, on, design, files), *_part_files(design, files))


def defect(part: ReadPart) -> str:
    """What keeps a part from being one sound solid; empty when nothing does."""
    solids = solids_of(part.shape)
    if len(solids) != 1:
        return f"{len(solids)} solids"
    if not is_closed(part.shape):
        return "its skin is open"
    if not is_valid(part.shape):
        return "its skin crosses itself or does not meet"
    return ""


def _prove(part: Part, read: ReadPart) -> Finding:
    wrong = defect(read)
    if wrong:
        return finding(NAME, part.name, False, wrong)
    wanted, found = measured(build(part.node)), measured(read.shape)
    off = abs(found.volume / wanted.volume - 1.0)
    if off > RELATIVE:
        found = measured(retraced(read.shape))
        off = abs(found.volume / wanted.volume - 1.0)
    moved = distance(found.centre, wanted.centre)
    return finding(
        NAME,
        part.name,
        found.volume > 0.0 and off <= RELATIVE and moved <= PLACE,
        f"one closed solid of {found.volume:.1f} mm3, the recipe's {wanted.volume:.1f} mm3; "
        f"centre off by {moved:.2g} mm",
        value=found.volume,
        limit=wanted.volume,
        unit="mm3",
        where=found.centre,
    )


def _part_files(design: Design, files: Mapping[str, bytes]) -> list[Finding]:
    try:
        whole = body_digests(text_of(files.get(assembly_path(design), b"")))
    except Unreadable:
        whole = {}
    found = []
    names = {product.name: None for product in products_of(design.assembly).values()}
    for name in names:
        path = part_path(name)
        if path not in files:
            found.append(unreadable(NAME, path, Unreadable(f"{path} was not written")))
            continue
        try:
            alone = body_digests(text_of(files[path]))
        except Unreadable as error:
            found.append(unreadable(NAME, path, Unreadable(f"{path}: {error}")))
            continue
        same = list(alone) == [name] and alone[name] == whole.get(name)
        message = "the assembly's body" if same else f"not the assembly's body of {name}"
        found.append(finding(NAME, path, same, message))
    return found
