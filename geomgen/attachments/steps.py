"""Stepped primaries: two or three diameters along every runner, each wider than the one before."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from geomgen.attachments._saddles import straights
from geomgen.attachments._said import AttachmentSpec, Size
from geomgen.families import DoesNotFit, TubeSize
from geomgen.geometry.centreline import Bend, Centreline, Piece, Straight, advance
from geomgen.plates._said import contradiction
from geomgen.units import Span, StrictModel, later

KIND = "steps"
ORDER = 0
ROUTED = True


class Diameter(StrictModel):
    """One size of tube, from the flange or the step before."""

    od: Size
    """Outside diameter."""
    wall: Size
    """Wall."""
    to: Size
    """Where its step to the next size stands: from the gasket face, z = 0, along the runner to
    the expander's middle."""

    @property
    def size(self) -> TubeSize:
        """Its radii [mm]."""
        return TubeSize(self.od / 2.0, self.od / 2.0 - self.wall)


class Spec(AttachmentSpec):
    """Steps of the primaries."""

    kind: Literal["steps"]
    """Stepped primaries: every runner begins in the first of these sizes and ends in
    ``runners.tube``, which the collector takes. Transition and window are the first size's. The
    router keeps clear with the largest size all along."""
    sizes: Annotated[tuple[Diameter, ...], Field(min_length=1, max_length=2)]
    """The sizes before ``runners.tube``, one or two, from the flange on."""
    expander: Size = 25.0
    """Length of each expander, a cone. It stands in a straight: the runners are laid out so that
    one holds it where it is wanted, on every cylinder, as far as that can be."""
    within: Span | None = later()
    """How far an expander may stand from where it is wanted; ``limits.step_moved`` without it."""
    must: bool | None = later()
    """Whether an expander that stands farther away than that fails; without it, it warns."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        for one in self.sizes:
            if 2.0 * one.wall >= one.od:
                raise contradiction(
                    f"a wall of {one.wall:g} in an OD of {one.od:g}",
                    "a wall of less than half the OD",
                    "give the wall, not the bore",
                )
        for one, two in zip(self.sizes, self.sizes[1:], strict=False):
            _hold_wider(one.size, two.size, "sizes")
            if two.to < one.to + self.expander:
                raise contradiction(
                    f"a step at {two.to:g} mm, and one at {one.to:g} mm",
                    f"at least {self.expander:g} mm between them, one expander",
                    "move them apart",
                )
        return self


@dataclass(frozen=True)
class Section:
    """A stretch of a runner: a tube of one size, or an expander.

    Attributes:
        path: its axis.
        start, end: sizes at its ends.
        moved: how far an expander stands from where it was wanted [mm].
    """

    path: Centreline
    start: TubeSize
    end: TubeSize
    moved: float = 0.0

    @property
    def is_step(self) -> bool:
        """Whether it is an expander."""
        return self.start != self.end


@dataclass(frozen=True)
class Keeps:
    """What an expander keeps of straight beside itself [mm].

    Attributes:
        bend: to a bend.
        end: to the runner's end, of which so much is inside the collector.
    """

    bend: float = 0.0
    end: float = 0.0


def _hold_wider(one: TubeSize, two: TubeSize, what: str) -> None:
    if not (two.outer_radius > one.outer_radius and two.inner_radius > one.inner_radius):
        raise contradiction(
            f"{what}: a step from {2 * one.outer_radius:g} to {2 * two.outer_radius:g} mm OD",
            "every size wider than the one before, outside and in",
            "put them in order; the last is runners.tube",
        )


def first_size(spec: Spec, last: TubeSize) -> TubeSize:
    """Size that the runners begin in.

    Raises:
        DoesNotFit: a step would narrow the runner.
    """
    one = spec.sizes[-1].size
    if not (last.outer_radius > one.outer_radius and last.inner_radius > one.inner_radius):
        raise DoesNotFit(
            ("sizes", len(spec.sizes) - 1),
            f"{spec.sizes[-1].od:g} x {spec.sizes[-1].wall:g} mm before runners.tube, "
            f"{2 * last.outer_radius:g} x {last.outer_radius - last.inner_radius:g} mm",
            "narrower than runners.tube, outside and in",
            "put the widest size into runners.tube",
        )
    return spec.sizes[0].size


def sections(
    spec: Spec,
    last: TubeSize,
    path: Centreline,
    before: float,
    runner: str,
    keeps: Keeps = Keeps(),
) -> tuple[Section, ...]:
    """A runner as tubes and expanders, from its transition to its slot.

    Args:
        spec: what was said [mm].
        last: size that it ends in.
        path: of its tube.
        before: length from z = 0 to the path's start [mm].
        runner: its name, for messages.
        keeps: what an expander keeps beside itself, where some straight leaves that.

    Raises:
        DoesNotFit: no straight holds an expander.
    """
    sizes = [*(one.size for one in spec.sizes), last]
    places = _places(spec, path, before, runner, keeps)
    half = spec.expander / 2.0
    made: list[Section] = []
    done = 0.0
    for size, wider, at, wanted in zip(
        sizes, sizes[1:], places, (one.to for one in spec.sizes), strict=False
    ):
        if at - half - done > 1e-9:
            made.append(Section(part_of(path, done, at - half), size, size))
        cone = part_of(path, at - half, at + half)
        made.append(Section(cone, size, wider, moved=at + before - wanted))
        done = at + half
    if path.length - done > 1e-9:
        made.append(Section(part_of(path, done, path.length), last, last))
    return tuple(made)


def _places(spec: Spec, path: Centreline, before: float, runner: str, keeps: Keeps) -> list[float]:
    """Stations of the expanders' middles, each as near as can be to where it is wanted."""
    half, rows = spec.expander / 2.0, straights(path)
    found: list[float] = []
    least = 0.0
    for i, one in enumerate(spec.sizes):
        wanted = one.to - before
        near = _near(_kept(rows, path.length, keeps), wanted, half, least)
        near = near or _near(rows, wanted, half, least)
        if not near:
            longest = max((b - a for a, b in rows), default=0.0)
            raise DoesNotFit(
                ("sizes", i, "to"),
                f"{one.to:g} mm: no straight of {runner} there or behind holds an expander of "
                f"{spec.expander:g} mm; its longest straight has {longest:.1f} mm",
                f"a straight of {spec.expander:g} mm",
                "shorten the expander, or make shelf.min_straight or min_straight_at_flange that "
                "long",
            )
        at = min(near, key=lambda place: (abs(place - wanted), place))
        found.append(at)
        least = at + spec.expander
    return found


def _near(rows: list[tuple[float, float]], wanted: float, half: float, least: float) -> list[float]:
    """Where each straight has room for an expander's middle, nearest to where it is wanted."""
    rooms = ((max(a + half, least), b - half) for a, b in rows)
    return [min(max(wanted, low), high) for low, high in rooms if low <= high]


def _kept(
    rows: list[tuple[float, float]], length: float, keeps: Keeps
) -> list[tuple[float, float]]:
    """Straights of a path of some length, less what an expander keeps beside itself."""
    return [
        (
            a + (keeps.bend if a > 1e-9 else 0.0),
            b - (keeps.bend if b < length - 1e-9 else keeps.end),
        )
        for a, b in rows
    ]


def part_of(path: Centreline, low: float, high: float) -> Centreline:
    """The part of a path between two stations [mm]."""
    pieces: list[Piece] = []
    start = None
    frame, at = path.start, 0.0
    for piece in path.pieces:
        a, b = max(low, at), min(high, at + piece.length)
        if b - a > 1e-9:
            if start is None:
                start = frame if a - at <= 0.0 else advance(frame, _cut(piece, 0.0, a - at))
            own = _cut(piece, a - at, b - at)
            pieces.append(own if not isinstance(own, Bend) or a <= at else _flat(own))
        frame, at = advance(frame, piece), at + piece.length
    assert start is not None
    return Centreline(start, tuple(pieces))


def _cut(piece: Piece, a: float, b: float) -> Piece:
    if isinstance(piece, Straight):
        return Straight(b - a)
    return Bend(piece.radius, (b - a) / piece.radius, piece.roll)


def _flat(bend: Bend) -> Bend:
    """The rest of a bend: its start has been rolled already."""
    return Bend(bend.radius, bend.angle, 0.0)
