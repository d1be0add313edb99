"""Obstacles put into space that a layout leaves free, up to an exact margin.

An obstacle starts somewhere near the tubes and is moved towards the nearest of them until
the gap that it asks for is left with just the wanted margin.
"""

from __future__ import annotations

import math

import numpy as np
from problem_set.fillets import Floats
from problem_set.scenes import Bar, Random, Scene

Shape = dict[str, object]
_GAPS = (3.0, 5.0, 8.0, 10.0, 12.0, 15.0, 20.0)


def to_shape(shape: Shape, points: Floats) -> Floats:
    """Signed distance of points (n, 3) to an obstacle [mm]."""
    kind = shape["kind"]
    if kind == "half_space":
        return np.asarray((points - np.array(shape["point"])) @ np.array(shape["normal"]))
    if kind == "box":
        low, high = np.array(shape["low"]), np.array(shape["high"])
        q = np.abs(points - (low + high) / 2.0) - (high - low) / 2.0
        outside = np.linalg.norm(np.maximum(q, 0.0), axis=1)
        return np.asarray(outside + np.minimum(q.max(axis=1), 0.0))
    begin, end = np.array(shape["begin"]), np.array(shape["end"])
    size = float(np.linalg.norm(end - begin))
    axis = (end - begin) / size
    t = (points - begin) @ axis
    across = np.linalg.norm(points - begin - t[:, None] * axis, axis=1) - float(
        str(shape["radius"])
    )
    beyond = np.abs(t - size / 2.0) - size / 2.0
    outside = np.hypot(np.maximum(across, 0.0), np.maximum(beyond, 0.0))
    return np.asarray(outside + np.minimum(np.maximum(across, beyond), 0.0))


def moved(shape: Shape, by: Floats) -> Shape:
    """The obstacle carried elsewhere."""
    out = dict(shape)
    for key in ("low", "high", "begin", "end", "point"):
        if key in shape:
            out[key] = [float(v) for v in np.array(shape[key]) + by]
    return out


def _drawn(rng: Random, centre: Floats) -> Shape:
    gap = float(rng.choice(_GAPS))
    if rng.random() < 0.5:
        half = np.round(np.exp(rng.uniform(math.log(8.0), math.log(90.0), 3)), 1)
        return {"kind": "box", "low": list(centre - half), "high": list(centre + half), "gap": gap}
    axis = rng.normal(size=3)
    axis *= 0.5 * float(rng.uniform(40.0, 320.0)) / np.linalg.norm(axis)
    radius = round(float(np.exp(rng.uniform(math.log(4.0), math.log(45.0)))), 1)
    return {
        "kind": "cylinder",
        "begin": list(centre - axis),
        "end": list(centre + axis),
        "radius": radius,
        "gap": gap,
    }


def brought(shape: Shape, tubes: Floats, radius: float, margin: float) -> Shape | None:
    """The obstacle moved straight at its nearest tube until the margin is left."""
    keep = float(str(shape["gap"])) + margin + radius
    d = to_shape(shape, tubes)
    if d.min() < keep:
        return None
    if "low" in shape:
        centre = (np.array(shape["low"]) + np.array(shape["high"])) / 2.0
    else:
        centre = (np.array(shape["begin"]) + np.array(shape["end"])) / 2.0
    way = tubes[int(np.argmin(d))] - centre
    low, high = 0.0, 1.0
    for _ in range(44):
        middle = 0.5 * (low + high)
        if to_shape(moved(shape, middle * way), tubes).min() >= keep:
            low = middle
        else:
            high = middle
    return moved(shape, low * way)


def clear_of_bars(shape: Shape, scene: Scene, spare: float = 1.0) -> bool:
    """An obstacle does not stand in a transition, a stub, a cone or an outlet."""
    bars = list(scene.transitions) + list(scene.bodies)
    for (q, w), stub in zip(scene.slots, scene.stubs, strict=True):
        bars.append(Bar("", q, q + max(stub, 1.0) * w, scene.radius))
    for bar in bars:
        t = np.linspace(0.0, 1.0, 40)[:, None]
        line = bar.begin + t * (bar.end - bar.begin)
        if to_shape(shape, line).min() < bar.radius + spare:
            return False
    return True


def _planes(rng: Random, tubes: Floats, scene: Scene, margin: float, vee: bool) -> list[Shape]:
    """Head face behind the ports and ground below, each clear by the margin or more."""
    out: list[Shape] = []
    gap = 5.0
    lowest = float(tubes[:, 2].min()) - scene.radius - gap - margin
    if not vee and lowest > -20.0:
        out.append(
            {
                "name": "head_face",
                "kind": "half_space",
                "point": [0.0, 0.0, min(0.0, lowest)],
                "normal": [0.0, 0.0, 1.0],
                "gap": gap,
            }
        )
    gap = 20.0
    ends = [float((b.end - np.array([0.0, b.radius, 0.0]))[1]) for b in scene.bodies]
    ground = min(float(tubes[:, 1].min()) - scene.radius - gap - margin, min(ends) - 1.0)
    ground -= float(rng.exponential(25.0))
    out.append(
        {
            "name": "ground",
            "kind": "half_space",
            "point": [0.0, ground, 0.0],
            "normal": [0.0, 1.0, 0.0],
            "gap": gap,
        }
    )
    return out


def placed(
    rng: Random, scene: Scene, tubes: Floats, margin: float, count: int, vee: bool
) -> list[Shape]:
    """Obstacles around the layout; the first box or cylinder leaves just the margin."""
    out: list[Shape] = []
    low, high = tubes.min(axis=0) - 60.0, tubes.max(axis=0) + 60.0
    for attempt in range(60 * count):
        if len(out) == count:
            break
        near = tubes[int(rng.integers(len(tubes)))]
        centre = near + rng.normal(size=3) * 70.0 if attempt % 3 else rng.uniform(low, high)
        shape = _drawn(rng, np.round(centre, 1))
        spare = 0.0 if len(out) < 1 + count // 3 else float(rng.exponential(6.0))
        found = brought(shape, tubes, scene.radius, margin + spare)
        if found is None or not clear_of_bars(found, scene):
            continue
        out.append({"name": f"obstacle_{len(out) + 1}", **found})
    planes = _planes(rng, tubes, scene, margin, vee)
    return planes + out
