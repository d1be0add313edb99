"""The router on the problem set: success, time, growth, scipy beside it, score, profile.

Run from the repository: ``python tests/benchmarks/bench_router.py``, or one part of it:
``--part set|growth|scipy|score|profile``; ``--second DIR`` takes a set that
``problem_set/generate.py --out DIR`` has drawn. Writes each part as a section of ``ROUTER.md``
beside itself. All times are processor time of one core. Not a test: a busy machine must not turn
the tests red.
"""

from __future__ import annotations

import os

# Before numpy is loaded: one core.
os.environ["OMP_NUM_THREADS"] = "1"
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import argparse
import platform
import re
import sys
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

import router_by_scipy
import router_growth
import router_score
import router_set
from problem_set.problems import HERE as SET
from router_watch import prose, say, warmed_up

RESULTS = Path(__file__).parent / "ROUTER.md"

PARTS: dict[str, tuple[str, float, Callable[[Path], list[str]]]] = {
    "set": ("The problem set", 1.7, router_set.report),
    "growth": ("Growth", 1.5, router_growth.report),
    "scipy": ("Beside scipy", 10.0, router_by_scipy.report),
    "score": ("Score", 10.0, router_score.report),
    "profile": ("Profile", 0.3, router_growth.profile),
    "second": ("A second set", 1.7, router_set.report),
}
"""Heading, about how many minutes it takes, and what makes its lines."""


def main() -> None:
    """Read the command line, measure, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--part", choices=list(PARTS), action="append")
    parser.add_argument("--second", type=Path, help="folder of a second set")
    options = parser.parse_args()
    parts = options.part or [name for name in PARTS if name != "second" or options.second]
    if "second" in parts and not options.second:
        parser.error("the part `second` needs --second DIR")
    minutes = sum(PARTS[name][1] for name in parts)
    say(f"{', '.join(parts)}: about {minutes:.0f} minutes on an idle core")
    warmed_up()
    sections = earlier()
    for name in parts:
        say(name)
        begun = time.process_time()
        heading, _, made = PARTS[name]
        lines = made(options.second if name == "second" else SET)
        sections[heading] = "\n".join(lines).strip()
        say(f"{name} took {(time.process_time() - begun) / 60.0:.1f} minutes")
        RESULTS.write_text(written(sections), encoding="utf-8")
        print(f"## {heading}\n\n{sections[heading]}\n", flush=True)


def earlier() -> dict[str, str]:
    """Sections that were measured before, by heading."""
    text = RESULTS.read_text(encoding="utf-8") if RESULTS.exists() else ""
    parts = re.split(r"^## (.+)\n", text, flags=re.MULTILINE)[1:]
    return {head: body.strip() for head, body in zip(parts[::2], parts[1::2], strict=True)}


def written(sections: dict[str, str]) -> str:
    """The whole file."""
    head = [
        "# The router",
        "",
        *prose(
            f"Processor time of one core; Python {platform.python_version()}, {platform.system()} "
            f"{platform.machine()}. Ratios are of runs in one process. Made by "
            "`python tests/benchmarks/bench_router.py`; sections can be made one by one."
        ),
    ]
    for heading, _, _ in PARTS.values():
        if heading in sections:
            head += ["", f"## {heading}", "", sections[heading]]
    return "\n".join(head) + "\n"


if __name__ == "__main__":
    main()
