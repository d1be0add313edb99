"""How the tubes of a merge stand: on a circle, or in a row.

All in the merge's own frame: z along its axis, the tubes' axes meet in one point of it. Tubes of
one size whose axes meet cut each other in the plane half-way between them, so that each cope is
a plane cut of a round tube. Station 0 is where the tubes lean in: at their entry faces, or
where a slip entry's parallel tubes turn.
"""

from __future__ import annotations

import math
from typing import Protocol

from geomgen.families import TubeSize
from geomgen.geometry.frames import Frame, Plane, Vec
from geomgen.profiles.loops import Arc, CurvedLoop, EllipseArc, Point2

_SHARE = 0.98  # bores are closed where this much of their radius covers what must be covered


Lobes = tuple[EllipseArc, ...]


class Array(Protocol):
    """Tubes that lean towards one point of an axis.

    Attributes:
        tube: size of the tubes.
        count: of them.
        turns: how far each tube's own frame is turned about the axis; equal tubes are
            alike in theirs [rad].
        lean: in that, the tube's axis at station 0: z along it, x square to it in its plane
            with the axis.
        tilts: of the tubes' axes against the merge's, signed towards x [rad].
        apex: station of the point that the tubes' axes aim at.
        fan: how far from it the tubes of a row begin at most, for the gap between their rims;
            None where all begin at station 0 [mm].
        least, most: stations between which the bores, and the outsides, are one lobed section.
    """

    @property
    def tube(self) -> TubeSize: ...

    @property
    def count(self) -> int: ...

    @property
    def turns(self) -> tuple[float, ...]: ...

    @property
    def lean(self) -> tuple[Frame, ...]: ...

    @property
    def tilts(self) -> tuple[float, ...]: ...

    @property
    def apex(self) -> float: ...

    @property
    def fan(self) -> float | None: ...

    @property
    def least(self) -> float: ...

    @property
    def most(self) -> float: ...

    def join(self, radius: float) -> float:
        """Station of the point, nearest the ports, where neighbours of a radius meet [mm]."""
        ...

    def aside(self, radius: float) -> float:
        """How far that point is from either tube's axis, towards the merge's [mm]."""
        ...

    def planes(self, slot: int, /) -> tuple[Plane, ...]:
        """Half-way planes of one tube and its neighbours, in its frame; normals point away."""
        ...

    def lobes(self, z: float, radius: float) -> Lobes:
        """Section of all tubes of a radius, square to the axis."""
        ...

    def round(self, lobes: Lobes, radius: float, /) -> CurvedLoop:
        """Circle in as many arcs as some lobes have."""
        ...

    def reach(self, z: float) -> float:
        """How far the outermost tube's axis is from the merge's at a station [mm]."""
        ...


class Round:
    """Tubes on a circle; slot i stands 2 beta on from the one before."""

    def __init__(
        self, tube: TubeSize, count: int, angle: float, gap: float, parallel: bool
    ) -> None:
        self.tube, self.count = tube, count
        self.alpha = angle
        self.beta = math.pi / count
        self.sin, self.cos, self.tan = math.sin(angle), math.cos(angle), math.tan(angle)
        self.k = self.sin * math.sin(self.beta)  # approach to the half-way plane per mm of tube
        self.q = math.sqrt(1.0 - self.k**2)
        # Rims of parallel tubes are nearest in their own plane; those of leaning ones a little
        # nearer than their axes say.
        near = 1.0 if parallel else self.q
        self.rho = (tube.outer_radius * near + gap / 2.0) / math.sin(self.beta)
        self.tilts = (angle,) * count
        self.turns = tuple(2.0 * self.beta * i for i in range(count))
        own = Frame((self.rho, 0.0, 0.0), (self.cos, 0.0, self.sin), (-self.sin, 0.0, self.cos))
        self.lean = (own,) * count
        self.least = (self.rho - _SHARE * tube.inner_radius / self.cos) / self.tan
        self.most = self.apex = self.rho / self.tan
        self.fan: float | None = None

    def reach(self, z: float) -> float:
        """Distance of a tube's axis from the merge's at a station [mm]."""
        return self.rho - z * self.tan

    def join(self, radius: float) -> float:
        """Station of the point, nearest the ports, where neighbours of a radius meet [mm].

        The tube cuts the half-way plane in an ellipse; this is the least axial coordinate
        on it, in closed form.
        """
        along = self.cos / (self.k * self.q)
        across = math.sqrt(max(self.sin**2 - (self.k * self.cos / self.q) ** 2, 0.0))
        middle = self.rho * math.sin(self.beta) * self.cos / self.k
        return middle - radius * math.hypot(along, across)

    def narrow(self, radius: float) -> float:
        """How far from the axis that point is: where the way between neighbours is least [mm]."""
        slope = self.cos / math.tan(self.beta)
        return radius * slope / math.hypot(1.0, slope) / math.sin(self.beta)

    def aside(self, radius: float) -> float:
        """How far it is from its tube's axis, towards the merge's [mm]."""
        return radius / math.hypot(1.0, self.cos / math.tan(self.beta))

    def planes(self, _slot: int, /) -> tuple[Plane, ...]:
        """The half-way planes to both neighbours, through the axis."""
        sb, cb = math.sin(self.beta), math.cos(self.beta)
        axis: Vec = (0.0, 0.0, 0.0)
        return (
            Plane(axis, (-sb, cb, 0.0)),
            Plane(axis, (-sb, -cb, 0.0)),
        )

    def lobes(self, z: float, radius: float) -> Lobes:
        """One elliptical arc a tube; the station is one where each tube holds the axis."""
        rho = self.reach(z)
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
            for phi in self.turns
        )

    def round(self, _lobes: Lobes, radius: float, /) -> CurvedLoop:
        """One arc a tube."""
        return tuple(
            Arc((0.0, 0.0), radius, phi - self.beta, 2.0 * self.beta) for phi in self.turns
        )


class Row:
    """Tubes side by side in the plane of x and z, the first on the side of x.

    The outermost lean by the merge angle, those between them less. Where they enter leaning they
    fan out evenly; where they enter parallel they stand on one pitch.
    """

    def __init__(
        self, tube: TubeSize, count: int, angle: float, gap: float, parallel: bool
    ) -> None:
        self.tube, self.count = tube, count
        places = [0.5 * (count - 1) - i for i in range(count)]
        if parallel:
            out = [place * (2.0 * tube.outer_radius + gap) for place in places]
            self.apex = out[0] / math.tan(angle)
            self.fan: float | None = None
            self.tilts = tuple(math.atan2(x, self.apex) for x in out)
        else:
            self.tilts = tuple(angle * place / places[0] for place in places)
            half = 0.5 * (self.tilts[0] - self.tilts[1])
            # Rims of neighbours keep the gap where both are this far from the point they aim at.
            self.fan = (tube.outer_radius * math.cos(half) + gap / 2.0) / math.sin(half)
            self.apex = self.fan * math.cos(min(abs(tilt) for tilt in self.tilts))
        self.turns = (0.0,) * count
        self.lean = tuple(
            Frame(
                (self.apex * math.tan(a), 0.0, 0.0),
                (math.cos(a), 0.0, math.sin(a)),
                (-math.sin(a), 0.0, math.cos(a)),
            )
            for a in self.tilts
        )
        self.least = self.apex - _SHARE * min(
            tube.inner_radius * math.cos(self._middle(i)) / math.sin(self._half(i))
            for i in range(count - 1)
        )
        self.most = self.apex - 0.02 * (self.apex - self.least)

    def _half(self, i: int) -> float:
        """Half the angle between a tube and the next [rad]."""
        return 0.5 * (self.tilts[i] - self.tilts[i + 1])

    def _middle(self, i: int) -> float:
        """Direction half-way between a tube and the next [rad]."""
        return 0.5 * (self.tilts[i] + self.tilts[i + 1])

    def reach(self, z: float) -> float:
        """Distance of the outermost tube's axis from the merge's at a station [mm]."""
        return (self.apex - z) * math.tan(self.tilts[0])

    def join(self, radius: float) -> float:
        """Station of the point, nearest the ports, where neighbours of a radius meet [mm].

        Each half-way plane cuts its two tubes in an ellipse about the point they aim at, of
        half length radius / sin(half the angle between them) along the plane.
        """
        return self.apex - max(
            radius * math.cos(self._middle(i)) / math.sin(self._half(i))
            for i in range(self.count - 1)
        )

    def aside(self, radius: float) -> float:
        """Its tubes' own radius: it lies in the plane of their axes [mm]."""
        return radius

    def planes(self, slot: int, /) -> tuple[Plane, ...]:
        """The half-way planes to the neighbours; the outermost tubes have one."""
        point: Vec = (0.0, 0.0, self.apex)
        found = []
        if slot > 0:
            a = self._middle(slot - 1)
            found.append(Plane(point, (math.cos(a), 0.0, math.sin(a))))
        if slot < self.count - 1:
            a = self._middle(slot)
            found.append(Plane(point, (-math.cos(a), 0.0, -math.sin(a))))
        return tuple(found)

    def lobes(self, z: float, radius: float) -> Lobes:
        """Right end, tops towards the left, left end, bottoms back; all bores overlap there."""
        left = self.apex - z
        arcs: list[tuple[Point2, float, float, float]] = []
        for i, a in enumerate(self.tilts):
            middle, major = left * math.tan(a), radius / math.cos(a)
            # Eccentric angles where the half-way planes to both neighbours cut the tube.
            first = self._cut(i - 1, left, middle, major) if i else 0.0
            last = self._cut(i, left, middle, major) if i < self.count - 1 else math.pi
            arcs.append(((middle, 0.0), major, first, last))
        (c0, m0, _, e0), (c1, m1, e1, _) = arcs[0], arcs[-1]
        between = arcs[1:-1]
        return (
            EllipseArc(c0, m0, radius, 0.0, -e0, 2.0 * e0),
            *(EllipseArc(c, m, radius, 0.0, e, f - e) for c, m, e, f in between),
            EllipseArc(c1, m1, radius, 0.0, e1, math.tau - 2.0 * e1),
            *(EllipseArc(c, m, radius, 0.0, -f, f - e) for c, m, e, f in reversed(between)),
        )

    def _cut(self, i: int, left: float, middle: float, major: float) -> float:
        return math.acos((left * math.tan(self._middle(i)) - middle) / major)

    def round(self, lobes: Lobes, radius: float, /) -> CurvedLoop:
        """Circle whose arcs begin where the lobes do once width and height are made one.

        Of a long round and a circle of one area, joined so, no section between is smaller; of
        lobes none is while they have less than nine tenths of all tubes' area.
        """
        first = lobes[0]
        wide, high = first.at(0.5)[0], max(arc.minor for arc in lobes)
        starts = [math.atan2(arc.start[1] / high, arc.start[0] / wide) for arc in lobes]
        return tuple(
            Arc((0.0, 0.0), radius, a, (b - a) % math.tau)
            for a, b in zip(starts, (*starts[1:], starts[0]), strict=True)
        )
