"""A bracket point: a doubler on a pipe, and on it a bracket with a hole."""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from geomgen.attachments import Added, Attached, Bar, Host, HostPipe
from geomgen.attachments._saddles import fitted, foot, place
from geomgen.attachments._said import OnPipe, Size
from geomgen.attachments._tabs import tab, tab_adds
from geomgen.families import DoesNotFit, Piece
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, Plane, Vec, cross, scale, sub
from geomgen.names import Material
from geomgen.recipe.nodes import Trim, Tube
from geomgen.units import Quantity, later

KIND = "support"
ORDER = 40
ROUTED = True


class Spec(OnPipe):
    """A bracket point."""

    kind: Literal["support"]
    """A bracket point on a pipe: a doubler bent round the pipe, and on it a bracket with a hole.
    A bracket straight on a tube cracks it. Each stands on one pipe: ``on: runners`` is refused."""
    doubler_length: Size = 60.0
    """Of the doubler, along the pipe."""
    doubler_arc: Annotated[float, Field(ge=20, le=170), Quantity("angle")] = 120.0
    """How far it goes round the pipe."""
    doubler_thickness: Size = 2.0
    """Of its sheet."""
    bracket_width: Size = 30.0
    """Of the bracket, along the pipe; at most three quarters of the doubler."""
    bracket_height: Size = 35.0
    """Of the bolt's hole over the doubler."""
    bracket_thickness: Size = 4.0
    """Of its sheet."""
    bolt_hole: Size = 9.0
    """For the bolt: 9 for M8."""
    material: Material | None = later()
    """Grade of both; that of the runners without it."""


def on_collector(spec: Spec, host: Host) -> Attached:
    """A bracket point on a pipe of the collector.

    Args:
        spec: what was said [mm, deg].
        host: what it holds on to.

    Raises:
        DoesNotFit: no pipe has that name, or it does not fit on a straight.
    """
    return _on(spec, host)


def on_tubes(spec: Spec, host: Host) -> Attached:
    """A bracket point on a runner.

    Args:
        spec: what was said [mm, deg]; ``at`` counts from z = 0.
        host: what it holds on to.

    Raises:
        DoesNotFit: no runner has that name, or it does not fit on a straight.
    """
    return _on(spec, host)


def _on(spec: Spec, host: Host) -> Attached:
    pipes = host.called(spec.on)
    names = sorted({pipe.name for pipe in host.pipes})
    if not pipes or len({pipe.name for pipe in pipes}) > 1:
        collector = [name for name in names if not name.startswith("runner ")]
        raise DoesNotFit(
            ("on",),
            spec.on,
            f"one pipe: {', '.join((*collector, 'runner N'))}",
            "name one of them, and write a support for each",
        )
    _hold_sizes(spec, pipes[0])
    pipe, at = _where(spec, pipes)
    stood = foot(pipe, at, spec.toward or host.up, math.pi / 2.0, host.up)
    start = Frame.facing(
        sub(stood.frame.origin, scale(stood.flow, spec.doubler_length / 2.0)),
        stood.flow,
        stood.frame.z,
    )
    outer = pipe.outer_radius + spec.doubler_thickness
    ring = Tube(Centreline(start, (Straight(spec.doubler_length),)), outer, pipe.outer_radius)
    pad = Trim(ring, _wedge(start, stood.frame.z, math.radians(spec.doubler_arc) / 2.0))
    middle = start.moved(spec.doubler_length / 2.0)
    sizes = (spec.bracket_width, spec.bracket_height, spec.bracket_thickness, spec.bolt_hole)
    plate = tab(middle, stood.frame.z, outer, sizes)
    hole = stood.frame.moved(outer + spec.bracket_height).origin
    grade = spec.material or host.material
    top = stood.frame.moved(pipe.outer_radius)
    high = spec.doubler_thickness + spec.bracket_height + spec.bracket_width / 2.0
    bar = Centreline(top, (Straight(high),))
    across = math.hypot(spec.bracket_width, spec.bracket_thickness) / 2.0
    facts = tuple(
        (f"{spec.name}_{axis}_mm", value) for axis, value in zip("xyz", hole, strict=True)
    )
    station = ("station_mm", stood.station)
    return Attached(
        pieces=(
            Piece(f"{spec.name}_doubler", None, pad, grade),
            Piece(f"{spec.name}_bracket", None, plate, grade),
        ),
        added=_pad_adds(spec, pipe.outer_radius) + tab_adds(outer, sizes),
        bars=(Bar(f"{spec.name}_bracket", bar, across),),
        facts=facts,
        fitted=(
            fitted(
                KIND,
                spec.name,
                stood,
                (station, *facts),
                (bar, across),
                ahead=spec.doubler_length / 2.0,
            ),
        ),
    )


def _pad_adds(spec: Spec, inner: float) -> Added:
    """Of the doubler: a sector of a ring along the pipe."""
    outer, arc = inner + spec.doubler_thickness, math.radians(spec.doubler_arc)
    sector = arc / 2.0 * (outer**2 - inner**2)
    return Added(
        metal=sector * spec.doubler_length,
        outside=(arc + 2.0) * (outer - inner) * spec.doubler_length + 2.0 * sector,
    )


def _hold_sizes(spec: Spec, pipe: HostPipe) -> None:
    if spec.bracket_width > 0.75 * spec.doubler_length:
        raise DoesNotFit(
            ("bracket_width",),
            f"{spec.bracket_width:g} mm on a doubler of {spec.doubler_length:g} mm",
            f"at most {0.75 * spec.doubler_length:g} mm",
            "make the doubler longer: it spreads the load",
        )
    if spec.bolt_hole >= spec.bracket_width - 4.0 or spec.bracket_height < spec.bolt_hole:
        raise DoesNotFit(
            ("bolt_hole",),
            f"{spec.bolt_hole:g} mm in a bracket of {spec.bracket_width:g} x "
            f"{spec.bracket_height:g} mm",
            "a hole with metal round it",
            "make the bracket larger",
        )
    if spec.bracket_thickness >= pipe.outer_radius:
        raise DoesNotFit(
            ("bracket_thickness",),
            f"{spec.bracket_thickness:g} mm",
            f"less than half the pipe, {pipe.outer_radius:g} mm",
            "take thinner sheet",
        )


def _where(spec: Spec, pipes: tuple[HostPipe, ...]) -> tuple[HostPipe, tuple[float, float, float]]:
    """The section of the pipe that takes the doubler, and the place on it."""
    half = (spec.doubler_length / 2.0,) * 2
    longest = max(pipes, key=lambda pipe: pipe.path.length)
    if spec.at is None:
        return longest, place(longest, None, half, spec.name, ("at",))
    for pipe in pipes:
        try:
            return pipe, place(pipe, spec.at - pipe.before, half, spec.name, ("at",))
        except DoesNotFit:
            continue
    return longest, place(longest, spec.at - longest.before, half, spec.name, ("at",))


def _wedge(at: Frame, way: Vec, half: float) -> tuple[Plane, Plane]:
    """Planes through the axis that leave what is within an angle of a direction [rad]."""
    aside = cross(at.z, way)
    return (
        Plane(at.origin, sub(scale(aside, math.cos(half)), scale(way, math.sin(half)))),
        Plane(at.origin, sub(scale(aside, -math.cos(half)), scale(way, math.sin(half)))),
    )
