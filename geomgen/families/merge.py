"""N into 1 merge collector: all tubes of a manifold into one outlet, welded on or slipped on."""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal, Self

from pydantic import Field, GetCoreSchemaHandler, GetJsonSchemaHandler, model_validator
from pydantic_core import CoreSchema, core_schema

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
from geomgen.families._merging import ConeSize, MergeSize, SlipSize, merge
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.frames import Frame, Vec, angle_between, dot, scale, sub, unit
from geomgen.recipe.nodes import NamedFace, Tube
from geomgen.units import (
    Angle,
    Direction,
    Point,
    Quantity,
    Size,
    Span,
    StrictModel,
    later,
    refusal,
)

KIND = "merge"


class OutletBend(StrictModel):
    """A bend that turns the outlet into a wanted direction."""

    clr: Size
    """Centreline radius."""
    toward: Direction
    """Direction of the gas after the bend, in the head frame."""


class Outlet(StrictModel):
    """The pipe behind the merge."""

    od: Size
    """Outside diameter."""
    wall: Size
    """Wall thickness."""
    length: Span = 100.0
    """Straight length of the tail, after its bend if it has one."""
    bend: OutletBend | None = None
    """Turns the tail; its angle follows from the two directions."""
    end: Literal["plain"] = "plain"
    """How the tail ends."""


class Slip(StrictModel):
    """Tubes over the runners' ends."""

    od: Size
    """Outside diameter."""
    wall: Size
    """Wall thickness. What counts is the bore: 0.1 to 0.4 over the runner's outside slides and
    holds; the next size up in the trade's gauges often does not slide."""
    overlap: Span = 38.0
    """Of a runner's end inside, at least; 25 to 50 is usual. The runner's tube is cut that much
    longer than its path to the entry face. Outer tubes of a row hold a little more than inner
    ones, so that all lengths stay equal."""
    clr: Size | None = None
    """Centreline radius of the bend that turns a tube in behind the overlap; a mitre, which makes
    two pieces of it, without it."""


class Filler(StrictModel):
    """A merge spike."""

    sides: Literal["hollow", "flat"] = "hollow"
    """``hollow`` fits the tubes all the way; ``flat`` is the pyramid whose sides touch each tube
    along one line, from flat stock, the rest being filled by weld."""


class Diffuser(StrictModel):
    """A cone by its angle or by its length."""

    angle: Annotated[float, Field(gt=0, lt=60), Quantity("angle")] | None = None
    """Included angle of the round cone with the same areas at its ends; 7 to 12 is usual for a
    diffuser."""
    length: Size | None = None
    """Along the axis."""

    @model_validator(mode="after")
    def _one_of_two(self) -> Self:
        if (self.angle is None) == (self.length is None):
            raise refusal(
                "both angle and length" if self.angle else "neither angle nor length",
                "an angle or a length",
                "write one of the two",
            )
        return self


class _YesOrMore:
    """Annotation: ``true`` for what a section says by default, ``false`` for none."""

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> CoreSchema:
        """Words first, then the section itself."""
        return core_schema.no_info_before_validator_function(_yes_or_more, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        """What the section may be, or true or false."""
        said = handler(schema)
        return {"anyOf": [{"type": "boolean"}, *said.get("anyOf", [said])]}


def _yes_or_more(value: Any) -> Any:
    if isinstance(value, bool):
        return {} if value else None
    if value is None or isinstance(value, dict | StrictModel):
        return value
    raise refusal(value, "true, false, or a mapping of what it is like", "write: true")


FillerOrNot = Annotated[Filler | None, _YesOrMore()]


class Spec(StrictModel):
    """A merge collector: all tubes of one head into one outlet."""

    family: Literal["merge"]
    """N tubes, on a circle or in a row, into one outlet."""
    at: Point
    """Collector axis at its entry face, in the head frame."""
    direction: Direction
    """The way the gas goes along the collector axis."""
    roll: Angle = 0.0
    """Clocking of the array about the axis, clockwise looking the way the gas goes; at 0
    two tubes are uppermost, as far as the axis allows. Place 0 stands half a pitch clockwise
    from the top, the others follow clockwise."""
    array: Literal["round", "square", "diamond", "in-line"] | None = later()
    """How the tubes stand at roll 0. ``round``, the default, is two to eight on a circle; from
    five on they leave an opening about the axis at the entry, which no tube stands in. Four are
    ``square`` with two uppermost, ``diamond`` with one uppermost, which is 45 more (place 0 is
    then to the right, 1 at the bottom, 2 to the left, 3 at the top). ``in-line`` is two to four
    side by side in a level row, place 0 to the right, looking the way the gas goes. In a row
    neighbours follow the firing order where it runs along the row from any cylinder on, either
    way; the two ends, which no row brings together, do not count."""
    merge_angle: Annotated[float, Field(gt=0, lt=60), Quantity("angle")] = 10.0
    """From a tube's axis to the collector's axis; the included angle is twice that. In line it
    is that of the outermost tubes; those between lean less, so that all aim at one point."""
    entry_gap: Span = 2.0
    """Between neighbouring tubes at the entry face; of a slip entry, between its tubes."""
    entry: Literal["welded", "slip"] | None = later()
    """``welded``, the default: the runners fan in, each leaning by the merge angle, and are butted
    to the collector's tubes. ``slip``: they run in parallel, each into a collector tube one size
    up; see ``slip``. Runners stand apart there by ``entry_gap`` and two walls and clearances,
    which ``limits.runner_gap`` must not exceed."""
    slip: Slip | None = later()
    """The collector's tubes of a slip entry."""
    spike: FillerOrNot = later()
    """Merge spike: a filler of its own between the tubes about the axis, from where they begin to
    lean to where their outsides meet. ``true`` is one with hollow sides. Left out by default, as
    is common practice for tubes that are cut on their half-way planes: their own edges make the
    point. Round arrays of three tubes or more."""
    throat: Size | None = None
    """Diameter of a circle with the bore area wanted at the trim plane; the outlet's bore
    when not given."""
    diffuser: Diffuser | None = later()
    """The cone from the trim plane to the outlet: a diffuser where the outlet is wider than the
    throat, a reducing cone where it is narrower. As long as walls of 7 degrees make it without
    this."""
    outlet: Outlet


def lay_out(spec: Spec, asked: Asked) -> Layout:
    """Lay out the collector.

    Args:
        spec: what was said [mm, deg].
        asked: what it is laid out for.

    Raises:
        DoesNotFit: the numbers leave no closed collector.
    """
    tube, count = asked.tube, asked.count
    if count < 2:
        raise DoesNotFit(
            ("collector", "family"),
            f"{count} tube",
            "two tubes or more",
            "choose a family for one port",
        )
    size = TubeSize(spec.outlet.od / 2.0, spec.outlet.od / 2.0 - spec.outlet.wall)
    home = _home(spec, asked.up, count)
    merged = merge(home, _size(spec, asked, size), tube, count)
    outlet = outlet_path(spec.outlet, merged.exit)
    end = outlet.end
    entries = [dict(ends)["entry"] for ends in merged.ends_at]
    overlap, inside = 0.0 - entries[0], 0.0 - min(entries)
    tail = math.pi * size.inner_radius**2 * outlet.length
    return Layout(
        frame=home,
        slots=merged.slots,
        ends=merged.ends_at,
        pieces=(
            *merged.pieces(),
            Piece("outlet", None, Tube(outlet, size.outer_radius, size.inner_radius)),
        ),
        scrolls=(
            Scroll(
                "",
                tuple(range(count)),
                (*merged.gas, Tube(outlet, size.inner_radius)),
                (NamedFace("OUTLET", end.origin, end.z),),
            ),
        ),
        envelopes=(*merged.envelopes, Envelope("outlet", None, outlet, size.outer_radius)),
        areas=(
            *merged.stations,
            AreaAt(merged.length + outlet.length, merged.stations[-1].area, "outlet end"),
        ),
        outlet=end,
        facts=(
            *merged.facts,
            ("collector_length_mm", merged.length + overlap + outlet.length),
            ("collector_volume_cc", (merged.volume + tail) / 1000.0),
            ("outlet_bend_deg", math.degrees(outlet.total_angle)),
        ),
        in_line=spec.array == "in-line",
        inside=inside,
    )


def _size(spec: Spec, asked: Asked, outlet: TubeSize) -> MergeSize:
    """What the merge is made to."""
    cone = spec.diffuser
    angle = None if cone is None or cone.angle is None else math.radians(cone.angle)
    return MergeSize(
        math.radians(spec.merge_angle),
        spec.entry_gap,
        outlet,
        spec.throat,
        array="in-line" if spec.array == "in-line" else "round",
        slip=_slip(spec, asked.tube),
        cone=None if cone is None else ConeSize(angle, cone.length),
        spike=None if spec.spike is None else spec.spike.sides,
        counted=asked.counted,
    )


def _slip(spec: Spec, runner: TubeSize) -> SlipSize | None:
    said = spec.slip
    if said is None or spec.entry != "slip":
        if (said is None) == (spec.entry != "slip"):
            return None
        missing = said is None
        raise DoesNotFit(
            ("collector", "slip" if missing else "entry"),
            "a slip entry without its tubes" if missing else "slip tubes on a welded entry",
            "entry: slip, and slip with od and wall",
            "add slip: {od: ..., wall: ...}" if missing else "write entry: slip, or take slip out",
        )
    bore = said.od - 2.0 * said.wall
    if bore <= 2.0 * runner.outer_radius:
        raise DoesNotFit(
            ("collector", "slip", "od"),
            f"a bore of {bore:.3f} mm over a runner of {2.0 * runner.outer_radius:.3f} mm",
            f"a bore of more than {2.0 * runner.outer_radius:.3f} mm, 0.1 to 0.4 mm more to slide",
            "choose a thinner wall or the next size up, or have the runners' ends sized",
        )
    if said.clr is not None and said.clr <= said.od / 2.0:
        raise DoesNotFit(
            ("collector", "slip", "clr"),
            f"a bend of {said.clr:g} mm CLR in a tube of {said.od:g} mm",
            f"more than {said.od / 2.0:g} mm",
            "choose a wider bend, or leave clr out for a mitre",
        )
    return SlipSize(TubeSize(said.od / 2.0, bore / 2.0), said.overlap, said.clr)


def _home(spec: Spec, up: Vec, count: int) -> Frame:
    """The collector's frame; x is tube 0's side, clocked so that two tubes are uppermost."""
    frame = Frame.facing(spec.at, spec.direction, up)
    if spec.array in ("square", "diamond") and count != 4:
        raise DoesNotFit(
            ("collector", "array"),
            f"{spec.array} for {count} tubes",
            "round; square and diamond are for four tubes",
            "take array out, and clock the array by roll",
        )
    if spec.array == "in-line":
        return frame.rolled(math.radians(spec.roll) + math.pi / 2.0)
    more = math.pi / 4.0 if spec.array == "diamond" else 0.0
    return frame.rolled(math.radians(spec.roll) + more + math.pi / count)


def outlet_path(outlet: Outlet, start: Frame) -> Centreline:
    """Axis of the pipe behind a merge that ends at ``start``.

    Raises:
        DoesNotFit: it turns back on itself.
    """
    pieces: list[PathPiece] = []
    if outlet.bend is not None:
        toward = unit(outlet.bend.toward)
        angle = angle_between(start.z, toward)
        if angle > math.radians(175.0):
            raise DoesNotFit(
                ("collector", "outlet", "bend", "toward"),
                f"a turn of {math.degrees(angle):.0f} deg",
                "at most 175 deg",
                "turn the outlet less",
            )
        if angle > 1e-9:
            aside = sub(toward, scale(start.z, dot(toward, start.z)))
            roll = math.atan2(dot(aside, start.y), dot(aside, start.x))
            pieces.append(Bend(outlet.bend.clr, angle, roll))
    if outlet.length > 0.0 or not pieces:
        pieces.append(Straight(max(outlet.length, 10.0)))
    return Centreline(start, tuple(pieces))
