"""The neck of a gate that two branches share: two halves with a sheet between them.

In a half's own frame z runs on to the seat from the place where both branches' axes meet, and x
to the branch's side; the sheet's face is the plane x = k, half its thickness. A branch of radius
r that comes in at phi is cut there by its plane z = const in an ellipse, r / cos(phi) by r, whose
part beyond the sheet's face is the mouth; ruled walls lead from the mouths to the part of a round
tube beyond that face.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from geomgen.families import TubeSize
from geomgen.families._cones import blend_area
from geomgen.geometry.frames import Frame
from geomgen.profiles.along import along
from geomgen.profiles.convex import hull_of_circles
from geomgen.profiles.loops import Arc, CurvedLoop, EllipseArc, Line, Loop, Profile, area
from geomgen.recipe.nodes import Node, Prism, RuledWall, Section

_SHARE = 0.98
"""Of a bore's half width that may lie beyond the sheet's face: less than all, so that it is open
to the sheet."""

_ARCS = 2
"""Arcs of one mouth: they meet where a branch has its seam, so both sides have the same edges."""

BEYOND = 2.0
"""What the sheet stands out of the crotch, for the weld [mm]."""

_NOSE = 3.0
"""Radius of its corners there [mm]."""

STEP = 2.5
"""Where its end is narrower: radius of the inside corners, and how far before the step [mm]."""

_STEPS, _ROOMS = 8, 3


@dataclass(frozen=True)
class NeckSize:
    """What a neck is made to [mm, rad].

    Attributes:
        branch: of each of the two.
        angle: of a branch to the gate's axis.
        sheet: thickness.
        gate: its round end.
        length: of the walls, along the axis.
        straight: round behind them.
    """

    branch: TubeSize
    angle: float
    sheet: float
    gate: TubeSize
    length: float
    straight: float

    @property
    def face(self) -> float:
        """From the axis to the sheet's face."""
        return self.sheet / 2.0

    @cached_property
    def mouth(self) -> float:
        """Station of the plane in which the branches are cut.

        There the part of a branch's bore beyond the sheet has the area of the half behind it; or
        what comes nearest that, with the bore open to the sheet and its axis beyond the gate's.
        """
        wanted = area(rest_of_disc(self.gate.inner_radius, self.face))
        low, high = 0.0, self.face + _SHARE * self.branch.inner_radius / math.cos(self.angle)
        for _ in range(100):
            middle = 0.5 * (low + high)
            if area(self._mouth(middle, self.branch.inner_radius)) < wanted:
                low = middle
            else:
                high = middle
        return -low / math.tan(self.angle)

    @property
    def reach(self) -> float:
        """From the gate's axis to a branch's at its mouth."""
        return -self.mouth * math.tan(self.angle)

    @property
    def crotch(self) -> float:
        """Station at which the branches' outsides first meet the sheet's faces."""
        into = self.face * math.cos(self.angle) + self.branch.outer_radius
        return -into / math.sin(self.angle)

    @property
    def rim(self) -> float:
        """Station of the round end's rim."""
        return self.mouth + self.length + self.straight

    def _mouth(self, reach: float, radius: float) -> CurvedLoop:
        arc = self._ellipse(reach, radius)
        return (*arc, Line(arc[-1].end, arc[0].start))

    def _ellipse(self, reach: float, radius: float) -> tuple[EllipseArc, ...]:
        major = radius / math.cos(self.angle)
        open_ = math.acos((self.face - reach) / major)
        part = 2.0 * open_ / _ARCS
        return tuple(
            EllipseArc((reach, 0.0), major, radius, 0.0, k * part - open_, part)
            for k in range(_ARCS)
        )

    def _circle(self, radius: float) -> tuple[Arc, ...]:
        open_ = math.acos(self.face / radius)
        part = 2.0 * open_ / _ARCS
        return tuple(Arc((0.0, 0.0), radius, k * part - open_, part) for k in range(_ARCS))

    @property
    def metal(self) -> Node:
        """A half's wall, round end and all, in its own frame."""
        near = _between(
            self._ellipse(self.reach, self.branch.outer_radius),
            self._ellipse(self.reach, self.branch.inner_radius),
        )
        far = _between(self._circle(self.gate.outer_radius), self._circle(self.gate.inner_radius))
        return RuledWall(self._sections(near, far, self.rim))

    def bore(self, seat: float, window: float) -> tuple[Node, ...]:
        """A half's bore, through the flange's window to the seat, in its own frame.

        Args:
            seat: station where it ends [mm].
            window: radius behind the rim [mm].
        """
        if seat - self.rim < 1e-9 or abs(window - self.gate.inner_radius) < 1e-9:
            return (RuledWall(self._sections(*self._bores, seat)),)
        beyond = Profile(rest_of_disc(window, self.face))
        return (
            RuledWall(self._sections(*self._bores, self.rim)),
            Prism(Frame().moved(self.rim), beyond, seat - self.rim),
        )

    @property
    def _bores(self) -> tuple[CurvedLoop, CurvedLoop]:
        ends = self._circle(self.gate.inner_radius)
        return (
            self._mouth(self.reach, self.branch.inner_radius),
            (*ends, Line(ends[-1].end, ends[0].start)),
        )

    def _sections(self, near: CurvedLoop, far: CurvedLoop, end: float) -> tuple[Section, ...]:
        at = (self.mouth, self.mouth + self.length, end)
        rows = zip(at, (near, far, far), strict=True)
        found = tuple(Section(Frame().moved(z), loop) for z, loop in rows)
        return found if end - at[1] > 1e-9 else found[:2]

    @property
    def least(self) -> float:
        """Least bore area of a half, mouth to rim [mm2]."""
        return min(blend_area(*self._bores, k / _STEPS) for k in range(_STEPS + 1))

    @property
    def slope(self) -> float:
        """Most that a ruling of the bore's wall leans against the gate's axis [rad]."""
        share = np.linspace(0.0, 1.0, _STEPS + 1)
        most = max(
            float(np.hypot(*(along(a, share) - along(b, share)).T).max())
            for a, b in zip(*self._bores, strict=True)
        )
        return math.atan2(most, self.length)

    @property
    def rooms(self) -> tuple[tuple[float, float, float], ...]:
        """Stations and radii of bars about the axis that hold the neck, one after the other.

        Rulings join the mouths' rims with the round end's, so no part of the wall is farther out
        than the straight line between the two greatest radii.
        """
        lobe = self.reach + self.branch.outer_radius / math.cos(self.angle)
        wide, end = max(lobe, self.gate.outer_radius), self.gate.outer_radius
        stops = [self.mouth + self.length * k / _ROOMS for k in range(_ROOMS + 1)]
        radii = [wide + (end - wide) * k / _ROOMS for k in range(_ROOMS)]
        rows = tuple(zip(stops, stops[1:], radii, strict=False))
        return (*rows, (stops[-1], self.rim, end)) if self.straight else rows


def _between(outer: CurvedLoop, inner: CurvedLoop) -> CurvedLoop:
    """The wall between two rows of arcs about the same middle, counter-clockwise."""
    back = tuple(_turned(arc) for arc in reversed(inner))
    return (*outer, Line(outer[-1].end, back[0].start), *back, Line(back[-1].end, outer[0].start))


def _turned(arc: Line | Arc | EllipseArc) -> Arc | EllipseArc:
    assert not isinstance(arc, Line)
    begin, sweep = arc.begin + arc.sweep, -arc.sweep
    if isinstance(arc, Arc):
        return Arc(arc.centre, arc.radius, begin, sweep)
    return EllipseArc(arc.centre, arc.major, arc.minor, arc.tilt, begin, sweep)


def rest_of_disc(radius: float, face: float) -> Loop:
    """The part of a disc about the axis beyond the sheet's face, counter-clockwise [mm]."""
    open_ = math.acos(face / radius)
    arc = Arc((0.0, 0.0), radius, -open_, 2.0 * open_)
    return (arc, Line(arc.end, arc.start))


def sheet_outline(size: NeckSize, seat: float, window: float) -> Loop:
    """The sheet's edge, counter-clockwise: x across the gate, y its station, on to the seat.

    It ends flush with the neck's outside, and covers both mouths. Where the flange's window is
    narrower than the round end, it goes on through that as wide as the window is there.

    Args:
        size: of the neck.
        seat: station of its end.
        window: radius of the flange's window.
    """
    wide = math.sqrt(size.gate.outer_radius**2 - size.face**2)
    mouth, aside = size.branch.outer_radius, size.reach - size.face
    if aside > 0.0:  # the widest part of the branch is past the mouth
        mouth = math.sqrt(mouth**2 - (aside * math.cos(size.angle)) ** 2)
    nose, low = min(mouth, wide), size.crotch - BEYOND
    tongue = math.sqrt(min(window, size.gate.outer_radius) ** 2 - size.face**2)
    stepped = wide - tongue > 1e-9
    top = size.rim - STEP if stepped else seat
    corner = min(_NOSE, nose / 2.0)
    spots: list[tuple[tuple[float, float], float]] = []
    for side in (-1.0, 1.0):
        spots.append(((side * (nose - corner), low + corner), corner))
        spots += [((side * wide, size.mouth + size.length), 0.0), ((side * wide, top), 0.0)]
    body = hull_of_circles(spots)
    return _with_tongue(body, top, tongue, seat) if stepped else body


def _with_tongue(body: Loop, top: float, half: float, seat: float) -> Loop:
    """The body with a narrower end set on its top edge, the inside corners rounded."""
    pieces: list[Line | Arc] = []
    for piece in body:
        level = isinstance(piece, Line) and min(piece.start[1], piece.end[1]) > top - 1e-9
        if not level:
            pieces.append(piece)
            continue
        # Wide steps have corners of the full radius, narrow ones corners that just fit.
        radius = min(STEP, piece.start[0] - half)
        foot = top + radius
        pieces += [
            Line(piece.start, (half + radius, top)),
            Arc((half + radius, foot), radius, -math.pi / 2.0, -math.pi / 2.0),
            Line((half, foot), (half, seat)),
            Line((half, seat), (-half, seat)),
            Line((-half, seat), (-half, foot)),
            Arc((-half - radius, foot), radius, 0.0, -math.pi / 2.0),
            Line((-half - radius, top), piece.end),
        ]
    return tuple(p for p in pieces if isinstance(p, Arc) or p.length > 1e-9)
