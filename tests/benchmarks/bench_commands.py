"""Wall time of whole commands, as ratios to ``python -c "import cadquery"``.

Run from the repository: ``python tests/benchmarks/bench_commands.py``. Cases are run in
turn, round after round, so that a slow spell of the machine falls on all of them; each
figure is the median of the rounds. Writes ``RESULTS.md`` beside itself. Not a test: a
machine that is busy must not turn the tests red.
"""

from __future__ import annotations

import json
import os
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path

ROUNDS = 7
HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "specs" / "brackenhall-20-sprint.yaml"
RESULTS = HERE / "RESULTS.md"
BASE = "import cadquery"

BARS = {"check, lock": 0.5, "check, no lock": 1.0, "build, lock": 2.0}
"""Case and the largest ratio that the design allows."""

GROUPS = (
    ("imports", ("imports", "kernel imports")),
    ("solve", ("resolve",)),
    ("checks", ("checks",)),
    ("export", ("export", "picture")),
    ("proofs", ("proof",)),
    ("write", ("write",)),
)
"""Columns of the table and the phases that go into each; a phase counts by its first word."""


def main() -> None:
    """Measure and write the results."""
    seconds: dict[str, list[float]] = {BASE: [], **{case: [] for case in BARS}}
    phases: dict[str, list[dict[str, float]]] = {case: [] for case in BARS}
    with tempfile.TemporaryDirectory() as folder:
        specs = prepared(Path(folder))
        for number in range(ROUNDS):
            seconds[BASE].append(timed([sys.executable, "-c", BASE], Path(folder))[0])
            for case in BARS:
                wall, figures = run_case(case, specs, Path(folder))
                seconds[case].append(wall)
                phases[case].append(figures)
            print(f"round {number + 1} of {ROUNDS}", file=sys.stderr)
    text = report(seconds, phases)
    RESULTS.write_text(text, encoding="utf-8")
    print(text)


def prepared(folder: Path) -> dict[str, Path]:
    """Copies of the demo: with its lock, and without."""
    specs: dict[str, Path] = {}
    for name in ("lock", "no lock"):
        home = folder / name.replace(" ", "-")
        home.mkdir()
        specs[name] = Path(shutil.copy(DEMO, home))
    shutil.copy(DEMO.with_name(f"{DEMO.stem}.lock.yaml"), specs["lock"].parent)
    return specs


def run_case(case: str, specs: dict[str, Path], folder: Path) -> tuple[float, dict[str, float]]:
    """Wall time of one command, and its own account of it [s]."""
    command, _, lock = case.partition(", ")
    arguments = [sys.executable, "-m", "geomgen.cli.main", command, str(specs[lock])]
    if command == "build":
        arguments += ["--out", str(folder / "out")]
    wall, said = timed(arguments, folder)
    figures: dict[str, float] = json.loads(said.splitlines()[-1])["timings_s"]
    return wall, figures


def timed(arguments: Sequence[str], folder: Path) -> tuple[float, str]:
    """Wall time of a process [s], and what it said on stderr."""
    start = time.perf_counter()
    done = subprocess.run(
        arguments,
        cwd=folder,
        env={**os.environ, "GEOMGEN_TIMINGS": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    return time.perf_counter() - start, done.stderr


def grouped(wall: float, figures: dict[str, float]) -> dict[str, float]:
    """A command's phases, gathered into the columns of the table [s]."""
    columns = dict.fromkeys((name for name, _ in GROUPS), 0.0)
    for phase, value in figures.items():
        for name, members in GROUPS:
            if phase in members or phase.split()[0] in members:
                columns[name] += value
                break
    columns["rest"] = wall - sum(columns.values())
    return columns


def report(seconds: dict[str, list[float]], phases: dict[str, list[dict[str, float]]]) -> str:
    """The results as Markdown."""
    base = statistics.median(seconds[BASE])
    columns = [*(name for name, _ in GROUPS), "rest"]
    lines = [
        "# Speed",
        "",
        f'Wall time of whole processes; ratio to `python -c "{BASE}"`, which took {base:.2f} s.',
        f"Median of {ROUNDS} rounds, cases interleaved; Python {platform.python_version()},",
        f"{platform.system()} {platform.machine()}, {os.cpu_count()} cores.",
        "Made by `python tests/benchmarks/bench_commands.py`.",
        "",
        "| case | ratio | bar | wall s | " + " | ".join(f"{name} s" for name in columns) + " |",
        "|---|" + "---:|" * (3 + len(columns)),
    ]
    for case, bar in BARS.items():
        wall = statistics.median(seconds[case])
        rounds = [
            grouped(own, figures) for own, figures in zip(seconds[case], phases[case], strict=True)
        ]
        parts = [f"{statistics.median(r[name] for r in rounds):.2f}" for name in columns]
        ratio = wall / base
        lines.append(f"| {case} | {ratio:.2f} | {bar:g} | {wall:.2f} | " + " | ".join(parts) + " |")
    spread = ", ".join(f"{case} {max(own) / min(own):.2f}" for case, own in seconds.items())
    lines += [
        "",
        "`rest` is the interpreter's start, reading the spec, and printing.",
        f"Spread of the rounds, slowest over fastest: {spread}.",
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
