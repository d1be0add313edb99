"""What a reader saw of a drawing's cut layer, and what a design says should be there.

Ends that touch are joined by scipy and shapely, whatever the reader: an end that does not meet
exactly one other end is loose, so an open loop and a doubled line both show.
"""

import math
from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

TOUCHING = 0.001
"""Ends nearer than this are one [mm]; cutters join at 0.01 mm or less."""

STEP = math.radians(0.5)
"""Arcs are compared as chords of at most this angle: 0.002 mm off at a radius of 200 mm."""


@dataclass(frozen=True)
class Stroke:
    """One entity, or one piece of a polyline, as a reader hands it over, in the file's unit.

    Attributes:
        points: along it, shape ``(n, 2)``.
        length: as the reader gives it; of chords where it makes chords of arcs.
        arc: centre x, centre y and radius, where the reader keeps arcs.
    """

    points: np.ndarray
    length: float
    arc: tuple[float, float, float] | None = None

    def times(self, factor):
        """The same in another unit."""
        arc = self.arc and tuple(factor * value for value in self.arc)
        return Stroke(self.points * factor, self.length * factor, arc)

    @property
    def closed(self):
        return math.dist(self.points[0], self.points[-1]) <= TOUCHING


@dataclass(frozen=True)
class Seen:
    """A cut layer.

    Attributes:
        rings: closed loops.
        loose: chains of strokes that close no loop.
        length: of all strokes, loose ones too [mm].
        arcs: centre x, centre y and radius of every arc and circle [mm]; None when the reader
            makes chords of them.
        arcs_from: sweep below which it may make a chord of an arc all the same [rad].
    """

    rings: tuple[shapely.Polygon, ...]
    loose: tuple[shapely.LineString, ...]
    length: float
    arcs: tuple[tuple[float, float, float], ...] | None
    arcs_from: float = 0.0

    @property
    def lines(self):
        """All there is, as one shape."""
        return shapely.MultiLineString([*(ring.exterior for ring in self.rings), *self.loose])


IN_MM = {"mm": 1.0, "inch": 25.4}


def seen(strokes, unit="mm", arcs_from=None):
    """Strokes in a unit, in mm and joined where their ends meet.

    Args:
        strokes: as read.
        unit: that they are in.
        arcs_from: sweep from which the reader keeps arcs [rad]; None when it keeps none.
    """
    strokes = [stroke.times(IN_MM[unit]) for stroke in strokes]
    rings = [stroke.points for stroke in strokes if stroke.closed]
    rest = [stroke.points.copy() for stroke in strokes if not stroke.closed]
    if rest:
        _snap(rest)
    # no union first: that would drop a line drawn twice
    merged = shapely.get_parts(shapely.line_merge(shapely.MultiLineString(rest)))
    rings += [line.coords for line in merged if line.is_ring]
    return Seen(
        tuple(shapely.Polygon(points) for points in rings),
        tuple(line for line in merged if not line.is_ring),
        math.fsum(stroke.length for stroke in strokes),
        None if arcs_from is None else tuple(stroke.arc for stroke in strokes if stroke.arc),
        arcs_from or 0.0,
    )


def _snap(lines):
    """Give ends that touch the very same coordinates."""
    ends = np.array([end for line in lines for end in (line[0], line[-1])])
    pairs = cKDTree(ends).query_pairs(TOUCHING, output_type="ndarray")
    size = len(ends)
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(size, size))
    _, groups = connected_components(graph, directed=False)
    _, first = np.unique(groups, return_index=True)
    for k, line in enumerate(lines):
        line[0], line[-1] = ends[first[groups[2 * k]]], ends[first[groups[2 * k + 1]]]


def ring(loop):
    """A design's loop as a polygon."""
    return shapely.Polygon(np.concatenate([points_of(piece)[:-1] for piece in loop]))


def length(loop):
    """Exact length of a design's loop [mm]."""
    return math.fsum(
        abs(piece.sweep) * piece.radius
        if hasattr(piece, "sweep")
        else math.dist(piece.start, piece.end)
        for piece in loop
    )


def points_of(piece, step=STEP):
    """Points along a design's line or arc, both ends and the middle among them."""
    if not hasattr(piece, "sweep"):
        return np.linspace(piece.start, piece.end, 3)
    return arc(piece.centre, piece.radius, piece.begin, piece.sweep, step)


def arc(centre, radius, begin, sweep, step=STEP):
    """Points along an arc: an even number of chords of at most ``step``."""
    angles = begin + sweep * np.linspace(0.0, 1.0, 1 + 2 * max(1, math.ceil(abs(sweep / step) / 2)))
    return np.asarray(centre) + radius * np.column_stack((np.cos(angles), np.sin(angles)))
