"""What is known before any runner is laid out is what is found when all are."""

import math
from dataclasses import replace
from pathlib import Path
from typing import get_type_hints

import pytest

from geomgen.checks import Early, keys_of, lays_otherwise, pairing, run_early, stopping
from geomgen.cli import reading, solids
from geomgen.design.fixed import fixed_parts
from geomgen.design.groundwork import Ground, groundwork
from geomgen.design.laying import held, task
from geomgen.design.model import Waiver
from geomgen.design.resolve import resolved
from geomgen.errors import Verdict
from geomgen.registry import plugins
from geomgen.report.release import waived
from geomgen.spec.load import load

SPECS = Path(__file__).parents[2] / "specs"
EARLY = {n: m for n, m in plugins("geomgen.checks", "NAME").items() if hasattr(m, "EARLY")}


def known(name: str, text: str | None = None):
    """A demo's task, the layout in its lock if that holds, and the ground they stand on."""
    file = SPECS / f"{name}.yaml"
    said = load(
        file.read_bytes() if text is None else text.encode(),
        file.name,
        read=reading.beside(file, solids.MOST_OUTLINE),
    )
    spec = said.required()
    files = {**solids.step_files(said, file)[0], **said.outlines}
    lock = (SPECS / f"{name}.lock.yaml").read_text(encoding="utf-8")
    asked = task(spec, lock, files)
    return asked, held(asked, lock), groundwork(spec, asked.fixed)


@pytest.mark.parametrize(
    "name",
    [
        "ashcombe-28-threes",
        "dunmore-16-cast",
        "larkwell-20-gasket",
        "marlock-30-gates",
        "skelby-16-stubs",
        "wexcombe-20-flat",
    ],
)
def test_early_findings_are_those_of_the_design(name) -> None:
    _, laid, ground = known(name)
    assert laid is not None
    design = resolved(laid, solved=False).design
    assert ground.collector.groups == design.collector.groups
    assert ground.flats == design.flats
    assert run_early(ground) == tuple(f for name in sorted(EARLY) for f in EARLY[name].run(design))


def test_checks_that_run_early_can_see_no_runner() -> None:
    """Their type says so, and the type checker holds them to it."""
    assert EARLY
    for name, module in EARLY.items():
        assert isinstance(module.EARLY, Early), name
        hints = get_type_hints(module.run)
        assert hints[next(iter(hints))] is Ground, name
        assert hasattr(module, "KEYS") == (module.EARLY is Early.STOPS), name
    runners = {n for n, m in plugins("geomgen.checks", "NAME").items() if n not in EARLY}
    assert {"runner-length", "runner-gap", "straights"} <= runners


def test_a_wrong_pairing_stops_and_a_waived_one_does_not() -> None:
    file = SPECS / "wexcombe-20-flat.yaml"
    text = file.read_text(encoding="utf-8")
    wrong = text.replace("  family: 4-2-1\n", "  family: 4-2-1\n  pairs: [[1, 3], [2, 4]]\n")
    assert wrong != text
    _, _, ground = known("wexcombe-20-flat", wrong)
    found = run_early(ground)
    stops = stopping(found)
    # A flat four that fires 1-3-2-4: the banks' own pairs are 180 deg apart, check-by-hand.
    assert [(f.name, f.subject, f.value) for f in stops] == [
        ("pairing", "1+3", pytest.approx(180.0)),
        ("pairing", "2+4", pytest.approx(180.0)),
    ]
    assert keys_of(stops[0])[0] == ("collector", "pairs")
    waivers = (Waiver("pairing", None, "old tubes"),)
    assert stopping(waived(found, waivers)) == ()


def test_what_lays_out_no_otherwise_is_told_and_does_not_stop() -> None:
    _, _, ground = known("brackenhall-20-sprint")
    limits = tuple((k, 90.0 if k == "land_min" else v) for k, v in ground.limits.values)
    found = run_early(replace(ground, limits=replace(ground.limits, values=limits)))
    failing = {f.name for f in found if f.verdict is Verdict.FAIL}
    assert failing == {"edge-and-web"}
    assert not any(lays_otherwise(f) for f in found if f.name == "edge-and-web")
    assert stopping(found) == ()


def test_only_said_groups_are_held(demo_design) -> None:
    """A collector that all run into at once has no pairs, early or late."""
    assert pairing.run(demo_design) == ()
    _, _, ground = known("brackenhall-20-sprint")
    assert pairing.run(ground) == ()
    assert all(f.verdict is not Verdict.NOT_RUN for f in run_early(ground))


def test_a_tube_that_does_not_fit_its_window_is_told_before_laying_out() -> None:
    """A round port of 38 mm and a tube of 39 mm bore: by hand 41 pi round, against 42 pi."""
    file = SPECS / "wexcombe-20-flat.yaml"
    text = file.read_text(encoding="utf-8").replace("diameter: 39", "diameter: 38")
    spec = load(text.encode(), file.name).required()
    ground = groundwork(spec, fixed_parts(spec))
    found = [f for f in run_early(ground) if f.name == "window-perimeter"]
    assert {f.verdict for f in found} == {Verdict.FAIL}
    assert [f.value for f in found] == pytest.approx([100.0 * (41.0 / 42.0 - 1.0)] * 4)
    assert "41.0 mm OD" in found[0].remedy


def test_a_transition_that_is_too_steep_is_told_before_laying_out() -> None:
    """Port of 25 mm, bore of 39, roofs in line: by hand the floor falls 14 mm in 12."""
    file = SPECS / "wexcombe-20-flat.yaml"
    text = file.read_text(encoding="utf-8").replace("diameter: 39", "diameter: 25")
    text = text.replace("transition: {length: 40}", "transition: {length: 12}")
    spec = load(text.encode(), file.name).required()
    found = run_early(groundwork(spec, fixed_parts(spec)))
    walls = [f for f in found if f.name == "transition-wall"]
    assert {f.verdict for f in walls} == {Verdict.FAIL}
    assert [f.value for f in walls] == pytest.approx([math.degrees(math.atan(14 / 12))] * 4)
