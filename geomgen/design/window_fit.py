"""Whether a tube goes into its window as the window is cut, and what to do where it does not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

from geomgen.design.iso_9013 import CutQuality, limit_deviation, perpendicularity
from geomgen.profiles.loops import Loop, bounding_box

Way = Literal["as cut", "file", "cut small and file", "finer process", "too loose", "unknown"]


@dataclass(frozen=True)
class Fit:
    """A window's fit as it is cut, over both sides [mm].

    Attributes:
        least: between tube and window on the small side of the taper, at the worst; below
            0 the tube does not go in.
        most: the same at the widest, still on the small side.
        small: how much smaller than drawn the window is cut, over both sides.
        file: most metal that is then filed away, a side.
        way: what is to be done.
        quality: what was reckoned with.
    """

    least: float
    most: float
    small: float
    file: float
    way: Way
    quality: CutQuality | None


def quality_of(
    limit: Callable[[str], float], process: str, thickness: float, nominal: float
) -> CutQuality | None:
    """What a process holds in a window; None where no table reaches.

    Args:
        limit: gives a limit by its name.
        process: how the plate is cut.
        thickness: as cut [mm].
        nominal: the window's greatest size [mm].
    """
    if limit("window_tolerance") > 0.0:
        own = limit("window_tolerance"), limit("window_taper")
        return CutQuality(*own, "what the shop says it holds")
    if process == "waterjet":
        own = limit("cut_tolerance_waterjet"), limit("cut_taper_waterjet")
        return CutQuality(*own, "waterjet shops' rules")
    number, taper = int(limit(f"cut_class_{process}")), int(limit(f"cut_range_{process}"))
    deviation = limit_deviation(number, thickness, nominal)
    if deviation is None:
        return None
    source = f"ISO 9013 class {number}, range {taper}"
    return CutQuality(deviation, perpendicularity(taper, thickness), source)


def fit_of(
    window: Loop,
    *,
    fit: float,
    wall: float,
    process: str,
    thickness: float,
    limit: Callable[[str], float],
) -> Fit:
    """How a tube fits a window as the process cuts it.

    With f the fit as drawn, d the limit deviation and u the taper of a wall, the small side
    of the window leaves between ``f - d - 2 u`` and ``f + d``. The most that can be welded is
    twice ``limits.weld_gap_over_wall`` of the wall; a window that may come out wider is cut
    smaller by the difference, and up to half of ``d + 2 u - f`` and that is filed away a side.
    Drawn wider than can be welded, it is too loose however it is cut.

    Args:
        window: as drawn.
        fit: tube to window as drawn, over both sides [mm].
        wall: of the tube [mm].
        process: how the plate is cut.
        thickness: as cut [mm].
        limit: gives a limit by its name.
    """
    box = bounding_box(window)
    quality = quality_of(limit, process, thickness, max(box.width, box.height))
    if quality is None:
        return Fit(0.0, 0.0, 0.0, 0.0, "unknown", None)
    least = fit - quality.deviation - 2.0 * quality.taper
    most = fit + quality.deviation
    weldable = 2.0 * limit("weld_gap_over_wall") * wall
    small = max(0.0, most - weldable)
    file = max(0.0, (small - least) / 2.0)
    way: Way = "cut small and file" if small > 0.0 else "file"
    if fit > weldable + 1e-9:
        way = "too loose"
    elif file <= 0.0:
        way = "as cut"
    elif file > limit("file_most"):
        way = "finer process"
    return Fit(least, most, small, file, way, quality)


def advice(fit: Fit) -> str:
    """What the shop is to do, in a few words; empty where the window is good as cut."""
    filed = f"file up to {fit.file:.1f} mm a side"
    return {
        "as cut": "",
        "file": f"cut the windows as drawn, then {filed} until the tube goes in",
        "cut small and file": f"have the windows cut {fit.small:.1f} mm small over both sides, "
        f"then {filed} to the drawn size",
        "finer process": f"take a finer process, or name what the shop holds in "
        f"limits.window_tolerance: this one leaves up to {fit.file:.1f} mm a side to file",
        "too loose": "make the fit smaller, 0.2 to 0.4 mm, by fit, bore or seat, or set "
        "limits.weld_gap_over_wall: the gap as drawn is wider than the wall can bridge",
        "unknown": "ask the shop what it holds, and name it in limits.window_tolerance",
    }[fit.way]


def small_side(style: str) -> str:
    """Which face of the plate takes the small side of the taper, and why.

    A cut is widest where jet or beam enters (common practice, no source), and the drawing is
    seen from the tube side, where the marks belong: that side lies up.
    """
    if style == "butt":
        return (
            "tube side up in the machine, as drawn: the small side of the taper is then at the "
            "gasket face; file the windows back to the drawn edge there, for no edge may stand "
            "into the gas"
        )
    return (
        "small side of the taper to the gasket face (tube side up in the machine, as drawn): "
        "the inside bead has the close fit and the gasket its whole land"
    )
