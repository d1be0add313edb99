"""The picture of the assembly: a true parallel view, every part in its colour, same bytes."""

import io
import math
import subprocess
import sys

import numpy as np
import pytest
from PIL import Image

from geomgen.recipe.nodes import parts_of
from geomgen.report import assembly_picture
from geomgen.report._shading import NOTHING, Scene, View, rendered


@pytest.fixture(scope="module")
def scene(demo_design):
    return assembly_picture.scene_of(demo_design)


@pytest.fixture(scope="module")
def cells(scene):
    return assembly_picture.layout(scene.points)[0]


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
    assert sheet["from above"][0] == pytest.approx(sheet["front"][0], abs=1e-9)
    assert sheet["from the right"][1] == pytest.approx(sheet["front"][1], abs=1e-9)


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
