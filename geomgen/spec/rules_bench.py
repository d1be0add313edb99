"""Contradictions in pins and on the bench."""

from __future__ import annotations

import math
from collections.abc import Iterator

from geomgen.errors import KeyPath, Problem
from geomgen.spec.bench import Bench, Tacked
from geomgen.spec.contradictions import Rule, Sections, complaint, twice


def runners_there(s: Sections) -> Iterator[Problem]:
    """Pins and bench name runners that the engine has."""
    if s.engine is None:
        return
    for key in ("pins", "bench"):
        for i, said in enumerate(getattr(s, key) or ()):
            if said.runner > s.engine.cylinders:
                yield complaint(
                    (key, i, "runner"),
                    f"runner {said.runner}",
                    f"1 to {s.engine.cylinders}",
                    "name a runner by its cylinder",
                )


def pinned_once(s: Sections) -> Iterator[Problem]:
    """A part is pinned once, and not beside the whole runner that it belongs to."""
    pins = s.pins or ()
    names: list[tuple[KeyPath, str]] = [
        (("pins", i), f"runner {pin.runner}, {pin.part}") for i, pin in enumerate(pins)
    ]
    yield from twice(names, "pin on")
    whole = {pin.runner for pin in pins if pin.part == "whole"}
    for i, pin in enumerate(pins):
        if pin.runner in whole and pin.part != "whole":
            yield complaint(
                ("pins", i),
                f"a pin on {pin.part} of runner {pin.runner}, which is pinned whole",
                "the whole runner, or parts of it",
                "take one of the two out",
            )


def tacked_once(s: Sections) -> Iterator[Problem]:
    """A runner is on the bench once, and not while it is pinned whole."""
    bench = s.bench or ()
    names: list[tuple[KeyPath, str]] = [
        (("bench", i, "runner"), str(said.runner)) for i, said in enumerate(bench)
    ]
    yield from twice(names, "entry for runner")
    whole = {pin.runner for pin in s.pins or () if pin.part == "whole"}
    for i, said in enumerate(bench):
        if said.runner in whole:
            yield complaint(
                ("bench", i, "runner"),
                f"runner {said.runner}, which is pinned whole",
                "a runner that is pinned whole or tacked, not both",
                "take the pin out: what is tacked stands as it is",
            )


def measured_lengths(s: Sections) -> Iterator[Problem]:
    """Lengths by tape agree with radius, angle and straights."""
    if s.runners is None:
        return
    off = s.runners.tolerance
    for i, said in enumerate(s.bench or ()):
        path: KeyPath = ("bench", i)
        for j, piece in enumerate(said.tacked):
            if piece.length is not None and abs(piece.length - _length(piece)) > off:
                yield _disagree((*path, "tacked", j, "length"), piece.length, _length(piece), off)
        total = math.fsum(_length(piece) for piece in said.tacked)
        if said.length is not None and abs(said.length - total) > off:
            yield _disagree((*path, "length"), said.length, total, off)


def _disagree(path: KeyPath, tape: float, worked: float, off: float) -> Problem:
    return complaint(
        path,
        f"{tape:g} mm by tape, and {worked:.1f} mm from radius, angle and straights",
        f"lengths that agree within runners.tolerance, {off:g} mm",
        "measure again: a bend is radius times angle long",
    )


def _length(piece: Tacked) -> float:
    """Along the centreline [mm]."""
    if piece.bend is None or piece.angle is None:
        return piece.straight or 0.0
    return piece.bend * math.radians(piece.angle)


def tacked_radii(s: Sections) -> Iterator[Problem]:
    """A tacked bend's centreline stays outside its own tube."""
    if s.runners is None:
        return
    least = s.runners.tube.od / 2.0
    for path, piece in _bends(s.bench or ()):
        if piece.bend is not None and piece.bend <= least:
            yield complaint(
                (*path, "bend"),
                f"CLR {piece.bend:g} mm for a tube of {2.0 * least:g} mm OD",
                f"more than half the OD, {least:g} mm",
                "give the radius of the bend's centreline",
            )


def _bends(bench: tuple[Bench, ...]) -> Iterator[tuple[KeyPath, Tacked]]:
    for i, said in enumerate(bench):
        for j, piece in enumerate(said.tacked):
            if piece.bend is not None:
                yield ("bench", i, "tacked", j), piece


def shortest_pinned(s: Sections) -> Iterator[Problem]:
    """A runner that is pinned whole has its length already."""
    if s.runners is None or s.runners.length != "shortest":
        return
    whole = [pin.runner for pin in s.pins or () if pin.part == "whole"]
    if whole:
        yield complaint(
            ("runners", "length"),
            f"shortest, with runner {whole[0]} pinned whole",
            "shortest with no whole runner pinned, or a length",
            "give the length that the pinned runner has, or take the pin out",
        )


RULES: tuple[Rule, ...] = (
    runners_there,
    pinned_once,
    tacked_once,
    measured_lengths,
    tacked_radii,
    shortest_pinned,
)
