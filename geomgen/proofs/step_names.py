"""The assembly's STEP holds the parts that the design has, named, nested and coloured so.

What: tree of names, count and colours, as a CAD reader finds them in the written file.
Why: a lump without names, or a part too few, is what other people's CAD is sent most.
Limit: exact names and order-free nesting; colours within 1/512.
Source: the design's own list of parts; common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping

from geomgen.design.model import Design
from geomgen.errors import Finding
from geomgen.exports.step import assembly_path
from geomgen.proofs._step_parts import finding
from geomgen.proofs._step_reading import ReadStep, on_assembly
from geomgen.recipe.nodes import Group, Part
from geomgen.solids.products import products_of

NAME = "step-names"

COLOUR_STEP = 1.0 / 512.0
"""Half of one step of 8-bit colour."""

Place = tuple[tuple[str, ...], str]


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """Findings on names, products and colours of the assembly."""

    def on(step: ReadStep) -> list[Finding]:
        return [_names(design, step), _products(design, step), _colours(design, step)]

    return on_assembly(NAME, on, design, files)


def _wanted(branch: Part | Group, above: tuple[str, ...] = ()) -> list[tuple[Place, Part]]:
    if isinstance(branch, Part):
        return [((above, branch.name), branch)]
    here = (*above, branch.name)
    return [found for child in branch.children for found in _wanted(child, here)]


def _names(design: Design, step: ReadStep) -> Finding:
    wanted = sorted(place for place, _ in _wanted(design.assembly))
    found = sorted((part.branch, part.name) for part in step.parts)
    missing = [_path(place) for place in wanted if place not in found]
    strange = [_path(place) for place in found if place not in wanted]
    count = f"{len(found)} parts of {len(wanted)}"
    if missing or strange or len(found) != len(wanted):
        return finding(
            NAME,
            assembly_path(design),
            False,
            f"{count}; missing: {', '.join(missing) or 'none'}; "
            f"not of this design: {', '.join(strange) or 'none'}",
            value=float(len(found)),
            limit=float(len(wanted)),
            unit="count",
        )
    return finding(
        NAME,
        assembly_path(design),
        True,
        f"{count}, each named and in its group",
        value=float(len(found)),
        limit=float(len(wanted)),
        unit="count",
    )


def _path(place: Place) -> str:
    return "/".join((*place[0], place[1]))


def _products(design: Design, step: ReadStep) -> Finding:
    products = products_of(design.assembly)
    wrong = [
        f"{part.name} is {part.product!r}"
        for part in step.parts
        if part.name in products and part.product != products[part.name].name
    ]
    count = len({part.product for part in step.parts})
    return finding(
        NAME,
        f"{assembly_path(design)} products",
        not wrong,
        f"wrong products: {', '.join(wrong)}" if wrong else f"{count} products",
    )


def _colours(design: Design, step: ReadStep) -> Finding:
    wanted = {place[1]: part.colour for place, part in _wanted(design.assembly)}
    wrong = [
        part.name
        for part in step.parts
        if part.name in wanted and not _same_colour(part.colour, wanted[part.name])
    ]
    return finding(
        NAME,
        f"{assembly_path(design)} colours",
        not wrong,
        f"wrong colours: {', '.join(wrong)}" if wrong else "every part in its colour",
    )


def _same_colour(
    found: tuple[float, float, float] | None, wanted: tuple[float, float, float]
) -> bool:
    return found is not None and all(
        abs(a - b) <= COLOUR_STEP for a, b in zip(found, wanted, strict=True)
    )
