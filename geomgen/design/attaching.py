"""Putting what a spec attaches on the collector, before runners are routed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from types import ModuleType
from typing import Any, TypeVar

from geomgen.attachments import Attached, Bore, Host, HostPipe
from geomgen.attachments import steps as stepping
from geomgen.design.model import AttachedPart
from geomgen.errors import KeyPath, SpecError
from geomgen.errors import Problem as Complaint
from geomgen.families import (
    Amounts,
    AreaAt,
    Asked,
    DoesNotFit,
    Envelope,
    Layout,
    Piece,
    Scroll,
    TubeSize,
)
from geomgen.geometry.frames import distance
from geomgen.recipe.nodes import Cut, Fuse, NamedFace, Node, Tube
from geomgen.registry import home
from geomgen.routing.problem import Station
from geomgen.spec.header import HeaderSpec

_SAME = 1e-6

_NOBODYS = (-1,)
"""Slot of tubes that run into an attachment: no last straight is spared."""

Made = TypeVar("Made")


def attachments_of(spec: HeaderSpec) -> tuple[tuple[int, Any, ModuleType], ...]:
    """Number, spec and module of every attachment, in the order that they are put on in."""
    rows = ((i, said, home(said)) for i, said in enumerate(spec.attachments or ()))
    return tuple(sorted(rows, key=lambda row: (row[2].ORDER, row[0])))


def on_runners(said: Any) -> bool:
    """Whether it is put on runners that are laid out."""
    on = getattr(said, "on", "")
    return bool(on == "runners" or on.startswith("runner "))


def routed_by(spec: HeaderSpec) -> list[Any]:
    """What is said of attachments that runners have to know of, for the lock."""
    return [
        _steps_routed_by(spec, said)
        if module is stepping
        else said.model_dump(mode="json", by_alias=True)
        for _, said, module in attachments_of(spec)
        if module.ROUTED and not on_runners(said)
    ]


def _steps_routed_by(spec: HeaderSpec, said: stepping.Spec) -> dict[str, Any]:
    rows = said.model_dump(mode="json", by_alias=True, exclude={"within", "must"})
    usual = type(spec.limits).model_fields["step_moved"].default
    return rows if step_within(spec, said) == usual else rows | {"within": step_within(spec, said)}


def first_size(spec: HeaderSpec, tube: TubeSize) -> TubeSize:
    """Size of tube that the runners begin in: the first of their steps, or their own."""
    for i, said, module in attachments_of(spec):
        if module is stepping:
            return held(i, partial(stepping.first_size, said, tube))
    return tube


def stations_of(spec: HeaderSpec, before: float, inside: float) -> tuple[Station, ...]:
    """Where a runner's expanders are to stand.

    Args:
        spec: what was said.
        before: length from z = 0 to where its tube begins [mm].
        inside: what of its end is inside the collector [mm].
    """
    return tuple(
        Station(one.to - before, said.expander, step_within(spec, said), inside)
        for _, said, module in attachments_of(spec)
        if module is stepping
        for one in said.sizes
    )


def step_within(spec: HeaderSpec, said: stepping.Spec) -> float:
    """How far a step may stand from its place [mm]."""
    return spec.limits.step_moved if said.within is None else said.within


def tube_sizes(spec: HeaderSpec) -> tuple[float, ...]:
    """Outside diameters of steps [mm]."""
    return tuple(
        size.od
        for _, said, module in attachments_of(spec)
        if module is stepping
        for size in said.sizes
    )


def held(number: int, make: Callable[[], Made]) -> Made:
    """What is made, its refusals placed in the spec."""
    try:
        return make()
    except DoesNotFit as error:
        path: KeyPath = ("attachments", number, *error.key)
        raise SpecError((Complaint(path, error.found, error.allowed, error.remedy),)) from None


def with_attachments(spec: HeaderSpec, asked: Asked, layout: Layout) -> Layout:
    """The layout with everything on it that runners have to know of.

    Raises:
        SpecError: something does not fit.
    """
    rings: list[Envelope] = []
    for i, said, module in attachments_of(spec):
        if module is stepping:
            _hold_routed(i, layout)
        if module is stepping or on_runners(said):
            continue
        hold_possible(i, layout)
        host = Host(layout, pipes(layout), asked.up, asked.material, spec.limits.edge_factor)
        made: Attached = held(i, partial(module.on_collector, said, host))
        names_are_free(i, made, layout)
        layout, more = _with(layout, made, asked)
        rings += more
    return replace(layout, envelopes=(*layout.envelopes, *rings))


def hold_possible(number: int, layout: Layout) -> None:
    """Refuse an attachment on a casting."""
    if layout.casting is None:
        return
    raise SpecError(
        (
            Complaint(
                ("attachments", number),
                "an attachment on a casting",
                "none: bosses, brackets and flanges of a casting are cast with it",
                "take it out, or take collector.cast out",
            ),
        )
    )


def _hold_routed(number: int, layout: Layout) -> None:
    if layout.laid is None:
        return
    raise SpecError(
        (
            Complaint(
                ("attachments", number),
                "steps, and a family that lays the runners itself",
                "steps of runners that are routed",
                "take them out",
            ),
        )
    )


_OURS = re.compile(r"(tube|step|transition|stub|socket|secondary|head_flange)(_\d.*)?|.*_gas")
"""Names that parts of runners and flanges have, or may have."""


def names_are_free(
    number: int, made: Attached, layout: Layout, beside: Iterable[AttachedPart] = ()
) -> None:
    """Refuse names that other parts have."""
    taken = {piece.name for piece in layout.pieces} | {plate.name for plate in layout.plates}
    taken |= {part.name for part in beside}
    new = [piece.name for piece in made.pieces] + [on.plate.name for on in made.plates]
    new += [plate.name for plate in made.loose]
    for k, name in enumerate(new):
        if name in taken or name in new[:k] or _OURS.fullmatch(name):
            raise SpecError(
                (
                    Complaint(
                        ("attachments", number),
                        name,
                        "a name that no other part has",
                        "give it another name",
                    ),
                )
            )


def _with(layout: Layout, made: Attached, asked: Asked) -> tuple[Layout, list[Envelope]]:
    from geomgen.design.plating import rings

    pieces = tuple(
        _drilled(piece, [hole.tool for hole in made.holes if hole.part == piece.name])
        for piece in layout.pieces
    )
    scrolls = tuple(_bored(scroll, made) for scroll in layout.scrolls)
    # What runs from the plates' rings is no pipe that anything could stand on.
    plates = [
        replace(ring, takes=_NOBODYS) for on in made.plates for ring in rings(on.plate, on.radius)
    ]
    outlet, areas = layout.outlet, layout.areas
    if made.tail is not None:
        outlet = made.tail.paths[-1].end
        last = max(row.station for row in layout.areas)
        areas = (*areas, *(AreaAt(last + row.station, row.area, row.what) for row in made.areas))
    return (
        replace(
            layout,
            pieces=(*pieces, *made.pieces),
            scrolls=scrolls,
            envelopes=(
                *layout.envelopes,
                *(Envelope(b.name, None, b.path, b.radius, takes=_NOBODYS) for b in made.bars),
            ),
            plates=(*layout.plates, *(on.plate for on in made.plates), *made.loose),
            areas=areas,
            outlet=outlet,
            facts=(*layout.facts, *made.facts),
            fitted=(*layout.fitted, *made.fitted),
            amounts=with_added(layout, made, asked.material),
        ),
        plates,
    )


def with_added(
    layout: Layout, made: Attached, grade: str, on_runners: bool = False
) -> Amounts | None:
    """What all comes to, less the holes; None where the family has no closed form."""
    if layout.amounts is None:
        return None
    metal = dict(layout.amounts.metal)
    own = next((piece.material for piece in made.pieces if piece.material), grade)
    metal[own] = metal.get(own, 0.0) + made.added.metal
    of_part = {piece.name: piece.material for piece in layout.pieces}
    for hole in made.holes:
        host = grade if on_runners else of_part.get(hole.part) or grade
        metal[host] = metal.get(host, 0.0) - hole.volume
    return Amounts(
        tuple(metal.items()),
        layout.amounts.gas + made.added.gas,
        layout.amounts.wall + made.added.wall,
        layout.amounts.outside + made.added.outside,
    )


def _drilled(piece: Piece, tools: list[Node]) -> Piece:
    return replace(piece, node=Cut(piece.node, tuple(tools))) if tools else piece


def _bored(scroll: Scroll, made: Attached) -> Scroll:
    """A scroll's gas with the bores that are joined to it, and its ends."""
    own = [bore for bore in made.bores if bore.host.bore in scroll.gas]
    gas = tuple(_joined(node, own) for node in scroll.gas)
    outlets = (*scroll.outlets, *(bore.face for bore in own))
    if made.tail is not None:
        end = made.tail.paths[-1].end
        start = made.tail.paths[0].start.origin
        found = [face for face in outlets if distance(face.point, start) < _SAME]
        if found:
            gas = (*gas, *(Tube(path, made.tail.bore) for path in made.tail.paths))
            outlets = tuple(
                NamedFace(face.name, end.origin, end.z) if face in found else face
                for face in outlets
            )
    return replace(scroll, gas=gas, outlets=outlets)


def _joined(node: Node, bores: list[Bore]) -> Node:
    more = tuple(bore.node for bore in bores if bore.host.bore == node)
    return Fuse((node, *more)) if more else node


def pipes(layout: Layout) -> tuple[HostPipe, ...]:
    """Round pipes of a layout that something may stand on."""
    found = []
    branches = {branch.name: branch for branch in layout.branches}
    pieces = {piece.name: piece for piece in layout.pieces if piece.slot is None}
    attached = {fitted.name for fitted in layout.fitted}
    for bar in layout.envelopes:
        piece = pieces.get(bar.name)
        tube = _tube_in(piece.node) if piece is not None else None
        if bar.slot is not None or tube is None or bar.name in attached:
            continue
        if abs(tube.outer_radius - bar.radius) > _SAME or tube.inner_radius <= 0.0:
            continue
        scroll, bore = _bore_of(layout, tube)
        last = distance(bar.path.end.origin, layout.outlet.origin) < _SAME
        branch = branches.get(bar.name)
        slots: tuple[int, ...] = ()
        if branch is not None:
            slots = branch.slots
        elif scroll is not None and (last or bar.name == "outlet"):
            slots = scroll.slots
        found.append(
            HostPipe(
                name=bar.name,
                part=bar.name,
                path=bar.path,
                outer_radius=tube.outer_radius,
                inner_radius=tube.inner_radius,
                slots=slots,
                scroll=scroll.name if scroll is not None else "",
                toward=branch.toward if branch is not None else None,
                bore=bore,
                last=last,
            )
        )
    return tuple(found)


def _tube_in(node: Node) -> Tube | None:
    while isinstance(node, Cut):
        node = node.node
    return node if isinstance(node, Tube) else None


def _bore_of(layout: Layout, tube: Tube) -> tuple[Scroll | None, Node | None]:
    """The scroll whose gas a pipe holds, and its bore there."""
    for scroll in layout.scrolls:
        for node in scroll.gas:
            inner = node.nodes[0] if isinstance(node, Fuse) else node
            own = _tube_in(inner)
            if own is None or abs(own.outer_radius - tube.inner_radius) > _SAME:
                continue
            if own.centreline == tube.centreline:
                return scroll, node
    return None, None
