"""Recipe nodes to kernel shapes, each equal node built once.

The kernel takes over a second to load: import this module where it is used.
"""

from __future__ import annotations

from functools import lru_cache

from OCP.TopoDS import TopoDS_Shape

from geomgen.recipe.nodes import Cut, Fuse, Node, Placed, Prism, RuledWall, Trim, Tube
from geomgen.solids._booleans import cut, fused, trimmed
from geomgen.solids._curves import location
from geomgen.solids._prisms import prism
from geomgen.solids._tubes import tube
from geomgen.solids._walls import ruled_wall
from geomgen.solids.errors import SolidError

__all__ = ["SolidError", "build"]


@lru_cache(maxsize=1024)
def build(node: Node) -> TopoDS_Shape:
    """The one closed solid of a node [mm]. Equal nodes share one shape.

    A placed node is its node's shape carried elsewhere: it shares the geometry.

    Raises:
        SolidError: the node makes no solid, or not the one that it asks for.
    """
    match node:
        case Tube():
            return tube(node)
        case Prism():
            return prism(node)
        case RuledWall():
            return ruled_wall(node)
        case Trim():
            return trimmed(build(node.node), node.planes)
        case Cut():
            return cut(build(node.node), [build(tool) for tool in node.tools])
        case Fuse():
            return fused([build(part) for part in node.nodes])
        case Placed():
            return build(node.node).Moved(location(node.frame))
