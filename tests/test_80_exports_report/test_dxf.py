"""The DXF export, read by group codes and by a second look at what cutters ask for."""

import math
import os
import subprocess
import sys
from importlib.metadata import version
from pathlib import Path

import pytest
from cut_plates import around as plates_around
from cut_plates import cut
from flat_demo import around, flange
from group_codes import area, entities, first, header, layer, vertices

from geomgen.design.model import Files
from geomgen.exports.dxf import bulge, export, file_name, flat
from geomgen.profiles.loops import Arc, Line, bounding_box, circle, profile_area
from geomgen.profiles.loops import area as loop_area


@pytest.fixture(scope="module")
def part():
    return flange(process="laser", thread="M10")


@pytest.fixture(scope="module")
def data(part):
    return flat(part)


@pytest.mark.parametrize(
    ("degrees", "expected"),
    # DXF reference, group code 42: tangent of a quarter of the included angle
    [(45, 0.198912), (90, 0.414214), (180, 1.0), (270, 2.414214), (-90, -0.414214)],
)
def test_bulges(degrees, expected):
    assert bulge(Arc((0, 0), 5, 0.3, math.radians(degrees))) == pytest.approx(expected, abs=1e-6)
    assert bulge(Line((0, 0), (1, 0))) == 0.0


def test_the_group_code_reader_itself():
    # two vertices (0, 0), (10, 0), both with bulge 1: a circle of radius 5, 78.5398 mm2
    groups = [(10, "0"), (20, "0"), (42, "1"), (10, "10"), (20, "0"), (42, "1")]
    assert area("LWPOLYLINE", groups) == pytest.approx(78.5398, abs=1e-4)


def test_header_says_millimetres(data):
    assert header(data, "$ACADVER") == "AC1015"
    assert header(data, "$INSUNITS") == "4"
    assert header(data, "$MEASUREMENT") == "1"


def test_file_name_says_part_plate_grade_and_unit(part):
    assert file_name(part) == "flats/head_flange_10mm_304_mm.dxf"
    assert sorted(export(around(part))) == [file_name(part)]


def test_inner_loops_come_first_marks_before_them(data):
    layers = [layer(groups) for _, groups in entities(data)]
    assert set(layers) == {"CUT", "MARK"}
    assert layers == sorted(layers, reverse=True)
    sizes = [abs(area(k, g)) for k, g in entities(data) if layer(g) == "CUT"]
    assert max(sizes) == sizes[-1]
    assert len(sizes) == 1 + 4 + 8


def test_areas_and_extents_by_another_reader(part, data):
    cuts = [(k, g) for k, g in entities(data) if layer(g) == "CUT"]
    outline = cuts[-1]
    inner = sum(abs(area(k, g)) for k, g in cuts[:-1])
    assert area(*outline) == pytest.approx(loop_area(part.profile.outer), rel=1e-9)
    assert area(*outline) - inner == pytest.approx(profile_area(part.profile), rel=1e-9)
    box = bounding_box(part.profile.outer)
    xs = [x for x, _, _ in vertices(outline[1])]
    assert box.left - 1e-6 <= min(xs)
    assert max(xs) <= box.right + 1e-6


def test_holes_are_circles_of_their_size(part, data):
    circles = [g for k, g in entities(data) if k == "CIRCLE"]
    found = sorted((first(g, 10), first(g, 20), 2 * first(g, 40)) for g in circles)
    wanted = sorted((*hole.at, hole.diameter) for hole in part.holes)
    assert len(found) == len(wanted) == 8
    for f, w in zip(found, wanted, strict=True):
        assert f == pytest.approx(w, abs=1e-8)


def test_lines_and_arcs_only_flat_on_the_plane(data):
    for kind, groups in entities(data):
        assert kind in ("LWPOLYLINE", "CIRCLE", "LINE")
        codes = [code for code, _ in groups]
        assert 38 not in codes  # elevation
        assert 39 not in codes  # thickness
        assert all(float(text) == 0.0 for code, text in groups if code in (30, 31))
        if kind == "LWPOLYLINE":
            assert (70, "1") in groups


def test_marked_holes_are_not_in_the_cut_layer():
    part = flange()
    kinds = [k for k, g in entities(flat(part)) if layer(g) == "CUT"]
    assert kinds == ["LWPOLYLINE"] * 5


def test_reference_is_left_out_unless_asked_for(part, data):
    assert b"REFERENCE" not in data
    with_it = entities(flat(part, reference=True))
    assert sum(layer(g) == "REFERENCE" for _, g in with_it) == 4


def test_lines_and_arcs_style_has_no_polyline(part):
    kinds = {k for k, _ in entities(flat(part, style="lines-arcs"))}
    assert kinds == {"LINE", "ARC", "CIRCLE"}


@pytest.mark.parametrize(
    ("release", "code"),
    # release names and $ACADVER: DXF reference
    [
        ("R12", "AC1009"),
        ("R2000", "AC1015"),
        ("R2010", "AC1024"),
        ("R2013", "AC1027"),
        ("R2018", "AC1032"),
    ],
)
def test_versions(part, release, code, capfd):
    data = flat(part, version=release)
    assert header(data, "$ACADVER") == code
    assert header(data, "$INSUNITS") == (None if release == "R12" else "4")
    assert capfd.readouterr().err == ""


def test_bytes_are_the_same_in_other_processes_and_times(part, data):
    code = (
        "import sys; sys.path[:0] = sys.argv[1:]\n"
        "from flat_demo import flange\n"
        "from geomgen.exports.dxf import flat\n"
        "sys.stdout.buffer.write(flat(flange(process='laser', thread='M10')))\n"
    )
    tests = str(Path(__file__).parents[1])
    for seed in ("0", "1"):
        again = subprocess.run(
            [sys.executable, "-c", code, tests],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            check=True,
        )
        assert again.stdout == data
    assert flat(part) == data
    assert b"\r" not in data
    assert version("ezdxf").encode() not in data


def test_the_library_s_options_are_left_as_they_were(part):
    import ezdxf

    flat(part)
    assert ezdxf.options.write_fixed_meta_data_for_testing is False


def test_a_full_circle_is_one_whatever_its_pieces():
    from geomgen.exports.dxf import as_circle

    assert as_circle(circle((1, 2), 3)).radius == 3
    assert as_circle((Arc((0, 0), 3, 0, 3.14), Arc((0, 0), 3.1, 3.14, 3.14))) is None


def test_inch_files_say_so_and_are_scaled_once(part):
    data = flat(part, unit="inch")
    # DXF reference: $INSUNITS 1 is inch, $MEASUREMENT 0 English
    assert (header(data, "$INSUNITS"), header(data, "$MEASUREMENT")) == ("1", "0")
    circles = [g for k, g in entities(data) if k == "CIRCLE"]
    found = sorted((first(g, 10) * 25.4, first(g, 20) * 25.4, first(g, 40) * 50.8) for g in circles)
    wanted = sorted((*hole.at, hole.diameter) for hole in part.holes)
    for f, w in zip(found, wanted, strict=True):
        assert f == pytest.approx(w, abs=1e-7)
    outline = [(k, g) for k, g in entities(data) if layer(g) == "CUT"][-1]
    assert area(*outline) * 25.4**2 == pytest.approx(loop_area(part.profile.outer), rel=1e-8)


def test_the_name_says_the_unit_and_the_plate_as_cut():
    assert file_name(cut(), "inch") == "flats/test_flange_10mm_304_inch.dxf"


def test_settings_reach_the_file():
    said = Files(
        version="R2010",
        unit="inch",
        style="lines-arcs",
        cut="PROFIL",
        mark="ETCH",
        reference="LOOK",
        with_reference=True,
    )
    ((name, data),) = export(plates_around(cut(), files=said)).items()
    assert name.endswith("_inch.dxf")
    assert (header(data, "$ACADVER"), header(data, "$INSUNITS")) == ("AC1024", "1")
    drawn = entities(data)
    assert {layer(g) for _, g in drawn} == {"PROFIL", "ETCH", "LOOK"}
    assert "LWPOLYLINE" not in {k for k, _ in drawn}


def test_slots_relief_and_pilots_are_cut_and_slots_marked_at_both_ends():
    part = cut("plasma")
    drawn = entities(flat(part))
    circles = sorted(2 * first(g, 40) for k, g in drawn if k == "CIRCLE")
    # 13.5 and 14 less 1 mm all round
    assert circles == pytest.approx([11.5, 12.0])
    four = [g for k, g in drawn if k == "LWPOLYLINE" and len(vertices(g)) == 4]
    sizes = sorted(abs(area("LWPOLYLINE", g)) for g in four)
    # stadium: pi r^2 + 2 r l; relief 2.5 x 22, slot 17 + 4, window 48.3 x 40.3
    wanted = [
        math.pi * (w / 2) ** 2 + w * length for w, length in ((2.5, 19.5), (17.0, 4.0), (40.3, 8.0))
    ]
    assert sizes == pytest.approx(wanted, rel=1e-9)
    slot = next(h for h in part.holes if h.name == "stud 2a")
    middles = [((m.start[0] + m.end[0]) / 2, (m.start[1] + m.end[1]) / 2) for m in part.marks]
    for centre in slot.centres:
        assert sum(math.dist(m, centre) < 1e-9 for m in middles) == 2
    assert math.dist(*slot.centres) == pytest.approx(3.0)


def test_only_r12_says_its_unit_in_a_comment(part):
    # DXF reference: group 999 is a comment
    assert flat(part, version="R12", unit="inch").startswith(b"999\nunit: inch\n  0\nSECTION\n")
    assert b"999\n" not in flat(part)


def test_r12_layers_and_kerf_of_a_shop_s_own_names_are_read_back():
    import io

    import ezdxf

    said = Files(version="R12", cut="0", mark="Etch_1$")
    (data,) = export(plates_around(cut(), files=said)).values()
    doc = ezdxf.read(io.StringIO(data.decode("ascii")))
    assert {e.dxf.layer for e in doc.modelspace()} == {"0", "Etch_1$"}
    assert not doc.audit().errors
