"""Sixes and eights whose tubes meet twice: 6-3-1, 6-2-1 and 8-4-1."""

import math
from pathlib import Path

import pytest

from geomgen.checks import obstacle_gap, pairing, runner_gap, runner_length, straights
from geomgen.design.laying import held, task
from geomgen.design.model import Design
from geomgen.design.resolve import resolve, resolved
from geomgen.errors import Verdict
from geomgen.spec.load import load
from geomgen.targets.firing import intervals

SPECS = Path(__file__).parents[2] / "specs"

EIGHT = [
    ("name: ashcombe-28-pairs", "name: eight"),
    ("  cylinders: 6", "  cylinders: 8"),
    ("[1, 5, 3, 6, 2, 4]", "[1, 6, 2, 5, 8, 3, 7, 4]"),
    ("  length: 560", "  length: 680"),
    ("family: 6-3-1", "family: 8-4-1"),
    ("  roll: 60\n", ""),
    ("at: [700, -460, 170]", "at: [900, -480, 190]"),
    ("length: 480}", "length: 620}"),
    ("od: 70", "od: 85"),
    ("to: [540,", "to: [724,"),
    ("to: [520,", "to: [704,"),
    (
        "  merge_angle: 10\n",
        """  merge_angle: 10
  merges:
    - {at: [501, -152, 270], direction: [0.871, -0.474, 0.131], roll: 171.6, room: 0}
    - {at: [412, -225, 277], direction: [0.672, -0.501, 0.545], roll: -83.7, room: 0}
    - {at: [416, -249, 111], direction: [0.575, -0.817, 0.040], roll: -122.1, room: 0}
    - {at: [533, -124, 114], direction: [0.416, -0.897, 0.152], roll: -44.3, room: 0}
""",
    ),
]
"""An inline eight from the six, its pairs' merges fixed where they were once found."""


def text_of(name: str) -> str:
    return (SPECS / f"{name}.yaml").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def from_lock() -> dict[str, Design]:
    """Demos, laid out from their locks."""
    designs = {}
    for name in ("ashcombe-28-pairs", "ashcombe-28-threes"):
        lock = (SPECS / f"{name}.lock.yaml").read_text(encoding="utf-8")
        laid = held(task(load(text_of(name).encode(), name).required(), lock, {}), lock)
        assert laid is not None
        designs[name] = resolved(laid, solved=False).design
    return designs


# Groups and intervals of an even-firing six, 1-5-3-6-2-4, by counting through the order.
@pytest.mark.parametrize(
    ("name", "groups", "gap"),
    [
        ("ashcombe-28-pairs", ((1, 6), (2, 5), (3, 4)), 360),
        ("ashcombe-28-threes", ((1, 2, 3), (4, 5, 6)), 240),
    ],
)
def test_a_six_meets_in_pairs_or_in_threes(from_lock, name, groups, gap) -> None:
    design = from_lock[name]
    assert design.collector.groups == (*groups, (1, 2, 3, 4, 5, 6))
    assert tuple(tube.cylinders for tube in design.secondaries) == groups
    for group in groups:
        gaps = [round(math.degrees(angle)) for _, angle in intervals(design.firing_order, group)]
        assert gaps == [gap] * len(group)
        assert sum(gaps) == 720
    found = pairing.run(design)
    assert {f.verdict for f in found} == {Verdict.PASS}
    assert [f.value for f in found] == pytest.approx([gap] * len(groups))


@pytest.mark.parametrize("name", ["ashcombe-28-pairs", "ashcombe-28-threes"])
def test_both_kinds_of_tube_are_equal(from_lock, name) -> None:
    design = from_lock[name]
    assert [r.account.total for r in design.runners] == pytest.approx([560.0] * 6, abs=0.01)
    lengths = [s.account.total for s in design.secondaries]
    assert lengths == pytest.approx([480.0] * len(lengths), abs=0.01)


def test_threes_are_called_threes(from_lock) -> None:
    design = from_lock["ashcombe-28-threes"]
    what = [row.what for row in design.collector.areas]
    assert "three first join" in what
    assert not [name for name in what if name.startswith("pair ")]
    facts = dict(design.collector.facts)
    assert facts["three_merge_angle_deg"] == pytest.approx(10.0)
    # Three bores of 35 mm meet ahead of one of 51.
    area = {row.what: row.area for row in design.collector.areas}
    assert area["three secondary"] == pytest.approx(math.pi * 25.5**2)


def test_an_eight_in_pairs_is_laid_out_and_proven() -> None:
    """1-6-2-5-8-3-7-4: half the order on, 1 meets 8, 2 meets 7, 3 meets 6 and 4 meets 5."""
    text = text_of("ashcombe-28-pairs")
    for old, new in EIGHT:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    design = resolve(load(text.encode(), "eight.yaml").required()).design
    assert design.collector.groups == ((1, 8), (2, 7), (3, 6), (4, 5), tuple(range(1, 9)))
    assert len(design.tubes) == 12
    for check in (pairing, runner_gap, obstacle_gap, runner_length, straights):
        assert {f.verdict for f in check.run(design)} == {Verdict.PASS}, check.NAME
