"""A spec resolved into a frozen design: targets, collector, routes, parts."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from geomgen.design import lock as locks
from geomgen.design.access import tool_places
from geomgen.design.assembly import assembly, gas_volume
from geomgen.design.flange import head_flange
from geomgen.design.heads import obstacles_of, one_head, ports_of, studs_of
from geomgen.design.model import (
    AreaStation,
    Collector,
    Design,
    FlatPart,
    LengthAccount,
    Limits,
    Port,
    Runner,
    Stock,
    Stud,
    Transition,
    Tuning,
    Waiver,
)
from geomgen.design.transitions import transition
from geomgen.design.tuning import tuning
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.families import DoesNotFit, Layout, TubeSize
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.fields import Box
from geomgen.geometry.frames import Frame, unit
from geomgen.profiles.loops import bounding_box
from geomgen.registry import home
from geomgen.routing.problem import (
    Body,
    Edge,
    Impossible,
    NotFound,
    Obstacle,
    Problem,
    Radius,
    Routed,
    Shelf,
)
from geomgen.routing.score import follows_firing_order, layout_score
from geomgen.routing.solve import Progress, quiet, route
from geomgen.spec.header import HeaderSpec

FLANGE_NAME = "head flange"
"""Name of the obstacle that stands for the plate and the head face beside it."""


class NoRoute(Exception):
    """The runners could not be laid out; ``answer`` says what was found instead."""

    def __init__(self, answer: Impossible | NotFound, base: float) -> None:
        self.answer = answer
        super().__init__(_no_route(answer, base))


@dataclass(frozen=True)
class Resolved:
    """A design, the lock that holds its routes, and whether it had to be solved anew."""

    design: Design
    lock: str
    solved: bool


@dataclass(frozen=True)
class _Fixed:
    """What is decided before any runner is routed."""

    ports: tuple[Port, ...]
    studs: tuple[Stud, ...]
    flange: FlatPart
    transitions: tuple[Transition, ...]
    layout: Layout
    tuning: Tuning
    targets: tuple[float, ...]
    tube: TubeSize
    limits: Limits


def resolve(
    spec: HeaderSpec,
    lock: str | None = None,
    files: Mapping[str, bytes] | None = None,
    progress: Progress = quiet,
) -> Resolved:
    """Decide everything that a spec leaves open.

    Args:
        spec: what was said.
        lock: text of the lock beside it, if there is one; used while its inputs hold.
        files: bytes of the obstacle files that the spec names.
        progress: told how routing goes.

    Raises:
        SpecError: the spec asks for what cannot be laid out.
        NoRoute: no set of runners was found.
    """
    fixed = _fixed(spec)
    problem = routing_problem(spec, fixed)
    names = tuple(edge.name for edge in problem.edges)
    inputs = locks.fingerprint(spec, fixed.targets, files or {})
    found = locks.read(lock, names) if lock is not None else None
    paths = None
    if found is not None and found.inputs == inputs:
        paths = locks.paths(found, problem)
    solved = paths is None
    if solved:
        # The design always comes from the lock's own text, so a build that solves and the
        # next one that does not make the same metal to the last bit.
        lock = locks.write(_solve(problem, inputs, fixed, progress), names)
        found = locks.read(lock, names)
        assert found is not None
        paths = locks.paths(found, problem)
    assert lock is not None
    assert found is not None
    assert paths is not None
    design = _design(spec, fixed, problem, paths, found.slots)
    return Resolved(design, lock, solved)


def _fixed(spec: HeaderSpec) -> _Fixed:
    head = one_head(spec)
    ports = ports_of(head, spec.engine.cylinders)
    studs = studs_of(head, ports)
    tube = TubeSize(spec.runners.tube.od / 2.0, spec.runners.tube.od / 2.0 - spec.runners.tube.wall)
    transitions = tuple(
        transition(
            port,
            tube.outer_radius,
            tube.inner_radius,
            spec.flange.thickness,
            spec.flange.set_back,
            spec.runners.transition.length,
        )
        for port in ports
    )
    layout = _layout(spec, tube, len(ports))
    outlet = max(station.area for station in layout.areas if station.what == "outlet end")
    decided, targets = tuning(spec, 2.0 * math.sqrt(outlet / math.pi))
    limits = Limits(tuple((key, float(value)) for key, value in spec.limits.model_dump().items()))
    flange = _flange(spec, ports, studs, tube, limits)
    return _Fixed(ports, studs, flange, transitions, layout, decided, targets, tube, limits)


def _layout(spec: HeaderSpec, tube: TubeSize, count: int) -> Layout:
    try:
        layout: Layout = home(spec.collector).lay_out(
            spec.collector, tube, count, unit(spec.vertical)
        )
    except DoesNotFit as error:
        raise SpecError((Complaint(error.key, error.found, error.allowed, error.remedy),)) from None
    return layout


def _flange(
    spec: HeaderSpec,
    ports: tuple[Port, ...],
    studs: tuple[Stud, ...],
    tube: TubeSize,
    limits: Limits,
) -> FlatPart:
    said = spec.flange
    floor = limits["hole_floor_waterjet"] if said.process == "waterjet" else 0.0
    try:
        return head_flange(
            name="head_flange",
            title=spec.title or spec.name,
            text=f"{spec.name} {spec.revision}".upper(),
            ports=ports,
            studs=studs,
            frame=Frame(),
            wall=tube.outer_radius - tube.inner_radius,
            fit=said.fit,
            land=said.land,
            thickness=said.thickness,
            material=said.material,
            process=said.process,
            hole_ratio=limits[f"hole_ratio_{said.process}"],
            hole_floor=floor,
            hole_class=said.hole_class,
            window=said.window,
            edge_factor=limits["edge_factor"],
        )
    except ValueError as error:
        raise SpecError(
            (
                Complaint(
                    ("flange",),
                    str(error),
                    "ports and studs that one plate can hold",
                    "check the port and stud pattern",
                ),
            )
        ) from None


def routing_problem(spec: HeaderSpec, fixed: _Fixed) -> Problem:
    """What the router is asked."""
    end = dict(fixed.layout.stub)[spec.runners.length_to]
    order = spec.engine.firing_order
    edges = tuple(
        Edge(
            f"runner {port.cylinder}",
            bend.exit,
            target - bend.plate - bend.along - end,
            fixed.tube.outer_radius,
            order.index(port.cylinder),
        )
        for port, bend, target in zip(fixed.ports, fixed.transitions, fixed.targets, strict=True)
    )
    for i, (edge, target) in enumerate(zip(edges, fixed.targets, strict=True)):
        if edge.length <= 0.0:
            path: tuple[str | int, ...] = ("runners", "length")
            raise SpecError(
                (
                    Complaint(
                        (*path, i) if isinstance(spec.runners.length, tuple) else path,
                        f"{target:.1f} mm",
                        f"more than {target - edge.length:.1f} mm, which plate, transition and "
                        "stub alone take",
                        "ask for a longer runner",
                    ),
                )
            )
    bodies = _bodies(fixed)
    obstacles = obstacles_of(spec)
    studs = tuple(stud.name for stud in fixed.studs)
    play = fixed.limits["tool_play"]
    places = tool_places(spec.tools, fixed.studs, spec.flange.thickness, play, bodies, obstacles)
    return Problem(
        edges=edges,
        slots=fixed.layout.slots,
        bodies=bodies,
        shelf=_shelf(spec),
        gap=fixed.limits["runner_gap"],
        obstacles=(*obstacles, _plate(fixed)),
        studs=studs if spec.tools else (),
        places=places,
    )


def _bodies(fixed: _Fixed) -> tuple[Body, ...]:
    ends = tuple(
        Body(
            f"transition {port.cylinder}",
            Centreline(port.frame, (Straight(bend.plate + bend.length),)),
            bend.half_width,
            edge=i,
        )
        for i, (port, bend) in enumerate(zip(fixed.ports, fixed.transitions, strict=True))
    )
    downstream = tuple(
        Body(envelope.name, envelope.path, envelope.radius, slot=envelope.slot)
        for envelope in fixed.layout.envelopes
    )
    return (*ends, *downstream)


def _plate(fixed: _Fixed) -> Obstacle:
    """The flange and the head behind it, for runners that come back towards them."""
    box = bounding_box(fixed.flange.profile.outer)
    return Obstacle(
        FLANGE_NAME,
        Box(
            (box.left, box.bottom, -40.0),
            (box.right, box.top, fixed.flange.thickness),
        ),
        fixed.limits["runner_gap"],
    )


def _shelf(spec: HeaderSpec) -> Shelf:
    shelf = spec.shelf
    offers = [home(bend).offer(bend) for bend in shelf.bends]
    fitting = [o for o in offers if o.od is None or abs(o.od - spec.runners.tube.od) < 1e-6]
    # Whole stock angles only, and bends in limited number, are not laid out by this version.
    usable = [offer for offer in fitting if not offer.angles]
    if not usable:
        raise SpecError(
            (
                Complaint(
                    ("shelf", "bends"),
                    f"no bend of {spec.runners.tube.od:g} mm tube that can be cut to any angle",
                    "at least one",
                    "add a U-bend in the runners' tube size",
                ),
            )
        )
    grip = max(offer.grip for offer in usable)
    between = max(shelf.min_straight, grip, spec.limits.straight_min)
    return Shelf(
        radii=tuple(Radius(offer.clr, math.radians(offer.most)) for offer in usable),
        least_angle=math.radians(shelf.min_angle),
        straight=between,
        straight_at_start=shelf.min_straight_at_flange,
        straight_at_end=shelf.min_straight_at_collector,
    )


def _solve(problem: Problem, inputs: str, fixed: _Fixed, progress: Progress) -> locks.Lock:
    answer = route(problem, progress)
    if not isinstance(answer, Routed):
        raise NoRoute(answer, min(fixed.targets) - min(edge.length for edge in problem.edges))
    return locks.Lock(
        inputs, answer.slots, tuple(path.pieces for path in answer.paths), answer.score
    )


def _design(
    spec: HeaderSpec,
    fixed: _Fixed,
    problem: Problem,
    paths: tuple[Centreline, ...],
    slots: tuple[int, ...],
) -> Design:
    stub = dict(fixed.layout.stub)
    runners = tuple(
        _runner(spec, fixed, i, path, slot, stub)
        for i, (path, slot) in enumerate(zip(paths, slots, strict=True))
    )
    by_slot = tuple(runner.cylinder for runner in sorted(runners, key=lambda runner: runner.slot))
    in_order = follows_firing_order(slots, tuple(edge.order for edge in problem.edges))
    part_name = spec.name.replace("-", "_")
    return Design(
        name=spec.name,
        revision=spec.revision,
        title=spec.title or spec.name,
        firing_order=spec.engine.firing_order,
        vertical=unit(spec.vertical),
        flats=(fixed.flange,),
        ports=fixed.ports,
        studs=fixed.studs,
        runners=runners,
        collector=_collector(spec, fixed.layout, by_slot, in_order),
        assembly=assembly(part_name, (fixed.flange,), runners, fixed.layout, by_slot),
        gas=gas_volume(part_name, runners, fixed.layout),
        problem=problem,
        score=layout_score(paths, in_order),
        obstacles=tuple((said.name, said.kind) for said in spec.obstacles),
        tolerance=spec.runners.tolerance,
        tuning=fixed.tuning,
        stock=tuple(
            Stock(f"CLR {radius.clr:g} mm", radius.clr, radius.most)
            for radius in problem.shelf.radii
        ),
        limits=fixed.limits,
        waivers=tuple(Waiver(w.check, w.subject, w.reason) for w in spec.waive),
    )


def _runner(
    spec: HeaderSpec,
    fixed: _Fixed,
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


def _no_route(answer: Impossible | NotFound, base: float) -> str:
    if isinstance(answer, Impossible):
        return (
            f"impossible: {answer.edge} is asked to be {answer.target + base:.1f} mm, but "
            f"{answer.reason}; with plate, transition and stub the least length is "
            f"{answer.floor + base:.1f} mm. Ask for a longer runner, or move the collector"
        )
    text = f"not found: {answer.binding} ({answer.tried} paths tried, which proves nothing). "
    if answer.nearest_length is None:
        return text + "No longer common length was found either: move the collector or an obstacle"
    return (
        text
        + f"The shortest common length found is {answer.nearest_length:.1f} mm longer than asked. "
        "Ask for that, or move the collector"
    )


__all__ = ["FLANGE_NAME", "NoRoute", "Resolved", "resolve", "routing_problem"]
