"""One gate for two scrolls: where its branches meet, its neck and sheet, and what is refused."""

import math
from dataclasses import replace
from functools import cache
from itertools import combinations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from lay_back import off_edges
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from pydantic import ValidationError
from turbos import HALVED, I6, SPLAYED, UP, asked
from turbos import spec as turbo_spec

from geomgen.attachments import Attached, Host, wastegate
from geomgen.attachments._partition_meeting import Stand, meeting
from geomgen.attachments._partition_neck import NeckSize, rest_of_disc, sheet_outline
from geomgen.design.attaching import _with, pipes
from geomgen.families import DoesNotFit, Layout, TubeSize, turbo
from geomgen.geometry.copes import PlaneCope, SaddleCope, points
from geomgen.geometry.frames import Frame, Plane, add, angle_between, dot, norm, scale, sub, unit
from geomgen.profiles.along import along
from geomgen.profiles.distances import inside
from geomgen.profiles.loops import Profile, area, bounding_box
from geomgen.recipe.nodes import Fuse, Placed, Prism, Trim
from geomgen.recipe.volumes import bore_volume
from geomgen.solids.build import build
from geomgen.solids.measure import is_closed, is_valid, solids_of, volume

FRONT = (0.0, 0.0, 1.0)
RADIUS = 22.5

halves = st.floats(24.0, 60.0)
leans = st.floats(math.radians(25.0), math.radians(110.0))
splays = st.floats(-0.6, 0.6)


def stands(half: float, splay: float, pitch: float = 0.0) -> tuple[Stand, Stand]:
    """Two pipes about the plane x = 0; they run together with a splay above 0."""
    made = []
    for side, name in ((1.0, "pipe_a"), (-1.0, "pipe_b")):
        flow = unit((-side * math.sin(splay), math.cos(splay), math.cos(splay) * math.tan(pitch)))
        made.append(Stand(name, (side * half, 5.0, 7.0), flow, RADIUS, 20.5))
    return made[0], made[1]


def refused_by(keys, make):
    """What is made, or None where it is refused by one of some keys."""
    try:
        return make()
    except DoesNotFit as error:
        if error.key[0] not in keys:
            raise
        return None


@given(halves, leans, splays, st.floats(-0.5, 0.5), st.floats(20.0, 200.0), st.booleans())
def test_branches_meet_as_they_lean_and_as_long_as_said(half, lean, splay, pitch, length, front):
    pair, toward = stands(half, splay, pitch), FRONT if front else (0.0, 0.0, -1.0)
    met = refused_by({"length", "lean"}, lambda: meeting(pair, lean, length, toward))
    if met is None:
        return
    ways = [
        add(scale(one.flow, math.cos(lean)), scale(side, math.sin(lean)))
        for one, side in zip(pair, met.sides, strict=True)
    ]
    for one, way in zip(pair, ways, strict=True):
        assert norm(way) == pytest.approx(1.0)
        assert angle_between(way, one.flow) == pytest.approx(lean, abs=1e-9)
        assert angle_between(way, met.gate.z) == pytest.approx(met.angle, abs=1e-9)
        reached = add(one.origin, scale(way, RADIUS / math.sin(lean) + length))
        assert norm(sub(reached, met.gate.origin)) < 1e-9
    assert angle_between(*ways) == pytest.approx(2.0 * met.angle, abs=1e-9)
    assert angle_between(*ways) <= math.radians(90.0) + 1e-9
    assert abs(met.gate.origin[0]) < 1e-9
    assert abs(met.gate.z[0]) < 1e-9
    # To the side that was said, out of the plane that both pipes' axes run in.
    plane = Plane(pair[0].origin, unit((0.0, -pair[0].flow[2], pair[0].flow[1])))
    assert plane.height(met.gate.origin) * dot(toward, plane.normal) >= -1e-9


@pytest.mark.parametrize(
    ("other", "why"),
    [
        ({"flow": (0.0, 0.6, 0.8)}, "mirror image"),
        ({"outer_radius": 20.0}, "different sizes"),
        ({"inner_radius": 20.0}, "different sizes"),
        ({"origin": (30.0, 9.0, 7.0)}, "mirror image"),
        ({"origin": (30.0, 5.0, 7.0)}, "one axis"),
    ],
)
def test_pipes_that_are_not_alike_are_refused(other, why):
    one, two = stands(30.0, 0.0 if "origin" not in other else 0.3)
    with pytest.raises(DoesNotFit, match=why) as error:
        meeting((one, replace(two, **other)), 0.7, 90.0, FRONT)
    assert error.value.key == ("partition",)


def test_a_refused_length_says_one_that_serves():
    """The bound of a refusal is where it ends: just beyond it the branches meet."""
    for pair, lean, length, sign in (
        (stands(60.0, 0.0), 0.7, 20.0, 1.0),
        (stands(60.0, 0.3), 1.2, 1.0, 1.0),
        (stands(40.0, -0.5), 0.7, 60.0, 1.0),
        (stands(40.0, 0.6), 0.45, 300.0, -1.0),
    ):
        with pytest.raises(DoesNotFit) as error:
            meeting(pair, lean, length, FRONT)
        assert error.value.key == ("length",)
        bound = float(error.value.allowed.split()[2])
        assert meeting(pair, lean, bound + 0.06 * sign, FRONT).along > 0.0
        with pytest.raises(DoesNotFit):
            meeting(pair, lean, bound - 0.06 * sign, FRONT)


def test_pipes_that_run_apart_too_much_for_the_lean_are_refused():
    with pytest.raises(DoesNotFit) as error:
        meeting(stands(40.0, -0.55), 0.45, 60.0, FRONT)
    assert error.value.key == ("lean",)


# The neck

sizes = st.builds(
    lambda ro, wall, angle, sheet, more, length: NeckSize(
        TubeSize(ro, ro - wall),
        angle,
        sheet,
        TubeSize(ro + more, ro + more - wall),
        length,
        15.0,
    ),
    st.floats(10.0, 25.0),
    st.floats(1.2, 3.0),
    st.floats(0.1, 0.78),
    st.floats(1.0, 5.0),
    st.floats(0.0, 12.0),
    st.floats(20.0, 80.0),
)


@given(sizes)
def test_a_half_keeps_its_area_where_two_branches_are_one_gate(size):
    """The mouth has the half's area, or all that the branch opens to the sheet: r^2 by
    (acos q - q sqrt(1 - q^2)), a circle's segment by any table, stretched by 1 / cos phi."""
    k, r = size.face, size.gate.inner_radius
    half = r * r * math.acos(k / r) - k * math.sqrt(r * r - k * k)
    assert area(rest_of_disc(r, k)) == pytest.approx(half, rel=1e-12)
    own = size.branch.inner_radius
    q = (k - size.reach) * math.cos(size.angle) / own
    mouth = own * own / math.cos(size.angle) * (math.acos(q) - q * math.sqrt(1.0 - q * q))
    assert area(size._bores[0]) == pytest.approx(mouth, rel=1e-9)
    if q > -0.979 and size.reach > 1e-6:
        assert mouth == pytest.approx(half, rel=1e-6)
    assert size.reach >= 0.0
    assert size.least <= min(mouth, half) * (1.0 + 1e-5)


@given(sizes, st.floats(0.0, 12.0), st.booleans())
def test_the_sheet_covers_both_mouths_and_ends_at_the_seat(size, on, stepped):
    seat = size.rim + on + 0.1
    window = size.gate.inner_radius if stepped else size.gate.outer_radius + 0.15
    loop = sheet_outline(size, seat, window)
    box = bounding_box(loop)
    assert box.top == pytest.approx(seat)
    wide = math.sqrt(size.gate.outer_radius**2 - size.face**2)
    assert box.width == pytest.approx(2.0 * wide)
    # A branch's generator at azimuth t meets the sheet's face x = k where the axis is as far off.
    r, sine, cosine = size.branch.outer_radius, math.sin(size.angle), math.cos(size.angle)
    for t in np.linspace(0.0, math.tau, 181):
        u, y = r * math.cos(t), r * math.sin(t)
        along_it = (size.face - u * cosine) / sine
        z = -u * sine - along_it * cosine
        if z < size.mouth - 1e-9 and abs(y) < wide - 1e-9:
            assert inside((y, z), loop)
    # Both halves' bores up to the seat lie on it.
    for z in np.linspace(size.mouth + size.length, seat - 1e-6, 9):
        reach = math.sqrt(size.gate.inner_radius**2 - size.face**2)
        assert inside((reach - 1e-6, z), loop)
        assert inside((1e-6 - reach, z), loop)
    if stepped:
        tongue = math.sqrt(window**2 - size.face**2)
        for piece in loop:
            for x, y in along(piece, np.linspace(0.0, 1.0, 9)) if hasattr(piece, "radius") else ():
                assert y <= size.rim + 1e-9 or abs(x) <= tongue + 1e-9


@given(sizes)
def test_the_room_holds_the_neck(size):
    near = np.concatenate(
        [
            along(a, np.linspace(0, 1, 33))
            for a in size._ellipse(size.reach, size.branch.outer_radius)
        ]
    )
    far = np.concatenate(
        [along(a, np.linspace(0, 1, 33)) for a in size._circle(size.gate.outer_radius)]
    )
    for share in np.linspace(0.0, 1.0, 10):
        z = size.mouth + share * size.length
        out = np.hypot(*(near + share * (far - near)).T).max()
        assert any(a - 1e-9 <= z <= b + 1e-9 and out <= r + 1e-9 for a, b, r in size.rooms)
    assert size.rooms[0][0] == size.mouth
    assert size.rooms[-1][1] == pytest.approx(size.rim)


# On a manifold

SAID = {
    "kind": "wastegate",
    "name": "gate",
    "on": "pipe",
    "at": 70,
    "toward": [0, 0, 1],
    "lean": 40,
    "od": 26.9,
    "wall": 2,
    "length": 105,
    "partition": {"thickness": 3, "neck": 45},
}
FLANGE = {
    "kind": "wastegate",
    "name": "gate_flange",
    "thickness": 12,
    "material": "304",
    "seat": 34,
    "bolts": {"thread": "M8", "places": [[-34, 0], [34, 0]]},
}
RING = {"kind": "vband", "name": "gate_ring", "thickness": 12, "material": "304", "od": 56}


@cache
def manifold() -> Layout:
    said = turbo_spec(inlet=HALVED, pipe={**SPLAYED, "length": 140})
    return turbo.lay_out(said, asked(I6))


def put_on(layout: Layout | None = None, **changes) -> Attached:
    own = layout or manifold()
    partition = {**SAID["partition"], **changes.pop("partition", {})}
    said = {**SAID, "flange": FLANGE, "partition": partition, **changes}
    kept = {key: value for key, value in said.items() if value is not None}
    return wastegate.on_collector(
        wastegate.Spec.model_validate(kept), Host(own, pipes(own), UP, "321")
    )


def shared(a, b) -> float:
    found = BRepAlgoAPI_Common(build(a), build(b)).Shape()
    return sum(abs(volume(s)) for s in solids_of(found))


def sheet_of(made: Attached):
    (sheet,) = (plate for plate in made.loose if plate.name == "gate_partition")
    assert not sheet.loose
    return sheet


@pytest.mark.parametrize(
    "changes",
    [{}, {"flange": RING, "lean": 48, "length": 120, "partition": {"seat": 36, "short": 1}}],
)
def test_all_parts_are_solids_and_both_scrolls_stay_apart(changes):
    made = put_on(**changes)
    layout, _ = _with(manifold(), made, asked(I6))
    named = ("gate", "pipe")
    nodes = {p.name: p.node for p in layout.pieces if p.name.startswith(named)}
    for plate in (*(on.plate for on in made.plates), sheet_of(made)):
        nodes[plate.name] = Prism(plate.frame, Profile(plate.outer, plate.windows), plate.thickness)
    assert {"gate_a", "gate_b", "gate_neck_a", "gate_neck_b", "gate_partition"} < set(nodes)
    for node in nodes.values():
        assert len(solids_of(build(node))) == 1
        assert is_closed(build(node))
        assert is_valid(build(node))
    for (one, a), (two, b) in combinations(nodes.items(), 2):
        if "gate" in one + two:
            assert shared(a, b) < 1e-6, (one, two)
    gases = [Fuse(scroll.gas) for scroll in layout.scrolls]
    for gas in gases:
        shape = build(gas)
        assert len(solids_of(shape)) == 1
        assert is_closed(shape)
        assert is_valid(shape)
        assert volume(shape) == pytest.approx(bore_volume(gas), rel=1e-4)
        assert shared(gas, nodes["gate_partition"]) < 1e-6
    assert shared(*gases) < 1e-6
    ends = [scroll.outlets[-1] for scroll in layout.scrolls]
    assert [end.name for end in ends] == ["WG_A", "WG_B"]
    face = made.plates[0].plate.frame
    short = changes.get("partition", {}).get("short", 0.0)
    for end in ends:
        assert Plane(face.origin, face.z).height(end.point) == pytest.approx(short)


def test_copes_lie_on_the_branch_where_the_closed_forms_say():
    """Saddle on the pipe, and the plane cuts' sinusoids at sheet and neck: within 0.02 mm."""
    made = put_on()
    piece = next(p for p in made.pieces if p.name == "gate_a")
    assert isinstance(piece.node, Trim)
    fitted = made.fitted[0]
    pipe = next(p for p in pipes(manifold()) if p.name == "pipe_a")
    shape = build(piece.node)
    t = np.linspace(0.0, math.tau, 48, endpoint=False)
    out = Frame.facing(fitted.at, fitted.axis, fitted.flow)
    down = Frame(out.moved(200.0).origin, out.x, scale(out.z, -1.0))
    sheet, mouth = piece.node.planes
    for radius in (13.45, 11.45):
        saddle = SaddleCope(down, pipe.path.end.origin, fitted.flow, pipe.outer_radius)
        assert off_edges(shape, points(saddle, radius, t)) <= 0.02
        for plane, other in ((sheet, mouth), (mouth, sheet)):
            rim = points(PlaneCope(out, plane), radius, t)
            kept = rim[[other.height(tuple(p)) < 0.0 for p in rim]]
            assert len(kept) > 4
            assert off_edges(shape, kept) <= 0.02


def test_a_neck_is_one_part_for_both_sides():
    made = put_on()
    a, b = (p.node for p in made.pieces if p.name.startswith("gate_neck"))
    assert isinstance(a, Placed)
    assert isinstance(b, Placed)
    assert a.node == b.node
    assert angle_between(a.frame.x, b.frame.x) == pytest.approx(math.pi)


def test_each_scroll_has_its_own_branch():
    made = put_on()
    assert [one.slots for one in made.fitted] == [(0, 1, 2), (3, 4, 5)]
    assert [one.use for one in made.fitted] == ["WG_A", "WG_B"]
    for one in made.fitted:
        assert math.degrees(angle_between(one.axis, one.flow)) == pytest.approx(40.0)
    facts = dict(made.facts)
    assert facts["gate_half_seat_area_mm2"] == pytest.approx(
        17.0**2 * math.acos(1.5 / 17.0) - 1.5 * math.sqrt(17.0**2 - 1.5**2)
    )
    # Without an od the gate's bore is the seat's.
    assert made.plates[0].radius == pytest.approx(19.0)
    assert facts["gate_sheet_to_seat_mm"] == 0.0


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({"on": "pipe_a"}, ("partition",)),
        ({"length": 62}, ("length",)),
        ({"length": 8}, ("length",)),
        ({"od": 38}, ("length",)),
        ({"od": 40}, ("od",)),
        ({"at": 172}, ("at",)),
        ({"toward": [1, 0, 0]}, ("toward",)),
        ({"toward": None}, ("toward",)),
        ({"partition": {"seat": 34}}, ("partition", "seat")),
        ({"flange": RING}, ("partition", "seat")),
        ({"partition": {"od": 26}}, ("partition", "od")),
        ({"partition": {"thickness": 12}}, ("partition", "thickness")),
        ({"partition": {"od": 44}}, ("partition", "od")),
        ({"partition": {"straight": 2}}, ("partition", "straight")),
        ({"partition": {"straight": 0.01}}, ("partition", "straight")),
        ({"partition": {"neck": 6}}, ("partition", "neck")),
        ({"partition": {"short": 13}}, ("partition", "short")),
        ({"flange": None, "partition": {"seat": 34, "short": 1}}, ("partition", "short")),
        ({"flange": RING, "partition": {"seat": 34, "straight": 8}}, ("partition", "straight")),
        ({"flange": {**FLANGE, "at": "outlet"}}, ("flange", "at")),
        ({"at": 125}, ("at",)),
    ],
)
def test_what_does_not_fit_is_refused_by_its_key(changes, key):
    with pytest.raises(DoesNotFit) as error:
        put_on(**changes)
    assert error.value.key == key
    assert error.value.remedy


def test_a_length_that_would_part_the_branches_is_told():
    with pytest.raises(DoesNotFit, match="left their pipes") as error:
        put_on(length=40)
    good = float(error.value.allowed.split()[-3])
    with pytest.raises(DoesNotFit, match="left their pipes"):
        put_on(length=good - 10.0)
    assert put_on(length=good + 10.0).pieces


def test_a_single_scroll_has_no_partition():
    with pytest.raises(DoesNotFit, match="one scroll") as error:
        put_on(turbo.lay_out(turbo_spec(), asked((1, 3, 4, 2))), at=None)
    assert error.value.key == ("partition",)


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"bend": {"clr": 50, "toward": [0, 1, 0]}}, "its sheet is flat"),
        ({"partition": {}}, "thickness"),
        ({"partition": {"thickness": 3, "angle": 10}}, "angle"),
        ({"partition": {"thickness": 0}}, "greater"),
    ],
)
def test_what_contradicts_itself_is_refused(changes, why):
    with pytest.raises(ValidationError, match=why):
        wastegate.Spec.model_validate({**SAID, **changes})


@settings(max_examples=12, deadline=None)
@given(
    st.floats(30.0, 70.0),
    st.floats(85.0, 170.0),
    st.floats(18.0, 30.0),
    st.floats(1.0, 5.0),
    st.floats(60.0, 110.0),
)
def test_either_it_stands_clear_or_a_key_is_named(lean, length, od, sheet, at):
    """Swept over leans and lengths, without the kernel: gas for the branch, counted twice."""
    changes = {"lean": lean, "length": length, "od": od, "at": at}
    keys = {"at", "length", "od", "partition"}
    made = refused_by(keys, lambda: put_on(**changes, partition={"thickness": sheet}))
    if made is None:
        return
    one, two = (bore_volume(bore.node) for bore in made.bores)
    assert one == pytest.approx(two, rel=1e-9)
    way = dict(made.facts)["gate_a_length_mm"]
    bore = math.pi * (od / 2.0 - 2.0) ** 2
    assume(way > od)
    assert one > 0.5 * bore * way
