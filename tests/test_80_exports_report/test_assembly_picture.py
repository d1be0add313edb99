"""The picture of the assembly: a true parallel view, every part in its colour, same bytes."""

import io
import math
import subprocess
import sys
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from geomgen.cli import pipeline
from geomgen.geometry.frames import Frame
from geomgen.recipe.nodes import parts_of
from geomgen.report import assembly_picture
from geomgen.report._hues import colours, legend
from geomgen.report._shading import NOTHING, Scene, View, rendered
from geomgen.report._stance import stance_of
from geomgen.report._wires import hung_points, wires_of


@pytest.fixture(scope="module")
def scene(demo_design):
    return assembly_picture.scene_of(demo_design)


@pytest.fixture(scope="module")
def cells(scene, demo_design):
    return assembly_picture.layout(scene.points, stance_of(demo_design))[0]


@pytest.fixture(scope="module")
def shown(scene, cells):
    """Which part is seen at each pixel, view by view."""
    return {cell.title: rendered(scene, cell.view).part for cell in cells}


@pytest.fixture(scope="module")
def png(demo_design):
    return assembly_picture.pictures(demo_design)["assembly.png"]


@pytest.fixture(scope="module")
def pixels(png):
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=float) / 255.0


def test_it_opens_at_its_size_and_is_small(png):
    image = Image.open(io.BytesIO(png))
    image.load()
    assert image.format == "PNG"
    assert image.size == assembly_picture.SIZE
    assert not image.info, "a picture carries no clock, program or host"
    assert len(png) < 400_000


def test_the_same_design_gives_the_same_bytes(demo_design, png):
    assert assembly_picture.pictures(demo_design) == {"assembly.png": png}


def test_the_kept_build_holds_this_picture(demo_build, pixels):
    """Another process drew it, with another hash seed."""
    with Image.open(demo_build / "assembly.png") as image:
        assert np.array_equal(np.asarray(image.convert("RGB"), dtype=float) / 255.0, pixels)


def test_every_part_is_seen_in_some_view(demo_design, shown):
    seen = {int(part) for parts in shown.values() for part in np.unique(parts)}
    assert seen - {-1} == set(range(len(parts_of(demo_design.assembly))))


def test_every_colour_of_the_design_is_on_the_sheet(demo_design, pixels):
    """Light scales a colour and keeps its hue: look for that direction among dark pixels."""
    flat = pixels[90:, 20:860].reshape(-1, 3)
    length = np.linalg.norm(flat, axis=1)
    for colour in {part.colour for part in parts_of(demo_design.assembly)}:
        wanted = np.array(colour) / np.linalg.norm(colour)
        lit = (length > 0.3) & (length < 1.05 * math.hypot(*colour))
        alike = (flat[lit] @ wanted) / length[lit] > 0.9999
        assert alike.sum() > 300, colour


def test_nothing_of_the_manifold_is_cut_off(shown):
    for title, part in shown.items():
        border = np.concatenate((part[0], part[-1], part[:, 0], part[:, -1]))
        assert (border == -1).all(), title


def test_views_are_right_handed_and_projections_line_up(cells):
    for cell in cells:
        right, up, towards = cell.view.axes
        assert np.cross(right, up) == pytest.approx(towards, abs=1e-12)
    _, above, front, side = cells
    point = np.array([[123.0, -45.0, 67.0]])
    sheet = {
        cell.title: cell.view.seen(point)[0, :2] / assembly_picture.FINE + cell.at
        for cell in (above, front, side)
    }
    assert sheet["from above"][0] == pytest.approx(sheet["from the tube side"][0], abs=1e-9)
    assert sheet["from the right"][1] == pytest.approx(sheet["from the tube side"][1], abs=1e-9)


def ball(radius, centre):
    """Latitude and longitude triangles of a sphere."""
    lat, lon = np.linspace(0, math.pi, 41), np.linspace(0, 2 * math.pi, 81)
    a, b = np.meshgrid(lat, lon, indexing="ij")
    normal = np.stack((np.sin(a) * np.cos(b), np.sin(a) * np.sin(b), np.cos(a)), axis=-1)
    normal = normal.reshape(-1, 3)
    at = np.arange(41 * 81).reshape(41, 81)
    p, q, r, s = at[:-1, :-1], at[1:, :-1], at[1:, 1:], at[:-1, 1:]
    triangles = np.concatenate((np.stack((p, q, r), -1), np.stack((p, r, s), -1)))
    return radius * normal + np.array(centre), normal, triangles.reshape(-1, 3)


def two_balls(*centres):
    balls = [ball(20.0, centre) for centre in centres]
    size = len(balls[0][0])
    which = np.repeat([0, 1], len(balls[0][2]))
    return Scene(
        np.concatenate([points for points, _, _ in balls]),
        np.concatenate([normals for _, normals, _ in balls]),
        np.concatenate([tri + k * size for k, (_, _, tri) in enumerate(balls)]),
        which,
        which,
        np.array([[0.8, 0.2, 0.2], [0.2, 0.2, 0.8]]),
    )


VIEW = View(np.eye(3), 2.0, (100.0, 100.0), (200, 200))


def test_a_ball_covers_its_disc_and_has_its_depth():
    """Depth of a sphere seen along z: z = sqrt(r2 - x2 - y2), school geometry."""
    raster = rendered(two_balls((0.0, 0.0, 0.0), (500.0, 0.0, 0.0)), VIEW)
    y, x = np.mgrid[0:200, 0:200]
    across = np.hypot(x - 100.0, y - 100.0) / 2.0
    assert (raster.part[across < 19.8] == 0).all()
    assert (raster.part[across > 20.1] == -1).all()
    inside = across < 15.0
    assert raster.depth[inside] == pytest.approx(np.sqrt(400.0 - across[inside] ** 2), abs=0.2)
    assert (raster.depth[across > 20.1] == NOTHING).all()
    assert (raster.colour[across > 21.0] == 255).all()


@pytest.mark.parametrize(("z", "front"), [(10.0, 1), (-10.0, 0)])
def test_the_nearer_part_hides_the_other(z, front):
    raster = rendered(two_balls((0.0, 0.0, 0.0), (0.0, 0.0, z)), VIEW)
    assert raster.part[100, 100] == front


def test_right_and_up_are_so_on_the_sheet():
    raster = rendered(two_balls((25.0, 0.0, 0.0), (0.0, 25.0, 0.0)), VIEW)
    assert raster.part[100, 150] == 0
    assert raster.part[50, 100] == 1


def test_meshes_are_closed_and_nearly_of_the_solids_volume(demo_design):
    """Sum of signed tetrahedra (Gauss) over the triangles, against the kernel's integral."""
    from geomgen.solids.build import build
    from geomgen.solids.measure import volume
    from geomgen.solids.mesh import mesh

    for part in parts_of(demo_design.assembly):
        shape = build(part.node)
        net = mesh(shape, 0.1, 0.2)
        corners = net.points[net.triangles]
        flat = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        found = float(np.einsum("ij,ij->i", corners[:, 0], flat).sum()) / 6.0
        assert found == pytest.approx(volume(shape), rel=0.012), part.name
        sides = np.einsum("ij,ij->i", flat, net.normals[net.triangles[:, 0]])
        assert (sides > 0.0).all(), part.name


def test_the_module_loads_without_the_kernel():
    code = (
        "import sys, geomgen.report.assembly_picture; "
        "sys.exit(any(m.split('.')[0] in ('OCP', 'PIL', 'cadquery') for m in sys.modules))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


def decided(demo_file, name):
    return pipeline.decide(pipeline.load(demo_file.with_name(f"{name}.yaml"))).design


def test_slip_tubes_and_probes_are_told_from_their_runners(demo_file):
    """A lighter colour of the same hue, and a line in the legend."""
    design = decided(demo_file, "hartsop-16-slip")
    shown = colours(design)
    for n in range(1, 5):
        runner = np.array(shown[f"tube_{n}"])
        for other in (f"stub_{n}", f"egt_{n}"):
            assert (np.array(shown[other]) > runner + 0.05).all()
        assert shown[f"transition_{n}"] == shown[f"tube_{n}"]
    said = {text: len(those) for text, those in legend(design)}
    assert said["slip tube 1 to 4"] == said["egt 1 to 4"] == 4
    # Everything that is drawn is in the legend once.
    listed = {colour for _, those in legend(design) for colour in those}
    assert listed == set(shown.values())


def test_what_hangs_on_the_turbine_is_drawn_and_not_cut_off(demo_file):
    """Corners of a box by hand: from the spec, through the inlet's frame where it stands."""
    design = decided(demo_file, "marlock-20-turbo")
    stance = stance_of(design)
    points = hung_points(design)
    cells, _ = assembly_picture.layout(points, stance)
    for cell in cells:
        seen = cell.view.seen(points)
        assert (seen[:, :2] >= 0.0).all()
        assert (seen[:, :2] <= np.array(cell.view.size)).all()
    wires = {wire.name: wire for wire in wires_of(design, np.eye(3)[2])}
    assert {f"turbine {name}" for name in ("housing", "compressor", "actuator", "downpipe")} <= set(
        wires
    )
    # at [135, 240, 200], gas going up: z of the inlet points down, x is the head's, y = z x x
    box = wires["turbine compressor"].lines.reshape(-1, 3)
    own = np.array([(x, y, z) for x in (-190, -75) for y in (-90, 70) for z in (-170, -40)])
    wanted = own @ np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]]) + np.array([135, 240, 200])
    found = np.unique(np.round(box, 6), axis=0)
    assert found == pytest.approx(np.unique(wanted.astype(float), axis=0))


@pytest.mark.parametrize(
    ("name", "front", "side", "right"),
    [
        ("brackenhall-20-sprint", "from the tube side", "from the right", (1, 0, 0)),
        ("oakhanger-30-left", "from the tube side", "from the right-hand end", (1, 0, 0)),
        # z of the engine is to its left: on the right one looks the other way, x to the left
        ("oakhanger-30-right", "from the tube side", "from the right-hand end", (-1, 0, 0)),
        (
            "wexcombe-20-flat",
            "from the side of the left bank",
            "from the right-hand end",
            (1, 0, 0),
        ),
    ],
)
def test_views_are_named_by_what_one_sees(demo_file, name, front, side, right):
    stance = stance_of(decided(demo_file, name))
    assert (stance.front, stance.side) == (front, side)
    assert tuple(stance.axes[0]) == right
    assert bool(stance.note) == (right != (1, 0, 0))


directions = st.tuples(*[st.floats(-1.0, 1.0)] * 3).filter(lambda v: math.hypot(*v) > 0.1)


@given(directions, directions)
def test_wherever_a_head_stands_its_tube_side_is_the_front(demo_design, way, up):
    """If the head looks level enough; axes are the frame's own, right-handed, up as said."""
    up = np.array(up) / np.linalg.norm(up)
    (head,) = demo_design.heads
    turned = replace(head, frame=Frame.facing((0.0, 0.0, 0.0), way))
    design = replace(demo_design, heads=(turned,), vertical=tuple(up))
    stance = stance_of(design)
    right, above, towards = stance.axes
    assert np.cross(right, above) == pytest.approx(towards)
    assert sorted(map(tuple, np.abs(stance.axes))) == [(0, 0, 1), (0, 1, 0), (1, 0, 0)]
    assert above @ up == pytest.approx(np.abs(up).max())
    out = np.array(way) / math.hypot(*way)
    seen = out @ towards
    assert (stance.front == "from the tube side") == (seen > 0.3)
    if abs(out @ above) < 0.5:
        assert seen > 0.5


def test_numbered_parts_share_a_word_in_the_legend(demo_file):
    rows = [text for text, _ in legend(decided(demo_file, "larkfield-18-pairs"))]
    (grey,) = (text for text in rows if "outlet" in text)
    assert grey.startswith("secondary 1 and 2, ")
    assert "pair cone 1 and 2" in grey
    assert len(rows) == 4 + 2  # a row a cylinder, the flange, and the rest
