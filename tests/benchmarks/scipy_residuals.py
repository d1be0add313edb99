"""The router's residuals, slopes and length equations as scipy's optimisers are given them."""

from __future__ import annotations

import itertools
import math
import time
import warnings
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from router_watch import OutOfTime
from scipy.optimize import least_squares, minimize

from geomgen.routing import attempt as rounds
from geomgen.routing.contacts import Bars, Rows, bars, limits
from geomgen.routing.descent import Settled
from geomgen.routing.layout import layout
from geomgen.routing.paths import Batch, Floats
from geomgen.routing.problem import Problem
from geomgen.routing.score import PER_RIGHT_ANGLE, PER_UNEVEN_RIGHT_ANGLE, layout_score

_RIGHT = math.pi / 2.0

LENGTH = 1e-3
"""What a length may be off when an optimiser is stopped [mm]; the proof makes it exact."""
AIM = 0.05
"""Kept on top of every limit, or a method that comes from outside would never be inside [mm]."""
REACH = 60.0
"""How near a limit must be to be listed [mm]."""
MOST_LIMITS = 120
"""Worst limits that an optimiser is given; more are never short at once."""
EVALUATIONS = 200
WIDEST = 400.0
"""Bounds of a free number, from where it starts [mm]."""


class _Clear(Exception):
    """The stop rule is met."""


class Residuals:
    """Limits and lengths of a layout as functions of its free numbers, and the stop rule.

    scipy asks for values and slopes separately; both come from one evaluation.
    """

    def __init__(
        self,
        problem: Problem,
        slots: tuple[int, ...],
        batches: tuple[Batch, ...],
        slack: float,
        until: float,
    ) -> None:
        self.problem, self.slots, self.batches = problem, slots, batches
        self.slack, self.until, self.aim = slack, until, AIM
        self.sloped = True  # False: values only, which cost less to work out
        self.solid: Bars = bars(problem)
        sizes = [len(batch.form.moves) for batch in batches]
        self.offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(int)
        self.at: Floats | None = None
        self.count = 0
        self.best: tuple[float, tuple[Batch, ...], Rows] | None = None
        # Clear layouts that are passed, with their turns; None: stop at the first.
        self.kept: list[tuple[float, tuple[Batch, ...]]] | None = None

    @property
    def free(self) -> int:
        """How many free numbers there are."""
        return int(self.offsets[-1])

    def look(self, x: Floats) -> None:
        """Evaluate, unless that was the last place looked at."""
        if self.at is not None and np.array_equal(x, self.at):
            return
        if time.process_time() > self.until:
            raise OutOfTime
        if not np.abs(x).max(initial=0.0) <= WIDEST:
            raise FloatingPointError
        self.count += 1
        moved = tuple(
            Batch(
                b.form,
                b.corners + np.einsum("d,dkc->kc", x[i:j], b.form.moves),
                b.radii,
            )
            for b, i, j in zip(self.batches, self.offsets[:-1], self.offsets[1:], strict=True)
        )
        self.moved = moved
        here = layout(self.problem, moved if self.sloped else tuple(map(_held, moved)))
        self.rows = limits(self.problem, self.slots, here, self.solid, REACH, self.slack)
        self.here = here
        self.off = np.array(
            [t.length - e.length for t, e in zip(here.traces, self.problem.edges, strict=True)]
        )
        self.off_slope = np.zeros((len(self.off), self.free))
        self.turn_slope = np.zeros((len(self.off), self.free))
        for i, trace in enumerate(here.traces if self.sloped else ()):
            mine = slice(int(self.offsets[i]), int(self.offsets[i + 1]))
            self.off_slope[i, mine] = trace.d_length
            self.turn_slope[i, mine] = trace.d_angles.sum(axis=1)
        self.turns = np.array([trace.turn for trace in here.traces])
        order = np.argsort(self.rows.value, kind="stable")[:MOST_LIMITS]
        self.value = np.full(MOST_LIMITS, REACH)
        self.slope = np.zeros((MOST_LIMITS, self.free))
        self.value[: len(order)] = self.rows.value[order] - self.aim
        if self.sloped:
            self.slope[: len(order)] = self.rows.gradient[order]
        self.at = np.array(x)
        self.note(moved)

    def note(self, moved: tuple[Batch, ...]) -> None:
        """Keep the nearest layout so far; stop when it keeps every limit."""
        off = float(np.abs(self.off).max())
        short = self.rows.worst + max(0.0, off - LENGTH)
        if self.best is None or short < self.best[0]:
            self.best = (short, moved, self.rows)
        if self.rows.worst <= rounds._KEPT and off <= LENGTH:
            if self.kept is None:
                raise _Clear
            uneven = PER_UNEVEN_RIGHT_ANGLE * (self.turns.max() - self.turns.min())
            turns = PER_RIGHT_ANGLE * self.turns.sum() + uneven
            self.kept.append((float(turns), moved))

    def hinges(self, x: Floats) -> Floats:
        """What falls short of each limit, and what each length is off [mm]."""
        self.look(x)
        return np.concatenate([np.minimum(self.value, 0.0), self.off])

    def hinge_slopes(self, x: Floats) -> Floats:
        """Their slopes."""
        self.look(x)
        return np.concatenate([self.slope * (self.value < 0.0)[:, None], self.off_slope])


def _held(batch: Batch) -> Batch:
    """A path with no free number, so that no slopes are worked out for it."""
    none = np.zeros((0, *batch.form.moves.shape[1:]))
    return Batch(replace(batch.form, moves=none), batch.corners, batch.radii)


def by_own_slopes(residuals: Residuals) -> None:
    """The same from the residuals alone: scipy takes the slopes by its own differences."""
    residuals.sloped = False
    least_squares(
        residuals.hinges,
        np.zeros(residuals.free),
        method="trf",
        x_scale=10.0,
        max_nfev=EVALUATIONS,
    )


def by_least_squares(residuals: Residuals) -> None:
    """A zero of the hinges by a trust region Gauss-Newton method."""
    least_squares(
        residuals.hinges,
        np.zeros(residuals.free),
        residuals.hinge_slopes,
        method="trf",
        x_scale=10.0,  # the first step may be as long as the router's
        max_nfev=EVALUATIONS,
    )


def by_slsqp(residuals: Residuals) -> None:
    """The nearest layout, in corners, that keeps limits and lengths: sequential programs."""

    def of(name: str) -> Callable[[Floats], Any]:
        def asked_for(x: Floats) -> Any:
            residuals.look(x)
            return getattr(residuals, name)

        return asked_for

    minimize(
        lambda x: 5e-5 * float(x @ x),
        np.zeros(residuals.free),
        jac=lambda x: 1e-4 * x,
        method="SLSQP",
        bounds=[(-WIDEST, WIDEST)] * residuals.free,
        constraints=[
            {"type": "ineq", "fun": of("value"), "jac": of("slope")},
            {"type": "eq", "fun": of("off"), "jac": of("off_slope")},
        ],
        options={"maxiter": EVALUATIONS},
    )


Method = Callable[[Residuals], None]

METHODS: dict[str, Method] = {"least squares": by_least_squares, "SLSQP": by_slsqp}

DRAWN_BY: dict[str, Method] = {
    "least squares": by_least_squares,
    "least squares, own slopes": by_own_slopes,
}
"""Methods that start from what is drawn: the one that does better from what is chosen, given the
router's slopes, or the residuals alone."""


def descent_by(method: Method, until: float) -> Callable[..., Settled]:
    """A stand-in for the router's descent."""

    def settle(
        problem: Problem,
        slots: tuple[int, ...],
        batches: tuple[Batch, ...],
        _steps: int,
        slack: float,
        *_rest: object,
    ) -> Settled:
        residuals = Residuals(problem, slots, batches, slack, until)
        clear = False
        try:
            with warnings.catch_warnings(), np.errstate(all="ignore"):
                warnings.simplefilter("ignore")  # steps that run out of bounds are clipped
                method(residuals)
        except _Clear:
            clear = True
        except (ValueError, FloatingPointError, np.linalg.LinAlgError):
            pass  # it ran away: this start has failed
        assert residuals.best is not None
        short, moved, rows = residuals.best
        if clear:
            moved, short = kept(residuals), residuals.rows.worst
        turns = float(residuals.turns.sum())
        return Settled(moved, turns, short, residuals.count, blamed(residuals, rows))

    return settle


def kept(residuals: Residuals) -> tuple[Batch, ...]:
    """The layout as it stood when the stop rule was met."""
    return residuals.moved


def blamed(residuals: Residuals, rows: Rows) -> tuple[int, ...]:
    """Tubes that fall short, most to blame first."""
    pulls = np.maximum(-rows.value, 0.0) @ np.abs(rows.gradient)
    ends = residuals.offsets
    blame = np.array([pulls[i:j].sum() for i, j in itertools.pairwise(ends)])
    return tuple(int(e) for e in np.argsort(-blame, kind="stable") if blame[e] > 0.0)


Start = tuple[tuple[int, ...], tuple[Batch, ...], bool]
"""Slots, one path a tube, and whether they follow the firing order."""


def better_by_slsqp(problem: Problem, starts: Sequence[Start], cap: float) -> float:
    """Least score that SLSQP comes to and that is proven; infinite when there is none.

    Args:
        problem: the bundle.
        starts: from which, in turn.
        cap: processor time [s].
    """
    until = time.process_time() + cap
    best = math.inf
    for slots, batches, in_order in starts:
        for slack in rounds._SLACKS:
            residuals = Residuals(problem, slots, batches, slack, until)
            residuals.kept, residuals.aim = [], 0.0  # nothing is given away
            try:
                with warnings.catch_warnings(), np.errstate(all="ignore"):
                    warnings.simplefilter("ignore")
                    lowered(residuals)
            except OutOfTime:
                pass
            except (ValueError, FloatingPointError, np.linalg.LinAlgError):
                pass
            score = least_proven(residuals, in_order)
            best = min(best, score)
            if math.isfinite(score) or time.process_time() > until:
                break
        if time.process_time() > until:
            break
    return best


def lowered(residuals: Residuals) -> None:
    """The score, less its bends, made small under all limits.

    Unknowns are the free numbers and the largest and the least turn.
    """
    d = residuals.free

    def wide(slope: Floats) -> Floats:
        return np.concatenate([slope, np.zeros((len(slope), 2))], axis=1)

    def at(name: str) -> Callable[[Floats], Any]:
        def asked_for(x: Floats) -> Any:
            residuals.look(x[:d])
            return getattr(residuals, name)

        return asked_for

    def ends(x: Floats) -> Floats:
        turns = at("turns")(x) / _RIGHT
        return np.concatenate([x[d] - turns, turns - x[d + 1]])

    def end_slopes(x: Floats) -> Floats:
        slope = at("turn_slope")(x) / _RIGHT
        out = np.concatenate([wide(-slope), wide(slope)])
        out[: len(slope), d], out[len(slope) :, d + 1] = 1.0, -1.0
        return out

    def score(x: Floats) -> float:
        uneven = PER_UNEVEN_RIGHT_ANGLE * float(x[d] - x[d + 1])
        return PER_RIGHT_ANGLE * float(at("turns")(x).sum()) / _RIGHT + uneven

    def score_slope(x: Floats) -> Floats:
        slope = PER_RIGHT_ANGLE * at("turn_slope")(x).sum(axis=0) / _RIGHT
        return np.concatenate([slope, [PER_UNEVEN_RIGHT_ANGLE, -PER_UNEVEN_RIGHT_ANGLE]])

    residuals.look(np.zeros(d))
    begin = np.zeros(d + 2)
    begin[d], begin[d + 1] = residuals.turns.max() / _RIGHT, residuals.turns.min() / _RIGHT
    minimize(
        score,
        begin,
        jac=score_slope,
        method="SLSQP",
        bounds=[*[(-WIDEST, WIDEST)] * d, (0.0, 20.0), (0.0, 20.0)],
        constraints=[
            {"type": "ineq", "fun": at("value"), "jac": lambda x: wide(at("slope")(x))},
            {"type": "eq", "fun": at("off"), "jac": lambda x: wide(at("off_slope")(x))},
            {"type": "ineq", "fun": ends, "jac": end_slopes},
        ],
        options={"maxiter": EVALUATIONS},
    )


def least_proven(residuals: Residuals, in_order: bool) -> float:
    """Least score of the clear layouts that were passed, proven."""
    for _, moved in sorted(residuals.kept or [], key=lambda pair: pair[0])[:3]:
        settled = Settled(moved, 0.0, 0.0, 0, ())
        paths = rounds.proven(
            residuals.problem, residuals.slots, settled, residuals.slack, EVALUATIONS
        )
        if paths is not None:
            return layout_score(paths, in_order)
    return math.inf
