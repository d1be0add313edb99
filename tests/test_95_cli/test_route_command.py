"""``geomgen route`` as people run it: what is kept, what is shown, what is never lost."""

import csv
import io
import json
import re
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from geomgen.design import lock as locks
from geomgen.design.laying import held, task
from geomgen.design.moved import Layout, moves
from geomgen.design.reroute import _verdict, reroute
from geomgen.design.resolve import resolve
from geomgen.report.route_report import FIELDS
from geomgen.spec.load import load

README = Path(__file__).parents[2] / "README.md"


@pytest.fixture
def spec(tmp_path: Path, demo_file: Path) -> Path:
    """The demo and its lock in a folder of their own."""
    for file in demo_file.parent.glob(f"{demo_file.stem}*.yaml"):
        shutil.copy(file, tmp_path)
    return tmp_path / demo_file.name


NAMES = tuple(f"runner {i}" for i in (1, 2, 3, 4))


def lock_of(spec: Path) -> Path:
    return spec.with_name(f"{spec.stem}.lock.yaml")


def edit(spec: Path, *edits: tuple[str, str]) -> None:
    text = spec.read_text(encoding="utf-8")
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    spec.write_text(text, encoding="utf-8")


def listing(spec: Path) -> list[str]:
    return sorted(p.name for p in spec.parent.iterdir())


def test_without_a_lock_it_writes_one_and_the_second_time_nothing_moves(
    spec: Path, geomgen
) -> None:
    lock_of(spec).unlink()
    tried = geomgen("route", spec, "--dry-run")
    assert tried.returncode == 0, tried.stderr
    assert not lock_of(spec).exists()
    assert "there was no lock: not written, --dry-run" in tried.stdout
    first = geomgen("route", spec)
    assert first.returncode == 0
    assert first.stderr == ""
    assert "there was no lock: written to" in first.stdout
    assert "follows the firing order 1-3-4-2" in first.stdout
    kept = lock_of(spec).read_bytes()
    again = geomgen("route", spec)
    assert again.returncode == 0
    assert again.stdout.count("stands as it was") == 4
    assert "nothing moved" in again.stdout
    assert lock_of(spec).read_bytes() == kept
    assert listing(spec) == sorted([spec.name, lock_of(spec).name])
    assert "solved anew" not in geomgen("check", spec).stdout


def test_other_inputs_show_what_moved_and_json_says_the_same(spec: Path, geomgen) -> None:
    before = lock_of(spec).read_bytes()
    edit(spec, ("  runner_gap: 6", "  runner_gap: 9"))
    shown = geomgen("route", spec, "--dry-run", "--json")
    assert shown.returncode == 0, shown.stderr
    assert lock_of(spec).read_bytes() == before
    document = json.loads(shown.stdout)
    assert document["verdict"] == "other inputs"
    assert document["written"] is False
    assert documented(document) <= {path.removesuffix("[]") for path, _ in FIELDS}
    done = geomgen("route", spec)
    assert done.returncode == 0
    assert (
        f"score {document['score_before']:.3f} before, {document['score']:.3f} now" in done.stdout
    )
    rows = re.findall(r"^ +(\d) .* ([\d.]+)  (\[|stands)", done.stdout, re.MULTILINE)
    for (cylinder, moved, what), row in zip(rows, document["runners"], strict=True):
        assert int(cylinder) == row["cylinder"]
        assert float(moved) == pytest.approx(row["moved_mm"], abs=0.05)
        assert (what == "stands") == row["still"]
    assert lock_of(spec).read_bytes() != before
    assert "the lock was solved for other inputs: written to" in done.stdout


def documented(tree: Any, at: str = "") -> set[str]:
    if isinstance(tree, dict):
        return {path for key, value in tree.items() for path in documented(value, f"{at}.{key}")}
    if isinstance(tree, list):
        return {path for value in tree for path in documented(value, f"{at}[]")}
    return {at.removeprefix(".").removesuffix("[]")}


def test_readme_has_every_field() -> None:
    rows = "".join(f"| `{path}` | {meaning} |\n" for path, meaning in FIELDS)
    assert rows in README.read_text(encoding="utf-8")


@pytest.mark.parametrize("command", ["route", "build"])
def test_no_route_leaves_the_lock_alone(spec: Path, geomgen, command: str) -> None:
    before = lock_of(spec).read_bytes()
    edit(spec, ("length: tuned ", "length: 400 "))
    done = geomgen(command, spec, cwd=spec.parent)
    assert done.returncode == 1, done.stderr
    assert done.stdout.startswith("FAIL    routing: runners: impossible: ")
    assert lock_of(spec).read_bytes() == before
    assert listing(spec) == sorted([spec.name, lock_of(spec).name])


def test_a_pin_that_cannot_be_is_exit_2_with_its_line(spec: Path, geomgen) -> None:
    before = lock_of(spec).read_bytes()
    edit(spec, ("waive: []", "waive: []\npins:\n  - {runner: 2}\n  - {runner: 3, bend: 7}"))
    line = spec.read_text().splitlines().index("  - {runner: 3, bend: 7}") + 1
    for command in ("route", "build"):
        done = geomgen(command, spec, cwd=spec.parent)
        assert done.returncode == 2
        assert f"{spec}:{line}:5: pins.1: found bend 7 of runner 3; " in done.stderr
    assert lock_of(spec).read_bytes() == before
    lock_of(spec).unlink()
    none = geomgen("check", spec)
    assert none.returncode == 2
    assert "no lock beside the spec" in none.stderr


def test_a_lock_of_other_runners_is_said_to_be_one(spec: Path, geomgen) -> None:
    lock_of(spec).write_text("format: 1\n")
    done = geomgen("route", spec)
    assert done.returncode == 0
    assert "the lock is none of these runners: written to" in done.stdout
    assert "moved" in done.stdout


def test_pinned_and_tacked_from_the_file_to_the_bend_table(spec: Path, geomgen) -> None:
    """With a length of its own for each cylinder: all of it in one spec."""
    tacked = "{straight: 146.5}, {bend: 67.5, angle: 104.3, clock: -73 deg}"
    edit(
        spec,
        ("length: tuned ", "length: [672, 67.02 cm, 670.2, 668] "),
        (
            "waive: []",
            f"pins: [{{runner: 3, bend: 1}}]\nbench: [{{runner: 2, tacked: [{tacked}]}}]",
        ),
    )
    done = geomgen("route", spec)
    assert done.returncode == 0, done.stdout + done.stderr
    assert (
        "pinned or tacked before, of each tube: runner 2 269.4 of 597.5 mm; runner 3" in done.stdout
    )
    kept = lock_of(spec).read_bytes()
    again = geomgen("route", spec)
    assert "nothing moved" in again.stdout
    assert lock_of(spec).read_bytes() == kept
    built = geomgen("build", spec, "--out", spec.parent / "out", "--json")
    assert built.returncode == 0, built.stdout + built.stderr
    assert lock_of(spec).read_bytes() == kept
    document = json.loads(built.stdout)
    assert [row["target_mm"] for row in document["runners"]] == [672.0, 670.2, 670.2, 668.0]
    for row in document["runners"]:
        assert row["length_mm"] == pytest.approx(row["target_mm"], abs=0.01)
        # Measured again by a proof, from the faces of the written STEP.
        assert row["length_from_step_mm"] == pytest.approx(row["target_mm"], abs=0.05)
    table = (spec.parent / "out" / spec.stem / "bend_table_lra.csv").read_text()
    rows = [row for row in csv.DictReader(io.StringIO(table)) if row["part"] == "runner_2"]
    assert (rows[0]["straight_before_mm"], rows[0]["angle_deg"]) == ("146.500000", "104.30000")
    assert "clock -73.00000 against the head's x" in rows[0]["rotation_sense"]


# Better and worse


@pytest.fixture(scope="module")
def two_answers(demo_file: Path) -> tuple[Any, Any, Any]:
    """Two layouts that both answer the demo: its own, and one with wider gaps."""
    said = load(demo_file.read_bytes(), demo_file.name).required()
    lock = lock_of(demo_file).read_text(encoding="utf-8")
    asked = task(said, lock, {})
    own = held(asked, lock)
    wide = said.model_copy(update={"limits": said.limits.model_copy(update={"runner_gap": 9.0})})
    found = locks.read(resolve(wide).lock, asked.names)
    assert own is not None
    assert found is not None
    text = locks.write(replace(found, inputs=asked.inputs), asked.names)
    other = held(replace(asked, old=replace(found, inputs=asked.inputs)), text)
    assert other is not None
    return said, own, other


def test_the_better_of_two_answers_to_one_question_is_kept(two_answers) -> None:
    better, worse = sorted(two_answers[1:], key=lambda laid: laid.lock.score)
    good, bad = (Layout(a.paths, a.lock.slots, a.lock.score) for a in (better, worse))
    assert bad.score > good.score + 1e-6
    moved = moves(good, bad, NAMES)
    assert not all(move.still for move in moved)
    assert _verdict(better, worse, moved, good, bad) == "worse"
    assert _verdict(worse, better, moved, bad, good) == "better"
    assert _verdict(None, better, moved, bad, good) == "other inputs"
    assert _verdict(better, better, moves(good, good, NAMES), good, good) == "same"


def test_a_layout_in_the_lock_is_kept_until_it_is_bettered(two_answers) -> None:
    said, own, other = two_answers
    for held_now in (own, other):
        found = reroute(said, held_now.text)
        assert found.score_before == pytest.approx(held_now.lock.score)
        assert found.moved is not None
        still = all(move.still for move in found.moved)
        no_worse = found.new.design.score <= held_now.lock.score + 1e-6
        assert found.verdict == ("same" if still else "better" if no_worse else "worse")
        assert found.keep == (no_worse and not still)
