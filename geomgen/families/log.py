"""Log manifold: short stubs into one tube that runs past all ports, welded up or cast.

The spec gives the log's line; the family lays the stubs itself, each straight or with one bend,
and sets them on the log. Ends that lengths count to: ``entry`` is where a stub's centreline is
nearest the log's axis; ``first-join`` the first place on a cylinder's way to the outlet that
another cylinder's gas passes too; ``throat`` the outlet's axis (where the log's own end is the
outlet, the plane that it begins at), past which all gas goes. From a stub on, the way runs along
the log's axis.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Annotated, Any, Literal

from pydantic import Field, model_validator

from geomgen.families import (
    AreaAt,
    Asked,
    Casting,
    DoesNotFit,
    Ends,
    Envelope,
    Layout,
    Scroll,
    Start,
    TubeSize,
)
from geomgen.families._log_outlet import Outlet, with_own_end
from geomgen.families._log_parts import Outflow, amounts, gas, metal, outflow
from geomgen.families._logging import LAND, Log, SetOn, apart, clears, lead_to, set_on
from geomgen.families._pipes import PipeSize, TurnBend, bend_toward, each_is_one
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.frames import distance, norm, sub, unit
from geomgen.names import Material
from geomgen.recipe.nodes import NamedFace
from geomgen.units import Direction, Point, Quantity, Size, Span, StrictModel, later

KIND = "log"
LAYS_RUNNERS = True


class LogTube(PipeSize):
    """The log's tube: OD, bore or nominal size, and wall."""

    material: Material | None = later()
    """Grade; that of the runners without it."""


class Stub(StrictModel):
    """A stub from its transition to the log."""

    bend: TurnBend | None = later()
    """One bend, an elbow of the shelf, that turns the stub to the log. Straight without it."""
    lead: Span | None = later()
    """Straight between transition and bend; without it, that with which the stub meets the
    log's axis."""


class OneStub(Stub):
    """The stub of one cylinder."""

    cylinder: Annotated[int, Field(strict=True, ge=1, le=16)]
    """Its cylinder; it has nothing of ``stub``."""


class Cast(StrictModel):
    """The manifold as one casting with its head flange."""

    material: Material
    """Grade: ``EN-GJS-400-15``, ``SiMo``, ``iron``. ``runners.tube.material`` must be the
    same."""
    density: Annotated[float, Field(gt=0, lt=20000), Quantity("number")] | None = later()
    """In kg/m3; that of the grade without it."""


class Spec(StrictModel):
    """A log: stubs into one tube past all ports, welded or cast."""

    family: Literal["log"]
    """Stubs into one tube past all ports. Lengths are ``as-laid``. They count to ``entry``, where
    a stub's centreline comes nearest the log's axis; to ``first-join``, the first place on a
    cylinder's way to the outlet that another's gas passes too; or to the ``throat``, the outlet's
    axis."""
    at: Point
    """A point of the log's axis, in the head frame."""
    direction: Direction | None = later()
    """Along the log, from its first end to its far end; along the row of ports, in their order,
    without it."""
    tube: LogTube
    """The log itself: tube or pipe."""
    overhang: Span = 10.0
    """Log beyond the outermost saddle, at both ends."""
    cap: Size | None = later()
    """Thickness of the discs that close its ends; the log's wall without it. A weld cap is drawn
    as such a disc too."""
    stub: Stub = Stub.model_construct()
    """Every stub: its tube is ``runners.tube``."""
    each: tuple[OneStub, ...] = ()
    """Stubs that differ."""
    outlet: Outlet
    """The outlet."""
    cast: Cast | None = later()
    """All of it, with the head flange, as one casting: the baseline that a header replaces. Bends
    then need not be on the shelf, the flange's window is ``butt``, and nothing is cut from
    plate."""

    @model_validator(mode="before")
    @classmethod
    def _own_end(cls, said: Any) -> Any:
        return with_own_end(said)


@dataclass(frozen=True)
class _Laid:
    """A stub laid: the runner up to its slot, and what is set on the log."""

    path: Centreline
    on: SetOn
    leg: Centreline


def lay_out(spec: Spec, asked: Asked) -> Layout:
    """Lay out the log with its stubs and its outlet.

    Args:
        spec: what was said [mm, deg].
        asked: what it is laid out for.

    Raises:
        DoesNotFit: a stub misses the log, or two parts would share room.
    """
    each_is_one([one.cylinder for one in spec.each], asked.cylinders)
    casting = _casting(spec, asked)
    log = Log(spec.at, _axis(spec, asked), spec.tube.size)
    laid = tuple(_stub(spec, log, start, asked.tube) for start in asked.starts)
    begin, end = _extent(spec, laid)
    out = outflow(log, begin, end, spec.outlet, asked.up)
    _keep_apart(asked, log, laid, out)
    ends = _ends(tuple(stub.on for stub in laid), out.station)
    parts = tuple(stub.on for stub in laid)
    cap = spec.cap or spec.tube.wall
    grades = (asked.material, spec.tube.material, spec.outlet.material)
    made = amounts(log, parts, out, cap, grades)
    return Layout(
        frame=log.path(begin, end).start,
        slots=tuple(on.leg for on in parts),
        ends=ends,
        pieces=metal(log, parts, out, cap, grades),
        scrolls=(
            Scroll(
                "",
                tuple(range(len(parts))),
                gas(log, parts, out),
                (NamedFace("OUTLET", out.path.end.origin, out.path.end.z),),
            ),
        ),
        envelopes=_envelopes(log, laid, out, cap),
        areas=_areas(log, asked.tube, out, ends),
        outlet=out.path.end,
        facts=(
            ("log_length_mm", end - begin),
            ("log_bore_cc", math.pi * log.size.inner_radius**2 * (end - begin) / 1000.0),
            ("outlet_from_first_end_mm", out.station - begin),
            ("outlet_bend_deg", math.degrees(out.path.total_angle)),
            ("collector_volume_cc", made.gas / 1000.0),
        ),
        rings=tuple((slot,) for slot in range(len(parts))),
        laid=tuple(stub.path for stub in laid),
        amounts=made,
        casting=casting,
    )


def _casting(spec: Spec, asked: Asked) -> Casting | None:
    if spec.cast is None:
        return None
    others = {asked.material, spec.tube.material, spec.outlet.material} - {None}
    if others != {spec.cast.material}:
        raise DoesNotFit(
            ("collector", "cast", "material"),
            f"{spec.cast.material} beside {', '.join(sorted(map(str, others)))}",
            "one grade for one casting",
            "make runners.tube.material the same, and leave it out of log and outlet",
        )
    return Casting(spec.cast.material, spec.cast.density)


def _axis(spec: Spec, asked: Asked) -> tuple[float, float, float]:
    if spec.direction is not None:
        return unit(spec.direction)
    row = sub(asked.starts[-1].exit.origin, asked.starts[0].exit.origin)
    if norm(row) < 1.0:
        raise DoesNotFit(
            ("collector", "direction"),
            "no direction, with one port",
            "a direction, or a row of ports to run along",
            "say which way the log runs",
        )
    return unit(row)


def _stub(spec: Spec, log: Log, start: Start, tube: TubeSize) -> _Laid:
    number, said = start.cylinder, spec.stub
    key: tuple[str, ...] = ("collector", "stub")
    for i, one in enumerate(spec.each):
        if one.cylinder == number:
            said, key = one, ("collector", "each", str(i))
    path = _before_leg(said, log, start, tube, key)
    on, straight = set_on(log, path.end, tube, f"stub {number}", key, LAND)
    least = 0.0 if path.pieces else 1.0
    if straight < least:
        raise DoesNotFit(
            ("collector", "at"),
            f"{straight + LAND:.1f} mm from the {'bend' if path.pieces else 'transition'} of "
            f"stub {number} to its saddle",
            f"at least {least + LAND:g} mm",
            "move the log out, or shorten the transition",
        )
    whole = Centreline(path.start, (*path.pieces, Straight(straight)))
    # The straight first meets the log at its saddle; the lead is held to the runners' gap.
    if path.bends and not clears(_only_bend(path), log, tube.outer_radius):
        raise DoesNotFit(
            key,
            f"stub {number} touching the log before its saddle",
            "a stub that first meets the log at its saddle",
            "turn it more squarely to the log, or lengthen its last straight",
        )
    down = on.leg.moved(on.depth - log.size.outer_radius)
    leg = Centreline(path.end, (Straight(max(1.0, distance(path.end.origin, down.origin))),))
    return _Laid(whole, on, leg)


def _only_bend(path: Centreline) -> Centreline:
    """The bend that a path ends in."""
    return Centreline(path.frames[-2], path.pieces[-1:])


def _before_leg(
    said: Stub, log: Log, start: Start, tube: TubeSize, key: tuple[str, ...]
) -> Centreline:
    """What comes before a stub's last straight: nothing, or a lead and a bend."""
    if said.bend is None:
        if said.lead is not None:
            raise DoesNotFit(
                (*key, "lead"),
                f"a lead of {said.lead:g} mm without a bend",
                "a lead before a bend; a straight stub is as long as it must be",
                "take it out, or add a bend",
            )
        return Centreline(start.exit, ())
    bend = bend_toward(
        start.exit, said.bend.clr, said.bend.toward, tube.outer_radius, (*key, "bend")
    )
    if bend is None:
        return Centreline(start.exit, ())
    lead = said.lead if said.lead is not None else _lead(log, start, bend, key)
    return Centreline(start.exit, (Straight(lead), bend))


def _lead(log: Log, start: Start, bend: Bend, key: tuple[str, ...]) -> float:
    lead = lead_to(log, start.exit, bend)
    if lead is None or lead < 0.0:
        # However long it is, the stub passes the axis alike; or the log is behind the bend.
        missed = "does not follow" if lead is None else f"of {lead:.1f} mm"
        raise DoesNotFit(
            (*key, "lead") if lead is None else ("collector", "at"),
            f"a lead of stub {start.cylinder} that {missed}"
            if lead is None
            else f"a lead of stub {start.cylinder} {missed}",
            "a log that the stub meets behind its bend",
            "say lead" if lead is None else "move the log out, or take a tighter bend",
        )
    return lead


def _extent(spec: Spec, laid: tuple[_Laid, ...]) -> tuple[float, float]:
    reach = [station for stub in laid for station in stub.on.footprint()]
    return min(reach) - spec.overhang, max(reach) + spec.overhang


def _keep_apart(asked: Asked, log: Log, laid: tuple[_Laid, ...], out: Outflow) -> None:
    key: tuple[str | int, ...] = ("collector", "stub")
    legs = [
        (key, f"stub {start.cylinder}", stub.leg, asked.tube.outer_radius)
        for start, stub in zip(asked.starts, laid, strict=True)
    ]
    if out.on is not None:
        outside = out.clear_of_log(log)
        legs.append((("collector", "outlet", "at"), "outlet", outside, out.size.outer_radius))
    apart(legs)


def _ends(parts: tuple[SetOn, ...], outlet: float) -> tuple[Ends, ...]:
    """Lengths from each slot to where its gas enters, first meets other gas, and leaves."""
    ways = [on.station - outlet for on in parts]
    return tuple(
        (
            ("entry", on.depth),
            ("first-join", on.depth + _alone(way, [*ways[:i], *ways[i + 1 :]])),
            ("throat", on.depth + abs(way)),
        )
        for i, (on, way) in enumerate(zip(parts, ways, strict=True))
    )


def _alone(way: float, others: list[float]) -> float:
    """How far the gas of a stub goes along the log before another's joins it [mm].

    Places are counted from the outlet. Gas from farther out on the same side passes the stub;
    gas from nearer joins on the way; gas from the other side at the outlet.
    """
    joins = [0.0 if way * other <= 0.0 else min(abs(other), abs(way)) for other in others]
    return abs(way) - max(joins, default=0.0)


def _envelopes(log: Log, laid: tuple[_Laid, ...], out: Outflow, cap: float) -> tuple[Envelope, ...]:
    # Behind its lead a stub runs into the log; that it touches nothing before that is seen to.
    free = max(sum(piece.length for piece in stub.path.pieces[1:]) for stub in laid)
    whole = log.path(out.begin - cap, out.end + cap)
    return (
        *(
            Envelope("stub", slot, stub.on.bare, stub.on.size.outer_radius)
            for slot, stub in enumerate(laid)
        ),
        Envelope("log", None, whole, log.size.outer_radius, free=free),
        Envelope("outlet", None, out.clear_of_log(log), out.size.outer_radius),
    )


def _areas(log: Log, tube: TubeSize, out: Outflow, ends: tuple[Ends, ...]) -> tuple[AreaAt, ...]:
    """Along the longest way."""
    far = max((dict(row) for row in ends), key=lambda row: row["throat"])
    own, main, leave = (math.pi * s.inner_radius**2 for s in (tube, log.size, out.size))
    throat = far["throat"]
    rows = (
        AreaAt(0.0, own, "slot"),
        AreaAt(far["entry"], main, "log"),
        AreaAt(far["first-join"], main, "first join"),
        AreaAt(throat, leave, "throat"),
        AreaAt(throat + out.way, leave, "outlet end"),
    )
    assert all(a.station <= b.station + 1e-9 for a, b in pairwise(rows))
    return rows
