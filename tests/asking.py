"""A problem of the set as the router is asked it, and the router's answer as the set's."""

from __future__ import annotations

from typing import Any

from problem_set.problems import Problem, plain, pose

from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box, Cylinder, Field, HalfSpace
from geomgen.geometry.frames import Frame, norm, sub
from geomgen.routing import problem as routing


def asked(problem: Problem) -> routing.Problem:
    """The same problem in the router's terms."""
    shelf = problem["shelf"]
    names = [tube["name"] for tube in problem["tubes"]]
    given = {slot["tube"]: (j,) for j, slot in enumerate(problem["slots"]) if "tube" in slot}
    return routing.Problem(
        edges=tuple(
            routing.Edge(
                name=tube["name"],
                start=pose(tube),
                length=tube["length"],
                radius=problem["tube_radius"],
                order=i,
                slots=given.get(tube["name"]),
            )
            for i, tube in enumerate(problem["tubes"])
        ),
        slots=tuple(pose(slot) for slot in problem["slots"]),
        bodies=(
            *(
                routing.Body(
                    f"transition of {names[i]}",
                    _straight(pose(tube).moved(-tube["transition"]["length"]), tube["transition"]),
                    tube["transition"]["radius"],
                    edge=i,
                )
                for i, tube in enumerate(problem["tubes"])
            ),
            *(
                routing.Body(
                    f"stub {j + 1}",
                    Centreline(pose(slot), (Straight(slot["stub"]),)),
                    problem["tube_radius"],
                    slot=j,
                )
                for j, slot in enumerate(problem["slots"])
            ),
            *(
                routing.Body(body["name"], _bar(body["begin"], body["end"]), body["radius"])
                for body in problem["bodies"]
            ),
        ),
        shelf=routing.Shelf(
            radii=tuple(routing.Radius(r["clr"], r["most_angle"]) for r in shelf["radii"]),
            least_angle=shelf["least_angle"],
            straight=shelf["straight"],
            straight_at_start=shelf["straight_at_start"],
            straight_at_end=shelf["straight_at_end"],
            most_bends=problem.get("most_bends"),
            angle_step=problem.get("angle_step"),
        ),
        gap=problem["gap"],
        obstacles=tuple(
            routing.Obstacle(o["name"], field(o), o["gap"]) for o in problem["obstacles"]
        ),
        studs=(),
        places=(),
    )


def answered(routed: routing.Routed) -> dict[str, Any]:
    """The router's layout as an answer of the set."""
    return {
        "slots": list(routed.slots),
        "paths": [[plain(piece) for piece in path.pieces] for path in routed.paths],
    }


def field(o: dict[str, Any]) -> Field:
    """The distance field of an obstacle."""
    if o["kind"] == "box":
        return Box(tuple(o["low"]), tuple(o["high"]))
    if o["kind"] == "cylinder":
        return Cylinder(tuple(o["begin"]), tuple(o["end"]), o["radius"])
    return HalfSpace(tuple(o["point"]), tuple(o["normal"]))


def _straight(start: Frame, size: dict[str, float]) -> Centreline:
    return Centreline(start, (Straight(size["length"]),))


def _bar(begin: list[float], end: list[float]) -> Centreline:
    a = (begin[0], begin[1], begin[2])
    away = sub((end[0], end[1], end[2]), a)
    return Centreline(Frame.facing(a, away), (Straight(norm(away)),))
