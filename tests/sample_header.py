"""A small header written straight in the recipe: what the solids and their files are tried on.

Four oval ports, four runners of two bends, a 4-1 merge at 10 degrees, all in one hand:
nothing here is routed, so the runners' lengths are whatever two corners give.
"""

import math
from dataclasses import fields
from functools import cache

from geomgen.design.model import (
    Design,
    FlatPart,
    LengthAccount,
    Limits,
    Port,
    Runner,
    Stock,
    Transition,
)
from geomgen.geometry.centreline import Centreline, Straight, from_corners
from geomgen.geometry.frames import Frame, Plane, add, scale, sub, unit
from geomgen.profiles.loops import Arc, EllipseArc, Line, Profile, circle, slot
from geomgen.recipe.nodes import (
    Fuse,
    Group,
    NamedFace,
    Node,
    Part,
    Placed,
    Prism,
    RuledWall,
    Section,
    Trim,
    Tube,
)

PITCH, PLATE, SET_BACK, BLEND, WALL = 92.0, 10.0, 2.0, 45.0, 1.5
OD, ID, CLR = 45.0, 42.0, 67.5
MERGE = math.radians(10.0)
ENTRY_RADIUS, TRIM_AT, LOFT, TAIL, OUTLET_OD = 34.0, 80.0, 90.0, 120.0, 63.5
COLLECTOR = Frame.facing((138.0, -330.0, 240.0), (0.0, -1.0, 0.0), (1.0, 0.0, 0.0))
AZIMUTHS = tuple(math.radians(45.0 + 90.0 * k) for k in range(4))
SLOT_OF = {1: 1, 2: 2, 3: 3, 4: 0}
STEEL, TUBE, MERGE_COLOUR, GAS = (
    (0.45, 0.5, 0.55),
    (0.75, 0.72, 0.65),
    (0.55, 0.6, 0.7),
    (0.9, 0.5, 0.2),
)


def blend_loops(grow: float):
    """Oval and round loops of the transition, piece for piece, grown by ``grow`` mm."""
    oval = slot(45.0 + 2 * grow, 37.0 + 2 * grow)
    r = ID / 2 + grow
    half = math.pi / 2
    round_end = (
        Arc((0.0, 0.0), r, -half, math.pi),
        Line((0.0, r), (0.0, r)),
        Arc((0.0, 0.0), r, half, math.pi),
        Line((0.0, -r), (0.0, -r)),
    )
    return oval, round_end


def blend(first: float, hollow: bool) -> RuledWall:
    """Formed end and transition from z = ``first``, in the port's own frame."""
    stations = [first, PLATE, PLATE + BLEND]

    def skin(grow: float):
        oval, round_end = blend_loops(grow)
        frames = [Frame((0.0, 0.0, z)) for z in stations]
        return tuple(
            Section(f, loop) for f, loop in zip(frames, (oval, oval, round_end), strict=True)
        )

    return RuledWall(skin(WALL), skin(0.0)) if hollow else RuledWall(skin(0.0))


def lobe_loop(radius: float):
    """Section of four tubes at the trim plane: four arcs of ellipse with cusps between."""
    reach = ENTRY_RADIUS - TRIM_AT * math.tan(MERGE)
    a, b, s = radius / math.cos(MERGE), radius, math.sqrt(0.5)
    # (t s - reach)^2 / a^2 + (t s)^2 / b^2 = 1 on the bisector, 45 degrees from the lobe
    qa, qb, qc = s * s / a**2 + s * s / b**2, -2 * reach * s / a**2, reach**2 / a**2 - 1
    t = (-qb + math.sqrt(qb * qb - 4 * qa * qc)) / (2 * qa)
    edge = math.atan2(t * s / b, (t * s - reach) / a)
    return tuple(
        EllipseArc((reach * math.cos(p), reach * math.sin(p)), a, b, p, -edge, 2 * edge)
        for p in AZIMUTHS
    )


def outlet_loop(radius: float):
    """Round loop in four arcs, one a lobe."""
    return tuple(Arc((0.0, 0.0), radius, p - math.pi / 4, math.pi / 2) for p in AZIMUTHS)


def loft(hollow: bool) -> RuledWall:
    """Lobes to round outlet."""
    near, far = COLLECTOR.moved(TRIM_AT), COLLECTOR.moved(TRIM_AT + LOFT)

    def skin(bore: float, outlet: float):
        return Section(near, lobe_loop(bore)), Section(far, outlet_loop(outlet))

    inner = skin(ID / 2, OUTLET_OD / 2 - WALL)
    return RuledWall(skin(OD / 2, OUTLET_OD / 2), inner) if hollow else RuledWall(inner)


def slot_frame(k: int) -> Frame:
    """Where tube ``k`` enters the collector, z along the tube."""
    p = AZIMUTHS[k]
    radial = COLLECTOR.vector((math.cos(p), math.sin(p), 0.0))
    origin = add(COLLECTOR.origin, scale(radial, ENTRY_RADIUS))
    z = add(scale(COLLECTOR.z, math.cos(MERGE)), scale(radial, -math.sin(MERGE)))
    return Frame.facing(origin, z, radial)


def stub_planes(k: int) -> tuple[Plane, ...]:
    """Two bisector planes through the collector's axis, and the trim plane."""

    def side(angle: float, turn: float) -> Plane:
        away = COLLECTOR.vector((-math.sin(angle) * turn, math.cos(angle) * turn, 0.0))
        return Plane(COLLECTOR.origin, unit(away))

    p = AZIMUTHS[k]
    end = COLLECTOR.moved(TRIM_AT)
    return (
        side(p + math.pi / 4, 1.0),
        side(p - math.pi / 4, -1.0),
        Plane(end.origin, COLLECTOR.z),
    )


def stub(k: int, inner: float, outer: float) -> Trim:
    """One tube of the merge, coped."""
    path = Centreline(slot_frame(k), (Straight(TRIM_AT / math.cos(MERGE) + OD),))
    return Trim(Tube(path, outer, inner), stub_planes(k))


@cache
def runner_path(cylinder: int) -> Centreline:
    """Port to slot with two corners."""
    x = PITCH * (cylinder - 1)
    start = Frame((x, 0.0, PLATE + BLEND))
    end = slot_frame(SLOT_OF[cylinder])
    out = {1: 160.0, 2: 100.0, 3: 100.0, 4: 160.0}[cylinder]
    back = 150.0
    corners = (start.point((0.0, 0.0, out)), sub(end.origin, scale(end.z, back)))
    return from_corners(start, corners, end.origin, (CLR, CLR))


def flange() -> tuple[Profile, tuple, tuple]:
    """Plate of plain outline with four windows and eight stud holes."""
    centres = [(PITCH * i, 0.0) for i in range(4)]
    windows = tuple(slot(48.3, 40.3, c) for c in centres)
    holes = tuple(
        circle((c[0] + dx, dy), 4.5) for c in centres for dx, dy in ((-32.0, 34.0), (32.0, -34.0))
    )
    low, high, edge = -50.0, 3 * PITCH + 50.0, 46.0
    outer = (
        Line((low + 10, -edge), (high - 10, -edge)),
        Arc((high - 10, -edge + 10), 10.0, -math.pi / 2, math.pi / 2),
        Line((high, -edge + 10), (high, edge - 10)),
        Arc((high - 10, edge - 10), 10.0, 0.0, math.pi / 2),
        Line((high - 10, edge), (low + 10, edge)),
        Arc((low + 10, edge - 10), 10.0, math.pi / 2, math.pi / 2),
        Line((low, edge - 10), (low, -edge + 10)),
        Arc((low + 10, -edge + 10), 10.0, math.pi, math.pi / 2),
    )
    return Profile(outer, windows + holes), windows, holes


def filled(kind, **known):
    """A record with the fields that solids and files read; the others are None."""
    return kind(**{field.name: known.get(field.name) for field in fields(kind)})


def port_frame(cylinder: int) -> Frame:
    return Frame((PITCH * (cylinder - 1), 0.0, 0.0))


def gas_bores(cylinder: int) -> list[Node]:
    """Bores of one runner: transition, runner, stub."""
    return [
        Placed(blend(0.0, hollow=False), port_frame(cylinder)),
        Tube(runner_path(cylinder), ID / 2),
        stub(SLOT_OF[cylinder], 0.0, ID / 2),
    ]


def outlet(inner: float, outer: float) -> Tube:
    return Tube(Centreline(COLLECTOR.moved(TRIM_AT + LOFT), (Straight(TAIL),)), outer, inner)


def gas_nodes() -> list[Node]:
    nodes = [node for cylinder in (1, 2, 3, 4) for node in gas_bores(cylinder)]
    return [*nodes, loft(hollow=False), outlet(0.0, OUTLET_OD / 2 - WALL)]


@cache
def sample_design() -> Design:
    """The whole thing as a design."""
    profile, windows, _ = flange()
    four = (1, 2, 3, 4)
    runners = tuple(
        filled(
            Runner,
            cylinder=c,
            slot=SLOT_OF[c],
            outer_radius=OD / 2,
            inner_radius=ID / 2,
            material="304",
            path=runner_path(c),
            transition=filled(
                Transition,
                entry=port_frame(c),
                plate=PLATE,
                set_back=SET_BACK,
                length=BLEND,
                exit=runner_path(c).start,
            ),
            target=runner_path(c).length + PLATE + BLEND,
            account=LengthAccount(PLATE, BLEND, runner_path(c).length, 0.0),
            to_ends=(("entry", runner_path(c).length + PLATE + BLEND),),
            sections=(),
            holes=(),
        )
        for c in four
    )
    assembly = Group(
        "sample_header",
        (
            Part("head_flange", Prism(Frame(), profile, PLATE), STEEL),
            Group(
                "runners",
                tuple(
                    Group(
                        f"runner_{c}",
                        (
                            Part(
                                f"transition_{c}",
                                Placed(blend(SET_BACK, hollow=True), port_frame(c)),
                                TUBE,
                            ),
                            Part(f"tube_{c}", Tube(runner_path(c), OD / 2, ID / 2), TUBE),
                        ),
                    )
                    for c in four
                ),
            ),
            Group(
                "collector",
                (
                    *(
                        Part(f"stub_{k + 1}", stub(k, ID / 2, OD / 2), MERGE_COLOUR)
                        for k in range(4)
                    ),
                    Part("loft", loft(hollow=True), MERGE_COLOUR),
                    Part("outlet", outlet(OUTLET_OD / 2 - WALL, OUTLET_OD / 2), TUBE),
                ),
            ),
        ),
    )
    end = outlet(0.0, 1.0).centreline.end
    faces = (
        *(NamedFace(f"inlet_{c}", port_frame(c).origin, (0.0, 0.0, -1.0)) for c in four),
        NamedFace("outlet", end.origin, end.z),
    )
    return filled(
        Design,
        name="sample-header",
        revision="A",
        title="Sample header",
        flats=(
            filled(
                FlatPart,
                name="head_flange",
                title="Head flange",
                material="304",
                thickness=PLATE,
                process="laser",
                quantity=1,
                frame=Frame(),
                profile=profile,
                drilled=profile,
                windows=windows,
                holes=(),
                centre_marks=(),
                reference=(),
            ),
        ),
        ports=tuple(Port(c, port_frame(c), slot(45.0, 37.0), "oval") for c in four),
        studs=(),
        runners=runners,
        assembly=assembly,
        gases=(Part("sample_header_gas", Fuse(tuple(gas_nodes())), GAS, faces),),
        limits=Limits(()),
        stock=(Stock("CLR 67.5", CLR, math.pi),),
        secondaries=(),
    )
