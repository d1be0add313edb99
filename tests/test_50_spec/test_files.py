"""What a spec may say of the cutter's files, and how it is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from geomgen.design.cutting import files_of
from geomgen.design.flat_model import PLAIN, Files, Kerf
from geomgen.design.lock import fingerprint
from geomgen.spec.load import load

BASE = (Path(__file__).parent / "base.yaml").read_text(encoding="utf-8")


def read(files=""):
    return load(BASE + files, "x.yaml")


def test_without_a_word_they_are_as_most_cutters_ask():
    assert files_of(read().required().files) == PLAIN == Files()


def test_everything_can_be_set():
    said = read(
        "files:\n"
        "  {version: R12, unit: inch, style: lines-arcs, reference: true, paper: letter,\n"
        "   layers: {cut: PROFIL, mark: ETCH, reference: LOOK},\n"
        "   kerf: {width: 1/16 in, lead_in: 6, lead: line, overrun: 1}}\n"
    )
    assert files_of(said.required().files) == Files(
        version="R12",
        unit="inch",
        style="lines-arcs",
        cut="PROFIL",
        mark="ETCH",
        reference="LOOK",
        with_reference=True,
        paper="letter",
        kerf=Kerf(25.4 / 16, 6.0, "line", 1.0),
    )


def test_they_are_no_input_of_the_routes():
    plain, other = (
        read(text).required() for text in ("", "files: {version: R2010, kerf: {width: 1.6}}\n")
    )
    assert fingerprint(plain, (780.0,), {}) == fingerprint(other, (780.0,), {})


@pytest.mark.parametrize(
    ("said", "key"),
    [
        ("{version: R14}", ("files", "version")),
        ("{unit: m}", ("files", "unit")),
        ("{paper: b5}", ("files", "paper")),
        ("{layers: {cut: A B}}", ("files", "layers", "cut")),
        ("{layers: {cut: ../X}}", ("files", "layers", "cut")),
        ("{layers: {cut: mark}}", ("files", "layers")),
        ("{layers: {cut: Defpoints}}", ("files", "layers")),
        ("{kerf: {width: 0}}", ("files", "kerf", "width")),
        ("{kerf: {width: 1.6, lead_in: -1}}", ("files", "kerf", "lead_in")),
        ("{kerf: {}}", ("files", "kerf")),
        ("{colour: red}", ("files", "colour")),
        ("[]", ("files",)),
    ],
)
def test_what_cannot_be_is_refused_at_its_place(said, key):
    (problem,) = read(f"files: {said}\n").problems
    assert problem.path[: len(key)] == key
    assert problem.line > 0
