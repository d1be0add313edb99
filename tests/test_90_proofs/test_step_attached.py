"""Stepped and drilled runners in the written STEP: measured again, and wrong ones are seen."""

from dataclasses import replace
from pathlib import Path

import pytest

from geomgen.design.model import Design, Runner
from geomgen.design.resolve import resolve
from geomgen.errors import Verdict
from geomgen.exports.step import assembly_path
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import add
from geomgen.proofs import step_centreline, step_length, step_solids, step_volume
from geomgen.recipe.nodes import Cut, Group, Node, Part, RuledWall, Section, Tube
from geomgen.solids.step_writer import step_bytes
from geomgen.spec.load import load

SPECS = Path(__file__).parents[2] / "specs"


@pytest.fixture(scope="module")
def one() -> Design:
    """One stepped runner with a bung in it, for itself."""
    file = SPECS / "brackenhall-20-stepped.yaml"
    lock = file.with_suffix(".lock.yaml").read_text(encoding="utf-8")
    design = resolve(load(file.read_bytes(), file.name).required(), lock).design
    runner = design.runners[0]
    return replace(design, runners=(runner,), assembly=tree(design, runner))


def tree(design: Design, runner: Runner) -> Group:
    runners = next(group for group in design.assembly.children if group.name == "runners")
    assert isinstance(runners, Group)
    own = next(g for g in runners.children if g.name == f"runner_{runner.cylinder}")
    return Group(design.part_name, (own,))


def files(design: Design, **other: Node) -> dict[str, bytes]:
    """The assembly's file, some parts of it made from other nodes."""
    (group,) = design.assembly.children
    assert isinstance(group, Group)
    parts = tuple(
        replace(part, node=other.get(part.name, part.node))
        for part in group.children
        if isinstance(part, Part)
    )
    whole = Group(design.assembly.name, (Group(group.name, parts),))
    path = assembly_path(design)
    return {path: step_bytes(whole, path.rpartition("/")[2])}


def failing(design: Design, **other: Node) -> set[str]:
    made = files(design, **other)
    return {
        found.name
        for proof in (step_centreline, step_length, step_volume)
        for found in proof.prove(design, made)
        if found.verdict is not Verdict.PASS
    }


def node(design: Design, name: str) -> Node:
    (group,) = design.assembly.children
    assert isinstance(group, Group)
    return next(p.node for p in group.children if isinstance(p, Part) and p.name == name)


def test_a_stepped_runner_is_measured_from_its_parts(one):
    made = files(one)
    (found,) = step_length.prove(one, made)
    assert found.verdict is Verdict.PASS
    assert found.value == pytest.approx(670.20, abs=0.05)
    assert failing(one) == set()
    subjects = {f.subject for f in step_volume.prove(one, made)}
    assert {"step_1a as re-read", "step_1b as re-read", "tube_1a as re-read"} <= subjects


def test_a_hole_that_is_not_there_is_seen(one):
    drilled = node(one, "tube_1a")
    assert isinstance(drilled, Cut)
    assert failing(one, tube_1a=drilled.node) == {"step-centreline", "step-length", "step-volume"}


def test_a_hole_of_another_size_or_place_is_seen(one):
    drilled = node(one, "tube_1a")
    assert isinstance(drilled, Cut)
    (tool,) = drilled.tools
    assert isinstance(tool, Tube)
    wider = replace(drilled, tools=(replace(tool, outer_radius=tool.outer_radius + 0.2),))
    assert "step-centreline" in failing(one, tube_1a=wider)
    start = tool.centreline.start
    moved = replace(start, origin=add(start.origin, (0.0, 0.0, 0.5)))
    aside = replace(
        drilled, tools=(replace(tool, centreline=replace(tool.centreline, start=moved)),)
    )
    assert "step-centreline" in failing(one, tube_1a=aside)


def test_an_expander_of_another_wall_is_seen(one):
    cone = node(one, "step_1b")
    assert isinstance(cone, RuledWall)
    thin = replace(cone, inner=(cone.inner[0], Section(cone.inner[1].frame, cone.inner[0].loop)))
    assert failing(one, step_1b=thin) == {"step-volume"}
    found = [f for f in step_solids.prove(one, files(one, step_1b=thin)) if f.subject == "step_1b"]
    assert found[0].verdict is Verdict.FAIL


def test_a_tube_out_of_line_is_seen(one):
    tube = node(one, "tube_1c")
    assert isinstance(tube, Tube)
    start = tube.centreline.start
    moved = replace(start, origin=add(start.origin, (0.3, 0.0, 0.0)))
    aside = replace(tube, centreline=Centreline(moved, tube.centreline.pieces))
    assert {"step-centreline", "step-length"} <= failing(one, tube_1c=aside)


def test_a_longer_tube_is_seen(one):
    tube = node(one, "tube_1c")
    assert isinstance(tube, Tube)
    *rest, last = tube.centreline.pieces
    longer = Centreline(tube.centreline.start, (*rest, Straight(last.length + 0.2)))
    assert failing(one, tube_1c=replace(tube, centreline=longer)) == {
        "step-centreline",
        "step-length",
        "step-volume",
    }
