"""A scene with a layout in it: lengths set, layout found, walked on."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from problem_set.fillets import Batch
from problem_set.layouts import (
    Discarded,
    Layout,
    Walked,
    assignment,
    first_layout,
    settled,
    shortest,
    walk,
)
from problem_set.least_length import floor_of
from problem_set.scenes import Plan, Random, Scene, drawn

_STEPS = 420
_WITHIN = 1.03
_STRETCH = {"near": (1.001, 1.010), "short": (1.02, 1.12), "long": (1.12, 1.5)}


@dataclass(frozen=True)
class Planted:
    """A scene, the layout in it, its final paths, and how far the walk went."""

    scene: Scene
    layout: Layout
    paths: list[Batch]
    walked: Walked


def floor_least(scene: Scene, tube: int) -> float:
    """The least floor of a tube over all slots: nothing is shorter, whichever it takes [mm]."""
    p, z = scene.starts[tube]
    return min(floor_of(p, z, q, w, min(scene.rules.radii)) for q, w in scene.slots)


def plant(
    rng: Random, plan: Plan, change: Callable[[Random, Scene], Scene] = lambda _, scene: scene
) -> Planted:
    """Draw a scene, set its target lengths, find a layout and walk.

    Raises:
        Discarded: nothing comes of this draw.
    """
    scene = change(rng, drawn(rng, plan))
    slots = assignment(rng, scene, 0.0)
    least = [shortest(rng, scene, i, slot).length for i, slot in enumerate(slots)]
    if not math.isfinite(max(least)):
        raise Discarded("no short path for some tube alone")
    low, high = _STRETCH[plan.reach]
    if plan.style == "turbo" and plan.reach != "near":
        low, high = low + 0.08, high + 0.15
    target = max(least) * float(rng.uniform(low, high))
    lengths = [target] * plan.tubes
    if plan.unequal:
        lengths = [target * float(rng.uniform(1.0, 1.08)) for _ in lengths]
    lengths = [round(v, 3) for v in lengths]
    if plan.reach == "near":
        ratio = min(v / floor_least(scene, i) for i, v in enumerate(lengths))
        if ratio > _WITHIN:
            raise Discarded("shortest path is more than 3 % above the floor")
    layout = first_layout(rng, scene, lengths, slots, plan.margin)
    rounds = max(50, math.ceil(_STEPS / plan.tubes))
    walked = walk(rng, scene, layout, plan.margin, rounds)
    return Planted(scene, layout, settled(scene, layout), walked)
