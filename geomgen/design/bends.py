"""The shelf as the router knows it: radii with their largest angles, steps, least straights.

The router takes a bend as a radius and any angle up to the largest, or any whole multiple of
one step up to the largest. Lines that may be cut are the first. Lines of whole stock angles
only are the second, where nothing else is on the shelf: 45 and 90 are a step of 45 up to 90.
Where the two stand together, or steps that do not go together, the lines that cannot be said
so are left out, and the checks name them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from geomgen.design.model import Stock
from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.registry import home
from geomgen.routing.problem import Radius, Shelf
from geomgen.shelf import Offer
from geomgen.spec.header import HeaderSpec

_SLACK = 1e-6


@dataclass(frozen=True)
class _Usable:
    """Lines that the router can be told of, with their largest angles [deg], and the step."""

    lines: tuple[tuple[Offer, float], ...]
    step: float | None


def bends_to_be_had(spec: HeaderSpec, od: float) -> Shelf:
    """What bends and straights tubes of one size [mm] may be made of.

    A die's clamp holds the tube before the first bend and behind the last as well, so its
    grip is kept at both ends too.

    Raises:
        SpecError: nothing on the shelf can be laid out.
    """
    shelf = spec.shelf
    usable = _usable(spec, od)
    most: dict[float, float] = {}
    for offer, angle in usable.lines:
        most[offer.clr] = max(most.get(offer.clr, 0.0), angle)
    grip = max(offer.grip for offer, _ in usable.lines)
    return Shelf(
        radii=tuple(Radius(clr, math.radians(angle)) for clr, angle in most.items()),
        least_angle=math.radians(shelf.min_angle),
        straight=max(shelf.min_straight, grip, spec.limits.straight_min),
        straight_at_start=max(shelf.min_straight_at_flange, grip),
        straight_at_end=max(shelf.min_straight_at_collector, grip),
        most_bends=shelf.most_bends,
        angle_step=None if usable.step is None else math.radians(usable.step),
    )


def stock_of(spec: HeaderSpec, sizes: tuple[float, ...]) -> tuple[Stock, ...]:
    """Every line of the shelf for some tubes, and whether the router was told of it.

    None where nothing is laid out of bends and no shelf is said.

    Args:
        spec: what was said.
        sizes: outside diameters of the tubes [mm].
    """
    if not spec.shelf.bends:
        return ()
    return tuple(line for od in dict.fromkeys(sizes) for line in _stock(spec, od))


def _stock(spec: HeaderSpec, od: float) -> tuple[Stock, ...]:
    used = [offer for offer, _ in _usable(spec, od).lines]
    return tuple(
        Stock(
            offer.label,
            offer.clr,
            math.radians(offer.most),
            tuple(math.radians(angle) for angle in offer.angles),
            offer.legs,
            offer.made,
            offer in used,
            od,
        )
        for offer in _fitting(spec, od)
    )


def _fitting(spec: HeaderSpec, od: float) -> tuple[Offer, ...]:
    offers = (home(bend).offer(bend) for bend in spec.shelf.bends)
    own = spec.runners.tube.od
    return tuple(o for o in offers if abs((own if o.od is None else o.od) - od) < _SLACK)


def _usable(spec: HeaderSpec, od: float) -> _Usable:
    fitting = _fitting(spec, od)
    cut = tuple((offer, offer.most) for offer in fitting if not offer.angles)
    if cut:
        return _Usable(cut, spec.shelf.angle_step)
    found = max(
        (_in_steps(fitting, step) for step in _steps(fitting)),
        key=lambda usable: (
            len(usable.lines),
            fitting[0] in [o for o, _ in usable.lines],
            usable.step,
        ),
        default=_Usable((), None),
    )
    _hold_against(spec, od, fitting, found)
    return found


def _steps(offers: tuple[Offer, ...]) -> list[float]:
    """Steps that some line's angles are whole multiples of [deg]."""
    return sorted({min(offer.angles) for offer in offers})


def _in_steps(offers: tuple[Offer, ...], step: float) -> _Usable:
    """The lines of which every multiple of a step, up to some angle, is to be had.

    A radius may have several lines, each with its one angle: they count together.
    """
    angles: dict[float, set[float]] = {}
    for offer in offers:
        angles.setdefault(offer.clr, set()).update(offer.angles)
    lines = []
    for offer in offers:
        own, most = angles[offer.clr], 0.0
        while _among(most + step, own):
            most += step
        times = min(offer.angles) / step
        if abs(times - round(times)) < _SLACK and min(offer.angles) <= most + _SLACK:
            lines.append((offer, most))
    return _Usable(tuple(lines), step)


def _among(angle: float, angles: set[float]) -> bool:
    return any(abs(angle - other) < _SLACK for other in angles)


def _hold_against(spec: HeaderSpec, od: float, fitting: tuple[Offer, ...], found: _Usable) -> None:
    """Refuse whole stock angles that nothing can be laid out of."""
    shelf = spec.shelf
    said = ", ".join(offer.label for offer in fitting) or f"no bend of {od:g} mm tube"
    if found.step is None:
        raise _refused(("shelf", "bends"), said, "at least one", f"add a bend for {od:g} mm tube")
    if shelf.most_bends is not None and shelf.most_bends < 3:
        raise _refused(
            ("shelf", "most_bends"),
            f"at most {shelf.most_bends} bends, all of whole stock angles",
            "3 or more, for straights and rolls must take up what the angles cannot",
            "allow 3 bends, or bends that may be cut",
        )
    if shelf.min_angle > max(most for _, most in found.lines) + _SLACK:
        raise _refused(
            ("shelf", "min_angle"),
            f"{shelf.min_angle:g} deg, with whole bends of {said}",
            f"at most {max(most for _, most in found.lines):g} deg",
            "make it smaller",
        )
    step = shelf.angle_step
    if step is not None and abs(found.step / step - round(found.step / step)) > _SLACK:
        raise _refused(
            ("shelf", "angle_step"),
            f"{step:g} deg, with whole bends of {found.step:g} deg and its multiples",
            f"a step that divides {found.step:g} deg",
            "take the step out, or add bends that may be cut",
        )


def _refused(path: tuple[str | int, ...], found: str, allowed: str, remedy: str) -> SpecError:
    return SpecError((Complaint(path, found, allowed, remedy),))
