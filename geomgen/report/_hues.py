"""Colours of parts in a picture, and what they stand for.

A runner and what it is welded to have its cylinder's colour; what goes over it or stands on it has
a lighter one, so that where it begins is seen.
"""

from __future__ import annotations

import re

from geomgen.design.model import Design
from geomgen.recipe.nodes import Part, parts_of

Colour = tuple[float, float, float]
Row = tuple[str, tuple[Colour, ...]]

_PALER = 0.42


def colours(design: Design) -> dict[str, Colour]:
    """Of every part of the assembly, by name, sRGB."""
    lighter = _lighter(design)
    return {
        part.name: _pale(part.colour) if part.name in lighter else part.colour
        for part in parts_of(design.assembly)
    }


def legend(design: Design) -> list[Row]:
    """What each colour stands for, in the tree's order; several colours of one meaning in a row."""
    parts = parts_of(design.assembly)
    own = {part.name: part.colour for part in parts}
    lighter = _lighter(design)
    rows: list[Row] = []
    of_runners = []
    for runner in design.runners:
        if runner.part in own:
            of_runners.append(own[runner.part])
            rows.append(
                (f"cylinder {runner.cylinder}: {runner.account.total:.1f} mm", (of_runners[-1],))
            )
    by_colour: dict[Colour, list[str]] = {}
    over: dict[str, list[Part]] = {}
    for part in parts:
        if part.name in lighter:
            over.setdefault(lighter[part.name], []).append(part)
        elif part.colour not in of_runners:
            by_colour.setdefault(part.colour, []).append(part.name)
    for word, those in over.items():
        pale = tuple(dict.fromkeys(_pale(part.colour) for part in those))
        rows.append((_counted(word, [part.name for part in those]), pale))
    rows += [(", ".join(_said(names)), (colour,)) for colour, names in by_colour.items()]
    return rows


def _lighter(design: Design) -> dict[str, str]:
    """Parts of a cylinder's colour that go over its runner or stand on it, each with a word."""
    found = {}
    slips = "slip_clearance_mm" in dict(design.collector.facts)
    for part in parts_of(design.assembly):
        if slips and re.fullmatch(r"stub_\d+", part.name):
            found[part.name] = "slip tube"
    standing = [one.fitted for one in design.attachments if one.fitted.host.startswith("runner ")]
    for one in standing:
        word = re.sub(r"_\d+$", "", one.name).replace("_", " ")
        for part in parts_of(design.assembly):
            if part.name == one.name or part.name.startswith(f"{one.name}_"):
                found.setdefault(part.name, word)
    return found


def _counted(word: str, names: list[str]) -> str:
    """``slip tube 1 to 4``, where the names are numbered."""
    numbers = [int(found[1]) for name in names if (found := re.search(r"_(\d+)$", name))]
    return f"{word} {_numbers(sorted(numbers))}" if numbers else word


def _said(names: list[str]) -> list[str]:
    """Names as words, numbered ones of one stem together."""
    stems: dict[str, list[str]] = {}
    for name in names:
        stem = re.sub(r"(_\d+)+$", "", name)
        tail = name[len(stem) + 1 :].replace("_", " ")
        stems.setdefault(stem.replace("_", " "), []).extend([tail] if tail else [])
    return [f"{stem} {_together(tails)}".strip() for stem, tails in stems.items()]


def _together(tails: list[str]) -> str:
    if all(" " not in tail for tail in tails):
        return _numbers(sorted(map(int, tails)))
    return f"({len(tails)})" if len(tails) > 2 else " and ".join(tails)


def _numbers(numbers: list[int]) -> str:
    if len(numbers) > 2 and numbers == list(range(numbers[0], numbers[-1] + 1)):
        return f"{numbers[0]} to {numbers[-1]}"
    return " and ".join(map(str, numbers)) if len(numbers) < 3 else ", ".join(map(str, numbers))


def _pale(colour: Colour) -> Colour:
    r, g, b = (value + _PALER * (1.0 - value) for value in colour)
    return r, g, b
