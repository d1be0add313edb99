"""STEP files of a slightly different header, held against the design: the right proof says so.

Where a change of the text would only make a broken file, another header is written whole:
its file is sound, and wrong. Each case names the proof and the subject that must fail.
"""

import math
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from geomgen.errors import Verdict
from geomgen.exports.step import assembly_path, export, gas_path, part_path
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import Frame, scale
from geomgen.recipe.nodes import Fuse, Group, Part, Placed, Tube
from geomgen.registry import plugins
from geomgen.solids.step_writer import step_bytes


@pytest.fixture(scope="module")
def files(demo_design):
    return export(demo_design)


def failures(design, files, proof):
    """Subject to message of what a proof fails."""
    found = plugins("geomgen.proofs", "NAME")[proof].prove(design, files)
    assert found, "a proof that finds nothing proves nothing"
    return {f.subject: f.message for f in found if f.verdict is Verdict.FAIL}


def mapped(branch, change):
    """A tree with every part given to ``change``, which may leave it out."""
    if isinstance(branch, Part):
        return change(branch)
    children = (mapped(child, change) for child in branch.children)
    return Group(branch.name, tuple(child for child in children if child is not None))


def with_assembly(design, files, tree):
    path = assembly_path(design)
    return {**files, path: step_bytes(tree, path.rpartition("/")[2])}


def changed(design, files, name, change):
    """The files with one part of the assembly changed."""
    tree = mapped(design.assembly, lambda part: change(part) if part.name == name else part)
    assert tree != design.assembly
    return with_assembly(design, files, tree)


def moved(vector):
    return lambda part: replace(part, node=Placed(part.node, Frame(vector)))


def with_piece(kind, change):
    """Change a tube's first straight or bend, the rest following on."""

    def of(part):
        line = part.node.centreline
        k = next(k for k, piece in enumerate(line.pieces) if isinstance(piece, kind))
        pieces = (*line.pieces[:k], change(line.pieces[k]), *line.pieces[k + 1 :])
        return replace(part, node=replace(part.node, centreline=Centreline(line.start, pieces)))

    return of


def longer(millimetres):
    return with_piece(Straight, lambda piece: Straight(piece.length + millimetres))


def bent(degrees=0.0, radius=0.0):
    return with_piece(
        Bend,
        lambda piece: Bend(piece.radius + radius, piece.angle + math.radians(degrees), piece.roll),
    )


def bored(radius):
    return lambda part: replace(part, node=replace(part.node, inner_radius=radius))


def coloured(step):
    return lambda part: replace(part, colour=(*part.colour[:2], part.colour[2] + step))


CASES = {
    "left out": ("tube_1", lambda _: None, "step-solids", "tube_1"),
    "left out, by its length": ("tube_1", lambda _: None, "step-length", "runner 1"),
    "tube moved 0.1 mm": ("tube_3", moved((0.1, 0.0, 0.0)), "step-centreline", "runner 3"),
    "tube moved, by its body": ("tube_3", moved((0.0, 0.01, 0.0)), "step-solids", "tube_3"),
    "flange moved": ("head_flange", moved((0.0, 0.0, 0.1)), "step-solids", "head_flange"),
    "tube 0.1 mm longer": ("tube_2", longer(0.1), "step-length", "runner 2"),
    "longer, by volume": ("tube_2", longer(0.1), "step-volume", "runner 2 as re-read"),
    "longer, by its end": ("tube_2", longer(0.1), "step-centreline", "runner 2"),
    "bend 0.02 degree more": ("tube_4", bent(0.02), "step-centreline", "runner 4 bends"),
    "bend 0.1 degree more": ("tube_4", bent(0.1), "step-centreline", "runner 4 directions"),
    "bend off the shelf": ("tube_4", bent(radius=0.5), "step-centreline", "runner 4 bends"),
    "wall 0.1 mm thinner": ("tube_1", bored(21.1), "step-centreline", "runner 1 bends"),
    "rod for a tube": ("tube_1", bored(0.0), "step-solids", "tube_1"),
}


@pytest.mark.parametrize(("name", "change", "proof", "subject"), CASES.values(), ids=CASES.keys())
def test_one_part_that_is_not_the_designs(demo_design, files, name, change, proof, subject):
    assert subject in failures(demo_design, changed(demo_design, files, name, change), proof)


def test_what_is_within_the_bar_is_not_complained_of(demo_design, files):
    """The bar for a runner in STEP is 0.05 mm: three hundredths pass, so the bar is one."""
    near = changed(demo_design, files, "tube_2", longer(0.03))
    assert failures(demo_design, near, "step-length") == {}
    assert failures(demo_design, near, "step-volume") == {}


def test_two_parts_exchanged(demo_design, files):
    """Right names and right bodies, each under the other's name."""
    nodes = {
        part.name: part.node
        for part in _parts(demo_design.assembly)
        if part.name in ("tube_1", "tube_2")
    }
    other = {"tube_1": nodes["tube_2"], "tube_2": nodes["tube_1"]}
    tree = mapped(
        demo_design.assembly, lambda part: replace(part, node=other.get(part.name, part.node))
    )
    spoilt = with_assembly(demo_design, files, tree)
    assert failures(demo_design, spoilt, "step-names") == {}
    assert {"tube_1", "tube_2"} <= set(failures(demo_design, spoilt, "step-solids"))
    wrong = failures(demo_design, spoilt, "step-centreline")
    assert {subject[:8] for subject in wrong} == {"runner 1", "runner 2"}


def _parts(branch):
    if isinstance(branch, Part):
        return [branch]
    return [part for child in branch.children for part in _parts(child)]


@pytest.mark.parametrize(
    ("name", "step", "fails"),
    [("tube_1", 1.0 / 255.0, True), ("outlet", -3.0 / 255.0, True), ("tube_1", 0.0015, False)],
)
def test_colours_are_told_apart_to_one_step_of_eight_bits(demo_design, files, name, step, fails):
    spoilt = changed(demo_design, files, name, coloured(step))
    wrong = failures(demo_design, spoilt, "step-names")
    subject = f"{assembly_path(demo_design)} colours"
    assert (subject in wrong and name in wrong[subject]) is fails


def test_a_part_in_the_wrong_branch(demo_design, files):
    flanges, runners, collector = demo_design.assembly.children
    first, second, *rest = runners.children
    stray = first.children[-1]
    runners = Group(
        runners.name,
        (
            Group(first.name, first.children[:-1]),
            Group(second.name, (*second.children, stray)),
            *rest,
        ),
    )
    tree = Group(demo_design.assembly.name, (flanges, runners, collector))
    wrong = failures(demo_design, with_assembly(demo_design, files, tree), "step-names")
    assert f"{first.name}/{stray.name}" in wrong[assembly_path(demo_design)]


def test_a_part_too_many(demo_design, files):
    tube = next(part for part in _parts(demo_design.assembly) if part.name == "tube_1")
    extra = replace(moved((1.0, 0.0, 0.0))(tube), name="spare")
    tree = Group(demo_design.assembly.name, (*demo_design.assembly.children, extra))
    spoilt = with_assembly(demo_design, files, tree)
    assert "spare" in failures(demo_design, spoilt, "step-names")[assembly_path(demo_design)]
    overlaps = failures(demo_design, spoilt, "step-overlap")
    assert {"spare", "tube_1"} in [set(subject.split(" / ")) for subject in overlaps]


def test_parts_pushed_into_each_other(demo_design, files):
    """Overlap of a ring pushed 0.5 mm into the next: wall area times depth, school geometry."""
    outlet = next(part for part in _parts(demo_design.assembly) if part.name == "outlet")
    tube = outlet.node
    assert isinstance(tube, Tube)
    back = scale(tube.centreline.start.z, -0.5)
    wrong = failures(
        demo_design, changed(demo_design, files, "outlet", moved(back)), "step-overlap"
    )
    (subject,) = [s for s in wrong if "outlet" in s and "cone" in s]
    ring = math.pi * (tube.outer_radius**2 - tube.inner_radius**2) * 0.5
    shared = float(wrong[subject].split("share ")[1].split(" mm3")[0])
    # the cone narrows away from the joint, so the two share a little less than the ring
    assert 0.8 * ring < shared <= ring * 1.001


def test_one_bore_half_a_millimetre_too_small_in_the_gas(demo_design, files):
    # one bore alone: a step inside one solid, which is sound and closed all the same
    nodes = list(demo_design.gases[0].node.nodes)
    last = max(k for k, node in enumerate(nodes) if isinstance(node, Tube))
    nodes[last] = replace(nodes[last], outer_radius=nodes[last].outer_radius - 0.5)
    path = gas_path(demo_design, demo_design.gases[0])
    gas = replace(demo_design.gases[0], node=Fuse(tuple(nodes)))
    spoilt = {**files, path: step_bytes(gas, path.rpartition("/")[2])}
    assert f"{demo_design.gases[0].name} volume" in failures(demo_design, spoilt, "step-gas")


def test_an_end_of_the_gas_named_on_the_wrong_face(demo_design, files):
    """Names of inlet 1 and 4 exchanged: all there, closed, and in the wrong place."""
    path = gas_path(demo_design, demo_design.gases[0])
    text = files[path].decode("ascii")
    assert text.count("'INLET_1'") == text.count("'INLET_4'") == 1
    text = text.replace("'INLET_1'", "'?'").replace("'INLET_4'", "'INLET_1'")
    text = text.replace("'?'", "'INLET_4'")
    wrong = failures(demo_design, {**files, path: text.encode("ascii")}, "step-gas")
    name = demo_design.gases[0].name
    assert set(wrong) == {f"{name} INLET_1", f"{name} INLET_4"}


@pytest.mark.parametrize("part", ["tube_2", "head_flange", "cone"])
def test_one_digit_of_a_part_file(demo_design, files, part):
    path = part_path(part)
    text = files[path].decode("ascii")
    at = text.index("CARTESIAN_POINT('',(", text.index("ADVANCED_FACE")) + 20
    while not text[at].isdigit():
        at += 1
    digit = "4" if text[at] != "4" else "5"
    spoilt = {**files, path: (text[:at] + digit + text[at + 1 :]).encode("ascii")}
    assert set(failures(demo_design, spoilt, "step-solids")) == {path}


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (".MILLI.,.METRE.", "$,.METRE."),
        (".MILLI.,.METRE.", ".CENTI.,.METRE."),
        ("{ 1 0 10303 214 1 1 1 1 }", "{ 1 2 10303 214 0 1 1 1 }"),
    ],
)
def test_units_and_schema_of_every_file(demo_design, files, old, new):
    """Strings of ISO 10303-41 and of two editions of ISO 10303-214."""
    for path in sorted(files):
        text = files[path].decode("ascii")
        assert old in text
        spoilt = {**files, path: text.replace(old, new).encode("ascii")}
        assert set(failures(demo_design, spoilt, "step-units")) == {path}


@settings(max_examples=25)
@given(share=st.floats(0.0, 0.9999), whole=st.booleans())
def test_a_file_cut_off_anywhere_is_a_finding_and_no_exception(demo_design, files, share, whole):
    path = assembly_path(demo_design) if whole else gas_path(demo_design, demo_design.gases[0])
    # the last newline may go: nothing is lost with it
    cut = files[path][: int(share * (len(files[path]) - 1))]
    spoilt = {**files, path: cut}
    assert failures(demo_design, spoilt, "step-units")
    assert failures(demo_design, spoilt, "step-names" if whole else "step-gas")


@settings(max_examples=8)
@given(content=st.binary(max_size=200))
def test_bytes_that_are_no_step_are_a_finding_in_every_proof(demo_design, files, content):
    spoilt = dict.fromkeys(files, content)
    for proof in plugins("geomgen.proofs", "NAME"):
        if proof.startswith("step-"):
            assert failures(demo_design, spoilt, proof), proof
