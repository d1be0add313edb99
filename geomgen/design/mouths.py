"""Gas as far as the face of the flange that an outlet ends in: what comes next is bolted there.

A tube in a socket ends short of the gasket face. Its bore goes on through the bead that closes
that step, dressed flush, as at a head flange. A tube that butts stops at the plate's back, and the
gas goes through the plate's own window.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from geomgen.design.model import FlatPart
from geomgen.families import Amounts, AreaAt, Layout, Scroll
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, Vec, cross, distance, dot, norm, scale, sub
from geomgen.profiles.crossings import point_at
from geomgen.profiles.loops import Loop, Profile, area, circle
from geomgen.recipe.nodes import Cut, Fuse, NamedFace, Node, Prism, Trim, Tube

_SAME = 1e-6

_STEPS = 16
"""Points on each piece of a window, for whether it crosses the bore's edge."""


@dataclass(frozen=True)
class _Mouth:
    """What of an outlet's gas lies between its pipe's end and its flange's face [mm]."""

    face: NamedFace
    window: Loop
    radius: float
    depth: float
    node: Node

    @property
    def ends(self) -> NamedFace:
        """The named end on the flange's face."""
        way = self.face.normal
        x, y, z = (p + self.depth * w for p, w in zip(self.face.point, way, strict=True))
        return replace(self.face, point=(x, y, z))


def to_faces(layout: Layout, flats: Iterable[FlatPart]) -> Layout:
    """The layout with the gas of every flanged outlet carried on to its flange's face.

    Args:
        layout: of the family, with what is attached.
        flats: plate parts; loose ones, and those with several windows, carry no outlet on.
    """
    plates = [flat for flat in flats if not flat.loose and len(flat.windows) == 1]
    for i, scroll in enumerate(layout.scrolls):
        for face in scroll.outlets:
            mouth = next((m for flat in plates for m in _mouth(flat, face, scroll)), None)
            if mouth is not None:
                layout = _carried(layout, i, mouth)
    return layout


def _mouth(flat: FlatPart, face: NamedFace, scroll: Scroll) -> Iterator[_Mouth]:
    """Of an outlet, if this plate is what it ends in."""
    frame = flat.frame
    away = sub(face.point, frame.origin)
    depth = dot(away, frame.z)
    aside = norm(sub(away, scale(frame.z, depth)))
    facing = dot(face.normal, frame.z) < 0.0 and norm(cross(face.normal, frame.z)) < _SAME
    if not facing or aside > _SAME or not _SAME < depth < flat.thickness + _SAME:
        return
    radius = next((r for node in scroll.gas for r in _ending(node, face.point)), None)
    if radius is None:
        return
    if flat.window_style == "butt":
        window = flat.windows[0]
        yield _Mouth(face, window, radius, depth, Prism(frame, Profile(window), depth))
        return
    on = Centreline(Frame.facing(face.point, face.normal, frame.x), (Straight(depth),))
    yield _Mouth(face, circle((0.0, 0.0), radius), radius, depth, Tube(on, radius))


def _ending(node: Node, point: Vec) -> Iterator[float]:
    """Radius of the round bore that ends at a point, if one does [mm]."""
    match node:
        case Fuse():
            for piece in node.nodes:
                yield from _ending(piece, point)
        case Cut() | Trim():
            yield from _ending(node.node, point)
        case Tube() if distance(node.centreline.end.origin, point) < _SAME:
            yield node.outer_radius


def _carried(layout: Layout, number: int, mouth: _Mouth) -> Layout:
    scroll = layout.scrolls[number]
    longer = replace(
        scroll,
        gas=(*scroll.gas, mouth.node),
        outlets=tuple(mouth.ends if face is mouth.face else face for face in scroll.outlets),
    )
    scrolls = tuple(longer if i == number else one for i, one in enumerate(layout.scrolls))
    return replace(
        layout, scrolls=scrolls, areas=_areas(layout, mouth), amounts=_amounts(layout, mouth)
    )


def _areas(layout: Layout, mouth: _Mouth) -> tuple[AreaAt, ...]:
    """With the flange's face, where the areas are of this outlet."""
    rows = layout.areas
    if distance(mouth.face.point, layout.outlet.origin) > _SAME:
        return rows
    if all(row.what != "throat" for row in rows):
        return rows  # open stubs, whose areas end with each
    last, through = max(rows, key=lambda row: row.station), abs(area(mouth.window))
    steps = abs(through - last.area) > _SAME * last.area
    back = (AreaAt(last.station, through, "flange"),) if steps else ()
    return (*rows, *back, AreaAt(last.station + mouth.depth, through, "flange face"))


def _amounts(layout: Layout, mouth: _Mouth) -> Amounts | None:
    """What all comes to; None where window and bore cross, which leaves no closed form."""
    own = layout.amounts
    if own is None:
        return None
    bore, through = math.pi * mouth.radius**2, abs(area(mouth.window))
    steps = [k / _STEPS for k in range(_STEPS)]
    reach = [math.hypot(*point_at(piece, k)) for piece in mouth.window for k in steps]
    if min(reach) < mouth.radius - _SAME and max(reach) > mouth.radius + _SAME:
        return None
    sides = math.fsum(piece.length for piece in mouth.window) * mouth.depth
    return replace(
        own,
        gas=own.gas + through * mouth.depth,
        wall=own.wall + sides + abs(through - bore),
    )
