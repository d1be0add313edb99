"""N into 1 merge: leaning tubes trimmed on the planes half-way between neighbours.

The tubes stand on a circle and lean inwards by the merge angle, so each cope is a plane
cut of a round tube.

Going with the gas: entry face, first join (neighbouring bores meet), the tubes' walls
close round the axis (the merge spike is their own edges), and the trim plane, square to
the axis, where the lobed bore has the throat's area; a ruled cone leads to the round outlet.
"""

from __future__ import annotations

import math
from typing import Annotated, Literal

from pydantic import Field

from geomgen.families import AreaAt, DoesNotFit, Envelope, Layout, Piece, TubeSize
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.geometry.centreline import Piece as PathPiece
from geomgen.geometry.frames import Frame, Plane, Vec, angle_between, dot, scale, sub, unit
from geomgen.profiles.loops import Arc, CurvedLoop, EllipseArc, Line, Point2, area
from geomgen.recipe.nodes import NamedFace, Node, Placed, RuledWall, Section, Trim, Tube
from geomgen.units import Angle, Direction, Point, Quantity, Size, Span, StrictModel, later

KIND = "merge"

_CONE_ANGLE = math.radians(7.0)  # wall of the cone to the outlet; common practice, no source
_CONE_LEAST = 30.0


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


class Spec(StrictModel):
    """A merge collector: all tubes of one head into one outlet."""

    family: Literal["merge"]
    """N tubes on a circle into one outlet."""
    at: Point
    """Collector axis at its entry face, in the head frame."""
    direction: Direction
    """The way the gas goes along the collector axis."""
    roll: Angle = 0.0
    """Clocking of the array about the axis, clockwise looking the way the gas goes; at 0
    two tubes are uppermost, as far as the axis allows. Place 0 stands half a pitch clockwise
    from the top, the others follow clockwise."""
    array: Literal["round", "square", "diamond"] | None = later()
    """How four tubes stand at roll 0: ``square`` with two uppermost, ``diamond`` with one
    uppermost, which is 45 more (place 0 is then to the right, 1 at the bottom, 2 to the left,
    3 at the top). ``round``, the default, is any number on a circle."""
    merge_angle: Annotated[float, Field(gt=0, lt=60), Quantity("angle")] = 10.0
    """From a tube's axis to the collector's axis; the included angle is twice that."""
    entry_gap: Span = 2.0
    """Between neighbouring tubes at the entry face."""
    throat: Size | None = None
    """Diameter of a circle with the bore area wanted at the trim plane; the outlet's bore
    when not given."""
    outlet: Outlet


def lay_out(spec: Spec, tube: TubeSize, count: int, up: Vec) -> Layout:
    """Lay out the collector.

    Args:
        spec: what was said [mm, deg].
        tube: the primaries.
        count: number of tubes, at least 2.
        up: direction that roll 0 is counted from, in the head frame.

    Raises:
        DoesNotFit: the numbers leave no closed collector.
    """
    if count < 2:
        raise DoesNotFit(
            ("collector", "family"),
            f"{count} tube",
            "two tubes or more",
            "choose a family for one port",
        )
    array = _Array(spec, tube, count)
    home = _home(spec, up, count)
    axial_trim = array.trim_station()
    cone = array.cone(axial_trim)
    outlet = _outlet_path(spec, home.moved(axial_trim + cone.length))
    outlet_size = TubeSize(spec.outlet.od / 2, spec.outlet.od / 2 - spec.outlet.wall)
    slots = tuple(_into(home.rolled(array.azimuth(i)), array.slot()) for i in range(count))
    metal, bore = array.stub(axial_trim)
    pieces = [Piece("stub", i, Placed(metal, home.rolled(array.azimuth(i)))) for i in range(count)]
    pieces.append(Piece("cone", None, Placed(cone.metal, home)))
    pieces.append(
        Piece("outlet", None, Tube(outlet, outlet_size.outer_radius, outlet_size.inner_radius))
    )
    gas: list[Node] = [Placed(bore, home.rolled(array.azimuth(i))) for i in range(count)]
    gas += [Placed(cone.bore, home), Tube(outlet, outlet_size.inner_radius)]
    end = outlet.end
    return Layout(
        frame=home,
        slots=slots,
        stub=(
            ("entry", 0.0),
            ("first-join", array.first_join() / array.cos),
            ("throat", axial_trim / array.cos),
        ),
        pieces=tuple(pieces),
        gas=tuple(gas),
        envelopes=_envelopes(array, home, slots, axial_trim, cone.length, outlet, spec),
        areas=_areas(array, axial_trim, cone, outlet, outlet_size),
        outlet=end,
        outlet_face=NamedFace("OUTLET", end.origin, end.z),
        facts=(
            ("merge_angle_deg", spec.merge_angle),
            ("included_angle_deg", 2.0 * spec.merge_angle),
            ("first_join_from_entry_mm", array.first_join()),
            ("throat_from_entry_mm", axial_trim),
            ("throat_area_mm2", array.lobed_area(axial_trim, tube.inner_radius)),
            ("cone_length_mm", cone.length),
            ("outlet_bend_deg", math.degrees(outlet.total_angle)),
        ),
    )


class _Cone:
    """The ruled wall from lobed section to round outlet, in the collector's own frame."""

    def __init__(
        self,
        lobes: tuple[CurvedLoop, CurvedLoop],
        rounds: tuple[CurvedLoop, CurvedLoop],
        at: float,
        length: float,
    ) -> None:
        self.length = length
        near, far = Frame().moved(at), Frame().moved(at + length)
        outer = (Section(near, lobes[0]), Section(far, rounds[0]))
        inner = (Section(near, lobes[1]), Section(far, rounds[1]))
        self.metal: Node = RuledWall(outer, inner)
        self.bore: Node = RuledWall(inner)
        self.inner = (lobes[1], rounds[1])


class _Array:
    """The tubes' geometry in the collector's own frame: z along its axis, entry at z = 0."""

    def __init__(self, spec: Spec, tube: TubeSize, count: int) -> None:
        self.spec, self.tube, self.count = spec, tube, count
        self.alpha = math.radians(spec.merge_angle)
        self.beta = math.pi / count
        self.sin, self.cos, self.tan = (
            math.sin(self.alpha),
            math.cos(self.alpha),
            math.tan(self.alpha),
        )
        self.k = self.sin * math.sin(self.beta)  # approach to the half-way plane per mm of tube
        self.q = math.sqrt(1.0 - self.k**2)
        self.rho = (tube.outer_radius * self.q + spec.entry_gap / 2.0) / math.sin(self.beta)

    def azimuth(self, index: int) -> float:
        """Direction of a tube from the axis [rad]."""
        return 2.0 * self.beta * index

    def slot(self) -> Frame:
        """Entry pose of the tube at azimuth 0."""
        return Frame((self.rho, 0.0, 0.0), (self.cos, 0.0, self.sin), (-self.sin, 0.0, self.cos))

    def rho_at(self, z: float) -> float:
        """Distance of a tube's axis from the collector's at a station [mm]."""
        return self.rho - z * self.tan

    def first_join(self) -> float:
        """Station of the point, nearest the ports, where neighbouring bores meet [mm].

        The bore cuts the half-way plane in an ellipse; this is the least axial coordinate
        on it, in closed form.
        """
        r, k, q = self.tube.inner_radius, self.k, self.q
        along = self.cos / (k * q)
        across = math.sqrt(max(self.sin**2 - (k * self.cos / q) ** 2, 0.0))
        return self.rho * math.sin(self.beta) * self.cos / k - r * math.hypot(along, across)

    def lobes(self, z: float, radius: float) -> CurvedLoop:
        """Section of all tubes of a radius, square to the axis: one elliptical arc a tube.

        The station is one where each tube holds the axis.
        """
        rho = self.rho_at(z)
        major = radius / self.cos
        # Where the ray half-way to the neighbour leaves the ellipse:
        #   ((t cos b - rho) / major)^2 + (t sin b / radius)^2 = 1
        cb, sb = math.cos(self.beta), math.sin(self.beta)
        a = (cb / major) ** 2 + (sb / radius) ** 2
        b = -2.0 * cb * rho / major**2
        c = (rho / major) ** 2 - 1.0
        t = (-b + math.sqrt(b * b - 4.0 * a * c)) / (2.0 * a)
        half = math.atan2(t * sb / radius, (t * cb - rho) / major)
        return tuple(
            EllipseArc(
                (rho * math.cos(phi), rho * math.sin(phi)), major, radius, phi, -half, 2.0 * half
            )
            for phi in (self.azimuth(i) for i in range(self.count))
        )

    def lobed_area(self, z: float, radius: float) -> float:
        """Area inside the lobes [mm2]."""
        return area(self.lobes(z, radius))

    def trim_station(self) -> float:
        """Station where the lobed bore has the throat's area [mm]."""
        inner = self.tube.inner_radius
        bore = self.spec.outlet.od - 2.0 * self.spec.outlet.wall
        wanted = math.pi / 4.0 * (self.spec.throat or bore) ** 2
        # The bores close round the axis where it enters each of them.
        near = (self.rho - 0.98 * inner / self.cos) / self.tan
        far = self.rho / self.tan
        most, least = self.lobed_area(near, inner), self.lobed_area(far, inner)
        if not least < wanted < most:
            low, high = (2.0 * math.sqrt(x / math.pi) for x in (least, most))
            key = ("collector", "throat") if self.spec.throat else ("collector", "outlet", "od")
            raise DoesNotFit(
                key,
                f"a throat of {2.0 * math.sqrt(wanted / math.pi):.1f} mm bore",
                f"between {low:.1f} and {high:.1f} mm for these tubes",
                "choose another outlet or throat",
            )
        for _ in range(200):
            mid = 0.5 * (near + far)
            if self.lobed_area(mid, inner) > wanted:
                near = mid
            else:
                far = mid
        if near <= self.first_join():
            raise DoesNotFit(
                ("collector", "merge_angle"),
                f"{self.spec.merge_angle:g} deg",
                "an angle at which the bores join before the throat",
                "choose a smaller merge angle or a smaller throat",
            )
        return near

    def cone(self, at: float) -> _Cone:
        """From the trim plane to the round outlet."""
        outer_radius = self.spec.outlet.od / 2.0
        sizes = (
            (self.tube.outer_radius, outer_radius),
            (self.tube.inner_radius, outer_radius - self.spec.outlet.wall),
        )
        lobes = [self.lobes(at, radius) for radius, _ in sizes]
        rounds = [self._round(radius) for _, radius in sizes]
        change = max(
            abs(math.hypot(*_at(segment, f)) - radius)
            for loop, (_, radius) in zip(lobes, sizes, strict=True)
            for segment in loop[:1]
            for f in (0.0, 0.5)
        )
        length = max(_CONE_LEAST, 5.0 * math.ceil(change / math.tan(_CONE_ANGLE) / 5.0))
        return _Cone((lobes[0], lobes[1]), (rounds[0], rounds[1]), at, length)

    def _round(self, radius: float) -> CurvedLoop:
        return tuple(
            Arc((0.0, 0.0), radius, self.azimuth(i) - self.beta, 2.0 * self.beta)
            for i in range(self.count)
        )

    def stub(self, trim: float) -> tuple[Node, Node]:
        """Metal and bore of the tube at azimuth 0, trimmed on its planes."""
        reach = trim / self.cos + 2.0 * self.tube.outer_radius * self.tan + 10.0
        path = Centreline(self.slot(), (Straight(reach),))
        axis: Vec = (0.0, 0.0, 0.0)
        sb, cb = math.sin(self.beta), math.cos(self.beta)
        planes = (
            Plane(axis, (-sb, cb, 0.0)),
            Plane(axis, (-sb, -cb, 0.0)),
            Plane((0.0, 0.0, trim), (0.0, 0.0, 1.0)),
        )
        inner = self.tube.inner_radius
        return (
            Trim(Tube(path, self.tube.outer_radius, inner), planes),
            Trim(Tube(path, inner), planes),
        )


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
    more = math.pi / 4.0 if spec.array == "diamond" else 0.0
    return frame.rolled(math.radians(spec.roll) + more + math.pi / count)


def _into(home: Frame, local: Frame) -> Frame:
    return Frame(home.point(local.origin), unit(home.vector(local.x)), unit(home.vector(local.z)))


def _outlet_path(spec: Spec, start: Frame) -> Centreline:
    pieces: list[PathPiece] = []
    if spec.outlet.bend is not None:
        toward = unit(spec.outlet.bend.toward)
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
            pieces.append(Bend(spec.outlet.bend.clr, angle, roll))
    if spec.outlet.length > 0.0 or not pieces:
        pieces.append(Straight(max(spec.outlet.length, 10.0)))
    return Centreline(start, tuple(pieces))


def _envelopes(
    array: _Array,
    home: Frame,
    slots: tuple[Frame, ...],
    trim: float,
    cone: float,
    outlet: Centreline,
    spec: Spec,
) -> tuple[Envelope, ...]:
    outer = array.tube.outer_radius
    stubs = [
        Envelope("stub", i, Centreline(slot, (Straight(trim / array.cos),)), outer)
        for i, slot in enumerate(slots)
    ]
    widest = max(array.rho_at(trim) + outer / array.cos, spec.outlet.od / 2.0)
    return (
        *stubs,
        Envelope("cone", None, Centreline(home.moved(trim), (Straight(cone),)), widest),
        Envelope("outlet", None, outlet, spec.outlet.od / 2.0),
    )


def _areas(
    array: _Array, trim: float, cone: _Cone, outlet: Centreline, size: TubeSize
) -> tuple[AreaAt, ...]:
    one = math.pi * array.tube.inner_radius**2
    throat = array.lobed_area(trim, array.tube.inner_radius)
    rows = [
        AreaAt(0.0, one, "slot"),
        AreaAt(array.first_join() / array.cos, one, "first join"),
        AreaAt(trim / array.cos, throat, "throat"),
    ]
    for i in range(1, 5):
        f = i / 5.0
        rows.append(AreaAt(trim / array.cos + f * cone.length, _blend_area(*cone.inner, f), "cone"))
    behind = trim / array.cos + cone.length
    bore = math.pi * size.inner_radius**2
    rows.append(AreaAt(behind, bore, "outlet"))
    rows.append(AreaAt(behind + outlet.length, bore, "outlet end"))
    return tuple(rows)


def _blend_area(a: CurvedLoop, b: CurvedLoop, fraction: float, steps: int = 400) -> float:
    """Area of the section part of the way along a ruled wall [mm2], within 1e-4 relative."""
    points = []
    for p, q in zip(a, b, strict=True):
        for i in range(steps):
            (x0, y0), (x1, y1) = _at(p, i / steps), _at(q, i / steps)
            points.append((x0 + fraction * (x1 - x0), y0 + fraction * (y1 - y0)))
    return 0.5 * sum(
        x0 * y1 - x1 * y0
        for (x0, y0), (x1, y1) in zip(points, points[1:] + points[:1], strict=True)
    )


def _at(segment: Line | Arc | EllipseArc, fraction: float) -> Point2:
    assert not isinstance(segment, Line)
    return segment.at(fraction)
