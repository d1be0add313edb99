"""Seven ways of spoiling a cut file, each seen in every version, style and unit."""

import io
from dataclasses import replace
from itertools import product

import ezdxf
import pytest
from cut_plates import around, cut, plate
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from geomgen.design.model import Files
from geomgen.errors import Verdict
from geomgen.exports.dxf import export
from geomgen.plates import PlateHole
from geomgen.profiles.loops import profile_area
from geomgen.proofs.dxf import prove

# of the lettering only UP and its pennant, so that a file is small
PART = cut("laser", labels=(), holes=plate().holes[:4])
PART = replace(PART, centre_marks=PART.marks[:17], lettering=None)
VOLUMES = {PART.name: profile_area(PART.drilled) * PART.thickness}
POLYLINES = ("LWPOLYLINE", "POLYLINE")
SETTINGS = list(product(["R12", "R2000", "R2010"], ["polylines", "lines-arcs"], ["mm", "inch"]))


def loops(space):
    return [e for e in space if e.dxf.layer == "CUT" and e.dxftype() in POLYLINES]


def rows(entity):
    """Vertices of a polyline of either kind, as x, y, bulge."""
    if entity.dxftype() == "LWPOLYLINE":
        return [tuple(row) for row in entity.get_points("xyb")]
    return [(v.dxf.location.x, v.dxf.location.y, v.dxf.get("bulge", 0.0)) for v in entity.vertices]


def put(entity, changed):
    """The vertices anew."""
    if entity.dxftype() == "LWPOLYLINE":
        entity.set_points(changed, format="xyb")
        return
    for vertex, (x, y, b) in zip(entity.vertices, changed, strict=True):
        vertex.dxf.location, vertex.dxf.bulge = (x, y, 0.0), b


def arcs(space):
    return [e for e in space if e.dxf.layer == "CUT" and e.dxftype() == "ARC"]


def one_bulge(space, _):
    if not loops(space):
        arcs(space)[-1].dxf.radius *= 1.01
        return
    outline = loops(space)[-1]
    points = rows(outline)
    k = next(k for k, row in enumerate(points) if row[2])
    points[k] = (*points[k][:2], points[k][2] * 1.01)
    put(outline, points)


def hole_moved(space, unit):
    hole = space.query("CIRCLE")[0]
    hole.dxf.center = hole.dxf.center + ezdxf.math.Vec3(0.02 / unit, 0, 0)


def loop_opened(space, _):
    if not loops(space):
        space.delete_entity(arcs(space)[3])
    elif loops(space)[0].dxftype() == "LWPOLYLINE":
        loops(space)[0].closed = False
    else:
        loops(space)[0].close(False)


def line_doubled(space, _):
    entity = (loops(space) or arcs(space))[0]
    space.add_entity(entity.copy())


def mirrored(space, _):
    for e in space:
        kind = e.dxftype()
        if kind in POLYLINES:
            put(e, [(-x, y, -b) for x, y, b in rows(e)])
        elif kind == "LINE":
            for end in ("start", "end"):
                p = e.dxf.get(end)
                e.dxf.set(end, (-p[0], p[1], 0.0))
        else:
            e.dxf.center = (-e.dxf.center[0], e.dxf.center[1], 0.0)
            if kind == "ARC":
                begin, end = e.dxf.start_angle, e.dxf.end_angle
                e.dxf.start_angle, e.dxf.end_angle = 180.0 - end, 180.0 - begin


def scaled(space, _):
    for e in space:
        e.transform(ezdxf.math.Matrix44.scale(25.4))


def wrong_layer(space, _):
    (loops(space) or arcs(space))[0].dxf.layer = "MARK"


SPOILS = {
    one_bulge: {"dxf-shape", "dxf-arcs"},
    hole_moved: {"dxf-shape", "dxf-holes"},
    loop_opened: {"dxf-loops"},
    line_doubled: {"dxf-loops"},
    mirrored: {"dxf-shape", "dxf-marks", "dxf-hand"},
    scaled: {"dxf-shape", "dxf-arcs", "dxf-holes"},
    wrong_layer: {"dxf-entities"},
}


def failed(files, data):
    design = around(PART, files=files)
    (name,) = export(design)
    return {f.name for f in prove(design, {name: data}, VOLUMES) if f.verdict is Verdict.FAIL}


@pytest.mark.parametrize(("version", "style", "unit"), SETTINGS)
def test_each_way_of_spoiling_a_file_is_seen(version, style, unit):
    files = Files(version=version, style=style, unit=unit)
    (data,) = export(around(PART, files=files)).values()
    assert failed(files, data) == set()
    for spoil, seen in SPOILS.items():
        doc = ezdxf.read(io.StringIO(data.decode()))
        spoil(doc.modelspace(), {"mm": 1.0, "inch": 25.4}[unit])
        stream = io.StringIO()
        doc.write(stream)
        assert seen <= failed(files, stream.getvalue().encode()), spoil.__name__


@pytest.mark.parametrize(
    "other",
    [
        Files(version="R2010"),
        Files(unit="inch"),
        Files(cut="PROFIL"),
        Files(mark="ETCH"),
        Files(style="lines-arcs"),
    ],
)
def test_a_file_that_is_not_as_it_is_set_is_seen(other):
    (data,) = export(around(PART)).values()
    assert failed(other, data)


def test_its_own_layers_and_reference_pass():
    files = Files(cut="PROFIL", mark="0", reference="LOOK", with_reference=True)
    (data,) = export(around(PART, files=files)).values()
    assert failed(files, data) == set()
    assert failed(Files(cut="PROFIL", mark="0", reference="LOOK"), data) == {"dxf-entities"}


def test_a_part_without_marks_could_be_mistaken_for_its_mirror_image():
    bare = replace(PART, centre_marks=(), lettering=None)
    design = around(bare)
    found = prove(design, export(design), {})
    assert {f.name for f in found if f.verdict is Verdict.WARN} == {"dxf-hand"}


def test_slots_and_pilots_are_measured():
    files = Files()
    (data,) = export(around(PART)).values()
    doc = ezdxf.read(io.StringIO(data.decode()))
    slot = next(e for e in loops(doc.modelspace()) if len(rows(e)) == 4)
    put(slot, [(x, y + 0.012, b) for x, y, b in rows(slot)])
    stream = io.StringIO()
    doc.write(stream)
    assert failed(files, stream.getvalue().encode()) >= {"dxf-holes"}


@settings(max_examples=12, phases=[Phase.explicit, Phase.generate])
@given(
    st.sampled_from(["plasma", "laser", "waterjet"]),
    st.sampled_from(SETTINGS),
    st.lists(st.floats(5.0, 16.0), min_size=4, max_size=4),
    st.lists(st.sampled_from([0.0, 1e-9, 0.5, 6.0]), min_size=4, max_size=4),
    st.floats(-3.0, 3.0),
)
def test_whatever_the_holes_the_file_is_as_designed(process, setting, sizes, slots, turn):
    places = ((-32.0, 34.0), (32.0, -34.0), (60.0, 34.0), (124.0, -34.0))
    kinds = ("clearance", "tapped", "dowel", "clearance")
    holes = tuple(
        PlateHole(f"hole {k}", at, size, "M8", 14.0, kind, slot if k in (0, 3) else 0.0, turn)
        for k, (at, size, slot, kind) in enumerate(zip(places, sizes, slots, kinds, strict=True))
    )
    part = cut(process, holes=holes, labels=(), cylinders=())
    version, style, unit = setting
    design = around(part, files=Files(version=version, style=style, unit=unit))
    volumes = {part.name: profile_area(part.drilled) * part.thickness}
    found = prove(design, export(design), volumes)
    assert {f.name for f in found if f.verdict is Verdict.FAIL} == set()
    for hole in part.holes:
        assert (hole.cut_loop is None) == (hole.how == "mark")
        assert hole.kind == "clearance" or hole.how != "cut"
