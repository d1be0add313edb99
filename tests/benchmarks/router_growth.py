"""How processor time grows with runners and with obstacles; where it goes."""

from __future__ import annotations

import copy
import cProfile
import pstats
from pathlib import Path
from typing import Any

import numpy as np
from asking import asked
from problem_set import problems, reprove
from router_watch import by_size, cpu, exponent, middle, named, prose, say, table

from geomgen.routing.draws import kronecker
from geomgen.routing.problem import Routed
from geomgen.routing.solve import route

MOST_A_SIZE = 6
CROWDED = ("f01_na_4", "f09_na_4", "f19_turbo_4", "f30_na_4", "f33_turbo_4", "f43_na_4")
"""Four runners; obstacles are added to these."""
ADDED = (0, 10, 20, 40, 80)
ROUNDS = 2
PROFILED = ("f19_turbo_4", "f16_na_8")

STAGES = (
    ("drawing", (("shapes.py", "shapes"), ("pools.py", "pools"))),
    (
        "choosing sets",
        (
            ("choices.py", "cheapest"),
            ("choices.py", "look_at_all"),
            ("choices.py", "again"),
            ("bundle.py", "beside"),
        ),
    ),
    ("moving them clear", (("descent.py", "descend"),)),
    ("proving", (("attempt.py", "proven"),)),
    ("certificates", (("solve.py", "barred"), ("certificates.py", "sealed"))),
)
"""Stage and the functions whose whole time it is; none of them calls another."""


def timed(problem: Any) -> tuple[float, bool]:
    """Least processor time of a few rounds [s], and whether it was routed."""
    runs = [cpu(lambda: route(problem)) for _ in range(ROUNDS)]
    return min(seconds for seconds, _ in runs), isinstance(runs[0][1], Routed)


def report(folder: Path) -> list[str]:
    """Both tables."""
    return [*by_runners(folder), "", *by_obstacles()]


def by_runners(_folder: Path) -> list[str]:
    """Processor time by number of runners."""
    sizes, seconds, rows = [], [], []
    for size, group in by_size(problems.load("feasible")).items():
        took = [timed(asked(problem))[0] for problem in group[:MOST_A_SIZE]]
        say(f"  {size} runners: {middle(took):.2f} s")
        rows.append([size, len(took), f"{middle(took):.3f}", f"{max(took):.3f}"])
        sizes.append(float(size))
        seconds.append(middle(took))
    return [
        f"The first {MOST_A_SIZE} problems of each size, least of {ROUNDS} runs each.",
        "",
        *table(("runners", "problems", "median CPU s", "worst CPU s"), rows),
        "",
        f"Median time grows with runners to the power {exponent(sizes, seconds):.2f}.",
    ]


def by_obstacles() -> list[str]:
    """Processor time by number of obstacles that nobody needs to go round."""
    rows, seconds, sizes = [], [], []
    for added in ADDED:
        took, routed, there = [], 0, []
        for problem in named(CROWDED):
            crowded = with_boxes(problem, added)
            assert reprove.reprove(crowded, crowded["planted"]) == []
            one, ok = timed(asked(crowded))
            took.append(one)
            routed += ok
            there.append(len(crowded["obstacles"]))
        say(f"  {added} obstacles added: {middle(took):.2f} s")
        rows.append(
            [added, f"{middle(there):g}", f"{routed} of {len(took)}", f"{middle(took):.3f}"]
        )
        sizes.append(middle(there))
        seconds.append(middle(took))
    slope = float(np.polyfit(sizes, seconds, 1)[0]) * 1e3
    return [
        *prose(
            f"Boxes put into the reach of {len(CROWDED)} four-runner problems, clear of the "
            f"planted answer by 10 mm more than asked: {', '.join(CROWDED)}; least of {ROUNDS} "
            "runs each."
        ),
        "",
        *table(("boxes added", "obstacles in all (median)", "routed", "median CPU s"), rows),
        "",
        (
            f"Median time grows with obstacles to the power {exponent(sizes, seconds):.2f}, "
            f"or by {slope:.1f} ms an obstacle."
        ),
    ]


def with_boxes(problem: dict[str, Any], count: int) -> dict[str, Any]:
    """The problem with boxes of 15 to 45 mm evenly spread over the reach of its tubes.

    The first ten are the same whatever the count, and so on; all keep clear of the planted
    answer by their gap and 10 mm, and of what stands at the ends.
    """
    out = copy.deepcopy(problem)
    points = [np.array(s["origin"]) + s["stub"] * np.array(s["z"]) for s in problem["slots"]]
    curves = []
    for tube, path in zip(problem["tubes"], problem["planted"]["paths"], strict=True):
        curve = reprove.Curve(tube, path)
        curves.append(curve.at(np.arange(0.0, curve.length, 2.0)))
    every = np.concatenate([*curves, np.array(points)])
    low, high = every.min(axis=0) - 60.0, every.max(axis=0) + 60.0
    made = 0
    for u in kronecker(4000, 4):
        if made == count:
            break
        centre, half = low + u[:3] * (high - low), 7.5 + 15.0 * u[3]
        box = {"kind": "box", "low": list(centre - half), "high": list(centre + half)}
        keep = problem["tube_radius"] + 5.0 + 10.0 + 1.0  # 1 mm for what lies between samples
        if reprove.to_obstacle(box)(every).min() > keep:
            made += 1
            out["obstacles"].append({"name": f"box_{made}", "gap": 5.0, **box})
    assert made == count, problem["name"]
    return out


def profile(_folder: Path) -> list[str]:
    """Share of time by function, and by stage."""
    lines = []
    for problem in named(PROFILED):
        question = asked(problem)
        plain, _ = cpu(lambda q=question: route(q))
        profiler = cProfile.Profile()
        profiler.runcall(route, question)
        lines += [*shares(problem, pstats.Stats(profiler).stats, plain), ""]
        say(f"  {problem['name']}")
    return lines[:-1]


def shares(problem: dict[str, Any], stats: Any, plain: float) -> list[str]:
    """The eight functions that take most themselves, and the stages."""
    whole = sum(own for _, _, own, _, _ in stats.values())
    most = sorted(stats.items(), key=lambda item: -item[1][2])[:8]
    rows = [[label(where), calls, f"{own / whole:.0%}"] for where, (_, calls, own, _, _) in most]
    stages = [
        (name, sum(every(stats, file, function) for file, function in members) / whole)
        for name, members in STAGES
    ]
    first = max(stages, key=lambda stage: stage[1])
    calls = sum(n for _, n, _, _, _ in stats.values())
    outside = [v for (file, _, _), v in stats.items() if file == "~" or "numpy" in file]
    share = sum(own for _, _, own, _, _ in outside) / whole
    small = plain / calls * 1e6
    return [
        (
            f"`{problem['name']}`, {len(problem['tubes'])} runners, "
            f"{len(problem['obstacles'])} obstacles; {calls:,} calls."
        ),
        "",
        *table(("function, without what it calls", "calls", "share"), rows),
        "",
        "Stages: " + ", ".join(f"{name} {part:.0%}" for name, part in stages) + ".",
        *prose(
            f"The limit is {first[0]}. A call takes {small:.1f} us on average, {share:.0%} of all "
            "time is inside named functions of numpy and the quadratic program: "
            + (
                "the arrays are small, and the interpreter and the calls cost more than the "
                "arithmetic."
                if small < 10.0
                else "the arrays are large enough for arithmetic to cost more than calls."
            )
        ),
    ]


def every(stats: Any, file: str, function: str) -> float:
    """Whole time of a function of the router."""
    return sum(
        took
        for (where, _, name), (_, _, _, took, _) in stats.items()
        if name == function and where.endswith(f"routing/{file}")
    )


def label(where: tuple[str, int, str]) -> str:
    """Module and function."""
    file, _, name = where
    if file == "~":
        return "`" + name.strip("<>").replace("built-in method ", "") + "`"
    return f"`{Path(file).stem}.{name}`"
