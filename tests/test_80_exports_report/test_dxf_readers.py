"""The written DXF in readers that are not ours and not the library that wrote it.

======= ===================== ======================== ======================= =================
reader  keeps as arcs         layers                   bulges                  holes
======= ===================== ======================== ======================= =================
trimesh arcs, circles, bulges lost on polylines with   read                    centre and radius
        of 0.72 degrees up    bulges
GDAL    none: chords          kept                     read, but not all of    centre of loop
                                                       more than half a circle
dime    none: chords          as colours               dropped on LWPOLYLINE;  centre of loop
                                                       clockwise ones astray
                                                       on R12's POLYLINE
======= ===================== ======================== ======================= =================

Each parses the bytes itself, trimesh in Python, GDAL and dime each in its own C++. Lines, arcs
and circles of R12, R2000 and R2010 are read by all three. Of an arc that turns through less than
0.72 degrees trimesh reads the three points and refuses the centre ("arc is colinear!"); a traced
port's outline has one of 0.66 degrees, 0.27 mm long. Files with kerf are read as what they are,
the middle of a cut: what it leaves is the part, net. trimesh says that an R12 file is in
inches: so the unit stands in the file's name. Left out: LibreCAD, FreeCAD and OpenSCAD (hundreds
of MB; OpenSCAD drops bulges as dime does), readers built on the library that writes, and gmsh,
which does not read DXF.
"""

import json
import math
import os
from functools import cache
from pathlib import Path
from types import SimpleNamespace

import pytest
import shapely
from dxf_readers import by_dime, by_gdal, by_picture, by_trimesh, damage
from dxf_readers.comparison import CLOSE, SHARE, differences, off_net
from dxf_readers.seen import ring
from flat_demo import flange
from group_codes import entities, layer, vertices
from hypothesis import example, given, settings
from hypothesis import strategies as st

from geomgen.cli import pipeline
from geomgen.design.flange import Slotted
from geomgen.design.outlines import Relief
from geomgen.exports import dxf_kerf
from geomgen.exports.dxf import file_name, flat
from geomgen.ports import dee, rectangle
from geomgen.profiles.loops import Arc, Line, circle, slot
from geomgen.profiles.loops import area as loop_area

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "output_examples"
KEPT = sorted(path.relative_to(EXAMPLES).as_posix() for path in EXAMPLES.glob("*/flats/*.dxf"))
WITH_KERF = [name for name in KEPT if dxf_kerf.WHAT in name]
KERF = 0.9
"""Of those files, as their spec has it [mm]."""

NET = [name for name in KEPT if name not in WITH_KERF]

VARIED = {
    "larkwell-20-gasket": {"head_flange"},
    "brackenhall-20-stepped": {"head_flange", "outlet_ring"},
    "oakhanger-30-left": {"head_flange_left"},
}
"""Parts that are written in every version and style. They have between them traced, oval and
round ports, every way of making holes that the demos have, slots, reliefs, windows, a ring, a part
without lines and one of circles alone."""

without_dime = pytest.mark.skipif(
    not by_dime.THERE and not os.environ.get("CI"),
    reason=f"{by_dime.PROGRAM} is not here: apt-get install {by_dime.PACKAGE}",
)
READERS = [
    pytest.param(by_trimesh.read, id="trimesh"),
    pytest.param(by_gdal.read, id="gdal"),
    pytest.param(by_dime.read, id="dime", marks=without_dime),
]
WAYS = [(v, s) for v in ("R12", "R2000", "R2010") for s in ("polylines", "lines-arcs")]


def reads_arcs(read, style):
    """Whether a reader gets arcs of this style right."""
    return read is not by_dime.read or style == "lines-arcs"


def astray(read, data):
    """What a reader must get wrong in a file, by the bulges that are in it; mostly nothing."""
    if read is not by_dime.read:
        return set()
    cut = [(kind, groups) for kind, groups in entities(data) if layer(groups) == "CUT"]
    bulges = [float(text) for kind, groups in cut for code, text in groups if code == 42]
    if any(kind == "LWPOLYLINE" for kind, _ in cut):
        return {"length", "places", "edges"} if any(bulges) else set()
    return {"loops", "loose", "places", "edges"} if any(b < 0.0 for b in bulges) else set()


def as_told(part, read, data):
    """All as designed; or else at least what the reader is known to lose."""
    found, wanted = differences(part, read(data)), astray(read, data)
    return wanted <= set(found) if wanted else found == {}


@pytest.fixture(scope="module")
def written():
    """Files of parts, each written once."""
    files = {}

    def write(part, version, style):
        key = (id(part), version, style)  # the part is kept beside it, so its id stays its own
        if key not in files:
            files[key] = part, flat(part, version=version, style=style)
        return files[key][1]

    return write


@pytest.fixture(scope="module")
def laser():
    """With holes that are cut, one of them slotted, and a saw slot between the ports."""
    return flange(
        process="laser",
        thread="M10",
        ports=2,
        text="A",
        relief=Relief(3.0, 12.0, 8.0),
        slotted=(Slotted("1a", 4.0, 0.3),),
    )


@pytest.fixture(scope="module")
def designs():
    """Designs of the demos by name, each made once."""

    @cache
    def design(name):
        return pipeline.decide(pipeline.load(ROOT / "specs" / f"{name}.yaml")).design

    return design


def picture_of(name):
    """The part as the picture beside a kept DXF shows it; the picture has the part's name."""
    path = EXAMPLES / name
    (svg,) = (p for p in path.parent.glob("*.svg") if path.name.startswith(f"{p.stem}_"))
    return by_picture.part(svg.read_text(encoding="utf-8"))


def reported():
    """Flat parts of every demo, as its report has them."""
    for path in sorted(EXAMPLES.glob("*/result.json")):
        for row in json.loads(path.read_bytes())["flats"]:
            yield path.parent.name, row


@pytest.mark.parametrize("read", READERS[1:])
@pytest.mark.parametrize("name", NET)
def test_the_demos_files_as_they_are_kept(name, read):
    """Beside the pictures that are kept: that the files are the designs' own is tested where
    all outputs are."""
    assert as_told(picture_of(name), read, (EXAMPLES / name).read_bytes())


@pytest.mark.parametrize("name", WITH_KERF)
def test_what_a_file_with_kerf_leaves_is_the_part(name):
    """Cut out by shapely: a disc as wide as the kerf along all that GDAL sees."""
    seen = by_gdal.read((EXAMPLES / name).read_bytes())
    assert off_net(picture_of(name), KERF, seen) <= CLOSE


@pytest.mark.parametrize("read", READERS)
def test_a_file_with_kerf_in_every_reader(read):
    (name,) = (name for name in WITH_KERF if "/outlet_flange_" in name)
    part, seen = picture_of(name), read((EXAMPLES / name).read_bytes())
    assert off_net(part, KERF, seen) <= CLOSE
    assert off_net(part, KERF + 4.0 * CLOSE, seen) > CLOSE
    assert "edges" in differences(part, seen)  # nobody takes it for the net file


def test_every_flat_part_of_the_demos_is_read():
    """One net file a part, and one with kerf where there are any; a casting has no part."""
    parts = [name for name, _ in reported()]
    assert [name.split("/")[0] for name in NET] == sorted(parts)
    assert {"larkwell-20-gasket"} == {name.split("/")[0] for name in WITH_KERF}
    assert len(WITH_KERF) == parts.count("larkwell-20-gasket")
    assert "dunmore-16-cast" not in parts


def test_the_varied_parts_have_holes_made_every_way():
    kinds, varied = set(), set()
    for name, row in reported():
        here = {(h["how"], h["slot_mm"] > 0.0) for h in row["holes"]}
        kinds |= here
        varied |= here if row["name"] in VARIED.get(name, ()) else set()
    assert varied == kinds
    assert len(kinds) >= 4


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("way", WAYS, ids="-".join)
@pytest.mark.parametrize("name", VARIED)
def test_varied_parts_in_every_version_and_style(name, way, read, designs, written):
    parts = [part for part in designs(name).flats if part.name in VARIED[name]]
    assert len(parts) == len(VARIED[name])
    for part in parts:
        assert as_told(part, read, written(part, *way))


@pytest.mark.parametrize("read", READERS)
@pytest.mark.parametrize("way", WAYS, ids="-".join)
def test_cut_holes_and_windows(way, read, laser, written):
    data = written(laser, *way)
    assert as_told(laser, read, data)
    assert bool(astray(read, data)) != reads_arcs(read, way[1])
    if reads_arcs(read, way[1]):
        assert len(read(data).rings) == 1 + 2 + 4


@pytest.mark.parametrize(("degrees", "kept"), [(0.70, False), (0.74, True)])
@pytest.mark.parametrize("style", ["polylines", "lines-arcs"])
def test_how_shallow_an_arc_trimesh_keeps(style, degrees, kept):
    """A sliver of two lines and an arc, through the writer itself."""
    sweep = math.radians(degrees)
    shallow = Arc((0.0, 0.0), 23.0, 0.0, sweep)
    left = (-40.0, 0.0)
    loop = (shallow, Line(shallow.end, left), Line(left, shallow.start))
    part = SimpleNamespace(marks=(), profile=SimpleNamespace(outer=loop, holes=()))
    data = flat(part, style=style)
    seen = by_trimesh.read(data)
    assert differences(part, seen) == differences(part, by_gdal.read(data)) == {}
    assert len(seen.arcs) == kept
    assert (sweep > by_trimesh.STRAIGHT) == kept


@without_dime
@pytest.mark.parametrize("version", ["R2000", "R2010"])
def test_a_reader_that_drops_bulges_shows_in_the_cut_length(version, laser, written):
    found = differences(laser, by_dime.read(written(laser, version, "polylines")))
    assert {"length", "places", "edges"} <= set(found)
    assert "loops" not in found


def test_no_bulge_is_more_than_half_a_circle(laser, written):
    """GDAL 3.12 goes the wrong way round some that are."""
    turns = [abs(piece.sweep) for piece in laser.profile.outer if isinstance(piece, Arc)]
    assert max(turns) > math.pi
    cut = [
        groups
        for kind, groups in entities(written(laser, "R2000", "polylines"))
        if kind == "LWPOLYLINE"
    ]
    bulges = [bulge for groups in cut for _, _, bulge in vertices(groups)]
    assert 0.5 < max(map(abs, bulges)) <= 1.0 + 1e-9


def test_the_unit_and_what_another_reader_makes_of_a_file_without_one(laser, written):
    assert by_trimesh.unit_of(written(laser, "R2000", "polylines")) == "millimeters"
    assert by_trimesh.unit_of(flat(laser, unit="inch")) == "inches"
    assert by_trimesh.unit_of(written(laser, "R12", "polylines")) != "millimeters"
    assert "_mm.dxf" in file_name(laser)


@pytest.mark.parametrize("read", READERS)
def test_inches_and_layers_of_another_name(read, laser):
    data = flat(laser, style="lines-arcs", unit="inch", layers=("Profile", "Etch", "Look"))
    assert differences(laser, read(data, "Profile", "inch")) == {}
    assert {"length", "extents"} <= set(differences(laser, read(data, "Profile", "mm")))


@pytest.mark.parametrize("read", READERS)
def test_reference_loops_do_not_count_as_cut(read, laser):
    data = flat(laser, style="lines-arcs", reference=True)
    assert laser.reference
    assert differences(laser, read(data)) == {}


DAMAGE = {
    # what is done to the file: what must at least be seen
    "bulge 5 % up": (damage.bulge(1.05), {"edges"}),
    "bulge dropped": (damage.bulge(0.0), {"edges"}),
    "bulge turned over": (damage.bulge(-1.0), {"edges"}),
    "hole moved": (damage.hole_moved, {"places", "edges"}),
    "hole widened": (damage.hole_widened, {"places", "edges"}),
    "hole missing": (damage.hole_missing, {"loops", "places", "edges"}),
    "all moved": (damage.all_moved, {"extents", "places", "edges"}),
    "loop opened": (damage.loop_opened, {"loops", "loose", "places"}),
    "line doubled": (damage.line_doubled, {"loose", "length"}),
    "circle doubled": (damage.circle_doubled, {"loops", "length"}),
}

SPOILED = (("R2000", "polylines"), ("R12", "lines-arcs"))
READ_RIGHT = [
    pytest.param(read.values[0], way, id="-".join((read.id, *way)), marks=read.marks)
    for read in READERS
    for way in SPOILED
    if reads_arcs(read.values[0], way[1])
]


@pytest.mark.parametrize(("read", "way"), READ_RIGHT)
@pytest.mark.parametrize("what", DAMAGE)
def test_damage_is_seen(what, read, way, laser, written):
    spoil, wanted = DAMAGE[what]
    found = differences(laser, read(damage.spoiled(written(laser, *way), spoil)))
    assert wanted <= set(found), found


@pytest.mark.parametrize("way", SPOILED, ids="-".join)
def test_what_spoils_files_changes_nothing_else(way, laser, written):
    data = written(laser, *way)
    assert damage.spoiled(data, damage.nothing) == data


PORTS = st.one_of(
    st.builds(lambda d: circle((0.0, 0.0), d / 2.0), st.floats(30.0, 44.0)),
    st.builds(lambda h, more: slot(h + more, h), st.floats(28.0, 38.0), st.floats(2.0, 10.0)),
    st.builds(
        lambda w, h, r: rectangle.loop(
            rectangle.Spec.model_construct(width=w, height=h, corner_radius=r, corner_radii=None)
        ),
        st.floats(34.0, 44.0),
        st.floats(28.0, 36.0),
        st.floats(4.0, 12.0),
    ),
    st.builds(
        lambda w, h, r: dee.loop(
            dee.Spec.model_construct(
                width=w, height=h, corner_radius=r, flat="floor", arc_radius=None
            )
        ),
        st.floats(34.0, 42.0),
        st.floats(34.0, 40.0),
        st.floats(3.0, 8.0),
    ),
)


@given(
    ports=st.integers(1, 3),
    pitch=st.floats(84.0, 120.0),
    loop=PORTS,
    studs=st.tuples(st.floats(28.0, 34.0), st.floats(33.0, 42.0)),
    way=st.sampled_from(WAYS),
)
@example(  # bosses turn through 257 degrees: in one bulge, GDAL draws them 11 mm astray
    ports=1,
    pitch=92.0,
    loop=circle((0.0, 0.0), 15.0),
    studs=(28.0, 36.0),
    way=("R2000", "polylines"),
)
@settings(max_examples=10)
def test_random_port_patterns(ports, pitch, loop, studs, way):
    """Areas and lengths by shapely of what GDAL and trimesh see, beside the design's own."""
    dx, dy = studs
    part = flange(
        process="laser",
        thread="M10",
        text="A",
        ports=ports,
        pitch=pitch,
        loop=loop,
        studs=((-dx, dy), (dx, -dy)),
    )
    version, style = way
    data = flat(part, version=version, style=style)
    loops = (part.profile.outer, *part.profile.holes)
    for read in (by_trimesh.read, by_gdal.read):
        seen = read(data)
        assert differences(part, seen) == {}
        whole, *inner = sorted(seen.rings, key=lambda found: -found.area)
        metal = whole.difference(shapely.union_all(inner))
        net = loop_area(loops[0]) - math.fsum(abs(loop_area(hole)) for hole in loops[1:])
        assert metal.area == pytest.approx(net, rel=SHARE / 10.0)
        edge = math.fsum(piece.length for loop in loops for piece in loop)
        assert metal.length == pytest.approx(edge, rel=SHARE / 10.0)
        assert whole.is_valid
        assert all(whole.contains(hole) for hole in inner)
    assert shapely.union_all([ring(loop) for loop in loops]).bounds == pytest.approx(
        whole.bounds, abs=0.01
    )
