"""The DXF proof: right on good files, and each way of spoiling a file is seen."""

import io

import ezdxf
import pytest
from flat_demo import around, flange

from geomgen.design.flat_model import PLAIN
from geomgen.design.model import Files
from geomgen.errors import Verdict
from geomgen.exports.dxf import export, file_name, flat
from geomgen.profiles.loops import profile_area
from geomgen.proofs.dxf import prove
from geomgen.recipe.nodes import Prism
from geomgen.solids.build import build
from geomgen.solids.measure import volume

PARTS = {"plasma": flange(ports=2), "laser": flange(process="laser", thread="M10", ports=2)}


@pytest.fixture(scope="module")
def volumes():
    """Volumes of the kernel's own solids [mm3]."""
    return {
        how: volume(build(Prism(part.frame, part.drilled, part.thickness)))
        for how, part in PARTS.items()
    }


def proofs(part, data, solid, files=PLAIN):
    design = around(part)
    design.files = files
    found = prove(design, {file_name(part, files.unit): data}, {part.name: solid})
    return {f.name: f for f in found}


def failed(part, data, solid, files=PLAIN):
    return {n for n, f in proofs(part, data, solid, files).items() if f.verdict is Verdict.FAIL}


def spoiled(part, spoil, **options):
    """The part's file with ``spoil`` done to it by the DXF library."""
    doc = ezdxf.read(io.StringIO(flat(part, **options).decode("ascii")))
    spoil(doc.modelspace())
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode()


def polylines(space):
    return [e for e in space if e.dxftype() == "LWPOLYLINE"]


@pytest.mark.parametrize("how", ["plasma", "laser"])
@pytest.mark.parametrize("style", ["polylines", "lines-arcs"])
@pytest.mark.parametrize(("version", "unit"), [("R12", "mm"), ("R2000", "mm"), ("R2018", "inch")])
def test_good_files_pass(how, style, version, unit, volumes):
    part = PARTS[how]
    files = Files(version=version, style=style, unit=unit)
    found = proofs(part, flat(part, version, style, unit=unit), volumes[how], files)
    verdicts = {name: f.verdict for name, f in found.items()}
    # R12 has no unit in its header
    unit = Verdict.WARN if version == "R12" else Verdict.PASS
    assert verdicts.pop("dxf-units") is unit
    assert set(verdicts.values()) == {Verdict.PASS}
    assert {f.source for f in found.values()} == {"proof"}
    assert found["dxf-shape"].value < 1e-6
    assert abs(found["dxf-area"].value) < 1e-7


def test_the_solid_and_the_profile_agree(volumes):
    for how, part in PARTS.items():
        assert volumes[how] == pytest.approx(profile_area(part.drilled) * part.thickness, rel=1e-9)


def one_bulge(space):
    line = polylines(space)[-1]
    points = line.get_points("xyb")
    points[0] = (*points[0][:2], points[0][2] * 1.01)
    line.set_points(points, format="xyb")


def vertex_moved(space):
    line = polylines(space)[-1]
    points = line.get_points("xyb")
    points[3] = (points[3][0] + 0.02, *points[3][1:])
    line.set_points(points, format="xyb")


def hole_moved(space):
    circle = space.query("CIRCLE")[2]
    circle.dxf.center = circle.dxf.center + ezdxf.math.Vec3(0.02, 0, 0)


def hole_resized(space):
    space.query("CIRCLE")[0].dxf.radius += 0.006


def loop_opened(space):
    polylines(space)[0].closed = False


def line_doubled(space):
    line = polylines(space)[0]
    space.add_lwpolyline(
        line.get_points("xyb"), format="xyb", close=True, dxfattribs={"layer": "CUT"}
    )


def stray_line(space):
    space.add_line((0, 0), (10, 0), dxfattribs={"layer": "CUT"})


def spline_added(space):
    space.add_spline([(0, 0, 0), (1, 2, 0), (3, 3, 0), (5, 0, 0)], dxfattribs={"layer": "CUT"})


def text_added(space):
    space.add_text("HEAD FLANGE", dxfattribs={"layer": "CUT"})


def raised(space):
    polylines(space)[0].dxf.elevation = 1.0


def mirrored(space):
    space.query("CIRCLE")[0].dxf.extrusion = (0, 0, -1)


def stranger_layer(space):
    space.add_line((0, 0), (10, 0), dxfattribs={"layer": "NOTES"})


def loop_lost(space):
    space.delete_entity(polylines(space)[0])


def crossing(space):
    line = polylines(space)[-1]
    points = line.get_points("xyb")
    points[4], points[9] = points[9], points[4]
    line.set_points(points, format="xyb")


def outline_first(space):
    entity = polylines(space)[-1]
    points = entity.get_points("xyb")
    space.delete_entity(entity)
    inner = [e.get_points("xyb") for e in polylines(space)]
    for e in polylines(space):
        space.delete_entity(e)
    for loop in (points, *inner):
        space.add_lwpolyline(loop, format="xyb", close=True, dxfattribs={"layer": "CUT"})


@pytest.mark.parametrize(
    ("spoil", "seen"),
    [
        (one_bulge, {"dxf-shape", "dxf-arcs", "dxf-area"}),
        (vertex_moved, {"dxf-shape", "dxf-arcs", "dxf-area"}),
        (hole_moved, {"dxf-shape", "dxf-holes"}),
        (hole_resized, {"dxf-holes", "dxf-area"}),
        (loop_opened, {"dxf-loops", "dxf-shape", "dxf-arcs", "dxf-area"}),
        (line_doubled, {"dxf-loops", "dxf-shape", "dxf-arcs", "dxf-area"}),
        (stray_line, {"dxf-loops"}),
        (spline_added, {"dxf-entities"}),
        (text_added, {"dxf-entities"}),
        (raised, {"dxf-entities"}),
        (mirrored, {"dxf-entities"}),
        (stranger_layer, {"dxf-entities"}),
        (loop_lost, {"dxf-loops", "dxf-shape", "dxf-arcs", "dxf-area"}),
        (crossing, {"dxf-loops", "dxf-shape", "dxf-arcs", "dxf-area"}),
        (outline_first, {"dxf-loops"}),
    ],
)
def test_spoiled_files_are_seen(spoil, seen, volumes):
    part = PARTS["laser"]
    assert failed(part, spoiled(part, spoil), volumes["laser"]) == seen


@pytest.mark.parametrize("code", [0, 1, 6])
def test_a_wrong_unit_is_seen(code, volumes):
    part = PARTS["laser"]

    def spoil(space):
        space.doc.header["$INSUNITS"] = code

    assert failed(part, spoiled(part, spoil), volumes["laser"]) == {"dxf-units"}


def inch_measurement(space):
    space.doc.header["$MEASUREMENT"] = 0


def test_imperial_measurement_is_seen(volumes):
    part = PARTS["laser"]
    assert failed(part, spoiled(part, inch_measurement), volumes["laser"]) == {"dxf-units"}


def cross_of(space, at):
    return [e for e in space.query("LINE") if e.dxf.start.lerp(e.dxf.end).distance((*at, 0)) < 1e-6]


def test_a_moved_centre_mark_is_seen(volumes):
    part = PARTS["plasma"]

    def spoil(space):
        for line in cross_of(space, part.holes[0].at):
            line.translate(0.0, 0.02, 0.0)

    data = spoiled(part, spoil)
    assert failed(part, data, volumes["plasma"]) == {"dxf-holes", "dxf-marks"}


def test_a_lost_centre_mark_and_a_lost_letter_are_seen(volumes):
    part = PARTS["plasma"]

    def lose_cross(space):
        space.delete_entity(cross_of(space, part.holes[1].at)[0])

    def lose_letter(space):
        space.delete_entity(space.query("LINE")[-1])

    assert failed(part, spoiled(part, lose_cross), volumes["plasma"]) == {"dxf-holes", "dxf-marks"}
    assert failed(part, spoiled(part, lose_letter), volumes["plasma"]) == {"dxf-marks"}


def test_a_drilled_hole_on_the_cut_layer_is_seen(volumes):
    part = PARTS["plasma"]

    def spoil(space):
        space.add_circle(part.holes[0].at, 4.5, dxfattribs={"layer": "CUT"})

    assert "dxf-holes" in failed(part, spoiled(part, spoil), volumes["plasma"])


def test_loose_lines_that_do_not_close_are_seen(volumes):
    part = PARTS["laser"]

    def spoil(space):
        space.delete_entity(next(e for e in space.query("ARC") if e.dxf.layer == "CUT"))

    data = spoiled(part, spoil, style="lines-arcs")
    assert "dxf-loops" in failed(part, data, volumes["laser"], Files(style="lines-arcs"))


def test_three_ends_in_one_place_are_seen(volumes):
    part = PARTS["laser"]

    def spoil(space):
        arc = next(e for e in space.query("ARC") if e.dxf.layer == "CUT")
        space.add_line(arc.start_point, (500, 0), dxfattribs={"layer": "CUT"})

    data = spoiled(part, spoil, style="lines-arcs")
    assert "dxf-loops" in failed(part, data, volumes["laser"], Files(style="lines-arcs"))


def test_a_missing_and_a_strange_file_are_seen():
    part = PARTS["laser"]
    (missing,) = prove(around(part), {}, {})
    assert (missing.name, missing.verdict) == ("dxf-file", Verdict.FAIL)
    files = {**export(around(part)), "flats/other.dxf": b""}
    assert prove(around(part), files, {})[0].verdict is Verdict.FAIL


@pytest.mark.parametrize(
    "data", [b"", b"\x00\xff\xfe", b"solid nothing", flat(PARTS["laser"])[:9000]]
)
def test_broken_bytes_are_a_finding_not_a_crash(data):
    part = PARTS["laser"]
    found = prove(around(part), {file_name(part): data}, {})
    assert any(f.verdict is Verdict.FAIL for f in found)


def test_without_a_solid_the_area_is_not_run():
    part = PARTS["laser"]
    found = prove(around(part), export(around(part)), {})
    assert {f.name: f.verdict for f in found}["dxf-area"] is Verdict.NOT_RUN


def test_the_demo_s_files_against_its_own_solid(demo_design):
    found = prove(demo_design, export(demo_design))
    assert {f.verdict for f in found} == {Verdict.PASS}
    assert "dxf-area" in {f.name for f in found}


def test_a_solid_with_a_hole_too_many_is_seen(volumes):
    part = PARTS["laser"]
    assert failed(part, flat(part), volumes["laser"] - 1.0) == {"dxf-area"}
