"""Gas that runs to the face of the flange at an outlet: places, volumes, what stays as it was."""

import math
from pathlib import Path

import pytest
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps

from geomgen.design.fixed import fixed_parts
from geomgen.geometry.frames import distance, dot, sub
from geomgen.recipe.nodes import Fuse
from geomgen.recipe.volumes import bore_volume
from geomgen.solids.build import build
from geomgen.solids.measure import is_closed, is_valid, solids_of, volume
from geomgen.spec.load import load

SPECS = Path(__file__).parents[2] / "specs"

MERGE = (SPECS / "brackenhall-20-sprint.yaml").read_text(encoding="utf-8")
STUBS = (SPECS / "skelby-16-stubs.yaml").read_text(encoding="utf-8")
GATE = (SPECS / "marlock-20-turbo.yaml").read_text(encoding="utf-8")

BOLTS = "bolts: {thread: M10, count: 3, circle: 110}"
FLANGE = f'{{kind: round, name: tail, thickness: 10, material: "304", {BOLTS}}}'
WIDER = FLANGE.replace("tail", "tail, window: butt, bore: 62")
RING = '{kind: vband, name: ring, thickness: 14, material: "304", od: 96, set_back: 3}'
GATE_FLANGE = (
    '{kind: wastegate, name: gf, thickness: 12, material: "304", seat: 38, '
    "bolts: {thread: M8, count: 4, circle: 62}}"
)


def with_(said: str, key: str, row: str) -> str:
    return said.replace("tools:\n", f"{key}:\n  - {row}\n\ntools:\n", 1)


def laid(said: str):
    return fixed_parts(load(said, "x.yaml").required())


def held(layout) -> float:
    return sum(bore_volume(node) for scroll in layout.scrolls for node in scroll.gas)


ENDS = [
    # A tube in a socket ends 2 mm short of the face, or as far as the spec says.
    (MERGE, "attachments", f"{{kind: end, form: flat, flange: {FLANGE}}}", 2.0, None),
    (MERGE, "attachments", f"{{kind: end, form: vband, ring: {RING}}}", 3.0, None),
    (MERGE, "plates", FLANGE.replace("name: tail", "name: tail, at: outlet"), 2.0, None),
    # One that butts ends at the back; the window is the bore's size, or another.
    (MERGE, "plates", FLANGE.replace("tail", "tail, at: outlet, window: butt"), 10.0, None),
    (
        MERGE,
        "attachments",
        f"{{kind: end, form: flat, flange: {WIDER}}}",
        10.0,
        31.0,
    ),
]


@pytest.mark.parametrize(("spec", "key", "row", "depth", "radius"), ENDS)
def test_gas_runs_to_the_flanges_face(spec, key, row, depth, radius):
    """The bore's area times what lies between, by pi, radius and depth; the solid by the kernel."""
    plain, fixed = laid(spec), laid(with_(spec, key, row))
    (scroll,) = fixed.layout.scrolls
    (face,), (flat,) = scroll.outlets, fixed.plates.flats
    assert dot(sub(face.point, flat.frame.origin), flat.frame.z) == pytest.approx(0.0, abs=1e-9)
    assert distance(face.point, fixed.layout.outlet.origin) == pytest.approx(depth)
    bore = math.sqrt(plain.layout.areas[-1].area / math.pi)
    wanted = math.pi * (radius or bore) ** 2 * depth
    assert held(fixed.layout) - held(plain.layout) == pytest.approx(wanted, rel=1e-9)
    last = fixed.layout.areas[-1]
    assert (last.what, last.area) == ("flange face", pytest.approx(wanted / depth))
    assert last.station - plain.layout.areas[-1].station == pytest.approx(depth)
    tail = build(Fuse(scroll.gas[-2:]))
    assert len(solids_of(tail)) == 1
    assert is_closed(tail)
    assert is_valid(tail)
    pipe = bore_volume(scroll.gas[-2])
    assert volume(tail) == pytest.approx(pipe + wanted, rel=1e-6)
    # The runners' lengths, and what they keep clear of, know nothing of it.
    assert fixed.targets == plain.targets


def test_what_nothing_is_bolted_to_stays_as_it_is():
    plain = laid(MERGE).layout
    for row in ("{kind: end, form: plain}", "{kind: end, form: slip}"):
        assert held(laid(with_(MERGE, "attachments", row)).layout) == held(plain)
    loose = laid(with_(MERGE, "plates", FLANGE.replace("tail", "tail, bore: 60"))).layout
    assert loose.scrolls == plain.scrolls


def test_a_divided_window_carries_no_single_outlet_on():
    said = FLANGE.replace("tail", "tail, at: outlet, divider: 5")
    assert laid(with_(MERGE, "plates", said)).layout.scrolls == laid(MERGE).layout.scrolls


def test_a_turbines_flange_and_a_gates_are_reached_too():
    gate = (
        "{kind: wastegate, name: gate, on: pipe, at: 12, toward: [0.5, 0, 1], od: 42.2, "
        f"wall: 2.77, length: 40, flange: {GATE_FLANGE}}}"
    )
    said = GATE.replace(
        "pipe: {od: 60.3, wall: 2.77, length: 25}", "pipe: {od: 60.3, wall: 2.77, length: 90}"
    )
    fixed = laid(with_(said, "attachments", gate))
    plates = {flat.name: flat for flat in fixed.plates.flats}
    (scroll,) = fixed.layout.scrolls
    faces = {face.name: face for face in scroll.outlets}
    for name, flat in (("OUTLET", "turbine_flange"), ("WG", "gf")):
        frame = plates[flat].frame
        away = sub(faces[name].point, frame.origin)
        assert dot(away, frame.z) == pytest.approx(0.0, abs=1e-9)


def test_open_stubs_end_where_they_did():
    layout = laid(STUBS).layout
    assert [row.what for row in layout.areas].count("flange face") == 0


def wall_of(shape) -> float:
    found = GProp_GProps()
    BRepGProp.SurfaceProperties_s(shape, found)
    return found.Mass()


@pytest.mark.parametrize("bore", ["", ", bore: 45"])
def test_a_log_still_says_what_it_comes_to(bore):
    """Gas and wall that a butted flange adds, a step at its back with it, by the kernel."""
    base = (SPECS / "dunmore-16-log.yaml").read_text(encoding="utf-8")
    base = base[: base.index("attachments:")] + base[base.index("tools:\n") :]
    bolts = "bolts: {thread: M8, count: 3, circle: 84}"
    row = (
        f'{{kind: round, name: tail, at: outlet, thickness: 10, material: "304", {bolts}, '
        f"window: butt{bore}}}"
    )
    plain, fixed = laid(base).layout, laid(with_(base, "plates", row)).layout
    assert plain.amounts is not None
    assert fixed.amounts is not None
    (scroll,) = fixed.scrolls
    pipe, through = plain.scrolls[0].gas[-1], scroll.gas[-1]
    assert fixed.amounts.gas - plain.amounts.gas == pytest.approx(volume(build(through)), rel=1e-6)
    more = wall_of(build(Fuse((pipe, through)))) - wall_of(build(pipe))
    r, w = 21.38, float(bore[7:] or 42.76) / 2.0
    ends = math.pi * (w**2 - r**2)
    assert fixed.amounts.wall - plain.amounts.wall == pytest.approx(more - ends, rel=1e-6)
