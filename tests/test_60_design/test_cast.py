"""A cast log as baseline: one part, no flats, and the numbers that it is compared by."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.integrate import quad

from geomgen.checks import bends_on_shelf, run_all, straights
from geomgen.design.amounts import amounts, blend
from geomgen.design.fixed import fixed_parts
from geomgen.design.grades import density
from geomgen.design.laying import held, task
from geomgen.design.model import Port
from geomgen.design.resolve import resolve
from geomgen.design.transitions import transition
from geomgen.errors import SpecError, Verdict
from geomgen.exports import bend_table_csv, hole_table_csv
from geomgen.geometry.frames import Frame
from geomgen.profiles.loops import circle
from geomgen.recipe.nodes import parts_of
from geomgen.spec.load import load

SPECS = Path(__file__).parents[2] / "specs"
CAST = (SPECS / "dunmore-16-cast.yaml").read_text(encoding="utf-8")
LOCK = (SPECS / "dunmore-16-cast.lock.yaml").read_text(encoding="utf-8")


def spec_of(text: str):
    return load(text.encode(), "x.yaml").required()


@pytest.fixture(scope="module")
def cast():
    return resolve(spec_of(CAST), LOCK).design


@pytest.fixture(scope="module")
def welded():
    name = "dunmore-16-log"
    lock = (SPECS / f"{name}.lock.yaml").read_text(encoding="utf-8")
    return resolve(spec_of((SPECS / f"{name}.yaml").read_text(encoding="utf-8")), lock).design


def test_the_lock_holds_what_the_family_lays():
    asked = task(spec_of(CAST), LOCK, None)
    laid = held(asked, LOCK)
    assert laid is not None
    assert laid.paths == asked.fixed.layout.laid
    moved = spec_of(CAST.replace("at: [0, -88, 112]", "at: [0, -88, 113]"))
    assert held(task(moved, LOCK, None), LOCK) is None


def test_a_casting_is_one_part_and_nothing_is_cut_for_it(cast):
    assert [part.name for part in parts_of(cast.assembly)] == ["casting"]
    assert cast.flats == ()
    assert cast.head_flanges == ()
    assert cast.stock == ()
    assert cast.collector.casting == "EN-GJS-400-15"
    assert cast.collector.groups == ((1, 2, 3, 4),)
    assert bend_table_csv.export(cast) == {}
    assert hole_table_csv.export(cast) == {}


def test_checks_hold_a_casting_to_what_a_casting_has(cast):
    found = run_all(cast)
    assert not [f for f in found if f.verdict is Verdict.FAIL]
    names = {f.name for f in found}
    assert not names & {"bends-on-shelf", "joints", "straights", "slot-order", "merge-angle"}
    assert {"obstacle-gap", "runner-gap", "removal", "stud-access", "length-spread"} <= names


def test_unequal_ways_of_a_log_only_warn(cast, welded):
    for design in (cast, welded):
        (spread,) = [f for f in run_all(design) if f.name == "length-spread"]
        assert spread.verdict is Verdict.WARN
        assert "outlet" in spread.remedy  # there is no length to give them


def test_short_straights_of_a_log_are_not_blamed_on_the_lock(welded):
    problem = replace(welded.problem, shelf=replace(welded.problem.shelf, straight_at_start=99.0))
    found = straights.run(replace(welded, problem=problem))
    assert {f.verdict for f in found} == {Verdict.FAIL}
    assert not [f for f in found if "lock" in f.remedy]


def test_checks_of_a_welded_log(welded):
    found = run_all(welded)
    assert not [f for f in found if f.verdict is Verdict.FAIL]
    assert not [f for f in found if f.name in ("slot-order", "merge-angle")]
    shelf = [f for f in found if f.name == "bends-on-shelf"]
    assert len(shelf) == 4
    # a stub runs into its log, which is no clash, and keeps clear of the others
    gaps = {f.subject for f in found if f.name == "runner-gap"}
    assert {"runner 1 / runner 2", "runner 3 / runner 4"} <= gaps


def test_a_bend_that_is_not_on_the_shelf_is_told(welded):
    off = replace(welded, stock=())
    assert [f.verdict for f in run_all(off) if f.name == "bends-on-shelf"] == [Verdict.FAIL] * 4


def test_mass_is_density_times_volume(cast):
    facts = dict(cast.collector.facts)
    # EN-GJS-400-15: 7.1 kg/dm3, from memory; ductile irons have 7.0 to 7.2
    assert facts["mass_kg"] == pytest.approx(7.1e-3 * facts["metal_volume_cc"], rel=1e-9)
    said = CAST.replace(
        "cast: {material: EN-GJS-400-15}", "cast: {material: EN-GJS-400-15, density: 7000}"
    )
    whole = amounts(spec_of(said), fixed_parts(spec_of(said)))
    assert whole is not None
    assert whole.mass == pytest.approx(7.0e-6 * whole.metal, rel=1e-9)


def test_unknown_grades_have_no_mass():
    said = CAST.replace("EN-GJS-400-15", "Mystery 7")
    facts = dict(resolve(spec_of(said)).design.collector.facts)
    assert "mass_kg" not in facts
    assert facts["metal_volume_cc"] > 0.0


def test_the_tables_densities():
    """Stainless by EN 10088-1 as quoted in public tables, within the 2 % that tables differ by."""
    for grade, wanted in (("304", 7900), ("1.4541", 7920), ("409", 7750), ("Gr 2 Ti", 4510)):
        assert density(grade) == pytest.approx(wanted, rel=0.02)
    assert density("SiMo") == pytest.approx(7000, rel=0.02)
    assert density("") is None


@pytest.mark.parametrize("wider", [0.0, 6.0])
def test_a_round_transition_is_a_cone_or_a_cylinder(wider):
    """Frustum with its axis leaning, the roof in line: volume by Heron, the skin by scipy."""
    ro, ri, plate, length = 21.0, 19.5, 10.0, 40.0
    port = Port(1, Frame(), circle((0.0, 0.0), ri + wider), "round")
    made = blend(transition(port, ro, ri, plate, plate, length))
    assert made is not None

    def frustum(a: float, b: float) -> float:
        return math.pi * length / 3.0 * (a * a + a * b + b * b)

    def side(a: float, b: float) -> float:
        # a ruling from a (cos t, sin t) to b (cos t, sin t + (a - b) / b): roof to roof
        def strip(t: float) -> float:
            across = np.array([-math.sin(t), math.cos(t), 0.0])
            rise = np.array([(b - a) * math.cos(t), (b - a) * math.sin(t) + a - b, length])
            ruled = np.linalg.norm(np.cross(across, rise))
            return float(0.5 * (a + b) * ruled)

        return float(quad(strip, 0.0, math.tau)[0])

    gas = frustum(ri + wider, ri) + math.pi * (ri + wider) ** 2 * plate
    assert made.gas == pytest.approx(gas, rel=2e-5)
    assert made.metal == pytest.approx(frustum(ro + wider, ro) - frustum(ri + wider, ri), rel=2e-5)
    assert made.wall == pytest.approx(
        side(ri + wider, ri) + math.tau * (ri + wider) * plate, rel=1e-4
    )
    assert made.outside == pytest.approx(side(ro + wider, ro), rel=1e-4)


SHELF = "shelf:\n  bends: [{clr: 50, angle: 90}]\n\n"


def test_a_casting_needs_no_shelf_and_has_the_same_metal_with_one(cast):
    assert "shelf" not in CAST
    one = resolve(spec_of(CAST.replace("collector:\n", f"{SHELF}collector:\n"))).design
    assert one.runners == cast.runners
    assert one.collector == cast.collector
    assert run_all(one) == run_all(cast)


def test_bends_that_are_bought_need_a_shelf():
    """A log that is welded up has elbows: without a shelf none is to be had, and that fails."""
    text = (SPECS / "dunmore-16-log.yaml").read_text(encoding="utf-8")
    start = text.index("shelf:")
    bare = text[:start] + text[text.index("\n\n", start) + 2 :]
    found = bends_on_shelf.run(resolve(spec_of(bare)).design)
    assert {f.verdict for f in found} == {Verdict.FAIL}
    assert all("not on the shelf" in f.message for f in found)


def test_what_is_laid_out_of_bends_needs_a_shelf():
    text = (SPECS / "brackenhall-20-sprint.yaml").read_text(encoding="utf-8")
    start = text.index("shelf:")
    problems = load((text[:start] + text[text.index("\n\n", start) + 2 :]).encode(), "x").problems
    assert [p.path for p in problems] == [("shelf",)]
    assert problems[0].found == "nothing"


@pytest.mark.parametrize(
    ("old", "new", "path"),
    [
        ("window: butt", "window: socket", ("flange", "window")),
        ("length: as-laid", "length: 300", ("runners", "length")),
        ("transition: {length: 30}", "slots: {1: 0}\n  transition: {length: 30}", ("runners",)),
        ("obstacles:", "pins: [{cylinder: 1, whole: true}]\nobstacles:", ("pins",)),
        ("bore: 42", "bore: 60", ("collector", "outlet")),
        ("at: [0, -88, 112]", "at: [0, -40, 112]", ("collector", "at")),
    ],
)
def test_what_a_log_cannot_have_is_refused(old, new, path):
    text = CAST.replace(old, new)
    assert text != CAST
    with pytest.raises(SpecError) as caught:
        resolve(spec_of(text))
    assert caught.value.problems[0].path[: len(path)] == path
