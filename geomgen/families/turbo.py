"""Manifold to a turbine: equal primaries, one merge a scroll, a transition to the inlet."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import product
from typing import Annotated, Literal

from pydantic import Field

from geomgen.families import (
    AreaAt,
    Asked,
    DoesNotFit,
    Envelope,
    Layout,
    Piece,
    Scroll,
    TubeSize,
)
from geomgen.families._inlet_pipe import Pipe, pipe_path, pipe_size
from geomgen.families._merging import Merged, MergeSize, merge
from geomgen.families._mounted import Branch
from geomgen.families._nozzle import Nozzle, nozzle
from geomgen.families._turbine import KEY, Turbine, bolted, envelopes, facts, flange
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.distance import Span as Stretch
from geomgen.geometry.distance import between, between_straights
from geomgen.geometry.frames import Frame, Vec, scale, sub, unit
from geomgen.plates import Plate
from geomgen.profiles.loops import Loop, bounding_box
from geomgen.recipe.nodes import NamedFace, Tube
from geomgen.recipe.volumes import bore_volume
from geomgen.targets.grouping import Groups, best_groups
from geomgen.units import Angle, Number, Quantity, Size, Span, StrictModel

KIND = "turbo"

_BESIDE = 3.0
"""Between the pipes of two scrolls where they leave the inlet: room for the weld [mm]."""

_LETTERS = ("a", "b")


class Blend(StrictModel):
    """The transition from the round pipe to the inlet's window."""

    length: Size = 60.0
    """From the flange's back to the round end, along the flange's axis."""


class Valves(StrictModel):
    """One cylinder's exhaust valves, for the rule on the runners' area."""

    count: Annotated[int, Field(strict=True, ge=1, le=4)] = 1
    """How many."""
    diameter: Size
    """Of a valve's head."""
    lift: Size
    """Full lift."""


_Group = Annotated[
    tuple[Annotated[int, Field(strict=True, ge=1, le=64)], ...], Field(min_length=1, max_length=16)
]


class Spec(StrictModel):
    """Equal-length manifold to a turbine, with a single or a divided inlet."""

    family: Literal["turbo"]
    """A manifold to a turbine: all runners to a single inlet, or, where the inlet's flange has
    a divider, one merge to each half, and two gas volumes that share none."""
    turbine: Turbine
    """The turbine, in its own frame."""
    groups: Annotated[tuple[_Group, ...], Field(min_length=2, max_length=2)] | None = None
    """Of a divided inlet: cylinders of each scroll, the flange's left or upper half first (at
    roll 0, as one looks at the inlet). Without it those whose firings lie farthest apart."""
    merge_angle: Annotated[float, Field(gt=0, lt=60), Quantity("angle")] = 10.0
    """From a tube's axis to its merge's axis; the included angle is twice that."""
    roll: Angle = 0.0
    """Clocking of the merge about its axis, clockwise looking the way the gas goes; at 0 two
    tubes are uppermost, or, of a divided inlet, two are farthest from the other scroll. The
    second scroll's goes the other way round."""
    entry_gap: Span = 2.0
    """Between neighbouring tubes at a merge's entry face."""
    throat: Size | None = None
    """Diameter of a circle with the bore area wanted at the merge's trim plane; the pipe's bore
    when not given."""
    pipe: Pipe
    """Between merge and inlet."""
    transition: Blend = Blend.model_construct(length=60.0)
    """From the pipe to the inlet's window."""
    valves: Valves | None = None
    """Of one cylinder; then the runners' bore is held against the valves' area."""
    port_volume: Annotated[Number, Field(ge=0)] | None = None
    """Gas in one cylinder's port, valve to gasket face [cc]; the port's area at the face times
    ``engine.valve_to_face`` without it."""


@dataclass(frozen=True)
class _Limb:
    """One scroll's pipes: its merge, its pipe, its transition, and the slots it begins at."""

    name: str
    slots: tuple[int, ...]
    merged: Merged
    pipe: Centreline
    nozzle: Nozzle


def lay_out(spec: Spec, asked: Asked) -> Layout:
    """Lay out everything from the merges' slots to the flange's face.

    Args:
        spec: what was said [mm, deg].
        asked: what it is laid out for.

    Raises:
        DoesNotFit: the numbers leave no manifold.
    """
    plate = flange(spec.turbine, asked.up)
    groups = _groups(spec, asked, len(plate.windows))
    size = pipe_size(spec.pipe)
    limbs: list[_Limb] = []
    for group, window in zip(groups, plate.windows, strict=True):
        limbs.append(_limb(spec, asked, plate, window, len(group), limbs))
    _hold_apart(spec, limbs, size)
    return _layout(spec, asked, plate, groups, limbs, size)


def _groups(spec: Spec, asked: Asked, windows: int) -> Groups:
    """Cylinders of each scroll, in the order of the flange's windows."""
    cylinders, least = tuple(sorted(asked.cylinders)), 2 * windows
    if asked.count < least:
        raise DoesNotFit(
            ("collector", "family"),
            f"{asked.count} tubes to {'a divided' if windows == 2 else 'an'} inlet",
            f"{least} tubes or more: two for every merge",
            "choose another family, or an inlet without a divider",
        )
    if windows == 1:
        if spec.groups is not None:
            raise DoesNotFit(
                ("collector", "groups"),
                "groups for an inlet that is not divided",
                "groups beside turbine.inlet.divider",
                "take groups out, or add the divider's width",
            )
        return (cylinders,)
    if spec.groups is None:
        few = asked.count // 2
        return best_groups(asked.firing_order, (asked.count - few, few), cylinders)
    said = tuple(tuple(sorted(group)) for group in spec.groups)
    if tuple(sorted(c for group in said for c in group)) != cylinders or min(map(len, said)) < 2:
        raise DoesNotFit(
            ("collector", "groups"),
            " and ".join(str(list(group)) for group in spec.groups),
            f"every cylinder of {list(cylinders)} in one group, two or more in each",
            "write it as [[1, 4], [2, 3]]",
        )
    return said


def _limb(
    spec: Spec, asked: Asked, plate: Plate, window: Loop, count: int, before: list[_Limb]
) -> _Limb:
    size = pipe_size(spec.pipe)
    wall = size.outer_radius - size.inner_radius
    divided = len(plate.windows) == 2
    centre = (0.0, 0.0)
    outward: Vec | None = None
    if divided:
        _hold_bar(spec, wall)
        box = bounding_box(window)
        middle = (0.5 * (box.left + box.right), 0.5 * (box.bottom + box.top))
        away = math.hypot(*middle)
        beside = max(1.0, (size.outer_radius + _BESIDE / 2.0) / away)
        centre = (middle[0] * beside, middle[1] * beside)
        outward = unit(plate.frame.vector((*middle, 0.0)))
    blend = nozzle(plate.frame, plate.thickness, window, centre, size, spec.transition.length)
    pipe = pipe_path(spec.pipe, blend.entry, outward)
    made = MergeSize(
        math.radians(spec.merge_angle),
        spec.entry_gap,
        size,
        spec.throat,
        outlet_key=("pipe", "od"),
    )
    # What the merge takes along its axis does not depend on where it stands.
    depth = merge(Frame(), made, asked.tube, count).exit.origin[2]
    start = pipe.start.moved(-depth)
    first = sum(len(limb.slots) for limb in before)
    roll = math.radians(spec.roll) * (-1.0 if before else 1.0) + math.pi / count
    hint = asked.up if outward is None else outward
    home = Frame.facing(start.origin, start.z, hint).rolled(roll)
    return _Limb(
        _LETTERS[len(before)] if divided else "",
        tuple(range(first, first + count)),
        merge(home, made, asked.tube, count),
        pipe,
        blend,
    )


def _hold_bar(spec: Spec, wall: float) -> None:
    """Both transitions stand on the flange's back beside the bar, which the walls may not fill."""
    bar = spec.turbine.divider or 0.0
    if bar <= 2.0 * wall:
        raise DoesNotFit(
            (*KEY, "inlet", "divider"),
            f"a bar of {bar:g} mm between two transitions of {wall:g} mm wall",
            f"more than both walls, {2.0 * wall:g} mm",
            "a wider bar, or a thinner pipe",
        )


def _hold_apart(spec: Spec, limbs: list[_Limb], size: TubeSize) -> None:
    """The pipes and merges of two scrolls share no room."""
    if len(limbs) < 2:
        return
    bars = [
        (*limb.merged.envelopes, Envelope("pipe", None, limb.pipe, size.outer_radius))
        for limb in limbs
    ]
    for one, other in product(*bars):
        lacks = one.radius + other.radius - _apart(one.path, other.path)
        if lacks > 0.0:
            raise DoesNotFit(
                ("collector", "pipe", "bend"),
                f"{one.name} of scroll a, {lacks:.1f} mm into {other.name} of scroll b",
                "merges that stand clear of each other",
                f"more splay than {spec.pipe.bend.splay if spec.pipe.bend else 0.0:g} deg, "
                "a longer pipe, or another roll",
            )


def _apart(one: Centreline, other: Centreline) -> float:
    """Least distance of two axes [mm]: exact for straights, else a bound within 0.5 mm."""
    if one.bends or other.bends:
        return between(Stretch.whole(one), Stretch.whole(other), 0.5, 24.0).lower
    return between_straights(
        (one.start.origin, one.end.origin), (other.start.origin, other.end.origin)
    )


def _layout(
    spec: Spec,
    asked: Asked,
    plate: Plate,
    groups: Groups,
    limbs: list[_Limb],
    size: TubeSize,
) -> Layout:
    first = limbs[0]
    mouth = Frame(
        plate.frame.point((*first.nozzle.mouth, 0.0)), plate.frame.x, scale(plate.frame.z, -1.0)
    )
    scrolls = tuple(_scroll(plate, limb, size) for limb in limbs)
    return Layout(
        frame=first.merged.home,
        slots=tuple(slot for limb in limbs for slot in limb.merged.slots),
        ends=tuple(limb.merged.ends for limb in limbs for _ in limb.slots),
        pieces=tuple(piece for limb in limbs for piece in _pieces(limb, size)),
        scrolls=scrolls,
        envelopes=tuple(bar for limb in limbs for bar in _envelopes(limb, size)),
        areas=_areas(first),
        outlet=mouth,
        facts=(
            *first.merged.facts,
            *_facts(spec, asked, plate, limbs, scrolls),
            *facts(spec.turbine, asked.up),
        ),
        rings=tuple(limb.slots for limb in limbs) if len(limbs) > 1 else (),
        takes=tuple(
            (cylinder, limb.slots)
            for group, limb in zip(groups, limbs, strict=True)
            for cylinder in group
        )
        if len(limbs) > 1
        else (),
        plates=(plate,),
        bolted=(replace(bolted(spec.turbine, plate), welded=_within(plate, limbs, size)),),
        kept=envelopes(spec.turbine, asked.up),
        branches=tuple(_branch(limb, limbs, size) for limb in limbs),
    )


def _within(plate: Plate, limbs: list[_Limb], size: TubeSize) -> tuple[str, ...]:
    """Transitions that stay within the flange's edge all along."""
    inside = plate.ring is not None and size.outer_radius < bounding_box(plate.outer).right
    return tuple(_suffixed("inlet", limb) for limb in limbs) if inside else ()


def _suffixed(name: str, limb: _Limb) -> str:
    return f"{name}_{limb.name}" if limb.name else name


def _pieces(limb: _Limb, size: TubeSize) -> tuple[Piece, ...]:
    pipe = Tube(limb.pipe, size.outer_radius, size.inner_radius)
    return (
        *limb.merged.pieces(limb.slots[0], _suffixed("cone", limb)),
        Piece(_suffixed("pipe", limb), None, pipe),
        Piece(_suffixed("inlet", limb), None, limb.nozzle.metal),
    )


def _scroll(plate: Plate, limb: _Limb, size: TubeSize) -> Scroll:
    outlet = NamedFace(
        _suffixed("OUTLET", limb).upper(),
        plate.frame.point((*limb.nozzle.mouth, 0.0)),
        scale(plate.frame.z, -1.0),
    )
    gas = (*limb.merged.gas, Tube(limb.pipe, size.inner_radius), limb.nozzle.bore)
    return Scroll(limb.name, limb.slots, gas, (outlet,))


def _envelopes(limb: _Limb, size: TubeSize) -> tuple[Envelope, ...]:
    """Of one scroll; its own tubes alone may come near behind their last bends."""
    bars = (
        *limb.merged.envelopes,
        Envelope("pipe", None, limb.pipe, size.outer_radius),
        *(Envelope("inlet", None, path, radius) for path, radius in limb.nozzle.bars),
    )
    return tuple(
        replace(bar, name=_suffixed(bar.name, limb), takes=limb.slots)
        if bar.slot is None
        else replace(bar, slot=limb.slots[0] + bar.slot)
        for bar in bars
    )


def _areas(limb: _Limb) -> tuple[AreaAt, ...]:
    rows, at = list(limb.merged.stations), limb.merged.length + limb.pipe.length
    rows.append(AreaAt(at, limb.nozzle.stations[0][1], "pipe"))
    rows += [AreaAt(at + s, found, "inlet") for s, found in limb.nozzle.stations[1:-1]]
    last = limb.nozzle.stations[-1]
    return (*rows, AreaAt(at + last[0], last[1], "outlet end"))


def _branch(limb: _Limb, limbs: list[_Limb], size: TubeSize) -> Branch:
    other = next((one for one in limbs if one is not limb), None)
    toward = None
    if other is not None:
        toward = unit(sub(other.nozzle.entry.origin, limb.nozzle.entry.origin))
    return Branch(
        _suffixed("pipe", limb),
        limb.name,
        limb.pipe,
        size.outer_radius,
        size.inner_radius,
        limb.slots,
        toward,
    )


def _facts(
    spec: Spec, asked: Asked, plate: Plate, limbs: list[_Limb], scrolls: tuple[Scroll, ...]
) -> tuple[tuple[str, float], ...]:
    first = limbs[0].nozzle
    found = [
        ("pipe_bend_deg", math.degrees(limbs[0].pipe.total_angle)),
        ("inlet_wall_angle_deg", math.degrees(max(limb.nozzle.wall_angle for limb in limbs))),
        ("inlet_area_dip_percent", 100.0 * max(limb.nozzle.dip for limb in limbs)),
        ("inlet_area_mm2", first.stations[-1][1]),
    ]
    what = "flange" if plate.ring is None else "ring"
    found += [(f"{what}_thickness_mm", plate.thickness), (f"{what}_facing_mm", plate.facing)]
    for limb, scroll in zip(limbs, scrolls, strict=True):
        way = limb.merged.length + limb.pipe.length + limb.nozzle.length
        found.append((f"{_suffixed('slot_to_turbine', limb)}_mm", way))
        cc = math.fsum(bore_volume(node) for node in scroll.gas) / 1000.0
        found.append((f"{_suffixed('collector', limb)}_volume_cc", cc))
    if len(limbs) > 1:
        found.append(("divider_mm", spec.turbine.divider or 0.0))
    if spec.valves is not None:
        one = math.pi * spec.valves.diameter * spec.valves.lift
        bore = math.pi * asked.tube.inner_radius**2
        found.append(("valve_area_mm2", spec.valves.count * one))
        found.append(("runner_over_valve_area", bore / (spec.valves.count * one)))
    if spec.port_volume is not None:
        found.append(("port_volume_cc", spec.port_volume))
    return tuple(found)
