"""What a STEP obstacle costs: measured once, read back, asked for distances.

Run from the repository: ``python tests/benchmarks/bench_solids.py``. Rounds are interleaved and
each figure is their median; ratios are to measuring in a process of its own, as ``build`` does.
Writes ``SOLIDS.md`` beside itself. Not a test: a busy machine must not turn the tests red.
"""

from __future__ import annotations

import platform
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

from geomgen.cli import pipeline, solids
from geomgen.cli.solids import SUFFIX
from geomgen.geometry.fields import Box
from geomgen.geometry.solid_field import FEW, Solid

ROUNDS = 5
MANY = 1_000_000
HERE = Path(__file__).parent
SPECS = HERE.parents[1] / "specs"
TWIN, STEP = "aldermere-07-twin.yaml", "parts/aldermere-gearbox.step"
RESULTS = HERE / "SOLIDS.md"


def main() -> None:
    """Measure and write the results."""
    seconds: dict[str, list[float]] = {}
    with tempfile.TemporaryDirectory() as folder:
        source, solid = prepared(Path(folder))
        for number in range(ROUNDS):
            for name, work in cases(source, solid).items():
                begun = time.perf_counter()
                work()
                seconds.setdefault(name, []).append(time.perf_counter() - begun)
            print(f"round {number + 1} of {ROUNDS}", file=sys.stderr)
    text = report({name: statistics.median(took) for name, took in seconds.items()}, solid)
    RESULTS.write_text(text, encoding="utf-8")
    print(text)


def prepared(folder: Path) -> tuple[pipeline.Source, Solid]:
    """A copy of the demo whose gearbox is measured."""
    (folder / "parts").mkdir()
    for file in (TWIN, STEP):
        (folder / file).write_bytes((SPECS / file).read_bytes())
    source = pipeline.load(folder / TWIN)
    return source, solids.ensure(source)[STEP]


def cases(source: pipeline.Source, solid: Solid) -> dict[str, Callable[[], object]]:
    """What is timed, by name."""
    low, high = np.array(solid.low) - 100.0, np.array(solid.high) + 100.0
    points = np.random.default_rng(1).uniform(low, high, (MANY, 3))
    box = Box(solid.low, solid.high)

    def anew() -> None:
        (source.path.parent / (STEP + SUFFIX)).unlink()
        solids.ensure(source)

    return {
        "measure (child process, kernel)": anew,
        "read back": lambda: solids.known(source),
        f"distance of {MANY:,} points": lambda: solid.distance(points),
        f"distance of {FEW:,} points, exact": lambda: solid.distance(points[:FEW]),
        f"distance of {MANY:,} points to a box": lambda: box.distance(points),
    }


def report(seconds: dict[str, float], solid: Solid) -> str:
    """The results as Markdown."""
    base = next(iter(seconds.values()))
    rows = [f"| {name} | {took:.4f} | {took / base:.5f} |" for name, took in seconds.items()]
    about = (
        f"The demo's gearbox: {len(solid.triangles)} triangles, "
        f"{solid.outside:.2f} mm off at most.\n"
        f"Median of {ROUNDS} rounds, wall time; points in a box 100 mm beyond it. "
        f"Python {platform.python_version()},\n{platform.system()} {platform.machine()}. "
        "Made by `python tests/benchmarks/bench_solids.py`."
    )
    head = "| case | s | ratio to measuring |\n|---|---:|---:|"
    return "\n".join(["# STEP obstacles", "", about, "", head, *rows, ""])


if __name__ == "__main__":
    main()
