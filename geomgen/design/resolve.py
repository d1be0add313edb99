"""A spec resolved into a frozen design: targets, collector, routes, parts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from geomgen.design.assembly import assembly, gas_volume
from geomgen.design.bends import stock_of
from geomgen.design.cutting import files_of
from geomgen.design.fixed import Fixed
from geomgen.design.laying import Laid, held, lay_out, task
from geomgen.design.model import (
    AreaStation,
    Collector,
    Design,
    LengthAccount,
    Runner,
    Waiver,
)
from geomgen.design.no_route import NoRoute
from geomgen.design.said_flange import growth_of
from geomgen.families import Layout
from geomgen.geometry.centreline import Centreline
from geomgen.geometry.frames import unit
from geomgen.geometry.solid_field import Solid
from geomgen.registry import home
from geomgen.routing.problem import Problem
from geomgen.routing.score import follows_firing_order, layout_score
from geomgen.routing.solve import Progress, quiet
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
) -> Resolved:
    """Decide everything that a spec leaves open.

    Args:
        spec: what was said.
        lock: text of the lock beside it, if there is one; used while its inputs hold.
        files: bytes of the obstacle files that the spec names.
        progress: told how routing goes.
        solids: the same, measured, by file; those that are not are named in the design.

    Raises:
        SpecError: the spec asks for what cannot be laid out.
        NoRoute: no set of runners was found.
        Unseen: runners must be laid out, and a solid has not been measured.
    """
    asked = task(spec, lock, files, solids)
    laid = held(asked, lock)
    solved = laid is None
    return resolved(laid or lay_out(asked, progress), solved)


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
    paths, slots, asked = laid.paths, laid.lock.slots, laid.task
    stub = dict(fixed.layout.stub)
    runners = tuple(
        _runner(spec, fixed, i, path, slot, stub)
        for i, (path, slot) in enumerate(zip(paths, slots, strict=True))
    )
    by_slot = tuple(runner.cylinder for runner in sorted(runners, key=lambda runner: runner.slot))
    in_order = follows_firing_order(slots, tuple(edge.order for edge in problem.edges))
    part_name = spec.name.replace("-", "_")
    flats = (*fixed.flanges, *fixed.plates.flats)
    return Design(
        name=spec.name,
        revision=spec.revision,
        title=spec.title or spec.name,
        firing_order=spec.engine.firing_order,
        vertical=unit(spec.vertical),
        flats=flats,
        ports=fixed.ports,
        studs=fixed.studs,
        runners=runners,
        collector=_collector(spec, fixed.layout, by_slot, in_order),
        assembly=assembly(part_name, flats, runners, fixed.layout, by_slot),
        gas=gas_volume(part_name, runners, fixed.layout),
        problem=problem,
        score=layout_score(paths, in_order),
        obstacles=tuple((said.name, said.kind) for said in spec.obstacles),
        tolerance=spec.runners.tolerance,
        tuning=fixed.tuning,
        stock=stock_of(spec),
        limits=fixed.limits,
        waivers=tuple(Waiver(w.check, w.subject, w.reason) for w in spec.waive),
        tools=spec.tools,
        shortest=laid.lock.length,
        unseen=asked.unseen,
        files=files_of(spec.files),
        growth=growth_of(spec, fixed.limits),
    )


def _runner(
    spec: HeaderSpec,
    fixed: Fixed,
    index: int,
    path: Centreline,
    slot: int,
    stub: dict[str, float],
) -> Runner:
    bend = fixed.transitions[index]
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


def _collector(
    spec: HeaderSpec, layout: Layout, cylinders: tuple[int, ...], in_order: bool
) -> Collector:
    return Collector(
        family=home(spec.collector).KIND,
        frame=layout.frame,
        cylinders=cylinders,
        in_order=in_order,
        stub=layout.stub,
        envelopes=tuple(
            (e.name if e.slot is None else f"{e.name} {cylinders[e.slot]}", e.path, e.radius)
            for e in layout.envelopes
        ),
        areas=tuple(AreaStation(a.station, a.area, a.what) for a in layout.areas),
        outlet=layout.outlet,
        facts=layout.facts,
    )
