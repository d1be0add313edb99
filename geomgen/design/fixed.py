"""What is decided before any runner is routed: ports, flange, transitions, collector, lengths."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from geomgen.design.cutting import Cutter
from geomgen.design.flange import head_flange
from geomgen.design.heads import one_head, ports_of, studs_of
from geomgen.design.model import FlatPart, Limits, Port, Stud, Transition, Tuning
from geomgen.design.plating import Plating, plating
from geomgen.design.transitions import transition
from geomgen.design.tuning import tuning
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.families import DoesNotFit, Layout, TubeSize
from geomgen.geometry.frames import Frame, unit
from geomgen.registry import home
from geomgen.spec.header import HeaderSpec


@dataclass(frozen=True)
class Fixed:
    """What is decided before any runner is routed.

    Ports stand in their order along the head; transitions and targets in that of the ports.
    """

    ports: tuple[Port, ...]
    studs: tuple[Stud, ...]
    flange: FlatPart
    transitions: tuple[Transition, ...]
    layout: Layout
    tuning: Tuning
    targets: tuple[float, ...]
    tube: TubeSize
    limits: Limits
    plates: Plating


def fixed_parts(spec: HeaderSpec) -> Fixed:
    """Lay out everything but the runners.

    Raises:
        SpecError: the spec asks for what cannot be laid out.
    """
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
    decided, lengths = tuning(spec, 2.0 * math.sqrt(outlet / math.pi))
    # Lengths come by cylinder number, ports by their order along the head.
    targets = tuple(lengths[port.cylinder - 1] for port in ports)
    limits = Limits(tuple((key, float(value)) for key, value in spec.limits.model_dump().items()))
    flange = _flange(spec, ports, studs, tube, limits)
    plates = plating(spec, (flange,), layout, limits)
    layout = replace(layout, envelopes=(*layout.envelopes, *plates.envelopes))
    return Fixed(ports, studs, flange, transitions, layout, decided, targets, tube, limits, plates)


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
            cutter=Cutter.of(limits.__getitem__, said.process),
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
