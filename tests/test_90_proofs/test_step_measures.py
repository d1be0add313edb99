"""What the STEP proofs measure: each sees its own kind of fault and lets the others' pass.

Another design's file, sound as STEP, is held against this design.
"""

import math
import re
from dataclasses import replace
from itertools import pairwise

import pytest
from sample_header import (
    CLR,
    ID,
    OD,
    blend,
    runner_path,
    sample_design,
    stub,
)

from geomgen.errors import Verdict
from geomgen.exports.step import assembly_path, export
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, distance
from geomgen.profiles.loops import Arc, Line, Profile, circle
from geomgen.proofs import (
    step_centreline,
    step_gas,
    step_length,
    step_overlap,
    step_solids,
    step_volume,
)
from geomgen.proofs._step_reading import Unreadable, read
from geomgen.proofs._tube_reading import read_tube
from geomgen.recipe.nodes import Group, Part, Placed, Prism, RuledWall, Section, Tube
from geomgen.solids.build import build
from geomgen.solids.measure import volume
from geomgen.solids.step_writer import step_bytes

ALONG = (step_centreline, step_length, step_volume)


@pytest.fixture(scope="module")
def files():
    return export(sample_design())


def failing(files, *proofs):
    found = [f for proof in proofs for f in proof.prove(sample_design(), files)]
    assert all(f.source == "proof" for f in found)
    return {(f.name, f.subject) for f in found if f.verdict is Verdict.FAIL}


def names(failures):
    return {name for name, _ in failures}


def changed(branch, name, change):
    if isinstance(branch, Part):
        return change(branch) if branch.name == name else branch
    return replace(branch, children=tuple(changed(c, name, change) for c in branch.children))


def with_part(files, name, node):
    """The files, their assembly written with another node for one part."""
    other = changed(sample_design().assembly, name, lambda part: replace(part, node=node))
    assert other != sample_design().assembly
    path = assembly_path(sample_design())
    return {**files, path: step_bytes(other, path.rpartition("/")[2])}


def rolled(path, turn):
    """The same bends and length, the far end swung round the first bend."""
    pieces = list(path.pieces)
    at = [k for k, piece in enumerate(pieces) if isinstance(piece, Bend)][-1]
    pieces[at] = replace(pieces[at], roll=pieces[at].roll + turn)
    return Centreline(path.start, tuple(pieces))


def test_a_bend_clocked_wrong_has_the_right_length_in_the_wrong_place(files):
    node = Tube(rolled(runner_path(2), math.radians(2.0)), OD / 2, ID / 2)
    failures = failing(with_part(files, "tube_2", node), *ALONG)
    assert names(failures) == {"step-centreline"}
    assert {s for _, s in failures} == {"runner 2", "runner 2 directions"}


def test_a_tube_a_tenth_too_long(files):
    path = runner_path(3)
    longer = (*path.pieces[:-1], Straight(path.pieces[-1].length + 0.1))
    node = Tube(Centreline(path.start, longer), OD / 2, ID / 2)
    failures = failing(with_part(files, "tube_3", node), *ALONG)
    assert failures == {
        ("step-centreline", "runner 3"),
        ("step-length", "runner 3"),
        ("step-volume", "runner 3 as re-read"),
    }


def test_a_bend_that_is_not_on_the_shelf(files):
    tight = tuple(
        replace(p, radius=CLR - 0.05) if isinstance(p, Bend) else p for p in runner_path(1).pieces
    )
    node = Tube(Centreline(runner_path(1).start, tight), OD / 2, ID / 2)
    assert ("step-centreline", "runner 1 bends") in failing(
        with_part(files, "tube_1", node), step_centreline
    )


def test_another_wall(files):
    node = Tube(runner_path(4), OD / 2, ID / 2 - 0.1)
    failures = failing(with_part(files, "tube_4", node), *ALONG)
    assert failures == {("step-centreline", "runner 4 bends")}


def test_a_transition_a_little_out_of_its_window(files):
    """The windows leave 0.15 mm a side; 0.2 mm reaches into the plate."""
    node = Placed(blend(2.0, hollow=True), Frame((92.2, 0.0, 0.0)))
    failures = failing(with_part(files, "transition_2", node), step_overlap, step_solids)
    assert ("step-overlap", "head_flange / transition_2") in failures
    assert ("step-solids", "transition_2") in failures


def test_a_stub_that_was_not_coped_runs_into_its_neighbours(files):
    failures = failing(with_part(files, "stub_2", stub(1, ID / 2, OD / 2).node), step_overlap)
    assert {s for _, s in failures} >= {"stub_1 / stub_2", "stub_2 / stub_3"}


@pytest.mark.parametrize(
    "node", [blend(0.0, hollow=False), blend(2.0, hollow=True), Tube(runner_path(1), 22.5, 21.0)]
)
def test_bores_are_worked_out_without_the_kernel(node):
    assert step_gas.bores(node) == pytest.approx(volume(build(node)), rel=2e-4)


def test_centreline_comes_from_the_skin_alone(files):
    step = read(files, assembly_path(sample_design()))
    path = runner_path(1)
    tube = read_tube(step.part("tube_1").shape, path.start.origin)
    assert tube.length == pytest.approx(path.length, abs=1e-6)
    assert distance(tube.joints[-1], path.end.origin) < 1e-6
    back = read_tube(step.part("tube_1").shape, path.end.origin)
    assert distance(back.joints[0], path.end.origin) < 1e-6
    assert [p.angle for p in back.pieces] == pytest.approx([p.angle for p in tube.pieces[::-1]])


def test_what_is_no_tube_has_no_centreline(files):
    step = read(files, assembly_path(sample_design()))
    with pytest.raises(Unreadable, match="bspline"):
        read_tube(step.part("loft").shape, (0.0, 0.0, 0.0))
    with pytest.raises(Unreadable, match="radii"):
        read_tube(step.part("head_flange").shape, (0.0, 0.0, 0.0))


def test_entities_in_a_ring_are_a_finding(files):
    """Such text would send the kernel's reader round for ever."""
    path = assembly_path(sample_design())
    text = files[path].decode("ascii")
    shell = re.search(r"#(\d+)=CLOSED_SHELL\('',\(#(\d+)", text)
    face = rf"(#{shell[2]}=ADVANCED_FACE\('',\(#\d+)"
    spoilt = re.sub(face, rf"\1,#{shell[1]}", text)
    assert spoilt != text
    failures = failing({**files, path: spoilt.encode()}, *ALONG, step_solids, step_overlap)
    assert {name for name, _ in failures} == {
        *(proof.NAME for proof in ALONG),
        "step-solids",
        "step-overlap",
    }


def rod(z, length, radius=1.0, x=0.0):
    return Tube(Centreline(Frame((x, 0.0, z)), (Straight(length),)), radius)


def block(*holes):
    corners = [(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)]
    outer = tuple(Line(a, b) for a, b in zip(corners, corners[1:] + corners[:1], strict=True))
    return Prism(Frame(), Profile(outer, holes), 10.0)


@pytest.mark.parametrize(
    ("a", "b", "shared"),
    [
        (block(), rod(-5.0, 20.0), math.pi * 10.0),
        (block(), rod(2.0, 5.0), math.pi * 5.0),
        (block(), rod(0.0, 10.0), math.pi * 10.0),
        (block(), rod(5.0, 50.0), math.pi * 5.0),
        (block(circle((0.0, 0.0), 1.2)), rod(-5.0, 20.0), 0.0),
        (block(circle((0.0, 0.0), 1.0)), rod(-5.0, 20.0), 0.0),
        (block(), rod(10.0, 5.0), 0.0),
        (Tube(Centreline(Frame(), (Straight(10.0),)), 5.0, 2.0), rod(2.0, 5.0), 0.0),
    ],
    ids=[
        "right through",
        "wholly inside",
        "flush with both faces",
        "half way in",
        "in a hole with room",
        "in a hole without",
        "standing on it",
        "inside a bore",
    ],
)
def test_overlap_is_told_from_touching(a, b, shared):
    tree = Group("pair", (Part("a", a, (0.5, 0.5, 0.5)), Part("b", b, (0.6, 0.5, 0.5))))
    design = replace(sample_design(), assembly=tree)
    files = {assembly_path(design): step_bytes(tree, "pair.step")}
    (found,) = step_overlap.prove(design, files)
    assert found.value == pytest.approx(shared, rel=1e-6, abs=1e-9)
    assert found.verdict is (Verdict.FAIL if shared else Verdict.PASS)


def test_overlap_in_a_hole_that_is_off_centre():
    """Lens of two circles, 1.2 and 1.0 wide, 0.3 apart: what sticks out is the rest."""
    tree = Group(
        "pair",
        (
            Part("a", block(circle((0.0, 0.0), 1.2)), (0.5, 0.5, 0.5)),
            Part("b", rod(-5.0, 20.0, 1.0, 0.3), (0.6, 0.5, 0.5)),
        ),
    )
    design = replace(sample_design(), assembly=tree)
    files = {assembly_path(design): step_bytes(tree, "pair.step")}
    (found,) = step_overlap.prove(design, files)
    big, small, apart = 1.2, 1.0, 0.3
    u = math.acos((apart**2 + small**2 - big**2) / (2 * apart * small))
    v = math.acos((apart**2 + big**2 - small**2) / (2 * apart * big))
    lens = small**2 * (u - math.sin(2 * u) / 2) + big**2 * (v - math.sin(2 * v) / 2)
    assert found.value == pytest.approx((math.pi * small**2 - lens) * 10.0, rel=1e-6)


def sharp_corner():
    """A corner that spreads out to an arc, and the flat that it leaves."""
    h = math.pi / 2
    port = (
        Line((0.0, -20.0), (0.0, -20.0)),
        Line((0.0, -20.0), (20.0, 0.0)),
        Line((20.0, 0.0), (0.0, 20.0)),
        Line((0.0, 20.0), (-20.0, 0.0)),
        Line((-20.0, 0.0), (0.0, -20.0)),
    )
    turns = [-h - 0.2, -h + 0.2, 0.0, h, 2 * h, 3 * h - 0.2]
    end = tuple(Arc((0.0, 0.0), 15.0, a, b - a) for a, b in pairwise(turns))
    return RuledWall((Section(Frame(), port), Section(Frame((0.0, 0.0, 40.0)), end)))


def frustum():
    loops = circle((0.0, 0.0), 20.0), circle((0.0, 0.0), 30.0)
    far = Section(Frame((0.0, 0.0, 40.0)), loops[1])
    return RuledWall((Section(Frame(), loops[0]), far))


@pytest.mark.parametrize("make", [sharp_corner, frustum], ids=["corner to arc", "cone"])
def test_faces_that_run_to_a_point_and_cones_survive_the_file(make):
    tree = Group("pair", (Part("a", make(), (0.5, 0.5, 0.5)),))
    design = replace(sample_design(), assembly=tree)
    path = assembly_path(design)
    part = step_bytes(tree.children[0], "a.step")
    files = {path: step_bytes(tree, "pair.step"), "step/parts/a.step": part}
    assert {f.verdict for f in step_solids.prove(design, files)} == {Verdict.PASS}


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        (r"=(VECTOR)\('',#\d+", "VECTOR may not refer to A"),
        (r"=(CIRCLE)\('',#\d+", "CIRCLE may not refer to CARTESIAN_POINT"),
        (r"=(PRODUCT_DEFINITION_SHAPE)\('','',#\d+", "may not refer to CLOSED_SHELL"),
    ],
)
def test_references_of_the_wrong_kind_never_reach_the_kernel(files, kind, said):
    """The kernel's reader crashes on the first of these."""
    path = assembly_path(sample_design())
    text = files[path].decode("ascii")
    to = {"A": "AXIS2_PLACEMENT_3D"}.get(said.split()[-1], said.split()[-1])
    other = re.search(rf"#(\d+)={to}\(", text)[1]
    spoilt = re.sub(kind, lambda m: re.sub(r"#\d+$", f"#{other}", m[0]), text, count=1)
    assert spoilt != text
    with pytest.raises(Unreadable, match=said):
        read({path: spoilt.encode()}, path)
