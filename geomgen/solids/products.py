"""Which parts are one product: a shape that is written once and occurs where it is placed."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import takewhile

from geomgen.geometry.frames import Frame, Vec
from geomgen.recipe.nodes import Group, NamedFace, Node, Part, Placed, parts_of

Share = tuple[Node, tuple[float, float, float], tuple[NamedFace, ...]]
"""What parts must agree in to be one product: shape, colour, named faces."""


@dataclass(frozen=True)
class Product:
    """A shape that is written once.

    Attributes:
        name: of the part, or what the names of its parts have in common.
        node: the shape in its own frame.
        colour: sRGB, 0 to 1.
        faces: named faces in the shape's own frame.
        parts: names of the parts that are this product, in the tree's order.
    """

    name: str
    node: Node
    colour: tuple[float, float, float]
    faces: tuple[NamedFace, ...]
    parts: tuple[str, ...]


def products_of(tree: Part | Group) -> dict[str, Product]:
    """Products by the name of each part that is one, in the tree's order."""
    shared: dict[Share, list[str]] = {}
    shares: dict[str, Share] = {}
    for part in parts_of(tree):
        share = shares[part.name] = _share(part)
        shared.setdefault(share, []).append(part.name)
    taken: set[str] = set()
    products: dict[Share, Product] = {}
    for share, names in shared.items():
        name = _common(names)
        if name in taken or (name in shares and len(names) > 1):
            name = names[0]
        taken.add(name)
        products[share] = Product(name, *share, tuple(names))
    return {name: products[share] for name, share in shares.items()}


def _share(part: Part) -> Share:
    node, frames = part.node, []
    while isinstance(node, Placed):
        frames.append(node.frame)
        node = node.node
    faces = part.faces
    for frame in frames:
        faces = tuple(_into(frame, face) for face in faces)
    return node, part.colour, faces


def _into(frame: Frame, face: NamedFace) -> NamedFace:
    """A named face in a frame's own coordinates, rounded so that equal places are equal."""
    point = frame.local(face.point)
    normal = frame.local(
        (
            frame.origin[0] + face.normal[0],
            frame.origin[1] + face.normal[1],
            frame.origin[2] + face.normal[2],
        )
    )
    return NamedFace(face.name, _rounded(point), _rounded(normal))


def _rounded(v: Vec) -> Vec:
    return (round(v[0], 7) + 0.0, round(v[1], 7) + 0.0, round(v[2], 7) + 0.0)


def _common(names: list[str]) -> str:
    """What some names begin with, without the number that tells them apart."""
    if len(names) == 1:
        return names[0]
    alike = takewhile(lambda letters: len(set(letters)) == 1, zip(*names, strict=False))
    stem = "".join(letters[0] for letters in alike)
    return stem.rstrip("0123456789").rstrip("_") or names[0]
