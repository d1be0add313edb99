"""Time of a build of every demo, and how a build grows with the number of runners.

Run from the repository: ``python tests/benchmarks/bench_families.py``. Processor time of whole
processes from their locks, as ratios to ``python -c "import cadquery"``, the demos in turn, round
after round. Growth is that of one merge header, an invented engine drawn out to more cylinders,
phase by phase. Writes ``FAMILIES.md`` beside itself. Not a test: a machine that is busy must not
turn the tests red.
"""

from __future__ import annotations

import json
import math
import platform
import shutil
import statistics
import sys
import tempfile
from collections.abc import Iterable
from pathlib import Path

from bench_commands import BASE, timed

ROUNDS = 1
HERE = Path(__file__).parent
SPECS = HERE.parents[1] / "specs"
RESULTS = HERE / "FAMILIES.md"
SIZES = (2, 3, 4, 5, 6, 8)

GROWN = """
format: 1
name: grown-{n}
engine:
  layout: inline
  cylinders: {n}
  bore: 80
  stroke: 80
  firing_order: {order}
heads:
  - ports: {{shape: round, diameter: 39.4, pitch: 92}}
    studs: {{size: M8, protrusion: 26, at_each_port: [[-33, 26], [33, -26]]}}
    gasket: {{thickness: 1.2}}
flange: {{thickness: 10, material: "304", process: waterjet}}
runners:
  tube: {{od: 42.4, wall: 1.5, material: "304"}}
  length: {length}
  transition: {{length: 42}}
shelf:
  bends: [{{clr: 63, angle: 180, leg: 100}}]
collector:
  family: merge
  at: [{x}, -380, 260]
  direction: [0.97, -0.22, 0.05]
  merge_angle: 12
  outlet: {{od: {outlet}, wall: 1.5, length: 200}}
"""

PHASES = ("resolve", "checks", "export step", "picture", "proof", "whole process")


def main() -> None:
    """Measure and write the results."""
    with tempfile.TemporaryDirectory() as folder:
        text = "\n".join((*demos(Path(folder)), *growth(Path(folder)))) + "\n"
    RESULTS.write_text(text, encoding="utf-8")
    print(text)


def demos(folder: Path) -> Iterable[str]:
    """The table of demos."""
    specs = sorted(p for p in SPECS.glob("*.yaml") if not p.name.endswith(".lock.yaml"))
    work: dict[str, list[float]] = {BASE: [], **{spec.stem: [] for spec in specs}}
    phases: dict[str, dict[str, float]] = {}
    for number in range(ROUNDS):
        work[BASE].append(timed([sys.executable, "-c", BASE], folder)[1])
        for spec in specs:
            _, cpu, said = timed(build(spec, folder), folder)
            work[spec.stem].append(cpu)
            phases[spec.stem] = json.loads(said.splitlines()[-1])["timings_s"]
        print(f"round {number + 1} of {ROUNDS}", file=sys.stderr)
    base = statistics.median(work[BASE])
    yield "# Families"
    yield ""
    yield f'Processor time of builds from their locks; ratio to `python -c "{BASE}"`, {base:.2f} s.'
    yield f"{ROUNDS} round, demos in turn; Python {platform.python_version()},"
    yield f"{platform.system()} {platform.machine()}."
    yield "Made by `python tests/benchmarks/bench_families.py`."
    yield ""
    yield "| demo | ratio | CPU s | runners | longest phases, wall s |"
    yield "|---|---:|---:|---:|---|"
    for spec in specs:
        cpu = statistics.median(work[spec.stem])
        result = json.loads((folder / "out" / spec.stem / "result.json").read_bytes())
        longest = sorted(
            ((v, k) for k, v in phases[spec.stem].items() if k != "total"), reverse=True
        )[:4]
        words = ", ".join(f"{name} {value:.1f}" for value, name in longest)
        yield (
            f"| {spec.stem} | {cpu / base:.2f} | {cpu:.2f} | {len(result['runners'])} | {words} |"
        )
    yield ""


def build(spec: Path, folder: Path) -> list[str]:
    """Command line of a build."""
    return [
        *(sys.executable, "-m", "geomgen.cli.main", "build"),
        *(str(spec), "--out", str(folder / "out")),
    ]


def growth(folder: Path) -> Iterable[str]:
    """The table of one header with more and more runners."""
    rows: dict[int, dict[str, float]] = {}
    for n in SIZES:
        home = folder / f"grown-{n}"
        home.mkdir()
        spec = home / f"grown-{n}.yaml"
        order = list(range(1, n + 1, 2)) + list(range(2, n + 1, 2))
        tube = 39.4 * math.sqrt((0.62 if n < 7 else 0.45) * n)
        spec.write_text(
            GROWN.format(
                n=n, order=order, length=560 + 70 * n, x=92 * n - 20, outlet=round(tube + 3.0, 1)
            )
        )
        timed(build(spec, folder), folder)  # solves, and keeps the lock
        rounds = [timed(build(spec, folder), folder) for _ in range(ROUNDS)]
        said = [json.loads(text.splitlines()[-1])["timings_s"] for _, _, text in rounds]
        rows[n] = {
            phase: min(
                sum(v for k, v in one.items() if k.split(" ")[0] == phase or k == phase)
                for one in said
            )
            for phase in PHASES[:-1]
        }
        rows[n][PHASES[-1]] = min(cpu for _, cpu, _ in rounds)
        shutil.rmtree(folder / "out" / f"grown-{n}", ignore_errors=True)
        print(f"{n} runners", file=sys.stderr)
    yield "## Growth with runners"
    yield ""
    yield "One merge header for more and more cylinders, from its lock; least of"
    yield f"{ROUNDS} runs, s. `power` is the slope of log time over log runners, from 2 to 8."
    yield ""
    yield "| runners | " + " | ".join(PHASES) + " |"
    yield "|---|" + "---:|" * len(PHASES)
    for n, row in rows.items():
        yield f"| {n} | " + " | ".join(f"{row[phase]:.2f}" for phase in PHASES) + " |"
    slopes = [slope([(n, row[phase]) for n, row in rows.items()]) for phase in PHASES]
    yield "| power | " + " | ".join(f"{value:.2f}" for value in slopes) + " |"
    yield ""
    yield from WHY


WHY = (
    "What grows faster than in proportion: clearances in `checks` look at every pair of tubes,",
    "and `step-overlap` among the proofs at every pair of parts whose bounds meet; both drop pairs",
    "that are far apart at once.",
)


def slope(points: list[tuple[int, float]]) -> float:
    """Least squares slope of log time over log number."""
    x = [math.log(n) for n, _ in points]
    y = [math.log(max(value, 1e-3)) for _, value in points]
    mx, my = statistics.fmean(x), statistics.fmean(y)
    above = sum((a - mx) * (b - my) for a, b in zip(x, y, strict=True))
    return above / sum((a - mx) ** 2 for a in x)


if __name__ == "__main__":
    main()
