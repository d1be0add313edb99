"""Obstacles given as STEP, as people run into them: measured once, kept, missed aloud."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import step_shapes as shapes
from test_output_examples import EXAMPLES, files, same_json, same_picture, same_text

from geomgen.checks import obstacle_gap
from geomgen.cli import pipeline, solids
from geomgen.errors import SpecError
from geomgen.geometry.frames import Frame
from geomgen.report._wires import wires_of

SPECS = Path(__file__).parents[2] / "specs"
TWIN = "aldermere-07-twin"
STEP = "parts/aldermere-gearbox.step"
MESH = f"{STEP}.mesh"
BESIDE = ("clamp-room", "nut-start", "removal", "sensor-room", "stud-access")


def spec_in(folder: Path, demo_file: Path, line: str) -> Path:
    text = demo_file.read_text(encoding="utf-8")
    assert text.count("\nobstacles:\n") == 1
    spec = folder / "gearbox.yaml"
    spec.write_text(text.replace("\nobstacles:\n", f"\nobstacles:\n{line}"), encoding="utf-8")
    return spec


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory, geomgen) -> Path:
    """The demo beside a gearbox, with its lock; measured and built by ``geomgen build``."""
    folder = tmp_path_factory.mktemp("gearbox")
    for file in SPECS.glob(f"{TWIN}*.yaml"):
        shutil.copy(file, folder)
    (folder / "parts").mkdir()
    shutil.copy(SPECS / STEP, folder / "parts")
    spec = folder / f"{TWIN}.yaml"
    done = geomgen("build", spec, "--out", folder / "out")
    assert done.returncode == 0, done.stdout + done.stderr
    return spec


@pytest.fixture
def spec(tmp_path: Path, measured: Path) -> Path:
    """A copy of it to spoil."""
    shutil.copytree(measured.parent, tmp_path / "copy", ignore=shutil.ignore_patterns("out"))
    return tmp_path / "copy" / measured.name


def checked(spec: Path) -> tuple[dict, set[str]]:
    """The check's document, and what was loaded for it."""
    code = (
        "import io, sys, contextlib\n"
        "from geomgen.cli.main import run\n"
        "out = io.StringIO()\n"
        f"with contextlib.redirect_stdout(out): code = run(['check', {str(spec)!r}, '--json'])\n"
        "print(code, *sorted({m.partition('.')[0] for m in sys.modules}))\n"
        "print(out.getvalue())\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120
    )
    first, _, rest = done.stdout.partition("\n")
    document = json.loads(rest)
    assert document["exit_code"] == int(first.split()[0])
    return document, set(first.split()[1:])


def test_what_is_measured_is_checked_without_the_kernel(measured: Path) -> None:
    document, loaded = checked(measured)
    assert document["exit_code"] == 0
    assert "numpy" in loaded
    assert not loaded & {"OCP", "cadquery", "scipy"}
    rows = {r["subject"]: r for r in document["checks"] if r["name"] == "obstacle-gap"}
    for cylinder in (1, 2):
        row = rows[f"runner {cylinder} / gearbox"]
        assert (row["verdict"], row["limit"]) == ("pass", rows["runner 1 / block face"]["limit"])
    assert 0.0 < rows["gearbox, as measured"]["value"] < 0.6
    assert f"{STEP}_sha256" in document["inputs"]


def test_what_is_measured_is_not_measured_again(measured: Path, geomgen) -> None:
    mesh = measured.parent / MESH
    before, when = mesh.read_bytes(), mesh.stat().st_mtime_ns
    again = geomgen("route", measured, "--dry-run", GEOMGEN_TIMINGS="1")
    assert again.returncode == 0, again.stdout + again.stderr
    assert "resolve" in again.stderr
    assert "measure solids" not in again.stderr
    assert (mesh.read_bytes(), mesh.stat().st_mtime_ns) == (before, when)


@pytest.mark.parametrize("spoil", ["gone", "damaged", "a folder"])
def test_without_it_nothing_that_depends_on_it_passes(spec: Path, geomgen, spoil: str) -> None:
    mesh = spec.parent / MESH
    data = mesh.read_bytes()
    mesh.unlink()
    if spoil == "damaged":
        mesh.write_bytes(data[:-5])
    elif spoil == "a folder":
        mesh.mkdir()
    document, loaded = checked(spec)
    assert document["exit_code"] == 1
    assert not loaded & {"OCP", "cadquery"}
    told = [r for r in document["checks"] if r["source"] == "check" and r["verdict"] == "not-run"]
    assert {r["name"] for r in told} == {"obstacle-gap", *BESIDE}
    assert all(r["remedy"] for r in told)
    assert not [r for r in document["checks"] if r["name"] in BESIDE and r["verdict"] == "pass"]
    assert [r["subject"] for r in told if r["name"] == "obstacle-gap"] == ["every runner / gearbox"]
    text = geomgen("check", spec)
    assert text.returncode == 1
    assert f"NOT-RUN obstacle-gap: every runner / gearbox: {STEP} has not been" in text.stdout


def test_nothing_is_laid_out_past_a_solid_that_is_not_measured(spec: Path, geomgen) -> None:
    (spec.parent / MESH).unlink()
    spec.with_name(f"{TWIN}.lock.yaml").unlink()
    before = sorted(spec.parent.rglob("*"))
    done = geomgen("check", spec)
    assert done.returncode == 1
    assert done.stdout.startswith("NOT-RUN routing: runners: ")
    assert f"gearbox ({STEP})" in done.stdout
    assert "geomgen build or geomgen route" in done.stdout
    assert sorted(spec.parent.rglob("*")) == before
    told = json.loads(geomgen("check", spec, "--json").stdout)
    assert (told["exit_code"], told["verdict"]) == (1, "not-run")


def test_another_solid_of_that_name_undoes_the_lock(spec: Path, geomgen) -> None:
    step = spec.parent / STEP
    step.write_bytes(step.read_bytes().replace(b"HEADER;", b"HEADER;/* measured again */", 1))
    done = geomgen("check", spec)
    assert done.returncode == 1
    assert done.stdout.startswith("NOT-RUN routing: runners: ")


def test_a_runner_in_its_way_fails(spec: Path) -> None:
    source = pipeline.load(spec)
    held = pipeline.decide(source).design
    (gearbox,) = [o for o in held.problem.obstacles if o.name == "gearbox"]
    moved = replace(gearbox, field=gearbox.field.placed(Frame((100.0, -200.0, 130.0))))
    problem = replace(held.problem, obstacles=(moved,))
    found = obstacle_gap.run(replace(held, problem=problem))
    assert [f for f in found if f.verdict == "fail" and "gearbox" in f.subject]


def test_the_example_is_what_a_fresh_build_makes(measured: Path) -> None:
    made, kept = measured.parent / "out" / TWIN, EXAMPLES / TWIN
    assert files(made) == files(kept)
    for name in ("result.json", "bend_table_xyz.csv"):
        same = same_json if name.endswith(".json") else same_text
        a, b = ((folder / name).read_bytes() for folder in (kept, made))
        same(*((json.loads(a), json.loads(b)) if same is same_json else (a, b)), name)
    same_picture(*((folder / "assembly.png").read_bytes() for folder in (kept, made)))


def test_its_picture_has_its_edges_where_it_stands(measured: Path) -> None:
    design = pipeline.decide(pipeline.load(measured)).design
    (gearbox,) = [o.field for o in design.problem.obstacles if o.name == "gearbox"]
    (wire,) = [w for w in wires_of(design, np.array([0.0, 0.0, 1.0])) if w.name == "gearbox"]
    low, high = wire.lines.min(axis=(0, 1)), wire.lines.max(axis=(0, 1))
    # Seen along z, its outline is all there.
    assert low[:2] == pytest.approx(np.array(gearbox.low[:2]) + gearbox.outside, abs=1e-6)
    assert high[:2] == pytest.approx(np.array(gearbox.high[:2]) - gearbox.outside, abs=1e-6)
    # The sharp edges of the lump on the case, 120 mm and more, are among them.
    assert np.linalg.norm(wire.lines[:, 1] - wire.lines[:, 0], axis=1).max() > 50.0


def refused(spec: Path) -> str:
    with pytest.raises(SpecError) as caught:
        solids.ensure(pipeline.load(spec))
    (problem,) = caught.value.problems
    assert problem.path[0] == "obstacles"
    assert problem.path[2:] == ("solid", "file")
    lines = Path(problem.file).read_text(encoding="utf-8").splitlines()
    assert "solid: {file:" in lines[problem.line - 1]
    assert problem.remedy
    assert "\n" not in str(problem)
    return str(problem)


def with_file(tmp_path: Path, demo_file: Path, content: bytes | None) -> Path:
    if content is not None:
        (tmp_path / "thing.step").write_bytes(content)
    line = "  - {name: thing, kind: body, solid: {file: thing.step, at: [0, 900, 0]}}\n"
    return spec_in(tmp_path, demo_file, line)


def open_step() -> bytes:
    return shapes.step_bytes(shapes.open_solid(shapes.casting()))


def broken_step() -> bytes:
    whole = shapes.step_bytes(shapes.block((0, 0, 0), (9, 9, 9)))
    return whole.replace(b"PLANE(", b"PLANET(")


def crashing_step() -> bytes:
    """Vectors whose direction is no direction: the kernel's reader takes it on trust and dies."""
    whole = shapes.step_bytes(shapes.block((0, 0, 0), (9, 9, 9)))
    return re.sub(rb"VECTOR\('',#\d+", b"VECTOR('',#1", whole)


@pytest.mark.parametrize(
    ("content", "why"),
    [
        (lambda: None, "No such file"),
        (lambda: b"solid thing\nfacet normal 0 0 1\n", "ISO-10303-21"),
        (lambda: b"", "ISO-10303-21"),
        (open_step, "bound no solid"),
        (broken_step, "thing.step: "),
        (crashing_step, "breaks down"),
        (lambda: b"ISO-10303-21;" + bytes(range(256)) * 40, "thing.step: "),
    ],
    ids=["missing", "no step", "empty", "open", "broken", "crash", "noise"],
)
def test_what_cannot_be_used_is_refused_in_its_line(
    tmp_path: Path, demo_file: Path, content, why: str
) -> None:
    assert why in refused(with_file(tmp_path, demo_file, content()))
    assert not (tmp_path / "thing.step.mesh").exists()


def test_a_file_that_is_too_large_is_refused(
    tmp_path: Path, demo_file: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(solids, "MOST_STEP", 1000)
    spec = with_file(tmp_path, demo_file, b"ISO-10303-21;" + b" " * 2000)
    assert "at most" in refused(spec)


@pytest.mark.skipif(sys.platform == "win32", reason="makes links")
def test_nothing_outside_the_specs_folder_is_read_or_written(
    tmp_path: Path, demo_file: Path
) -> None:
    step = shapes.step_bytes(shapes.block((0, 0, 0), (9, 9, 9)))
    root, outside = tmp_path / "root", tmp_path / "outside"
    for folder in (root, outside):
        folder.mkdir()
    (outside / "thing.step").write_bytes(step)
    (root / "thing.step").symlink_to(outside / "thing.step")
    assert "outside the spec's folder" in refused(with_file(root, demo_file, None))
    # A way round through a linked folder: what is read lies inside, what is written would not.
    (root / "thing.step").unlink()
    (root / "real.step").write_bytes(step)
    (root / "away").symlink_to(outside)
    (outside / "thing.step").unlink()
    (outside / "thing.step").symlink_to(root / "real.step")
    line = "  - {name: thing, kind: body, solid: {file: away/thing.step, at: [0, 900, 0]}}\n"
    with pytest.raises(OSError, match="outside"):
        solids.ensure(pipeline.load(spec_in(root, demo_file, line)))
    assert [p.name for p in outside.iterdir()] == ["thing.step"]


def test_complaints_about_files_come_with_all_others(tmp_path: Path, demo_file: Path) -> None:
    spec = with_file(tmp_path, demo_file, None)
    text = spec.read_text(encoding="utf-8")
    spec.write_text(text.replace("stroke: 86", "stroke: eighty"), encoding="utf-8")
    with pytest.raises(SpecError) as caught:
        pipeline.load(spec)
    assert {p.path[0] for p in caught.value.problems} == {"engine", "obstacles"}
