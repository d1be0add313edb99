"""Traced ports: files written by ezdxf, read by us; what cannot be a port is refused in words."""

import contextlib
import io
import math

import ezdxf
import numpy as np
import pytest
from ezdxf.math import closed_uniform_bspline
from pydantic import ValidationError
from scipy.interpolate import BSpline
from shapely.geometry import Point, Polygon

from geomgen.ports import NoOutline, _dxf, traced
from geomgen.profiles.convex import corner_turns
from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Arc, Line, area, bounding_box, perimeter

W, H, R = 44.0, 34.0, 7.0


def drawing(draw, version="R2000", unit=4):
    doc = ezdxf.new(version)
    doc.header["$INSUNITS"] = unit
    draw(doc.modelspace())
    stream = io.StringIO()
    doc.write(stream)
    return stream.getvalue().encode()


def outline(content, **said):
    spec = traced.Spec(shape="traced", file="parts/gasket.dxf", **said)
    made = traced.outline(spec, content)
    return made.loop, dict(made.facts)


def twin(loop):
    return Polygon([point_at(piece, i / 50) for piece in loop for i in range(50)])


def rounded(scale=1.0, layer="0"):
    """A rectangle with radii as lines and arcs, each for itself."""

    def draw(msp):
        x, y, r = (v * scale for v in (W / 2, H / 2, R))
        own = {"layer": layer}
        msp.add_line((-x + r, -y), (x - r, -y), own)
        msp.add_line((x, y - r), (x, -y + r), own)
        msp.add_line((x - r, y), (-x + r, y), own)
        msp.add_line((-x, -y + r), (-x, y - r), own)
        for k, (sx, sy) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1))):
            msp.add_arc((sx * (x - r), sy * (y - r)), r, 90 * k, 90 * k + 90, dxfattribs=own)

    return draw


def is_the_rectangle(loop, tolerance=1e-4):
    assert area(loop) == pytest.approx(W * H - (4 - math.pi) * R * R, abs=50 * tolerance)
    assert perimeter(loop) == pytest.approx(2 * (W + H) - (8 - 2 * math.pi) * R, abs=tolerance * 9)
    radii = [piece.radius for piece in loop if isinstance(piece, Arc)]
    assert radii == pytest.approx([R] * 4, abs=tolerance * 9)
    assert max(abs(turn) for turn in corner_turns(loop)) == 0.0


@pytest.mark.parametrize("version", ["R12", "R2000", "R2010", "R2018"])
def test_loose_lines_and_arcs_of_any_version(version):
    loop, facts = outline(drawing(rounded(), version), unit="mm")
    is_the_rectangle(loop)
    assert (facts["points"], facts["pieces"], facts["gaps_closed"]) == (8, 8, 0)


@pytest.mark.parametrize(("unit", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_the_files_unit_is_read(unit, mm):
    is_the_rectangle(outline(drawing(rounded(1.0 / mm), unit=unit))[0])


def test_a_unit_that_is_said_wins_and_one_that_is_missing_is_asked_for():
    is_the_rectangle(outline(drawing(rounded(1 / 25.4), unit=4), unit="in")[0])
    with pytest.raises(NoOutline, match="does not say its unit") as caught:
        outline(drawing(rounded(), unit=0))
    assert caught.value.key == "unit"


def polyline(points, **own):
    return lambda msp: msp.add_lwpolyline(points, format="xyb", close=True, **own)


def bulged():
    """The same rectangle as one polyline with bulges: tan of a quarter of 90 degrees."""
    x, y, r, b = W / 2, H / 2, R, math.tan(math.pi / 8)
    return [
        (-x + r, -y, 0), (x - r, -y, b), (x, -y + r, 0), (x, y - r, b),
        (x - r, y, 0), (-x + r, y, b), (-x, y - r, 0), (-x, -y + r, b),
    ]  # fmt: skip


def test_polylines_with_bulges_old_and_new_and_from_below():
    is_the_rectangle(outline(drawing(polyline(bulged())))[0])
    is_the_rectangle(
        outline(drawing(lambda m: m.add_polyline2d(bulged(), format="xyb", close=True)))[0]
    )
    below = {"dxfattribs": {"extrusion": (0, 0, -1)}}
    is_the_rectangle(outline(drawing(polyline(bulged(), **below)))[0])
    egg = [(0, 0, 0), (30, 0, 1), (30, 40, 0.2), (0, 30, 0.3)]
    seen, mirrored = (outline(drawing(polyline(egg, **how)))[0] for how in ({}, below))
    flipped = twin(tuple(seen))
    assert (
        twin(mirrored)
        .symmetric_difference(Polygon([(-x, y) for x, y in flipped.exterior.coords]))
        .area
        < 0.05 * area(seen) * 0.01
    )


def test_circle_ellipse_and_spline():
    loop, _ = outline(drawing(lambda m: m.add_circle((100, 50), 19.0)))
    assert area(loop) == pytest.approx(math.pi * 361, rel=1e-9)
    loop, facts = outline(drawing(lambda m: m.add_ellipse((9, 9), (0, 24), 0.7)), fit=0.05)
    assert area(loop) == pytest.approx(math.pi * 24 * 24 * 0.7, rel=2e-3)
    ring = twin(loop).exterior
    for i in range(60):
        a = i * math.tau / 60
        assert ring.distance(Point(16.8 * math.cos(a), 24 * math.sin(a))) < 0.05 + 0.02
    assert facts["pieces"] <= 16

    def spline(msp):
        corners = [(20 * math.cos(a), 15 * math.sin(a), 0) for a in range(6)]
        msp.add_spline().apply_construction_tool(closed_uniform_bspline(corners))

    doc = ezdxf.new("R2000")
    spline(doc.modelspace())
    (entity,) = doc.modelspace()
    knots, degree = np.array(entity.knots), entity.dxf.degree
    curve = BSpline(knots, np.array(entity.control_points)[:, :2], degree)
    wanted = Polygon(curve(np.linspace(knots[degree], knots[-degree - 1], 2000, endpoint=False)))
    loop, _ = outline(drawing(spline))
    assert area(loop) == pytest.approx(wanted.area, rel=4e-3)


def points_of(noise=0.0):
    steps = [(i, 0.4 * ((i * 7919) % 13 - 6) / 6) for i in range(200)]
    out = []
    for i, wobble in steps:
        a = i * math.tau / 200
        r = 20 + 2 * math.cos(2 * a) + noise * wobble
        out.append((r * math.cos(a) + 60, r * math.sin(a) + 40))
    return out


def test_a_gap_is_closed_a_second_line_dropped_and_both_are_told():
    trace = points_of(0.05)

    def draw(msp):
        msp.add_lwpolyline(trace[:120])
        msp.add_lwpolyline([(trace[119][0] + 0.2, trace[119][1]), *trace[120:], trace[0]])
        msp.add_lwpolyline(trace[119::-1])
        msp.add_line((0, 0), (3, 0))

    loop, facts = outline(drawing(draw))
    assert facts["gaps_closed"] == 1
    assert facts["widest_gap_mm"] == pytest.approx(0.2, abs=1e-6)
    assert facts["duplicates_dropped"] == 1
    assert facts["loose_strokes"] == 1
    assert facts["deviation_mm"] <= 0.1
    assert facts["pieces"] <= 12
    assert area(loop) == pytest.approx(Polygon(trace).area, rel=3e-3)
    with pytest.raises(NoOutline, match=r"0\.20 mm apart") as caught:
        outline(drawing(draw), gap=0.1)
    assert caught.value.key == "gap"


def gasket(msp):
    rounded(layer="PORT")(msp)
    msp.add_lwpolyline([(-60, -50), (60, -50), (60, 50), (-60, 50)], close=True)
    for x, y in ((-32, 34), (32, -34)):
        msp.add_circle((x, y), 5.2)


def test_which_outline():
    content = drawing(gasket)
    assert area(outline(content)[0]) == pytest.approx(12_000)
    is_the_rectangle(outline(content, number=2)[0])
    is_the_rectangle(outline(content, layer="port")[0])
    is_the_rectangle(outline(content, inside=[3, 2])[0])
    assert outline(content, inside=[3, 2])[1]["outline_taken"] == 2
    for said, key in (
        ({"number": 5}, "number"),
        ({"layer": "EDGE"}, "layer"),
        ({"inside": [900, 0]}, "inside"),
    ):
        with pytest.raises(NoOutline) as caught:
            outline(content, **said)
        assert caught.value.key == key


def test_centre_turn_and_mirror():
    egg = drawing(polyline([(0, 0, 0), (30, 0, 1), (30, 40, 0.2), (0, 30, 0.3)]))
    plain, facts = outline(egg)
    box = bounding_box(plain)
    assert (box.left + box.right, box.bottom + box.top) == pytest.approx((0, 0), abs=1e-9)
    corner, _ = outline(egg, centre=[0, 0])
    turned, _ = outline(egg, centre=[0, 0], turn=90)
    flipped, _ = outline(egg, centre=[0, 0], mirror=True)
    box, other, mirror = (bounding_box(loop) for loop in (corner, turned, flipped))
    assert (other.right, other.top) == pytest.approx((-box.bottom, box.right))
    assert (mirror.left, mirror.top) == pytest.approx((-box.right, box.top))
    assert area(flipped) == pytest.approx(facts["area_mm2"])


BAD = {
    "empty": (b"", "empty"),
    "words": (b"this is\nno drawing\n", "group code"),
    "junk": (bytes(range(256)) * 40, "binary"),
    "binary dxf": (b"AutoCAD Binary DXF\r\n\x1a\x00 and so on", "binary DXF"),
    "huge": (b"0\nLINE\n" * 600_000, "MB"),
    "cut off": (drawing(rounded())[:-400], "DXF"),
    "no lines": (drawing(lambda m: m.add_text("port")), "1 TEXT"),
    "a block": (drawing(lambda m: m.add_blockref("PORT", (0, 0))), "1 INSERT"),
    "open": (drawing(lambda m: m.add_lwpolyline([(0, 0), (40, 0), (40, 30)])), "no closed"),
    "crossing": (
        drawing(polyline([(0, 0, 0), (40, 30, 0), (40, 0, 0), (0, 20, 0)])),
        "crosses itself",
    ),
    "tiny": (drawing(lambda m: m.add_circle((0, 0), 0.9)), "1.8 x 1.8"),
    "vast": (drawing(lambda m: m.add_circle((0, 0), 9e4)), "port of"),
    "noise": (drawing(polyline([(x, y, 0) for x, y in points_of(3.0)])), "do not follow"),
    "not a number": (drawing(rounded()).replace(b"\n 40\n7.0\n", b"\n 40\nnan\n"), "nan"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_port_is_refused_in_words(name):
    content, words = BAD[name]
    with pytest.raises(NoOutline) as caught:
        outline(content)
    assert words in str(caught.value)
    assert caught.value.remedy


@pytest.mark.parametrize("cut", range(0, 20000, 613))
def test_a_file_broken_anywhere_is_read_or_refused(cut):
    content = drawing(gasket)
    at = cut % len(content)
    for broken in (content[:at], content[:at] + b"9e99" + content[at + 3 :]):
        with contextlib.suppress(NoOutline):
            loop, _ = outline(broken, unit="mm")
            assert twin(loop).is_valid


@pytest.mark.parametrize(
    "file", ["/etc/gasket.dxf", "../gasket.dxf", "a/../b.dxf", "~/g.dxf", "C:\\g.dxf", "g.step"]
)
def test_other_places_and_kinds_of_file_are_refused(file):
    with pytest.raises(ValidationError):
        traced.Spec(shape="traced", file=file)


def test_bolt_holes_of_a_gasket_are_refused_with_the_reason():
    with pytest.raises(ValidationError) as caught:
        traced.Spec(shape="traced", file="g.dxf", bolt_holes=True)
    (error,) = caught.value.errors()
    assert "oversize" in error["ctx"]["allowed"]
    assert "measure the studs" in error["ctx"]["remedy"]


def test_reader_takes_twenty_thousand_strokes_no_further():
    lines = b"0\nLINE\n8\n0\n10\n0\n20\n0\n11\n1\n21\n1\n" * 20_001
    content = b"0\nSECTION\n2\nENTITIES\n" + lines + b"0\nENDSEC\n0\nEOF\n"
    with pytest.raises(_dxf.NotDrawn, match="more than"):
        _dxf.read(content)
    assert isinstance(Line((0, 0), (1, 1)), Line)


def test_reader_tells_an_empty_file_from_one_that_is_no_drawing():
    with pytest.raises(_dxf.NotDrawn, match="an empty file"):
        _dxf.read(b"\n \n")
    for content in (b"garbage\n", b"0\nSECTION\n2\nENTITIES\n"):
        with pytest.raises(_dxf.NotDrawn, match="does not end in EOF"):
            _dxf.read(content)
