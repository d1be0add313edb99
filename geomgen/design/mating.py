"""Joints of a manifold with what comes next, but for the studs that runners are laid out round.

Those of gates, outlets and other plates that stand in it: bolted, or V-band rings that a clamp
holds. What comes next is not known; its flange counts as thick as the manifold's.
"""

from __future__ import annotations

from collections.abc import Iterator

from geomgen.design.hanging import stud_of
from geomgen.design.model import Joint, Stud
from geomgen.families import Envelope, Layout
from geomgen.families._mounted import Bolted
from geomgen.fasteners import FASTENERS
from geomgen.geometry.frames import Frame, dot, scale
from geomgen.plates import Plate, PlateHole
from geomgen.profiles.loops import bounding_box

_OUT = 5.0
"""How far a stud stands out of its nut [mm], as at a turbine: common practice, no source."""

_ON_AXIS = 1e-6


def mated(layout: Layout, standing: tuple[Plate, ...]) -> tuple[Joint, ...]:
    """Every such joint, the family's and its attachments' first.

    Args:
        layout: with everything that is attached.
        standing: plates of the spec's own that are part of the manifold.
    """
    held = {face.name for face in layout.bolted if face.bolts or face.far}
    welded = {face.name: face.welded for face in layout.bolted}
    plates = (*layout.plates, *standing)
    return (
        *(_far(face) for face in layout.bolted if face.far),
        *(
            joint
            for plate in plates
            if not plate.loose and _words(plate) not in held
            for joint in _joints(plate, layout.envelopes, welded.get(_words(plate), ()))
        ),
    )


def _words(plate: Plate) -> str:
    return plate.name.replace("_", " ")


def _far(face: Bolted) -> Joint:
    """Bolts that are screwed into a flange from beyond it."""
    studs = tuple(stud_of(bolt) for bolt in face.far)
    return Joint(face.name, _turned(face.frame), face.far_seat, studs, (face.name,))


def _turned(frame: Frame) -> Frame:
    """A frame turned half round about its y."""
    return Frame(frame.origin, scale(frame.x, -1.0), scale(frame.z, -1.0))


def _joints(
    plate: Plate, envelopes: tuple[Envelope, ...], welded: tuple[str, ...]
) -> Iterator[Joint]:
    name, pipes = _words(plate), (*_ending(plate, envelopes), *welded)
    if plate.ring is not None:
        ring = bounding_box(plate.outer).right
        yield Joint(name, plate.frame, 0.0, (), (plate.name, name), ring, pipes)
        return
    threaded = [hole for hole in plate.holes if hole.thread in FASTENERS]
    near = tuple(_stud(plate, hole) for hole in threaded if hole.kind == "clearance")
    far = tuple(_bolt(plate, hole) for hole in threaded if hole.kind == "tapped")
    if near:
        yield Joint(name, plate.frame, plate.thickness, near, (plate.name,), pipes=pipes)
    if far:
        own = (plate.name, *pipes)  # the gas goes on there, in something that is not known
        yield Joint(name, _turned(plate.frame), plate.thickness, far, own, pipes=pipes)


def _stud(plate: Plate, hole: PlateHole) -> Stud:
    """A stud, or a bolt, whose nut is on the tube side."""
    out = plate.thickness + FASTENERS[hole.thread].nut_height + _OUT
    return Stud(_called(plate, hole), hole.thread, (*hole.at, 0.0), out)


def _bolt(plate: Plate, hole: PlateHole) -> Stud:
    """A bolt through the flange that comes next, screwed into the plate, all through it."""
    at = (-hole.at[0], hole.at[1], 0.0)
    return Stud(_called(plate, hole), hole.thread, at, 0.0, bolt=2.0 * plate.thickness)


def _called(plate: Plate, hole: PlateHole) -> str:
    return f"{_words(plate)} {hole.name.removeprefix('bolt ')}"


def _ending(plate: Plate, envelopes: tuple[Envelope, ...]) -> tuple[str, ...]:
    """Pipes whose axes end within a plate, square to it."""
    found = []
    for bar in envelopes:
        end = bar.path.end
        x, y, z = plate.frame.local(end.origin)
        square = dot(end.z, plate.frame.z) < _ON_AXIS - 1.0
        inside = -_ON_AXIS <= z <= plate.thickness + _ON_AXIS
        if square and inside and max(abs(x), abs(y)) < _ON_AXIS and bar.name != plate.name:
            found.append(bar.name)
    return tuple(dict.fromkeys(found))
