"""Turbine manifolds as solids: closed, apart from one another, gas to the flange's face."""

from __future__ import annotations

import math
from itertools import combinations

import pytest
from OCP.BRepAlgoAPI import BRepAlgoAPI_Common
from turbos import HALVED, I4, I6, INLET, asked, spec

from geomgen.families import Layout
from geomgen.families.turbo import lay_out
from geomgen.profiles.loops import Profile, area
from geomgen.proofs.step_overlap import _apart, _beside, _Body, _common, _meet
from geomgen.recipe.nodes import Fuse, Prism
from geomgen.recipe.volumes import bore_volume
from geomgen.solids.build import build
from geomgen.solids.measure import solids_of, volume

ROUND = {
    "kind": "round",
    "thickness": 12,
    "facing": 2,
    "material": "304",
    "bolts": {"thread": "M8", "count": 4, "circle": 100, "phase": 45},
    "bore": 62,
}

CASES = {
    "single, 4-1, bent": (
        spec(pipe={"od": 60.3, "wall": 2.77, "bend": {"clr": 76.2, "gas": [1, 0.2, 0.1]}}),
        I4,
    ),
    "single, 3-1, round": (
        spec({"direction": [0.2, -1, 0.3]}, ROUND, pipe={"od": 54, "wall": 2}),
        (1, 3, 2),
    ),
    "single, 6-1": (spec(pipe={"od": 76.1, "wall": 2}, inlet={**INLET, "width": 72}), I6),
    "divided, two 3-1": (spec(inlet=HALVED), I6),
    "divided, round, two 2-1": (
        spec({"roll": 25}, {**ROUND, "bore": 72, "divider": 6, "corner": 4}),
        I4,
    ),
}


@pytest.fixture(scope="module", params=CASES.values(), ids=CASES)
def layout(request: pytest.FixtureRequest) -> Layout:
    said, order = request.param
    return lay_out(said, asked(order))


def test_every_piece_is_one_solid_and_none_share_volume(layout: Layout) -> None:
    (plate,) = layout.plates
    shapes = [build(piece.node) for piece in layout.pieces]
    profile = Profile(plate.outer, (*plate.windows,))
    shapes.append(build(Prism(plate.frame, profile, plate.thickness)))
    for shape in shapes:
        assert len(solids_of(shape)) == 1
        assert volume(shape) > 0.0
    bodies = [_Body(str(k), shape) for k, shape in enumerate(shapes)]
    for a, b in combinations(bodies, 2):
        if _meet(a.box, b.box) and not (_apart(a, b) or _apart(b, a) or _beside(a, b)):
            assert _common(a.shape, b.shape) < 1e-3


def test_gas_is_one_solid_a_scroll_that_ends_in_the_window(layout: Layout) -> None:
    shapes = [build(Fuse(scroll.gas)) for scroll in layout.scrolls]
    (plate,) = layout.plates
    for shape, scroll, window in zip(shapes, layout.scrolls, plate.windows, strict=True):
        assert len(solids_of(shape)) == 1
        wanted = math.fsum(bore_volume(node) for node in scroll.gas)
        assert volume(shape) == pytest.approx(wanted, rel=1e-3)
        # The window's bore alone, through the plate: its area times its thickness.
        through = BRepAlgoAPI_Common(
            shape, build(Prism(plate.frame, Profile(plate.outer), plate.thickness))
        ).Shape()
        assert volume(through) == pytest.approx(area(window) * plate.thickness, rel=1e-6)
    if len(shapes) == 2:
        assert solids_of(BRepAlgoAPI_Common(*shapes).Shape()) == []
