"""Windows: round and rectangular, whole and divided, and what tube they take."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from geomgen.plates import NoPlate, Pipe
from geomgen.profiles.convex import hull_of_circles
from geomgen.profiles.loops import Arc, Line, Loop, Point2, circle, placed

LOOSE = 2.0
"""Most that a socket may be wider than its tube, to be welded [mm]; common practice, no source."""

_USUAL_BAR = 6.0
"""A bar that is wide enough to seal on [mm]: 4 to 6; common practice, no source."""


@dataclass(frozen=True)
class Opening:
    """A round window's size, how the tube meets it, and its wall if it goes in [mm]."""

    diameter: float
    style: Literal["round-socket", "butt"]
    fit: float
    wall: float = 0.0


def opening(
    bore: float | None,
    window: Literal["socket", "butt"],
    fit: float,
    pipe: Pipe | None,
    key: str = "bore",
) -> Opening:
    """A round window from what was said and the tube that ends in it.

    Args:
        bore: its diameter, if that was said [mm].
        window: whether the tube goes into the plate or stands on its face.
        fit: tube to socket, over both sides [mm].
        pipe: the tube, if it is known.
        key: of the spec, that says its diameter.

    Raises:
        NoPlate: there is no size, or the tube does not suit it.
    """
    style: Literal["round-socket", "butt"] = "round-socket" if window == "socket" else "butt"
    if pipe is None:
        if bore is None:
            raise NoPlate((key,), "nothing", "the window's diameter", "add bore: ...")
        return Opening(bore, style, fit if window == "socket" else 0.0)
    if window == "socket":
        diameter = pipe.od + fit if bore is None else bore
        if not pipe.od - 1e-9 <= diameter <= pipe.od + LOOSE:
            raise NoPlate(
                (key,),
                f"a socket of {diameter:g} mm",
                f"from the tube's OD, {pipe.od:g} mm, to {pipe.od + LOOSE:g} mm",
                f"{pipe.od + fit:g} mm takes the tube; below it the tube stands on the plate: butt",
            )
        return Opening(diameter, style, diameter - pipe.od, (pipe.od - pipe.bore) / 2.0)
    diameter = pipe.bore if bore is None else bore
    if not pipe.bore - 1e-9 <= diameter < pipe.od:
        raise NoPlate(
            (key,),
            f"a window of {diameter:g} mm under a tube of {pipe.bore:g} mm ID, {pipe.od:g} mm OD",
            f"from {pipe.bore:g} mm, no step into the gas, to below {pipe.od:g} mm, which the tube "
            "stands on",
            "take bore out, or say window: socket",
        )
    return Opening(diameter, style, 0.0)


def rounded(
    width: float, height: float, radius: float, centre: Point2 = (0.0, 0.0), more: float = 0.0
) -> Loop:
    """Rectangle with rounded corners, counter-clockwise, moved outwards by ``more`` [mm]."""
    return hull_of_circles([(c, radius + more) for c in corners(width, height, radius, centre)])


def corners(
    width: float, height: float, radius: float, centre: Point2 = (0.0, 0.0)
) -> tuple[Point2, ...]:
    """Centres of a rounded rectangle's corners [mm]."""
    x, y = width / 2.0 - radius, height / 2.0 - radius
    return tuple(
        (centre[0] + sx * x, centre[1] + sy * y) for sx, sy in ((1, 1), (-1, 1), (-1, -1), (1, -1))
    )


def round_windows(bore: float, divider: float | None, corner: float, turn: float) -> list[Loop]:
    """A round window, or the two halves beside a bar across it, the left one first.

    Args:
        bore: diameter [mm].
        divider: width of the bar [mm].
        corner: radius where bar and round meet [mm].
        turn: of the bar from upright, clockwise [rad].

    Raises:
        NoPlate: nothing is left beside the bar.
    """
    if divider is None:
        return [circle((0.0, 0.0), bore / 2.0)]
    if divider >= bore:
        raise NoPlate(
            ("divider",),
            f"a bar of {divider:g} mm across a window of {bore:g} mm",
            f"less than the window, {bore:g} mm",
            "4 to 6 mm is enough to seal on",
        )
    half = _half_round(bore / 2.0, divider / 2.0, corner)
    return [placed(half, (0.0, 0.0), side - turn) for side in (math.pi / 2.0, -math.pi / 2.0)]


def _half_round(radius: float, height: float, corner: float) -> Loop:
    """Part of a disc above a chord, its corners rounded by circles that touch both [mm]."""
    most = (radius - height) / 2.0
    if corner >= most:
        _hold_bar(2.0 * height, 2.0 * radius, corner)
        raise NoPlate(
            ("corner",),
            f"{corner:g} mm",
            f"less than {most:g} mm, half of what is left beside the bar",
            "make corner smaller",
        )
    y = height + corner
    x = math.sqrt((radius - corner) ** 2 - y * y)
    rise = math.atan2(y, x)
    return (
        Line((-x, height), (x, height)),
        Arc((x, y), corner, -math.pi / 2.0, math.pi / 2.0 + rise),
        Arc((0.0, 0.0), radius, rise, math.pi - 2.0 * rise),
        Arc((-x, y), corner, math.pi - rise, math.pi / 2.0 + rise),
    )


def rectangular_windows(
    width: float,
    height: float,
    corner: float,
    divider: float | None,
    divided: Literal["left-right", "top-bottom"] | None,
) -> list[Loop]:
    """A rectangular window, or its halves beside a bar: left first, or top first.

    Args:
        width: over all [mm].
        height: over all [mm].
        corner: radius of every corner [mm].
        divider: width of the bar [mm].
        divided: which way; the longer side is halved when left out.

    Raises:
        NoPlate: the corners do not fit.
    """
    if divider is None:
        _fits(corner, min(width, height), "the shorter side")
        return [rounded(width, height, corner)]
    way = divided or ("left-right" if width >= height else "top-bottom")
    across = way == "left-right"
    long = width if across else height
    if divider >= long:
        raise NoPlate(
            ("divider",),
            f"a bar of {divider:g} mm in a side of {long:g} mm",
            f"less than the side, {long:g} mm",
            "4 to 6 mm is enough to seal on",
        )
    part = (long - divider) / 2.0
    size = (part, height) if across else (width, part)
    _fits(corner, min(width, height), "the shorter side")
    if 2.0 * corner > part * (1.0 + 1e-12):
        _hold_bar(divider, long, corner)
    _fits(corner, min(size), "the shorter side beside the bar")
    away = (long - part) / 2.0
    places = ((-away, 0.0), (away, 0.0)) if across else ((0.0, away), (0.0, -away))
    return [rounded(*size, corner, place) for place in places]


def _hold_bar(divider: float, window: float, corner: float) -> None:
    """Blame the bar where corners would fit beside one of a usual width."""
    most = window - 4.0 * corner
    if divider > _USUAL_BAR and most >= _USUAL_BAR:
        raise NoPlate(
            ("divider",),
            f"a bar of {divider:g} mm across a window of {window:g} mm, which leaves "
            f"{(window - divider) / 2.0:g} mm on either side",
            f"less than {most:g} mm, so that corners of {corner:g} mm fit beside it",
            "4 to 6 mm is enough to seal on",
        )


def _fits(corner: float, side: float, what: str) -> None:
    if 2.0 * corner > side * (1.0 + 1e-12):
        raise NoPlate(
            ("corner",),
            f"{corner:g} mm",
            f"at most {side / 2.0:g} mm, half of {what}",
            "make corner smaller",
        )
