"""Finding a flat face of a shape by where it is."""

from __future__ import annotations

from OCP.BRepAdaptor import BRepAdaptor_Surface
from OCP.BRepGProp import BRepGProp
from OCP.GProp import GProp_GProps
from OCP.TopAbs import TopAbs_Orientation
from OCP.TopoDS import TopoDS_Face, TopoDS_Shape

from geomgen.geometry.frames import Plane, Vec, distance, norm, sub
from geomgen.recipe.nodes import NamedFace
from geomgen.solids.errors import SolidError
from geomgen.solids.measure import faces_of, surface_kind

OFF_PLANE = 1e-4
"""How far the named point may lie off the face's plane [mm]."""

OFF_NORMAL = 1e-6
"""How far the named normal may lean from the face's [rad]."""


def outward_plane(face: TopoDS_Face) -> Plane:
    """Plane of a flat face, its normal out of the solid."""
    plane = BRepAdaptor_Surface(face).Plane()
    turned = -1.0 if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED else 1.0
    if not plane.Direct():
        turned = -turned
    axis, origin = plane.Axis().Direction(), plane.Location()
    return Plane(
        (origin.X(), origin.Y(), origin.Z()),
        (turned * axis.X(), turned * axis.Y(), turned * axis.Z()),
    )


def middle(face: TopoDS_Face) -> Vec:
    """Centre of area of a face [mm]."""
    props = GProp_GProps()
    BRepGProp.SurfaceProperties_s(face, props)
    p = props.CentreOfMass()
    return (p.X(), p.Y(), p.Z())


def face_at(shape: TopoDS_Shape, wanted: NamedFace) -> TopoDS_Face:
    """The flat face in the named plane whose middle is nearest the named point.

    Raises:
        SolidError: no face lies there.
    """
    found: list[tuple[float, int, TopoDS_Face]] = []
    for index, face in enumerate(faces_of(shape)):
        if surface_kind(face) != "plane":
            continue
        plane = outward_plane(face)
        if (
            norm(sub(plane.normal, wanted.normal)) < OFF_NORMAL
            and abs(plane.height(wanted.point)) < OFF_PLANE
        ):
            found.append((distance(middle(face), wanted.point), index, face))
    if not found:
        raise SolidError(f"no flat face for {wanted.name} at {wanted.point}")
    return min(found, key=lambda entry: entry[:2])[2]
