"""Where one stands to look at a manifold: which side of it is its front, and what views are called.

The front is the tube side, as one looks at the head from outside, wherever the head stands; what
looks neither way, two heads that face down or apart, is seen along its own frame.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from geomgen.design.model import Design
from geomgen.report._shading import Floats

_LEAST = 0.3
"""How much of a head's way out must run along a view for it to be seen from there [-]."""


@dataclass(frozen=True)
class Stance:
    """Axes of the front view, and names.

    Attributes:
        axes: (3, 3) rows: to the right, up, towards the viewer; each an axis of the frame.
        front: name of that view.
        side: name of the view from the right of it.
        note: which way the frame's axes run, where that is not the usual way.
    """

    axes: Floats
    front: str
    side: str
    note: str


def stance_of(design: Design) -> Stance:
    """How a design is looked at."""
    up = _nearest(np.array(design.vertical))
    outward = np.array([head.frame.z for head in design.heads])
    mean = outward.mean(axis=0)
    level = mean - float(mean @ up) * up
    if np.linalg.norm(level) > _LEAST:
        towards = _nearest(level)
    else:
        across = np.array([1.0, 0.0, 0.0]) if abs(up[0]) < 0.5 else np.array([0.0, 0.0, 1.0])
        towards = np.cross(across, up)
    axes = np.array([np.cross(up, towards), up, towards])
    # Where there are banks, right is one of them.
    side = (
        "from the right-hand end" if any(head.name for head in design.heads) else "from the right"
    )
    front = _front(design, outward @ towards, towards)
    return Stance(axes, front, side, _note(axes, front))


def _front(design: Design, facing: Floats, towards: Floats) -> str:
    if (facing > _LEAST).all():
        return "from the tube side"
    near = [float(np.array(head.frame.origin) @ towards) for head in design.heads]
    best = int(np.argmax(near))
    name = design.heads[best].name
    if name and min(near) < near[best] - 1.0:
        return f"from the side of the {name} bank"
    return f"from {_word(towards)}"


def _note(axes: Floats, front: str) -> str:
    if np.array_equal(axes, np.eye(3)):
        return ""
    right, up, _ = (_word(axis) for axis in axes)
    return f"{front}: {right} to the right, {up} up"


def _word(axis: Floats) -> str:
    index = int(np.argmax(np.abs(axis)))
    return f"{'+' if axis[index] > 0.0 else '-'}{'xyz'[index]}"


def _nearest(way: Floats) -> Floats:
    """The axis of the frame that a direction runs along most, with its sign."""
    index = int(np.argmax(np.abs(way)))
    found = np.zeros(3)
    found[index] = 1.0 if way[index] > 0.0 else -1.0
    return found
