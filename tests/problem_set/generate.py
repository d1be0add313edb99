"""Draw the problem set: ``python tests/problem_set/generate.py --first-seed N --count M``.

Order of work for each: scene, target lengths, a clear layout, a joint walk, obstacles into
what is left free, and a new proof by other code. Whatever fails on the way is discarded,
logged with its reason, and drawn again from the next stream.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from problem_set import impossible, plans, reprove
from problem_set.fillets import Batch, Floats, along
from problem_set.layouts import Discarded
from problem_set.obstacles import placed
from problem_set.planting import Planted, floor_least, plant
from problem_set.problems import HERE, Problem, answer_of, fingerprint, problem_of, saved
from problem_set.scenes import Plan, Random


def dense(batches: list[Batch], spacing: float = 0.5) -> Floats:
    """Points of all paths."""
    return np.concatenate(
        [along(b, math.ceil(float(b.length[0]) / spacing) + 1)[0][0] for b in batches]
    )


def feasible(rng: Random, plan: Plan) -> Problem:
    """A problem with its planted answer.

    Raises:
        Discarded: nothing comes of this draw.
    """
    found = plant(rng, plan)
    problem = problem_of(found.scene, found.layout.lengths)
    count = int(rng.integers(8, 15)) if plan.crowded else int(rng.integers(1, 4))
    points = dense(found.paths)
    problem["obstacles"] = placed(rng, found.scene, points, plan.margin, count, plan.style == "vee")
    problem["planted"] = answer_of(problem, found.layout.slots, found.paths)
    for tube, slot in list(zip(problem["tubes"], found.layout.slots, strict=True))[: plan.pins]:
        problem["slots"][slot]["tube"] = tube["name"]
    problem["about"] = about(plan, found, problem, problem["planted"])
    least = problem["about"]["least_margin"]
    if not plan.margin - 0.01 <= least <= plan.margin + 0.01:
        raise Discarded("least margin is not the one drawn")
    return problem


def about(
    plan: Plan, found: Planted, problem: Problem, answer: dict[str, object]
) -> dict[str, object]:
    """What is known of a problem beyond what a solver is told; proves its answer.

    Raises:
        Discarded: the answer does not stand.
    """
    broken = reprove.reprove(problem, answer)
    if broken:
        raise Discarded("planted answer not proven: " + broken[0].split(":")[0].split(" ")[-1])
    least = min(reprove.margins(problem, answer), key=lambda m: m.upper)
    ratios = [length / floor_least(found.scene, i) for i, length in enumerate(found.layout.lengths)]
    return {
        "style": plan.style,
        "reach": plan.reach,
        "crowded": plan.crowded,
        "uneven": plan.uneven,
        "least_margin": round(least.upper, 4),
        "least_margin_between": [least.subject, least.other],
        "over_floor": round(min(ratios), 5),
        "walk": {
            "proposals": found.walked.proposals,
            "accepted": found.walked.accepted,
            "moved_mm": round(found.walked.moved, 2),
        },
    }


@dataclass
class Log:
    """Discards, by reason and by problem."""

    reasons: Counter[str]
    rows: dict[str, list[str]]
    seen: set[str]


def drawn(name: str, number: int, make: Callable[[Random], Problem], log: Log) -> Problem | None:
    """The first draw of a problem that stands."""
    for attempt in range(plans.ATTEMPTS):
        try:
            problem = make(np.random.default_rng([number, attempt]))
            mark = fingerprint(problem)
            if mark in log.seen:
                raise Discarded("duplicate or mirror image")
        except Discarded as why:
            log.reasons[str(why)] += 1
            log.rows.setdefault(name, []).append(str(why))
            continue
        log.seen.add(mark)
        return {"name": name, "draw": [number, attempt], "fingerprint": mark, **problem}
    return None


def main() -> None:
    """Read the command line, draw, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--first-seed", type=int, default=plans.FIRST)
    parser.add_argument("--count", type=int, default=plans.COUNT)
    parser.add_argument("--infeasible", type=int, default=plans.COUNT_INFEASIBLE)
    parser.add_argument("--out", type=Path, default=HERE)
    options = parser.parse_args()
    log = Log(Counter(), {}, set())
    missing = []
    for i in range(options.count):
        plan = plans.plan(i)
        name = f"f{i + 1:02d}_{plan.style}_{plan.tubes}"
        problem = drawn(name, options.first_seed + i, lambda rng, p=plan: feasible(rng, p), log)
        _report(problem, name, options.out / "feasible", missing)
        _logged(options.out / "discards.json", options.first_seed, log, missing)
    for i in range(options.infeasible):
        kind, plan = plans.plan_infeasible(i)
        name = f"n{i + 1:02d}_{kind.replace('-', '_')}_{plan.tubes}"
        number = options.first_seed + plans.FIRST_INFEASIBLE + i
        problem = drawn(
            name, number, lambda rng, k=kind, p=plan: impossible.infeasible(rng, k, p, about), log
        )
        _report(problem, name, options.out / "infeasible", missing)
        _logged(options.out / "discards.json", options.first_seed, log, missing)


def _logged(path: Path, first: int, log: Log, missing: list[str]) -> None:
    text = {
        "first": first,
        "given_up": missing,
        "reasons": dict(sorted(log.reasons.items())),
        "discards": log.rows,
    }
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(json.dumps(text, indent=1) + "\n", encoding="utf-8")


def _report(problem: Problem | None, name: str, folder: Path, missing: list[str]) -> None:
    if problem is None:
        missing.append(name)
        print(f"{name}: given up", flush=True)
        return
    saved(problem, folder)
    print(f"{name}: {problem['draw']} {problem['about']}", flush=True)


if __name__ == "__main__":
    main()
