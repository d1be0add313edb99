"""The commands as people run them: real processes, exit codes, what is printed and what not."""

import json
import os
import pty
import shutil
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from geomgen.cli import main as cli_main
from geomgen.cli import new, reading
from geomgen.cli.names import plugin_names
from geomgen.registry import plugins
from geomgen.spec.load import load

HEAVY = ("OCP", "cadquery", "ezdxf", "scipy", "PIL", "rich", "pint", "vtkmodules")


@pytest.fixture
def spec(tmp_path: Path, demo_file: Path) -> Path:
    """The demo and its lock in a folder of their own."""
    for file in demo_file.parent.glob(f"{demo_file.stem}*.yaml"):
        shutil.copy(file, tmp_path)
    return tmp_path / demo_file.name


def changed(spec: Path, *edits: tuple[str, str]) -> Path:
    text = spec.read_text(encoding="utf-8")
    for old, new_text in edits:
        assert old in text, old
        text = text.replace(old, new_text)
    spec.write_text(text, encoding="utf-8")
    return spec


def loaded_modules(*arguments: str) -> set[str]:
    code = (
        "import sys\n"
        "from geomgen.cli.main import run\n"
        f"run({list(arguments)!r})\n"
        "print('MODULES', *sorted({m.partition('.')[0] for m in sys.modules}))\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=120
    )
    return set(done.stdout.splitlines()[-1].split()[1:])


def test_help_loads_nothing_heavy() -> None:
    loaded = loaded_modules("--help")
    assert "click" in loaded
    assert not loaded & {*HEAVY, "pydantic", "numpy", "ruamel"}


def test_check_never_loads_the_kernel(spec: Path) -> None:
    loaded = loaded_modules("check", str(spec))
    assert "numpy" in loaded
    assert not loaded & set(HEAVY)


def test_check_passes_and_writes_nothing(spec: Path, geomgen) -> None:
    before = {p.name: p.read_bytes() for p in spec.parent.iterdir()}
    done = geomgen("check", spec, cwd=spec.parent)
    assert done.returncode == 0, done.stdout + done.stderr
    assert {p.name: p.read_bytes() for p in spec.parent.iterdir()} == before
    assert done.stderr == ""
    said = {line.split()[1] for line in done.stdout.splitlines() if line.startswith("check ")}
    assert len(said) > 20
    assert said <= set(plugin_names("geomgen.checks"))
    assert "not-run" in done.stdout or not plugin_names("geomgen.proofs")


def test_check_json_is_one_document(spec: Path, geomgen) -> None:
    done = geomgen("check", spec, "--json")
    document = json.loads(done.stdout)
    assert document["exit_code"] == done.returncode == 0
    assert len(document["runners"]) == 4
    not_run = {row["name"] for row in document["checks"] if row["verdict"] == "not-run"}
    assert not_run == set(plugin_names("geomgen.proofs"))


def test_a_failing_check_is_exit_1_and_a_waived_one_0(spec: Path, geomgen) -> None:
    changed(spec, ("waive: []", "waive: [{check: window-perimeter, reason: drawn by hand}]"))
    changed(spec, ("  runner_gap: 6", "  runner_gap: 6\n  window_perimeter_percent: 0.1"))
    waived = geomgen("check", spec, "--json")
    assert waived.returncode == 0, waived.stdout
    rows = [r for r in json.loads(waived.stdout)["checks"] if r["name"] == "window-perimeter"]
    assert {r["verdict"] for r in rows} == {"waived"}
    assert "drawn by hand" in rows[0]["message"]
    changed(spec, ("waive: [{check: window-perimeter, reason: drawn by hand}]", "waive: []"))
    failing = geomgen("check", spec)
    assert failing.returncode == 1
    assert failing.stdout.splitlines()[2].startswith("FAIL    window-perimeter: ")
    assert failing.stdout.splitlines()[3].startswith("        -> ")


def test_a_failing_build_withholds_what_is_cut(spec: Path, geomgen) -> None:
    changed(spec, ("  runner_gap: 6", "  runner_gap: 6\n  window_perimeter_percent: 0.1"))
    done = geomgen("build", spec, "--out", spec.parent / "out", "--json")
    assert done.returncode == 1, done.stderr
    document = json.loads(done.stdout)
    made = spec.parent / "out" / "brackenhall-20-sprint"
    files = sorted(p.name for p in made.rglob("*") if p.is_file())
    assert document["verdict"] == "fail"
    assert [name for name in files if name.endswith((".dxf", ".csv"))] == []
    steps = [name for name in files if name.endswith(".step")]
    assert len(steps) == 1
    assert "not_for_manufacture" in steps[0]
    assert "not_for_manufacture" in (made / "step" / steps[0]).read_text()
    assert document["withheld"]
    assert json.loads((made / "result.json").read_text()) == document


def test_a_released_build(demo_build: Path) -> None:
    document = json.loads((demo_build / "result.json").read_text())
    assert document["exit_code"] == 0
    assert document["withheld"] == []
    assert not [p for p in demo_build.rglob("*") if "not_for_manufacture" in p.name]
    manifest = json.loads((demo_build / "manifest.json").read_text())
    held = {p.relative_to(demo_build).as_posix() for p in demo_build.rglob("*") if p.is_file()}
    assert held == {*manifest["files"], "manifest.json"}


def test_a_build_keeps_its_routes_and_the_next_one_does_not_solve(spec: Path, geomgen) -> None:
    lock = reading.lock_path(spec, "brackenhall-20-sprint")
    lock.unlink(missing_ok=True)
    first = geomgen("build", spec, "--out", spec.parent / "out")
    assert first.returncode == 0, first.stdout + first.stderr
    assert "routes kept in" in first.stdout
    kept = lock.read_bytes()
    second = geomgen("check", spec)
    assert second.returncode == 0
    assert "solved anew" not in second.stdout
    assert lock.read_bytes() == kept


def test_an_impossible_length_is_said_with_a_figure(spec: Path, geomgen) -> None:
    changed(spec, ("length: tuned ", "length: 400 "))
    done = geomgen("check", spec)
    assert done.returncode == 1
    assert done.stdout.startswith("FAIL    routing: ")
    assert "mm" in done.stdout
    as_json = geomgen("build", spec, "--json", "--out", spec.parent / "out")
    assert as_json.returncode == 1
    assert json.loads(as_json.stdout)["checks"][0]["name"] == "routing"
    assert not (spec.parent / "out").exists()


def test_targets(spec: Path, geomgen) -> None:
    done = geomgen("targets", spec)
    assert done.returncode == 0
    assert "670.20" in done.stdout
    rows = json.loads(geomgen("targets", spec, "--json").stdout)["targets"]
    assert {row["rule"] for row in rows} >= {"book", "acoustic-body", "velocity"}


def test_targets_without_a_cam_say_what_is_missing(spec: Path, geomgen) -> None:
    lines = [x for x in spec.read_text().splitlines() if not x.startswith("  cam:")]
    spec.write_text("\n".join(lines).replace("length: tuned ", "length: 700 "))
    done = geomgen("targets", spec)
    assert done.returncode == 2
    assert "engine" in done.stderr
    assert "cam" in done.stderr


def test_every_complaint_in_one_run_sorted_by_line(spec: Path, geomgen) -> None:
    changed(spec, ("  bore: 86", "  boar: 86"), ("thickness: 10", "thickness: 16 ga"))
    done = geomgen("check", spec)
    assert done.returncode == 2
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    places = [int(line.removeprefix(str(spec)).split(":")[1]) for line in lines[:-1]]
    assert len(places) >= 2
    assert places == sorted(places)
    assert "bore" in done.stderr
    assert "Traceback" not in done.stderr
    rows = json.loads(geomgen("check", spec, "--json").stdout)
    assert rows["exit_code"] == 2
    assert [row["line"] for row in rows["problems"]] == places


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00\x01\x02",
        b"\xff\xfe" + "name: x".encode("utf-16-le"),
        b"- a\n- b\n",
        b"a: &x [*x, *x]\n",
        b"[" * 5000,
        b"x: !!python/object/apply:os.system [ls]\n",
        b"a: 1\na: 2\n",
        b"{" + b"k: " * 3000,
        b"format: 99\n",
        b"k: " + b"9" * 200_000,
        b"heads: [" + b"{take: '../../etc/passwd#x'}," * 50 + b"]",
        b"x" * 2_000_000,
    ],
    ids=range(13),
)
def test_a_hostile_spec_is_refused_in_words(
    tmp_path: Path, content: bytes, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "bad.yaml"
    file.write_bytes(content)
    assert cli_main.run(["check", str(file)]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert "Traceback" not in said.err
    assert "should not happen" not in said.err
    assert said.err.startswith(str(file))


def test_odd_files_are_refused_without_opening_them(tmp_path: Path, geomgen) -> None:
    os.mkfifo(tmp_path / "pipe.yaml")
    for file in (tmp_path / "pipe.yaml", tmp_path, tmp_path / "none.yaml", Path("/dev/zero")):
        done = geomgen("check", file, timeout=20.0)
        assert done.returncode == 2, file
        assert "Traceback" not in done.stderr
        assert str(file) in done.stderr


@pytest.mark.parametrize(
    "arguments", [("chek",), ("check",), ("check", "--jsn", "x"), ("build", "a", "b"), ("new",)]
)
def test_wrong_usage_is_exit_2(arguments: tuple[str, ...], geomgen) -> None:
    done = geomgen(*arguments)
    assert done.returncode == 2
    assert "Usage" in done.stderr


def test_an_out_that_is_a_file_is_exit_2(spec: Path, geomgen) -> None:
    (spec.parent / "out").write_text("mine")
    done = geomgen("build", spec, "--out", spec.parent / "out")
    assert done.returncode == 2
    assert (spec.parent / "out").read_text() == "mine"


def test_a_folder_of_somebody_elses_is_exit_2(spec: Path, geomgen) -> None:
    theirs = spec.parent / "out" / "brackenhall-20-sprint"
    theirs.mkdir(parents=True)
    (theirs / "notes.txt").write_text("mine")
    done = geomgen("build", spec, "--out", spec.parent / "out")
    assert done.returncode == 2
    assert "not made by geomgen" in done.stderr
    assert [p.name for p in theirs.iterdir()] == ["notes.txt"]


def test_files_beside_a_spec_stay_inside_its_folder(tmp_path: Path) -> None:
    inside = tmp_path / "specs"
    (inside / "ports").mkdir(parents=True)
    (inside / "ports" / "head.yaml").write_text("a: 1")
    (tmp_path / "secret.yaml").write_text("b: 2")
    (inside / "link.yaml").symlink_to(tmp_path / "secret.yaml")
    (inside / "up").symlink_to(tmp_path)
    read = reading.beside(inside / "demo.yaml")
    assert read("ports/head.yaml") == b"a: 1"
    for bad in ("../secret.yaml", "link.yaml", "up/secret.yaml", "/etc/hostname", "a\x00b"):
        with pytest.raises((OSError, ValueError)):
            read(bad)


def test_a_lock_that_is_a_link_out_is_not_read(tmp_path: Path) -> None:
    inside = tmp_path / "specs"
    inside.mkdir()
    (tmp_path / "secret").write_text("x")
    (inside / "demo.lock.yaml").symlink_to(tmp_path / "secret")
    assert reading.lock_text(inside / "demo.lock.yaml") is None
    reading.write_lock(inside / "demo.lock.yaml", "mine")
    assert (tmp_path / "secret").read_text() == "x"
    assert reading.lock_text(inside / "demo.lock.yaml") == "mine"


def test_new_writes_a_spec_that_says_what_the_demo_says(
    tmp_path: Path, demo_file: Path, geomgen
) -> None:
    done = geomgen("new", "my-four", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    text = (tmp_path / "my-four.yaml").read_text()
    started = load(text, "my-four.yaml").required().model_dump()
    demo = load(demo_file.read_bytes(), demo_file.name).required().model_dump()
    assert started.pop("name") == "my-four"
    del demo["name"], demo["title"], started["title"]
    assert started == demo
    assert text.splitlines()[0].endswith("$schema=geomgen.schema.json")
    json.loads((tmp_path / "geomgen.schema.json").read_text())
    comments = sum("#" in line for line in text.splitlines())
    assert comments > 25


def test_new_overwrites_nothing(tmp_path: Path, geomgen) -> None:
    (tmp_path / "mine.yaml").write_text("mine")
    assert geomgen("new", "mine", cwd=tmp_path).returncode == 2
    assert (tmp_path / "mine.yaml").read_text() == "mine"
    for bad in ("Mine", "a b", "../../x y", ""):
        assert geomgen("new", bad, cwd=tmp_path).returncode == 2


def test_schema_prints_the_schema(geomgen) -> None:
    done = geomgen("schema")
    assert done.returncode == 0
    schema = json.loads(done.stdout)
    assert "engine" in schema["properties"]


def test_progress_shows_on_a_terminal_and_not_in_a_pipe(spec: Path) -> None:
    reading.lock_path(spec, "brackenhall-20-sprint").unlink(missing_ok=True)
    ours, theirs = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "geomgen.cli.main", "check", str(spec)],
        stdout=subprocess.PIPE,
        stderr=theirs,
        env={**os.environ, "TERM": "xterm-256color"},
    ) as process:
        os.close(theirs)
        shown = b""
        while True:
            try:
                piece = os.read(ours, 4096)
            except OSError:
                break
            if not piece:
                break
            shown += piece
        assert process.stdout is not None
        printed = process.stdout.read()
    os.close(ours)
    assert b"laying out the runners" in shown
    assert b"laying out" not in printed


def test_timings_on_request(spec: Path, geomgen) -> None:
    done = geomgen("check", spec, GEOMGEN_TIMINGS="1")
    figures = json.loads(done.stderr)["timings_s"]
    assert {"imports", "load", "resolve", "checks", "total"} <= set(figures)
    assert sum(figures.values()) <= 2.0 * figures["total"] + 0.01


def test_a_bug_is_one_plain_line_unless_debugging(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    @cli_main.cli.command("broken")
    def broken() -> None:
        raise ZeroDivisionError("a\nbug")

    try:
        assert cli_main.run(["broken"]) == 2
        said = capsys.readouterr().err
        assert said.count("\n") == 1
        assert "ZeroDivisionError: a bug" in said
        monkeypatch.setenv("GEOMGEN_DEBUG", "1")
        with pytest.raises(ZeroDivisionError):
            cli_main.run(["broken"])
    finally:
        del cli_main.cli.commands["broken"]


def test_a_closed_pipe_is_quiet(spec: Path) -> None:
    done = subprocess.run(
        f"{sys.executable} -m geomgen.cli.main targets {spec} | head -1",
        shell=True,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stderr == ""


@pytest.mark.parametrize("package", ["geomgen.checks", "geomgen.proofs", "geomgen.exports"])
def test_names_read_from_text_are_the_names_registered(package: str) -> None:
    assert sorted(plugin_names(package)) == sorted(plugins(package, "NAME"))


def test_written_files_are_readable_by_all(demo_build: Path) -> None:
    for file in demo_build.rglob("*"):
        assert stat.S_IMODE(file.stat().st_mode) & 0o400


def test_the_starter_name_is_in_the_starter_once_as_a_name() -> None:
    assert new.starter("abc").count("name: abc") == 1
    assert new.STARTER_NAME not in new.starter("abc")
