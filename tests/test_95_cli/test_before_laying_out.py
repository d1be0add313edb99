"""What is wrong whatever the layout is said before one is looked for; refusals name their key."""

import json
import shutil
from pathlib import Path

import pytest

from geomgen.cli.main import run

SPECS = Path(__file__).parents[2] / "specs"


def copied(folder: Path, name: str, *edits: tuple[str, str]) -> Path:
    """A demo's spec without its lock, edited."""
    file = folder / f"{name}.yaml"
    shutil.copy(SPECS / file.name, file)
    text = file.read_text(encoding="utf-8")
    for old, new in edits:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    file.write_text(text, encoding="utf-8")
    return file


@pytest.fixture
def said(capsys):
    """Run a command in this process: exit code, stdout and stderr."""

    def command(*arguments: str | Path) -> tuple[int, str, str]:
        code = run([str(argument) for argument in arguments])
        told = capsys.readouterr()
        return code, told.out, told.err

    return command


def place(file: Path, line: str) -> str:
    """``file:line:column`` of the key at the start of a line, or of its scalar."""
    for number, text in enumerate(file.read_text(encoding="utf-8").splitlines(), 1):
        if text.strip().startswith(line):
            return f"{file}:{number}:{len(text) - len(text.lstrip()) + 1}"
    raise AssertionError(line)


PAIRS = ("  family: 4-2-1\n", "  family: 4-2-1\n  pairs: [[1, 3], [2, 4]]\n")


@pytest.mark.parametrize("command", ["check", "route", "build"])
def test_nothing_is_looked_for_while_the_pairing_fails(tmp_path, said, command) -> None:
    """By hand: of 1-3-2-4, 1 and 3 fire 180 deg apart, 1 and 2 a turn."""
    file = copied(tmp_path, "wexcombe-20-flat", PAIRS)
    code, out, _ = said(command, file, *(["--out", tmp_path] if command == "build" else []))
    assert code == 1
    lines = out.splitlines()
    assert lines[0].startswith("FAIL    pairing: 1+3: next of the group fires 180 deg after 1")
    assert lines[-2].startswith("NOT-RUN routing: runners: ")
    assert f"-> {place(file, 'pairs:')}: collector.pairs: found 1+3 and 2+4" in lines[-1]
    assert "group 1+2 and 3+4" in lines[-1]
    assert "or waive pairing, with your reason" in lines[-1]
    assert [p.name for p in tmp_path.iterdir()] == [file.name]


def test_json_has_the_findings_and_their_key(tmp_path, said) -> None:
    file = copied(tmp_path, "wexcombe-20-flat", PAIRS)
    document = json.loads(said("check", file, "--json")[1])
    assert (document["exit_code"], document["verdict"]) == (1, "fail")
    failing = [row for row in document["checks"] if row["verdict"] == "fail"]
    assert [(row["name"], row["subject"]) for row in failing] == [
        ("pairing", "1+3"),
        ("pairing", "2+4"),
    ]
    (problem,) = document["problems"]
    assert problem["path"] == ["collector", "pairs"]
    assert f"{problem['file']}:{problem['line']}:{problem['column']}" == place(file, "pairs:")


def test_what_does_not_stop_the_work_is_said_ahead_of_it(tmp_path, said) -> None:
    edits = (("  runner_gap: 6", "  runner_gap: 6\n  land_min: 90"),)
    file = copied(tmp_path, "brackenhall-20-sprint", *edits)
    code, _, err = said("route", file)
    assert code == 0
    assert err.startswith("before laying out: FAIL    edge-and-web: ")
    # A lock that holds leaves nothing to look for, and nothing to say ahead.
    code, out, err = said("check", file)
    assert (code, err) == (1, "")
    assert "FAIL    edge-and-web: " in out


def box(name: str, corners: str) -> tuple[str, str]:
    """A solid put first among the demo's obstacles."""
    return "obstacles:\n", f"obstacles:\n  - {{name: {name}, kind: body, box: {{{corners}}}}}\n"


REFUSED = [
    (
        (("length: tuned ", "length: 400 "),),
        "runners.length",
        "found 400.0 mm for runner 1; allowed: 5",
    ),
    (
        # A wall across the collector's mouth, where every layout ends in straights.
        (
            box("wall", "from: [280, -400, 100], to: [320, -260, 280]"),
            ("  min_angle: 8", "  min_angle: 8\n  min_straight_at_collector: 20"),
        ),
        "collector.at",
        "barred by wall",
    ),
    (
        # A block right in front of cylinder 1's port.
        (box("strut", "from: [-20, -20, 60], to: [20, 20, 90]"),),
        "obstacles.0",
        "found runner 1, barred by strut",
    ),
]


@pytest.mark.parametrize(("edits", "key", "found"), REFUSED, ids=["floor", "slot", "port"])
def test_a_routing_refusal_names_file_line_and_key(tmp_path, said, edits, key, found) -> None:
    file = copied(tmp_path, "brackenhall-20-sprint", *edits)
    code, out, _ = said("check", file)
    assert code == 1
    lines = out.splitlines()
    assert lines[-2].startswith("FAIL    routing: runners: impossible: "), out
    where, _, rest = lines[-1].removeprefix("        -> ").partition(f": {key}: ")
    assert found in rest
    name, line, column = where.rsplit(":", 2)
    assert name == str(file)
    text = file.read_text(encoding="utf-8").splitlines()[int(line) - 1][int(column) - 1 :]
    assert text.startswith({"runners.length": "400", "collector.at": "at"}.get(key, "{name: strut"))
    problem = json.loads(said("check", file, "--json")[1])["problems"][0]
    assert ".".join(problem["path"]) == key
    assert (problem["line"], problem["column"]) == (int(line), int(column))
