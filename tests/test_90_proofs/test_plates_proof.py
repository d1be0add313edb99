"""Every kind of plate: its DXF is proven, loose or not, and it shares no metal with its tube."""

import math
from dataclasses import replace
from types import SimpleNamespace

import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common

from geomgen.design.cutting import Cutter
from geomgen.design.flat_model import PLAIN
from geomgen.design.flats import flat_part
from geomgen.errors import Verdict
from geomgen.exports.dxf import export
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame
from geomgen.plates import (
    Pipe,
    blanking,
    collector,
    gasket,
    rectangular,
    test,
    vband,
    wastegate,
)
from geomgen.plates import round as round_plate
from geomgen.profiles.loops import Profile, profile_area
from geomgen.proofs.dxf import prove
from geomgen.recipe.nodes import Group, Part, Prism, Tube
from geomgen.solids.build import build
from geomgen.solids.measure import volume
from geomgen.spec.limits import Limits

LIMITS = Limits().model_dump()
SHEET = {"thickness": 10, "material": "304"}
M8, M10 = {"thread": "M8"}, {"thread": "M10"}


def flange(**said):
    bolts = {"count": 3, "circle": 98, **M10}
    spec = {"kind": "round", "name": "tail", "at": "outlet", "bolts": bolts, **SHEET, **said}
    return round_plate.plate(round_plate.Spec(**spec), Frame(), Pipe(63.5, 60.5))


def inlet():
    spec = rectangular.Spec(
        kind="rectangular",
        name="inlet",
        bolts={"pitch": [104, 66], **M10},
        width=76,
        height=52,
        corner=8,
        divider=6,
        roll=20,
        **SHEET,
    )
    return rectangular.plate(spec, Frame())


def others():
    return (
        flange(name="half", divider=6, divider_turn=15, od=136, window="butt", roll=-12),
        flange(name="waisted", bolts={"count": 2, "circle": 104, "phase": 90, **M8}, waist=30),
        vband.plate(vband.Spec(kind="vband", name="ring", od=90, bore=60, **SHEET), Frame()),
        wastegate.plate(
            wastegate.Spec(
                kind="wastegate",
                name="gate",
                seat=38,
                bolts={"places": [[28, 24], [-28, 24], [0, -38]], "hole": "tapped", **M8},
                **SHEET,
            ),
            Frame(),
        ),
        collector.plate(
            collector.Spec(
                kind="collector", name="row", tube=45, count=3, array="in-line", pitch=60, **SHEET
            ),
            Frame(),
        ),
    )


def made_for(of):
    said = {"of": of.name, "thickness": 6, "material": "mild"}
    return (
        blanking.plate(blanking.Spec(kind="blanking", name="blank", **said), of),
        test.plate(test.Spec(kind="test", name="air", air={"diameter": 12}, **said), of),
        gasket.plate(gasket.Spec(kind="gasket", name="seal", **said), of),
    )


def cut(plate, process="laser"):
    holds = Cutter.of(LIMITS.__getitem__, process)
    return flat_part(plate, text="WREN-12 B", process=process, cutter=holds)


def around(*flats):
    standing = tuple(
        Part(part.name, Prism(part.frame, part.drilled, part.thickness), (0.5, 0.5, 0.5))
        for part in flats
        if not part.loose
    )
    return SimpleNamespace(
        name="wren-12",
        revision="B",
        title="",
        flats=flats,
        files=PLAIN,
        limits=LIMITS,
        assembly=Group("wren_12", standing),
    )


def test_the_proof_passes_on_every_kind():
    parts = [cut(plate) for plate in (flange(), inlet(), *others(), *made_for(inlet()))]
    parts.append(cut(flange(name="burnt", thickness=12), "plasma"))
    assert {part.loose for part in parts} == {True, False}
    design = around(*parts)
    found = prove(design, export(design))
    assert {f.verdict for f in found} == {Verdict.PASS}
    areas = {f.subject for f in found if f.name == "dxf-area"}
    assert areas == {part.name for part in parts}  # none was not run for want of a solid


def test_a_loose_part_is_held_against_a_solid_of_its_own():
    blank, _, _ = made_for(inlet())
    part = cut(blank)
    assert part.loose
    design = around(part)
    files = export(design)
    (good,) = (f for f in prove(design, files) if f.name == "dxf-area")
    assert good.verdict is Verdict.PASS
    solid = volume(build(Prism(part.frame, part.drilled, part.thickness)))
    assert solid == pytest.approx(profile_area(part.drilled) * part.thickness, rel=1e-9)
    # a solid with one hole less is not what the file cuts
    less = replace(part, drilled=Profile(part.drilled.outer, part.drilled.holes[1:]))
    (wrong,) = (f for f in prove(around(less), files) if f.name == "dxf-area")
    assert wrong.verdict is Verdict.FAIL


@pytest.mark.parametrize("style", ["socket", "butt"])
def test_flange_and_tail_share_no_metal(style):
    """By the kernel: in the socket there is the fit all round, on the face they touch."""
    plate = flange(window=style)
    back = 2.0 if style == "socket" else 10.0
    end = Frame((5.0, -3.0, 7.0), (0.0, 1.0, 0.0), (1.0, 0.0, 0.0))
    tail = Tube(Centreline(end, (Straight(60.0),)), 63.5 / 2, 60.5 / 2)
    over = Frame(end.moved(60.0 + back).origin, (0.0, 1.0, 0.0), (-1.0, 0.0, 0.0))
    part = cut(plate)
    metal = Prism(over, part.drilled, part.thickness)
    shared = BRepAlgoAPI_Common(build(tail), build(metal))
    assert volume(shared.Shape()) < 1e-6
    # what the tube fills of the plate, were there no window: the ring that is in it
    disc = Prism(over, Profile(part.drilled.outer), part.thickness)
    filled = volume(BRepAlgoAPI_Common(build(tail), build(disc)).Shape())
    depth = 10.0 - back
    assert filled == pytest.approx(math.pi / 4 * (63.5**2 - 60.5**2) * depth, abs=1e-6)
