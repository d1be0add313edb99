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
import resource
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
    work: dict[str, list[float]] = {case: [] for case in seconds}
    phases: dict[str, list[dict[str, float]]] = {case: [] for case in BARS}
    with tempfile.TemporaryDirectory() as folder:
        specs = prepared(Path(folder))
        for number in range(ROUNDS):
            for case in seconds:
                wall, cpu, said = timed(arguments(case, specs, Path(folder)), Path(folder))
                seconds[case].append(wall)
                work[case].append(cpu)
                if case != BASE:
                    phases[case].append(json.loads(said.splitlines()[-1])["timings_s"])
            print(f"round {number + 1} of {ROUNDS}", file=sys.stderr)
    text = report(seconds, work, phases)
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


def arguments(case: str, specs: dict[str, Path], folder: Path) -> list[str]:
    """The command line of a case."""
    if case == BASE:
        return [sys.executable, "-c", BASE]
    command, _, lock = case.partition(", ")
    out = ["--out", str(folder / "out")] if command == "build" else []
    return [sys.executable, "-m", "geomgen.cli.main", command, str(specs[lock]), *out]


def timed(command: Sequence[str], folder: Path) -> tuple[float, float, str]:
    """Wall time and processor time of a process [s], and what it said on stderr."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    start = time.perf_counter()
    done = subprocess.run(
        command,
        cwd=folder,
        env={**os.environ, "GEOMGEN_TIMINGS": "1"},
        capture_output=True,
        text=True,
        check=True,
    )
    wall = time.perf_counter() - start
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    return wall, cpu, done.stderr


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


def report(
    seconds: dict[str, list[float]],
    work: dict[str, list[float]],
    phases: dict[str, list[dict[str, float]]],
) -> str:
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
        "| case | ratio | of processor time | bar | wall s | "
        + " | ".join(f"{name} s" for name in columns)
        + " |",
        "|---|" + "---:|" * (4 + len(columns)),
    ]
    for case, bar in BARS.items():
        wall = statistics.median(seconds[case])
        rounds = [
            grouped(own, figures) for own, figures in zip(seconds[case], phases[case], strict=True)
        ]
        parts = [f"{statistics.median(r[name] for r in rounds):.2f}" for name in columns]
        ratio = wall / base
        effort = statistics.median(work[case]) / statistics.median(work[BASE])
        lines.append(
            f"| {case} | {ratio:.2f} | {effort:.2f} | {bar:g} | {wall:.2f} | "
            + " | ".join(parts)
            + " |"
        )
    spread = ", ".join(f"{case} {max(own) / min(own):.2f}" for case, own in seconds.items())
    lines += [
        "",
        "`rest` is the interpreter's start, reading the spec, and printing. The ratio of processor",
        "time holds when other work shares the machine.",
        f"Spread of the rounds, slowest over fastest: {spread}.",
    ]
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
