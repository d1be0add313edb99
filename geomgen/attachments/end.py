"""How the outlet ends: plain, a V-band ring, a flat flange, or a slip with tabs for springs."""

from __future__ import annotations

import math
from typing import Annotated, Literal, Self

from pydantic import Field, model_validator

from geomgen.attachments import Added, Attached, Bar, Host, HostPipe
from geomgen.attachments._flanged import at_end
from geomgen.attachments._saddles import last_pipe, straights
from geomgen.attachments._said import AttachmentSpec, Size
from geomgen.attachments._tabs import tab, tab_adds
from geomgen.families import DoesNotFit, Fitted, Piece
from geomgen.geometry.centreline import Centreline, Straight
from geomgen.geometry.frames import Frame, dot, norm, scale, sub, unit
from geomgen.plates import round as round_plate
from geomgen.plates import vband
from geomgen.plates._said import PartName, contradiction
from geomgen.units import Angle, Span, StrictModel, later

KIND = "end"
ORDER = 90
ROUTED = True


class Slip(StrictModel):
    """An end that the next pipe goes over, held by springs between tabs."""

    overlap: Size = 40.0
    """How far the next pipe goes over this one: 25 to 50."""
    clearance: Span = 0.3
    """Between the two, over both sides: 0.1 to 0.4."""
    tabs: Annotated[int, Field(strict=True, ge=1, le=6)] = 3
    """How many tabs for springs, evenly round the pipe."""
    tab_name: PartName = "tab"
    """Name of the tabs' parts; a number follows."""
    tab_width: Size = 14.0
    """Along the pipe."""
    tab_height: Size = 12.0
    """Of the spring's hole over the pipe."""
    tab_thickness: Size = 3.0
    """Of its sheet."""
    tab_hole: Size = 6.0
    """For the spring's hook."""
    behind: Span = 12.0
    """From the next pipe's edge back to the tabs: room for its own."""


class Spec(AttachmentSpec):
    """How the outlet ends."""

    kind: Literal["end"]
    """How the collector's outlet ends; one a manifold. With a ring or a flange the gas volume's
    outlet is on its face."""
    form: Literal["plain", "vband", "flat", "slip"]
    """``plain``; ``vband``, a ring, by ``ring``; ``flat``, a flange, by ``flange``; ``slip``, into
    the next pipe, by ``slip``."""
    ring: vband.Spec | None = later()
    """Of ``vband``: the ring."""
    flange: round_plate.Spec | None = later()
    """Of ``flat``: the flange."""
    slip: Slip | None = later()
    """Of ``slip``: overlap, clearance and tabs."""
    clocking: Angle = 0.0
    """Of a slip: the first tab's place from ``vertical``, clockwise looking the way the gas
    goes."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        wanted = {"plain": None, "vband": "ring", "flat": "flange", "slip": None}[self.form]
        said = [key for key in ("ring", "flange") if getattr(self, key) is not None]
        if self.slip is not None and self.form != "slip":
            said.append("slip")
        if said != ([wanted] if wanted else []):
            raise contradiction(
                f"{self.form} with {' and '.join(said) or 'nothing that says how'}",
                f"{self.form} with {wanted}" if wanted else f"{self.form} alone",
                "ring goes with vband, flange with flat, slip with slip",
            )
        return self


def on_collector(spec: Spec, host: Host) -> Attached:
    """What is put on the outlet's end.

    Args:
        spec: what was said [mm, deg].
        host: what it holds on to.

    Raises:
        DoesNotFit: the manifold has no one outlet, or the end is not straight enough.
    """
    pipe = last_pipe(host, f"an end, {spec.form}")
    at = pipe.path.end
    facts: tuple[tuple[str, float], ...] = ()
    fitted = Fitted(
        KIND, f"{spec.form} end", pipe.name, pipe.slots, at.origin, at.z, at.z, use=spec.form
    )
    if spec.form == "slip":
        said = spec.slip or Slip.model_construct()
        facts = (
            ("slip_end_overlap_mm", said.overlap),
            ("slip_end_clearance_mm", said.clearance),
            ("slip_end_bore_mm", 2.0 * pipe.outer_radius + said.clearance),
        )
        pieces, bars = _tabs(spec, said, host)
        _hold_off(host, pipe, said.overlap, ("slip", "overlap"))
        each = tab_adds(pipe.outer_radius, _sizes(said))
        return Attached(
            pieces,
            bars=bars,
            facts=facts,
            fitted=(fitted,),
            added=sum((each for _ in pieces), Added()),
        )
    plate = spec.ring or spec.flange
    if plate is None:
        return Attached(fitted=(fitted,))
    key = ("ring",) if spec.ring is not None else ("flange",)
    on, mates = at_end(plate, at, 2.0 * pipe.outer_radius, 2.0 * pipe.inner_radius, host, key)
    # What of the pipe's end is in the plate, or in front of it.
    over = on.plate.thickness - dot(sub(at.origin, on.plate.frame.origin), on.plate.frame.z)
    _hold_off(host, pipe, over, (*key, "thickness"))
    return Attached(plates=(on,), loose=mates, fitted=(fitted,))


def _hold_off(host: Host, pipe: HostPipe, over: float, key: tuple[str, ...]) -> None:
    """See that nothing on the pipe's side stands where something goes over its end."""
    at = pipe.path.end
    for one in host.layout.fitted:
        left = dot(sub(at.origin, one.at), at.z) - one.ahead
        if one.host == pipe.name and one.ahead and left < over - 1e-9:
            raise DoesNotFit(
                key,
                f"{over:g} mm over the end of {pipe.name}, where {one.name} ends {left:.1f} mm "
                "before it",
                "what goes over the end clear of what stands on the pipe's side",
                f"move {one.name} back, or lengthen {pipe.name}",
            )


def _sizes(said: Slip) -> tuple[float, float, float, float]:
    return (said.tab_width, said.tab_height, said.tab_thickness, said.tab_hole)


def _tabs(spec: Spec, said: Slip, host: Host) -> tuple[tuple[Piece, ...], tuple[Bar, ...]]:
    pipe = next(pipe for pipe in host.pipes if pipe.last)
    low, high = straights(pipe.path)[-1] if straights(pipe.path) else (0.0, 0.0)
    if said.tab_thickness >= pipe.outer_radius or said.tab_hole >= said.tab_width - 2.0:
        raise DoesNotFit(
            ("slip", "tab_hole"),
            f"a hole of {said.tab_hole:g} mm in tabs of {said.tab_width:g} x "
            f"{said.tab_thickness:g} mm on a pipe of {2 * pipe.outer_radius:g} mm",
            "sheet thinner than half the pipe, with metal round the hole",
            "make the tabs wider, or thinner",
        )
    needs = said.overlap + said.behind + said.tab_width
    last = high - low if abs(high - pipe.path.length) < 1e-9 else 0.0
    if last < needs:
        raise DoesNotFit(
            ("slip", "overlap"),
            f"{said.overlap:g} mm, and tabs behind it, on a last straight of {last:.1f} mm",
            f"a straight of {needs:g} mm or more at the end of {pipe.name}",
            "lengthen the outlet, or make the overlap smaller",
        )
    end = pipe.path.end
    back = end.moved(-(said.overlap + said.behind + said.tab_width / 2.0))
    across = sub(host.up, scale(end.z, dot(host.up, end.z)))
    first = unit(across) if norm(across) > 1e-6 else end.x
    base = Frame(back.origin, first, back.z)
    pieces, bars = [], []
    for k in range(said.tabs):
        turned = base.rolled(math.radians(spec.clocking) + math.tau * k / said.tabs)
        node = tab(base, turned.x, pipe.outer_radius, _sizes(said))
        pieces.append(Piece(f"{said.tab_name}_{k + 1}", None, node, host.material))
        foot = Frame.facing(turned.point((pipe.outer_radius, 0.0, 0.0)), turned.x)
        out = Straight(said.tab_height + said.tab_width / 2.0)
        bars.append(Bar(pieces[-1].name, Centreline(foot, (out,)), said.tab_width / 2.0))
    return tuple(pieces), tuple(bars)
