"""The routing problems: drawn without any solver, planted answers proven by other code."""

from __future__ import annotations

import ast
import copy
import json
import math
import subprocess
import sys
from collections import Counter
from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from problem_set import plans, problems, reprove, stepped
from problem_set.least_length import floor_of, pose_to_point

FOLDER = Path(problems.__file__).parent
FEASIBLE = problems.load("feasible")
INFEASIBLE = problems.load("infeasible")
EVERY = FEASIBLE + INFEASIBLE


def _named(name: str) -> dict:
    return copy.deepcopy(next(p for p in EVERY if p["name"] == name))


def test_there_are_enough_of_every_kind():
    about = [p["about"] for p in FEASIBLE]
    assert len(FEASIBLE) >= 72
    assert len(INFEASIBLE) >= 20
    assert sum(a["least_margin"] <= 1.0 + 1e-3 for a in about) >= 15
    assert sum(a["over_floor"] <= 1.03 for a in about) >= 10
    assert {len(p["tubes"]) for p in FEASIBLE} == {2, 3, 4, 5, 6, 7, 8}
    assert {a["style"] for a in about} == {"na", "turbo", "vee"}
    assert {len(p["shelf"]["radii"]) for p in FEASIBLE} == {1, 2}
    assert {a["crowded"] for a in about} == {True, False}
    given = [sum("tube" in s for s in p["slots"]) / len(p["slots"]) for p in FEASIBLE]
    assert sum(0.0 < share < 1.0 for share in given) >= 2
    assert sum(share == 1.0 for share in given) >= 3
    kinds = Counter(p["certificate"]["kind"] for p in INFEASIBLE)
    assert set(kinds) == {*plans.CERTIFICATES, plans.TOO_FEW}
    assert min(kinds.values()) >= 3


def test_the_numbers_are_of_the_trade():
    for problem in EVERY:
        od = 2.0 * problem["tube_radius"]
        assert 33.7 <= od <= 54.0
        assert all(od <= r["clr"] + 0.051 <= 2.0 * od + 0.1 for r in problem["shelf"]["radii"])
        bends = [p for path in problem["planted"]["paths"] for p in path if len(p) == 3]
        assert max(angle for _, angle, _ in bends) <= math.radians(150.0)


def test_no_problem_comes_twice():
    marks = [p["fingerprint"] for p in EVERY]
    assert len(set(marks)) == len(marks)
    assert marks == [problems.fingerprint(p) for p in EVERY]


def test_a_mirror_image_and_a_turned_copy_are_the_same_problem():
    problem = copy.deepcopy(FEASIBLE[0])
    for pose in problem["tubes"] + problem["slots"]:
        x, y, z = pose["origin"]
        pose["origin"] = [-z, y + 5.0, x]
    problem["tubes"].reverse()
    assert problems.fingerprint(problem) == FEASIBLE[0]["fingerprint"]


def test_all_together_they_are_small():
    size = sum(f.stat().st_size for f in FOLDER.rglob("*.json"))
    assert size < 2_000_000


def test_the_draws_are_those_that_were_said():
    said = [p["draw"][0] for p in FEASIBLE]
    assert set(said) <= set(plans.SEEDS)
    assert {p["draw"][0] for p in INFEASIBLE} <= set(plans.SEEDS_INFEASIBLE)
    log = json.loads((FOLDER / "discards.json").read_text(encoding="utf-8"))
    rows = {p["name"][:3] for p in EVERY} | {name[:3] for name in log["given_up"]}
    assert rows == {f"f{i + 1:02d}" for i in range(plans.COUNT)} | {
        f"n{i + 1:02d}" for i in range(plans.COUNT_INFEASIBLE)
    }
    tries = sum(p["draw"][1] for p in EVERY) + plans.ATTEMPTS * len(log["given_up"])
    assert sum(log["reasons"].values()) == tries


@pytest.mark.parametrize("part", range(4))
def test_every_planted_answer_is_proven(part):
    for problem in FEASIBLE[part::4]:
        assert reprove.reprove(problem, problem["planted"]) == [], problem["name"]


def test_every_relaxed_answer_is_proven_and_is_none_before():
    for problem in INFEASIBLE:
        assert reprove.reprove(problems.relaxed(problem), problem["planted"]) == []
        assert reprove.reprove(problem, problem["planted"]) != [], problem["name"]


# The generator knows no solver.


def test_nothing_here_imports_the_router():
    for path in sorted(FOLDER.glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = []
            if isinstance(node, ast.Import):
                names = [alias.name for alias in node.names]
            elif isinstance(node, ast.ImportFrom):
                names = [f"{node.module}.{alias.name}" for alias in node.names]
            elif isinstance(node, ast.Constant) and isinstance(node.value, str):
                assert not node.value.startswith("geomgen.routing"), path.name
            assert not any(name.startswith("geomgen.routing") for name in names), path.name


def test_drawing_again_gives_the_same_and_loads_no_router():
    quick = [p for p in FEASIBLE if p["draw"][1] == 0 and not p["about"]["crowded"]]
    first = min(quick, key=lambda p: len(p["tubes"]))
    index = first["draw"][0] - plans.FIRST
    code = f"""
import json, sys
sys.path.insert(0, {str(FOLDER.parent)!r})
import numpy as np
from problem_set import generate, plans
problem = generate.feasible(np.random.default_rng({first["draw"]}), plans.plan({index}))
assert not [name for name in sys.modules if name.startswith("geomgen.routing")]
print(json.dumps(problem))
"""
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    again = json.loads(run.stdout)
    for key in ("gap", "shelf", "bodies", "slots"):
        assert again[key] == first[key]
    starts = [[t["origin"], t["z"]] for t in again["tubes"]]
    assert starts == [[t["origin"], t["z"]] for t in first["tubes"]]
    assert reprove.reprove(again, again["planted"]) == []


# The independent proof catches what is wrong.


def _spoilt(change) -> list[str]:
    problem = copy.deepcopy(next(p for p in FEASIBLE if p["about"]["least_margin"] <= 1.001))
    assert reprove.reprove(problem, problem["planted"]) == []
    change(problem, problem["planted"])
    return reprove.reprove(problem, problem["planted"])


def _longer(_, answer):
    answer["paths"][0][0][0] += 0.02


def _rolled(_, answer):
    answer["paths"][1][1][2] += 1e-4


def _swapped(_, answer):
    answer["slots"][:2] = answer["slots"][1::-1]


def _twice(_, answer):
    answer["slots"][0] = answer["slots"][1]


def _other_radius(problem, _):
    for radius in problem["shelf"]["radii"]:
        radius["clr"] += 0.01


def _smaller_angles(problem, _):
    for radius in problem["shelf"]["radii"]:
        radius["most_angle"] = math.radians(9.0)


def _long_straights(problem, _):
    problem["shelf"]["straight_at_start"] = 900.0


def _not_a_number(_, answer):
    answer["paths"][0][0][0] = math.nan


def _wider_obstacle_gaps(problem, _):
    for obstacle in problem["obstacles"]:
        obstacle["gap"] += problem["about"]["least_margin"] + 0.01


def _wider_gap(problem, _):
    problem["gap"] += 200.0


def _few_bends(problem, _):
    problem["most_bends"] = 1


def _whole_degrees(problem, _):
    problem["angle_step"] = math.radians(1.0)


def _given_to_another(problem, answer):
    problem["slots"][answer["slots"][0]]["tube"] = problem["tubes"][1]["name"]


@pytest.mark.parametrize(
    "change",
    [
        _longer,
        _rolled,
        _swapped,
        _twice,
        _other_radius,
        _smaller_angles,
        _long_straights,
        _not_a_number,
        _wider_obstacle_gaps,
        _wider_gap,
        _few_bends,
        _whole_degrees,
        _given_to_another,
    ],
)
def test_a_spoilt_answer_is_found_out(change):
    assert _spoilt(change) != []


def test_a_smaller_squeeze_than_the_margin_is_allowed():
    def squeezed(problem, _):
        for obstacle in problem["obstacles"]:
            obstacle["gap"] += problem["about"]["least_margin"] - 0.01

    assert _spoilt(squeezed) == []


_ORIGIN = {"origin": [0.0, 0.0, 0.0], "x": [1.0, 0.0, 0.0], "z": [0.0, 0.0, 1.0]}


def test_the_curve_goes_where_paper_says():
    """Quarter turns with a roll between: corners of a cube, by hand."""
    turn = [10.0, math.pi / 2.0, 0.0]
    curve = reprove.Curve(_ORIGIN, [[5.0], turn, [10.0, math.pi / 2.0, math.pi / 2.0], [5.0]])
    assert curve.end == pytest.approx([20.0, 15.0, 15.0])
    assert curve.way == pytest.approx([0.0, 1.0, 0.0])
    assert curve.length == pytest.approx(10.0 + 10.0 * math.pi)


def test_distances_of_known_pairs():
    """Circle of 50 about an axis 80 away: 30 left; a loop that nearly closes meets itself."""
    ring = reprove.Curve(_ORIGIN, [[50.0, 1.9 * math.pi, 0.0]])
    stand = {"origin": [-30.0, -40.0, 0.0], "x": [1.0, 0.0, 0.0], "z": [0.0, 1.0, 0.0]}
    line = reprove.Curve(stand, [[80.0]])
    bound = reprove.pair(ring, (0.0, ring.length), line, (0.0, 80.0), 30.0)
    assert bound.lower <= 30.0 <= bound.upper
    assert bound.upper - bound.lower < 0.02
    own = (0.0, ring.length)
    chord = 100.0 * math.sin(0.05 * math.pi)
    bound = reprove.pair(ring, own, ring, own, chord, math.pi * 50.0)
    assert bound.lower <= chord <= bound.upper + 1e-9
    assert bound.upper - bound.lower < 0.02


# The floor and the certificates.


def test_floors_of_known_cases():
    """Straight ahead; a quarter and a half of the turning circle; and back to a near point."""
    p, z = np.zeros(3), np.array([0.0, 0.0, 1.0])
    assert pose_to_point(p, z, np.array([0.0, 0.0, 70.0]), 50.0) == pytest.approx(70.0)
    quarter = pose_to_point(p, z, np.array([50.0, 0.0, 50.0 + 1e-9]), 50.0)
    assert quarter == pytest.approx(25.0 * math.pi, abs=1e-3)
    half = pose_to_point(p, z, np.array([0.0, 100.0 + 1e-9, 0.0]), 50.0)
    assert half == pytest.approx(50.0 * math.pi, abs=1e-3)


@pytest.mark.parametrize("angle", np.linspace(0.02, 6.2, 9))
@pytest.mark.parametrize("tangent", [5.0, 60.0, 300.0])
def test_arc_and_tangent_are_recovered(angle, tangent):
    """Off the turning circle, arc then tangent ends at the point; the floor is no longer."""
    z = np.array([0.0, 0.0, 1.0])
    curve = reprove.Curve(_ORIGIN, [[40.0, angle, 0.7], [tangent]])
    floor = pose_to_point(np.zeros(3), z, curve.end, 40.0)
    assert floor <= curve.length + 1e-9
    if angle <= math.pi:
        assert floor == pytest.approx(curve.length)


def _least_floor(problem: dict, tube: dict) -> float:
    radius = min(r["clr"] for r in problem["shelf"]["radii"])
    pose = np.array(tube["origin"]), np.array(tube["z"])
    return min(
        floor_of(*pose, np.array(s["origin"]), np.array(s["z"]), radius) for s in problem["slots"]
    )


def _of(kind: str) -> list[dict]:
    return [p for p in INFEASIBLE if p["certificate"]["kind"] == kind]


def _tube(problem: dict) -> dict:
    return next(t for t in problem["tubes"] if t["name"] == problem["certificate"]["tube"])


def test_no_planted_target_is_below_its_floor():
    for problem in FEASIBLE:
        ratios = [t["length"] / _least_floor(problem, t) for t in problem["tubes"]]
        assert min(ratios) >= 1.0
        assert min(ratios) == pytest.approx(problem["about"]["over_floor"], abs=1e-4)


def test_floor_targets_are_below_the_floor():
    for problem in _of("floor"):
        tube = _tube(problem)
        assert tube["length"] < _least_floor(problem, tube) - 0.1


def test_pitches_are_too_small():
    """A start is not on a last straight, since no slot lies on its axis."""
    for problem in _of("pitch"):
        a, b = problem["tubes"][:2]
        apart = math.dist(a["origin"], b["origin"])
        assert apart < 2.0 * problem["tube_radius"] + problem["gap"] - 0.1
        for tube in (a, b):
            for slot in problem["slots"]:
                way = np.subtract(slot["origin"], tube["origin"])
                assert np.linalg.norm(np.cross(way, tube["z"])) > 1.0


def test_blocked_ends_are_blocked():
    for problem in _of("stub-blocked"):
        end = problem["certificate"]["end"]
        kind, index = end.split("_")
        pose = (problem["tubes"] if kind == "tube" else problem["slots"])[int(index) - 1]
        sign, key = (1.0, "straight_at_start") if kind == "tube" else (-1.0, "straight_at_end")
        t = np.linspace(0.0, sign * problem["shelf"][key], 200)[:, None]
        line = np.array(pose["origin"]) + t * np.array(pose["z"])
        bar = next(o for o in problem["obstacles"] if o["name"] == "blocking_bar")
        least = reprove.to_obstacle(bar)(line).min()
        assert least < problem["tube_radius"] + bar["gap"] - 0.1


def test_turns_are_more_than_the_bends_can_do():
    for problem in _of("turn"):
        largest = max(r["most_angle"] for r in problem["shelf"]["radii"])
        z = np.array(_tube(problem)["z"])
        turns = [math.acos(float(z @ np.array(s["z"]))) for s in problem["slots"]]
        assert min(turns) > problem["most_bends"] * largest + math.radians(1.0)


def test_two_bends_in_steps_miss_the_target():
    for problem in _of("too-few-bends"):
        index = problem["tubes"].index(_tube(problem))
        assert problem["most_bends"] == 2
        assert stepped.off_target(problem, index) > 0.05


@given(
    st.integers(8, 150),
    st.integers(8, 150),
    st.floats(0.2, 2.9),
    st.tuples(*[st.floats(1.0, 300.0)] * 3),
)
def test_every_two_bend_path_in_steps_is_counted(first, last, roll, straights):
    """Built forwards in whole degrees, then found again from its end poses alone."""
    bends = [[60.0, math.radians(first), 0.4], [45.0, math.radians(last), roll]]
    start = {"origin": [1.0, 2.0, 3.0], "x": [1.0, 0.0, 0.0], "z": [0.0, 0.0, 1.0]}
    curve = reprove.Curve(
        start, [[straights[0]], bends[0], [straights[1]], bends[1], [straights[2]]]
    )
    assume(np.linalg.norm(np.cross(curve.way, start["z"])) > 0.01)
    problem = {
        "tubes": [{**start, "length": curve.length}],
        "slots": [{"origin": list(curve.end), "z": list(curve.way)}],
        "shelf": {
            "radii": [{"clr": r, "most_angle": math.radians(150.0)} for r in (60.0, 45.0)],
            "least_angle": math.radians(8.0),
            "straight": 0.0,
            "straight_at_start": 0.0,
            "straight_at_end": 0.0,
        },
        "angle_step": math.radians(1.0),
    }
    found = stepped.two_bend_lengths(problem, 0, 0, problem["angle_step"])
    assert np.abs(found - curve.length).min() < 1e-3


def test_sealed_starts_are_sealed_and_the_lid_does_it():
    """Cells are barred only where no point of them may hold a centreline."""
    for problem in _of("sealed"):
        assert not _escapes(problem)
        assert _escapes(problems.relaxed(problem))


def _escapes(problem: dict, cell: float = 3.0) -> bool:
    from scipy.ndimage import label

    shields = [o for o in problem["obstacles"] if o["name"].startswith("shield")]
    start = np.array(_tube(problem)["origin"])
    low = np.min([o["low"] for o in shields], axis=0) - 20.0 * cell
    high = np.max([o["high"] for o in shields], axis=0) + 20.0 * cell
    count = np.ceil((high - low) / cell).astype(int)
    centres = np.stack(
        np.meshgrid(
            *[low[i] + cell * (np.arange(count[i]) + 0.5) for i in range(3)], indexing="ij"
        ),
        axis=-1,
    ).reshape(-1, 3)
    free = np.ones(len(centres), dtype=bool)
    for o in shields:
        need = problem["tube_radius"] + o["gap"] - 0.5 * math.sqrt(3.0) * cell
        free &= reprove.to_obstacle(o)(centres) >= need
    parts, _ = label(free.reshape(count), structure=np.ones((3, 3, 3)))
    here = parts[tuple(((start - low) / cell).astype(int))]
    assert here > 0
    inner = parts.copy()
    inner[1:-1, 1:-1, 1:-1] = 0
    return bool((inner == here).any())
