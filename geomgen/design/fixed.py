"""What is decided before any runner is routed: ports, flange, transitions, collector, lengths."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from geomgen.design.heads import one_head, ports_of, studs_of
from geomgen.design.model import FlatPart, Limits, Port, Stud, Transition, Tuning
from geomgen.design.plating import Plating, plating
from geomgen.design.said_flange import head_flanges
from geomgen.design.transitions import transition
from geomgen.design.tuning import tuning
from geomgen.design.windows import shape_through
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
    flanges: tuple[FlatPart, ...]
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
            shape_through(port, spec.flange.window, tube.inner_radius),
            tube.outer_radius,
            tube.inner_radius,
            spec.flange.thickness,
            # a butted tube stands on the plate's face
            spec.flange.thickness if spec.flange.window == "butt" else spec.flange.set_back,
            spec.runners.transition.length,
            Frame(),
        )
        for port in ports
    )
    layout = _layout(spec, tube, len(ports))
    outlet = max(station.area for station in layout.areas if station.what == "outlet end")
    decided, lengths = tuning(spec, 2.0 * math.sqrt(outlet / math.pi))
    # Lengths come by cylinder number, ports by their order along the head.
    targets = tuple(lengths[port.cylinder - 1] for port in ports)
    limits = Limits(tuple((key, float(value)) for key, value in spec.limits.model_dump().items()))
    flanges = head_flanges(spec, ports, studs, tube, limits)
    plates = plating(spec, flanges, layout, limits)
    layout = replace(layout, envelopes=(*layout.envelopes, *plates.envelopes))
    return Fixed(ports, studs, flanges, transitions, layout, decided, targets, tube, limits, plates)


def _layout(spec: HeaderSpec, tube: TubeSize, count: int) -> Layout:
    try:
        layout: Layout = home(spec.collector).lay_out(
            spec.collector, tube, count, unit(spec.vertical)
        )
    except DoesNotFit as error:
        raise SpecError((Complaint(error.key, error.found, error.allowed, error.remedy),)) from None
    return layout
