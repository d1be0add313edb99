"""Roots of many increasing functions at once, each between its own two ends."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def false_position(
    f: Callable[[Floats], Floats],
    low: Floats,
    high: Floats,
    tries: int,
    near: float = 0.0,
    begins: tuple[int, ...] = (0,),
) -> tuple[Floats, Floats]:
    """Where functions that are above zero at ``high`` cross it: (n,) places and values there.

    False position, in which an end that stands twice gets half its weight (the Illinois
    rule), so that neither end stands for long.

    Args:
        f: all functions, each at its own place.
        low: where each is below zero (n,).
        high: where each is above zero (n,).
        tries: how many places to look at.
        near: stop when all values are nearer to zero than this.
        begins: where groups begin that stop each for itself, none of them empty.
    """
    f_low, f_high = f(low), f(high)
    x, fx = high, f_high
    place, value = x, fx
    done = np.zeros(len(high), dtype=bool)
    sizes = np.diff(np.append(begins, len(high)))
    was: NDArray[np.bool_] | None = None
    for _ in range(tries):
        span = f_high - f_low
        x = high - f_high * (high - low) / np.where(span == 0.0, 1.0, span)
        fx = f(x)
        place, value = np.where(done, place, x), np.where(done, value, fx)
        if near > 0.0:
            done |= np.repeat(np.logical_and.reduceat(np.abs(fx) < near, begins), sizes)
            if done.all():
                break
        up = fx > 0.0
        again = np.zeros(len(x), dtype=bool) if was is None else up == was
        f_low = np.where(up, np.where(again, 0.5 * f_low, f_low), fx)
        f_high = np.where(up, fx, np.where(again, 0.5 * f_high, f_high))
        low, high = np.where(up, low, x), np.where(up, x, high)
        was = up
    return place, value
