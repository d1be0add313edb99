"""The file with kerf and lead-ins: against an outside offset, and spoiled."""

import io
import math
from itertools import product

import ezdxf
import pytest
from cut_plates import around, cut
from hypothesis import given
from hypothesis import strategies as st
from shapely.geometry import Polygon

from geomgen.design.model import Files, Kerf
from geomgen.errors import Verdict
from geomgen.exports import dxf_kerf
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import inside, point_to_loop
from geomgen.profiles.kerf import moved, torch_path
from geomgen.profiles.loops import Arc, area, circle, perimeter, slot
from geomgen.proofs.dxf_kerf import prove

PART = cut("laser", cuts=())
KERF = Kerf(1.6, 6.0)


def design(**said):
    return around(PART, files=Files(kerf=KERF, **said))


def verdicts(asked, files):
    return {f.name: f.verdict for f in prove(asked, files)}


def faceted(loop):
    return Polygon([point_at(p, k / 80) for p in loop for k in range(80)])


@pytest.mark.parametrize("kerf", [0.3, 1.6, 3.0])
def test_moved_loops_agree_with_shapely(kerf):
    # an independent offset, of facets: sagitta R (1 - cos(sweep / 160)) is far below 0.01 mm
    for loop, opening in [(h, True) for h in PART.profile.holes] + [(PART.profile.outer, False)]:
        ours = faceted(moved(loop, kerf, opening))
        theirs = faceted(loop).buffer((-1 if opening else 1) * kerf / 2, quad_segs=80)
        assert ours.symmetric_difference(theirs).area < 0.01 * perimeter(loop)
        assert ours.hausdorff_distance(theirs) < 0.01


def test_moved_loops_are_exact():
    # Steiner: a circle of 20 inside a kerf of 2 is one of 18
    (a, b) = moved(circle((3, 4), 10), 2.0, True)
    assert (a.radius, b.radius) == pytest.approx((9, 9))
    out = moved(circle((3, 4), 10), 2.0, False)
    assert abs(area(out)) == pytest.approx(math.pi * 121)
    assert area(out) < 0 < area((a, b))
    assert moved(circle((0, 0), 0.7), 1.6, True) is None


def test_nothing_is_written_unless_asked_for():
    assert dxf_kerf.export(around(PART)) == {}
    assert prove(around(PART), {}) == ()


def test_the_name_says_so():
    assert list(dxf_kerf.export(design())) == ["flats/test_flange_10mm_304_kerf_compensated_mm.dxf"]
    assert next(iter(dxf_kerf.export(design(unit="inch")))).endswith("_compensated_inch.dxf")
    (data,) = dxf_kerf.export(design()).values()
    assert data.startswith(b"999\nkerf 1.6 mm and lead-ins are in these paths\n")


@pytest.mark.parametrize(
    ("version", "style", "unit"),
    list(product(["R12", "R2000", "R2010"], ["polylines", "lines-arcs"], ["mm", "inch"])),
)
def test_good_files_pass(version, style, unit):
    asked = design(version=version, style=style, unit=unit)
    found = verdicts(asked, dxf_kerf.export(asked))
    assert found["dxf-kerf-path"] is Verdict.PASS
    # 7 mm pilots hold no 6 mm of room: it says so
    assert found["dxf-kerf-pierce"] is Verdict.WARN


def test_thick_plate_pierces_in_the_scrap_by_its_thickness():
    for path, loop in zip(
        dxf_kerf.torch_paths(PART, Kerf(1.6)),
        (*reversed(PART.profile.holes), PART.profile.outer),
        strict=True,
    ):
        opening = loop != PART.profile.outer
        assert inside(path.pieces[0].start, loop) is opening
        room = point_to_loop(path.pieces[0].start, loop)
        assert room == pytest.approx(path.pierce)
        # 10 mm as cut, or where an opening is too small, its middle
        if loop in PART.windows or not opening:
            assert room == pytest.approx(10.0)
        else:
            width = min(loop, key=lambda p: p.length if isinstance(p, Arc) else math.inf).radius
            assert room > 0.9 * min(10.0, width)


@given(
    st.floats(3.0, 60.0),
    st.floats(3.0, 60.0),
    st.floats(0.2, 2.5),
    st.sampled_from(["arc", "line"]),
)
def test_no_path_cuts_into_an_opening_s_edge(width, height, kerf, lead):
    loop = slot(width, height)
    path = torch_path(loop, kerf, True, 8.0, lead, 2.0)
    points = [point_at(p, k / 7) for p in path.pieces for k in range(8)]
    assert min(point_to_loop(p, loop) for p in points) > kerf / 2 - 1e-6
    assert all(inside(p, loop) for p in points)
    # once round: what is cut away has the opening's own length all round
    assert perimeter(path.round) == pytest.approx(perimeter(loop) - math.pi * kerf, abs=1e-6)


def spoiled(spoil, **said):
    asked = design(**said)
    ((name, data),) = dxf_kerf.export(asked).items()
    doc = ezdxf.read(io.StringIO(data.decode()))
    spoil(doc.modelspace())
    stream = io.StringIO()
    doc.write(stream)
    return verdicts(asked, {name: stream.getvalue().encode()})


def lose(space):
    space.delete_entity(space.query("LWPOLYLINE")[0])


def move_vertex(space):
    line = space.query("LWPOLYLINE")[-1]
    points = line.get_points("xyb")
    points[4] = (points[4][0], points[4][1] + 0.03, points[4][2])
    line.set_points(points, format="xyb")


def pierce_in_the_part(space):
    line = space.query("LWPOLYLINE")[-1]
    points = line.get_points("xyb")
    points[0] = (46.0, -10.0, 0.0)
    line.set_points(points, format="xyb")


@pytest.mark.parametrize("spoil", [lose, move_vertex, pierce_in_the_part])
def test_spoiled_files_are_seen(spoil):
    assert spoiled(spoil)["dxf-kerf-path"] is Verdict.FAIL


def test_a_net_file_in_its_place_is_seen():
    from geomgen.exports.dxf import flat

    asked = design()
    (name,) = dxf_kerf.export(asked)
    assert verdicts(asked, {name: flat(PART)})["dxf-kerf-path"] is Verdict.FAIL


def test_an_opening_narrower_than_the_kerf_is_seen():
    asked = around(PART, files=Files(kerf=Kerf(8.0, 6.0)))
    assert verdicts(asked, dxf_kerf.export(asked))["dxf-kerf-path"] is Verdict.FAIL


def test_no_path_begins_in_a_window_s_corner():
    window = PART.windows[1]
    path = torch_path(window, 1.6, True, 10.0, "arc", 2.0)
    # a rectangle 44 x 36 with corners of 8: its straights are 28 and 20 long
    at = path.round[0].start
    corner = (22.0 - 8.0, 18.0 - 8.0)
    assert abs(at[0] - 92.0) <= corner[0] or abs(at[1]) <= corner[1]
    # once round and 2 mm on, clockwise for the outline, the other way for an opening
    assert perimeter(path.overrun) == pytest.approx(2.0)
    assert area(path.round) > 0.0
    assert area(torch_path(PART.profile.outer, 1.6, False, 10.0, "arc", 2.0).round) < 0.0
