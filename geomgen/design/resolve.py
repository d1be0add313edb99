"""A spec resolved into a frozen design: targets, collector, routes, parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from geomgen.design.amounts import come_to
from geomgen.design.assembly import assembly, cast_whole, gas_volumes
from geomgen.design.attached_runners import on_laid, sectioned, summed_up
from geomgen.design.attaching import tube_sizes
from geomgen.design.bends import stock_of
from geomgen.design.cutting import files_of
from geomgen.design.engine_rows import EngineRows
from geomgen.design.fixed import Fixed
from geomgen.design.groundwork import flats_of, groups_of
from geomgen.design.hanging import bolted_flanges
from geomgen.design.heads import titled
from geomgen.design.laying import Ahead, Laid, held, lay_out, nothing, task
from geomgen.design.mating import mated
from geomgen.design.model import (
    AreaStation,
    Collector,
    Design,
    LengthAccount,
    Runner,
    Secondary,
    Waiver,
)
from geomgen.design.no_route import NoRoute
from geomgen.design.said_flange import growth_of
from geomgen.design.turbine_gas import gas_facts
from geomgen.families import Layout, Link
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import unit
from geomgen.geometry.solid_field import Solid
from geomgen.registry import home
from geomgen.routing.assignments import in_order
from geomgen.routing.problem import Problem
from geomgen.routing.score import layout_score
from geomgen.routing.solve import Progress, quiet
from geomgen.routing.stations import price
from geomgen.spec.header import HeaderSpec

__all__ = ["NoRoute", "Resolved", "resolve", "resolved"]


@dataclass(frozen=True)
class Resolved:
    """A design, the lock that holds its routes, and whether it had to be solved anew."""

    design: Design
    lock: str
    solved: bool


def resolve(
    spec: HeaderSpec,
    lock: str | None = None,
    files: Mapping[str, bytes] | None = None,
    progress: Progress = quiet,
    solids: Mapping[str, Solid] | None = None,
    ahead: Ahead = nothing,
) -> Resolved:
    """Decide everything that a spec leaves open.

    Args:
        spec: what was said.
        lock: text of the lock beside it, if there is one; used while its inputs hold.
        files: bytes of the obstacle files that the spec names.
        progress: told how routing goes.
        solids: the same, measured, by file; those that are not are named in the design.
        ahead: told what is asked before the router looks for runners.

    Raises:
        SpecError: the spec asks for what cannot be laid out.
        NoRoute: no set of runners was found.
        Unseen: runners must be laid out, and a solid has not been measured.
    """
    asked = task(spec, lock, files, solids)
    laid = held(asked, lock)
    solved = laid is None
    return resolved(laid or lay_out(asked, progress, ahead), solved)


def resolved(laid: Laid, solved: bool) -> Resolved:
    """The design of runners that are laid out."""
    asked = laid.task
    design = _design(asked.spec, asked.fixed, asked.problem, laid)
    return Resolved(design, laid.text, solved)


def _design(
    spec: HeaderSpec,
    fixed: Fixed,
    problem: Problem,
    laid: Laid,
) -> Design:
    layout, count = fixed.layout, len(fixed.ports)
    tubes = tuple(zip(laid.paths, laid.lock.slots, strict=True))
    runners = tuple(_runner(spec, fixed, i, *tube) for i, tube in enumerate(tubes[:count]))
    inside = layout.inside
    runners = tuple(replace(r, sections=sectioned(spec, r, fixed.tube, inside)) for r in runners)
    runners, parts, fitted, amounts = on_laid(spec, fixed.asked, layout, runners)
    fixed = replace(fixed, layout=replace(layout, amounts=amounts))
    feeds = _feeds(layout, runners, laid.lock.slots[count:])
    secondaries = tuple(
        _secondary(spec, layout, link, feeds, *tube)
        for link, tube in zip(layout.links, tubes[count:], strict=True)
    )
    ordered = in_order(problem, laid.lock.slots)
    part_name = spec.name.replace("-", "_")
    flats = flats_of(fixed)
    # A casting's flange is part of it: it stands in the assembly, and nothing cuts it.
    cut = fixed.flanges if layout.casting else flats
    whole = assembly(part_name, cut, runners, secondaries, layout, feeds, parts)
    return Design(
        name=spec.name,
        revision=spec.revision,
        title=titled(spec),
        firing_order=spec.engine.firing_order,
        vertical=unit(spec.vertical),
        flats=flats,
        ports=fixed.ports,
        studs=fixed.studs,
        runners=runners,
        collector=_collector(spec, layout, runners, feeds, ordered, come_to(spec, fixed)),
        assembly=cast_whole(whole, flats) if layout.casting else whole,
        gases=gas_volumes(part_name, runners, secondaries, layout),
        problem=problem,
        score=layout_score(laid.paths, ordered, price(problem, laid.paths)),
        obstacles=(
            *((said.name, said.kind) for said in spec.obstacles),
            *((part.name, part.kind) for part in layout.kept),
        ),
        tolerance=spec.runners.tolerance,
        tuning=fixed.tuning,
        stock=stock_of(spec, (*_sizes(fixed), *tube_sizes(spec))) if layout.casting is None else (),
        limits=fixed.limits,
        waivers=tuple(Waiver(w.check, w.subject, w.reason) for w in spec.waive),
        tools=spec.tools,
        shortest=laid.lock.length,
        unseen=laid.task.unseen,
        heads=tuple(head.place for head in fixed.heads),
        secondaries=secondaries,
        files=files_of(spec.files),
        growth=growth_of(spec, fixed.limits),
        bolted=bolted_flanges(layout),
        hung=tuple(part.name for part in layout.kept),
        attachments=summed_up((*layout.fitted, *fitted), layout, feeds),
        engine=EngineRows.of(spec),
        mated=mated(layout, fixed.plates.standing),
    )


def _sizes(fixed: Fixed) -> tuple[float, ...]:
    """Outside diameters of all tubes that are laid out [mm]."""
    tubes = (fixed.tube, *(link.tube for link in fixed.layout.links))
    return tuple(dict.fromkeys(2.0 * tube.outer_radius for tube in tubes))


def _runner(spec: HeaderSpec, fixed: Fixed, index: int, path: Centreline, slot: int) -> Runner:
    bend, stub = fixed.transitions[index], dict(fixed.layout.ends[slot])
    before = bend.plate + bend.along + path.length
    return Runner(
        cylinder=fixed.ports[index].cylinder,
        slot=slot,
        outer_radius=fixed.tube.outer_radius,
        inner_radius=fixed.tube.inner_radius,
        material=spec.runners.tube.material,
        path=path,
        transition=bend,
        target=fixed.targets[index],
        account=LengthAccount(bend.plate, bend.along, path.length, stub[spec.runners.length_to]),
        to_ends=tuple((name, before + length) for name, length in stub.items()),
    )


def _feeds(
    layout: Layout, runners: tuple[Runner, ...], ends: tuple[int, ...]
) -> tuple[tuple[int, ...], ...]:
    """Cylinders whose gas comes in at each slot.

    Args:
        layout: of the collector.
        runners: in their slots.
        ends: slot that each link ends in.
    """
    feeds: list[tuple[int, ...]] = [()] * len(layout.slots)
    for runner in runners:
        feeds[runner.slot] = (runner.cylinder,)
    for link, slot in zip(layout.links, ends, strict=True):
        feeds[slot] = tuple(sorted(c for fed in link.feeds for c in feeds[fed]))
    return tuple(feeds)


def _secondary(
    spec: HeaderSpec,
    layout: Layout,
    link: Link,
    feeds: tuple[tuple[int, ...], ...],
    path: Centreline,
    slot: int,
) -> Secondary:
    stub = dict(layout.ends[slot])
    before = link.before + path.length
    return Secondary(
        name=link.name,
        cylinders=feeds[slot],
        slot=slot,
        outer_radius=link.tube.outer_radius,
        inner_radius=link.tube.inner_radius,
        material=link.material,
        entry=link.start,
        path=path,
        target=link.length,
        account=LengthAccount(0.0, 0.0, path.length, stub[spec.runners.length_to], link.before),
        to_ends=tuple((name, before + length) for name, length in stub.items()),
    )


def _collector(
    spec: HeaderSpec,
    layout: Layout,
    runners: tuple[Runner, ...],
    feeds: tuple[tuple[int, ...], ...],
    ordered: bool,
    amounts: tuple[tuple[str, float], ...],
) -> Collector:
    by_slot = {runner.slot: runner.cylinder for runner in runners}
    return Collector(
        family=home(spec.collector).KIND,
        frame=layout.frame,
        cylinders=tuple(by_slot[slot] for slot in sorted(by_slot)),
        groups=groups_of(layout, tuple(runner.cylinder for runner in runners)),
        in_order=ordered,
        envelopes=tuple(
            (e.name if e.slot is None else f"{e.name} {_numbers(feeds[e.slot])}", e.path, e.radius)
            for e in layout.envelopes
        ),
        areas=tuple(AreaStation(a.station, a.area, a.what) for a in layout.areas),
        outlet=layout.outlet,
        facts=(*layout.facts, *amounts, *gas_facts(spec, layout, runners)),
        in_line=layout.in_line,
        casting=layout.casting.grade if layout.casting else "",
    )


def _numbers(cylinders: tuple[int, ...]) -> str:
    return "+".join(map(str, cylinders))
