"""Problems without an answer, each by one cause, and an answer once that cause is gone."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
from problem_set.fillets import Floats, along
from problem_set.layouts import Discarded
from problem_set.obstacles import Shape, placed, to_shape
from problem_set.planting import Planted, floor_least, plant
from problem_set.problems import Problem, answer_of, problem_of, relaxed
from problem_set.scenes import Plan, Random, Scene, unit
from problem_set.stepped import off_target

About = Callable[[Plan, Planted, Problem, dict[str, Any]], dict[str, Any]]
_WALL = 4.0


def infeasible(rng: Random, kind: str, plan: Plan, about: About) -> Problem:
    """A problem with the certificate of that kind and an answer to its relaxed form.

    Raises:
        Discarded: nothing comes of this draw.
    """
    change = {"pitch": _closer, "turn": _gentler}.get(kind, lambda _, scene: scene)
    found = plant(rng, plan, change)
    problem = problem_of(found.scene, found.layout.lengths)
    points = [along(b, math.ceil(float(b.length[0]) / 0.5) + 1)[0][0] for b in found.paths]
    if kind != "sealed":
        problem["obstacles"] = placed(
            rng, found.scene, np.concatenate(points), plan.margin, 2, vee=False
        )
    _BAR[kind](rng, found, problem, points)
    problem["planted"] = answer_of(problem, found.layout.slots, found.paths)
    problem["about"] = about(plan, found, relaxed(problem), problem["planted"])
    return problem


def _floor(rng: Random, found: Planted, problem: Problem, _: list[Floats]) -> None:
    """All targets just below the floor of the tube that has furthest to go."""
    floors = [floor_least(found.scene, i) for i in range(len(problem["tubes"]))]
    worst = int(np.argmax(floors))
    target = round(floors[worst] * float(rng.uniform(0.97, 0.998)), 3)
    problem["certificate"] = {
        "kind": "floor",
        "tube": f"tube_{worst + 1}",
        "target": target,
        "floor": floors[worst],
    }
    problem["relax"] = {"what": "length", "value": [t["length"] for t in problem["tubes"]]}
    for tube in problem["tubes"]:
        tube["length"] = target


def _closer(rng: Random, scene: Scene) -> Scene:
    """The second port drawn up to the first, side by side, with a small gap asked for."""
    gap = float(rng.choice([2.0, 2.5, 3.0]))
    (p, z), (old, _) = scene.starts[:2]
    way = unit(old - p - ((old - p) @ z) * z)
    at = p + (2.0 * scene.radius + gap + float(rng.uniform(3.0, 6.0))) * way
    starts = (scene.starts[0], (at, z), *((q + at - old, w) for q, w in scene.starts[2:]))
    bars = tuple(
        replace(
            bar,
            begin=q - float(np.linalg.norm(bar.end - bar.begin)) * w,
            end=q,
            radius=scene.radius + 0.2,
        )
        for bar, (q, w) in zip(scene.transitions, starts, strict=True)
    )
    return replace(scene, starts=starts, transitions=bars, gap=gap)


def _pitch(rng: Random, found: Planted, problem: Problem, _: list[Floats]) -> None:
    """More gap asked for than the two nearest ports have between them."""
    (p, _z), (q, _w) = found.scene.starts[:2]
    free = float(np.linalg.norm(q - p)) - 2.0 * found.scene.radius
    problem["relax"] = {"what": "gap", "value": problem["gap"]}
    problem["gap"] = round(free + float(rng.uniform(0.3, 4.0)), 3)
    problem["certificate"] = {
        "kind": "pitch",
        "tube": "tube_1",
        "other": "tube_2",
        "between": free,
        "gap": problem["gap"],
    }


def _stub_blocked(rng: Random, found: Planted, problem: Problem, _: list[Floats]) -> None:
    """A bar across the straight that must stand behind a start or before a slot."""
    scene = found.scene
    at_start = rng.random() < 0.5
    index = int(rng.integers(len(scene.starts)))
    p, z = scene.starts[index] if at_start else scene.slots[index]
    along_z = 0.5 * scene.rules.at_start if at_start else -0.5 * scene.rules.at_end
    side = unit(np.cross(z, rng.normal(size=3)))
    across = np.cross(z, side)
    middle = p + along_z * z + float(rng.uniform(0.0, 0.9)) * scene.radius * side
    length, radius = float(rng.uniform(60.0, 200.0)), float(rng.uniform(4.0, 12.0))
    problem["obstacles"].append(
        {
            "name": "blocking_bar",
            "kind": "cylinder",
            "begin": [float(v) for v in middle - 0.5 * length * across],
            "end": [float(v) for v in middle + 0.5 * length * across],
            "radius": round(radius, 1),
            "gap": 5.0,
        }
    )
    problem["certificate"] = {
        "kind": "stub-blocked",
        "end": f"tube_{index + 1}" if at_start else f"slot_{index + 1}",
        "obstacle": "blocking_bar",
    }
    problem["relax"] = {"what": "obstacle", "name": "blocking_bar"}


def _gentler(rng: Random, scene: Scene) -> Scene:
    """A shelf with small largest angles."""
    most = math.radians(float(rng.choice([45.0, 50.0, 60.0])))
    rules = replace(scene.rules, most=tuple(most for _ in scene.rules.most))
    return replace(scene, rules=rules)


def _turn(_rng: Random, found: Planted, problem: Problem, _: list[Floats]) -> None:
    """Fewer bends allowed than the turn from port to any slot takes."""
    scene = found.scene
    turns = [
        min(math.acos(float(np.clip(z @ w, -1.0, 1.0))) for _q, w in scene.slots)
        for _p, z in scene.starts
    ]
    worst = int(np.argmax(turns))
    largest = max(scene.rules.most)
    bends = math.ceil(turns[worst] / largest - 0.05) - 1
    have = max(len(x.radii[0]) for x in found.paths)
    if bends < 1 or bends >= have or bends * largest > turns[worst] - math.radians(2.0):
        raise Discarded("turn can be had with the bends allowed")
    problem["most_bends"] = bends
    problem["certificate"] = {
        "kind": "turn",
        "tube": f"tube_{worst + 1}",
        "turn": turns[worst],
        "most_bends": bends,
        "largest_angle": largest,
    }
    problem["relax"] = {"what": "most_bends", "value": have}


def _too_few_bends(rng: Random, _found: Planted, problem: Problem, _: list[Floats]) -> None:
    """Angles in steps with two bends: some tube has no path of its length to any slot."""
    problem["angle_step"] = math.radians(float(rng.choice([1.0, 2.5, 5.0])))
    problem["most_bends"] = 2
    off = [off_target(problem, i) for i in range(len(problem["tubes"]))]
    worst = int(np.argmax(off))
    if off[worst] < 0.1:
        raise Discarded("two bends in steps come near every target")
    problem["certificate"] = {
        "kind": "too-few-bends",
        "tube": f"tube_{worst + 1}",
        "angle_step": problem["angle_step"],
        "most_bends": 2,
    }
    problem["relax"] = {"what": "angle_step"}


def _sealed(rng: Random, found: Planted, problem: Problem, points: list[Floats]) -> None:
    """A sheet-metal box round a port's tube, its front open by slits no tube passes."""
    scene = found.scene
    order = rng.permutation(len(points))
    for tube in order:
        walls, lid = _chamber(rng, scene, points[int(tube)], int(tube))
        keep = scene.radius + 1.0
        everything = np.concatenate(points)
        if all(to_shape(w, everything).min() >= keep + float(str(w["gap"])) for w in walls):
            problem["obstacles"] = [*walls, lid]
            problem["certificate"] = {
                "kind": "sealed",
                "tube": f"tube_{int(tube) + 1}",
                "lid": lid["name"],
            }
            problem["relax"] = {"what": "obstacle", "name": lid["name"]}
            return
    raise Discarded("no room for a box round any port")


def _chamber(rng: Random, scene: Scene, path: Floats, tube: int) -> tuple[list[Shape], Shape]:
    p = scene.starts[tube][0]
    gap = float(rng.choice([3.0, 4.0, 5.0]))
    need = scene.radius + gap + 1.5
    front = float(p[2]) + scene.rules.at_start + need + float(rng.uniform(2.0, 15.0))
    beyond = np.flatnonzero(path[:, 2] > front + _WALL + need)
    inside = path[: int(beyond[0]) + 1] if len(beyond) else path
    low, high = inside.min(axis=0) - need, inside.max(axis=0) + need
    back = float(p[2]) - need
    outer_low, outer_high = low - _WALL, high + _WALL

    def box(name: str, a: list[float], b: list[float]) -> Shape:
        return {
            "name": name,
            "kind": "box",
            "low": [float(v) for v in a],
            "high": [float(v) for v in b],
            "gap": gap,
        }

    x0, x1, y0, y1 = outer_low[0], outer_high[0], outer_low[1], outer_high[1]
    top = front + _WALL
    walls = [
        box("shield_back", [x0, y0, back - _WALL], [x1, y1, back]),
        box("shield_left", [x0, y0, back], [low[0], y1, top]),
        box("shield_right", [high[0], y0, back], [x1, y1, top]),
        box("shield_below", [x0, y0, back], [x1, low[1], top]),
        box("shield_above", [x0, high[1], back], [x1, y1, top]),
    ]
    slit = float(rng.uniform(0.2, 0.9)) * scene.radius * 2.0
    lid = box("shield_front", [low[0] + slit, low[1], front], [high[0], high[1], top])
    if rng.random() < 0.5:
        lid = box("shield_front", [low[0], low[1], front], [high[0], high[1] - slit, top])
    return walls, lid


_BAR: dict[str, Callable[[Random, Planted, Problem, list[Floats]], None]] = {
    "floor": _floor,
    "pitch": _pitch,
    "stub-blocked": _stub_blocked,
    "turn": _turn,
    "sealed": _sealed,
    "too-few-bends": _too_few_bends,
}
