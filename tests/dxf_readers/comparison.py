"""A design beside what an outside reader saw of its file.

Bars: 0.1 % of the cut length, and 0.01 mm for extents, places of loops and edges, the bar of
every DXF feature.
"""

import math

import numpy as np
import shapely
from dxf_readers.seen import length, points_of, ring

SHARE = 1e-3
"""What cut length and area may be off, of the whole."""

CLOSE = 0.01
"""What places may be off [mm]."""


def differences(part, seen):
    """What is not as designed, as words by what was compared; empty when all is.

    ``loops``: how many close. ``loose``: chains that close none. ``length``: cut length.
    ``extents``: of the whole. ``places``: centre, length and area of each loop, holes among
    them. ``edges``: ends and middle of each line and arc. ``arcs``: centre and radius of each
    arc, where the reader keeps arcs that turn as far.
    """
    loops = (part.profile.outer, *part.profile.holes)
    rings = [ring(loop) for loop in loops]
    lengths = [length(loop) for loop in loops]
    found = {
        "loops": _loops(loops, seen),
        "loose": f"{len(seen.loose)} chains" if seen.loose else "",
        "length": _length(math.fsum(lengths), seen),
        "extents": _extents(rings, seen),
        "places": _places(rings, lengths, seen),
        "edges": _edges(loops, seen),
        "arcs": "" if seen.arcs is None else _arcs(loops, seen),
    }
    return {name: words for name, words in found.items() if words}


def _loops(loops, seen):
    return "" if len(seen.rings) == len(loops) else f"{len(seen.rings)} of {len(loops)}"


def _length(wanted, seen):
    off = seen.length / wanted - 1.0
    return f"{100 * off:.3f} %" if abs(off) > SHARE else ""


def _extents(rings, seen):
    wanted = shapely.total_bounds(rings)
    off = max(abs(wanted - shapely.total_bounds(seen.lines)))
    return "" if off <= CLOSE else f"{off:.4f} mm"


def _places(rings, lengths, seen):
    """Each loop of the design beside the nearest that is left of those seen."""
    left, faults = list(seen.rings), []
    for wanted, exact in zip(rings, lengths, strict=True):
        nearest = min(left, key=lambda other: _apart(wanted, other), default=None)
        if nearest is None:
            faults.append("one is missing")
            continue
        left.remove(nearest)
        off = wanted.centroid.distance(nearest.centroid)
        longer = nearest.length / exact - 1.0
        larger = nearest.area / wanted.area - 1.0
        if off > CLOSE or max(abs(longer), abs(larger)) > SHARE:
            faults.append(f"{off:.4f} mm, {100 * longer:.3f} %, {100 * larger:.3f} %")
    return "; ".join(faults)


def _apart(one, other):
    """How unlike two loops are: of places, then sizes [mm]."""
    return one.centroid.distance(other.centroid) + abs(one.length - other.length)


def _edges(loops, seen):
    places = np.concatenate([points_of(piece, math.pi) for loop in loops for piece in loop])
    off = shapely.distance(shapely.points(places), seen.lines).max()
    return "" if off <= CLOSE else f"{off:.4f} mm"


def _arcs(loops, seen):
    """Every arc by centre and radius, and no other; a circle counts once."""
    arcs = [piece for loop in loops for piece in loop if hasattr(piece, "sweep")]
    wanted = {_rounded((*p.centre, p.radius)) for p in arcs}
    # within 1 % of its bar a reader may go either way
    kept = {_rounded((*p.centre, p.radius)) for p in arcs if abs(p.sweep) > 1.01 * seen.arcs_from}
    there = {_rounded(arc) for arc in seen.arcs}
    strange = [arc for arc in there if not any(math.dist(arc, w) <= CLOSE for w in wanted)]
    missing = [w for w in kept if not any(math.dist(arc, w) <= CLOSE for arc in there)]
    if strange or missing:
        return f"{len(missing)} missing, {len(strange)} not in the design"
    return ""


def _rounded(arc):
    return tuple(round(value, 6) for value in arc)


def off_net(part, kerf, seen):
    """How far what a torch leaves is off the part, everywhere [mm].

    Args:
        part: net.
        kerf: width of the cut [mm].
        seen: the file with kerf, whose lines are the middle of the cut. Leads and overruns cross
            the way round, so they are no loops.
    """
    outer, *holes = (ring(loop) for loop in (part.profile.outer, *part.profile.holes))
    net = outer.difference(shapely.union_all(holes))
    lines = shapely.simplify(seen.lines, CLOSE / 10.0)  # of thousands of chords
    cut = shapely.union_all(shapely.buffer(shapely.get_parts(lines), kerf / 2.0, quad_segs=16))
    plate = shapely.box(*net.bounds).buffer(50.0)
    left = shapely.get_parts(plate.difference(cut))
    piece = max(left, key=lambda other: other.intersection(net).area)
    ways = (piece.boundary, net.boundary), (net.boundary, piece.boundary)
    return max(_farthest(shapely.get_coordinates(one), other) for one, other in ways)


def _farthest(places, lines):
    """How far the farthest of some places is from lines [mm].

    By a tree of single chords, which pays with thousands of places.
    """
    chords = []
    for line in shapely.get_parts(lines):
        points = shapely.get_coordinates(line)
        chords.append(np.stack((points[:-1], points[1:]), axis=1))
    tree = shapely.STRtree(shapely.linestrings(np.concatenate(chords)))
    _, off = tree.query_nearest(shapely.points(places), return_distance=True, all_matches=False)
    return off.max()
