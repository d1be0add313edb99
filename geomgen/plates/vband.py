"""Weld-on V-band end: the ring it is turned from. The V itself is a lathe's work."""

from __future__ import annotations

from dataclasses import replace
from typing import Literal, Self

from pydantic import model_validator

from geomgen.geometry.frames import Frame, scale
from geomgen.plates import Pipe, Plate, Ring
from geomgen.plates._make import made
from geomgen.plates._outline import sound
from geomgen.plates._said import Size, Span, Standing, contradiction
from geomgen.plates._windows import opening
from geomgen.profiles.loops import circle
from geomgen.units import StrictModel

KIND = "vband"

TURNED = (
    "Turned part: the ring is cut as a blank. The V is turned to the clamp's own drawing, after "
    "welding if it moves; nothing here stands for its angle."
)
"""What every part of such a joint says."""


class Spigot(StrictModel):
    """What centres one ring in the other: a spigot on this one, a recess in its mate."""

    diameter: Size
    """Of the spigot."""
    height: Size
    """Of the spigot over the gasket face."""


class Spec(Standing):
    """One end of a V-band joint, as the ring that it is turned from."""

    kind: Literal["vband"]
    """A weld-on V-band end, as the ring that it is turned from."""
    od: Size
    """Outside of the ring."""
    bore: Size | None = None
    """Diameter of the bore; without it, at the outlet, what the tube asks for."""
    window: Literal["socket", "butt"] = "socket"
    """``socket``: the tube goes into the ring. ``butt``: it stands on its face."""
    fit: Span = 0.3
    """Tube to socket, over both sides: 0.2 to 0.4."""
    set_back: Span = 2.0
    """Tube's end to the gasket face, in a socket."""
    spigot: Spigot | None = None
    """The spigot that centres the joint, if it has one."""
    pair: bool = False
    """Whether the mate is made too, as a loose part."""

    @model_validator(mode="after")
    def _agrees(self) -> Self:
        if self.set_back >= self.thickness:
            raise contradiction(
                f"a set_back of {self.set_back:g} mm in {self.thickness:g} mm of ring",
                "less than the thickness",
                "2 is usual",
            )
        step = self.spigot
        if step is not None and (step.diameter >= self.od or step.height >= self.thickness):
            raise contradiction(
                f"a spigot of {step.diameter:g} x {step.height:g} mm",
                f"less than the ring, {self.od:g} x {self.thickness:g} mm",
                "make the spigot smaller",
            )
        return self


def plate(
    spec: Spec,
    frame: Frame,
    pipe: Pipe | None = None,
    edge_factor: float = 1.5,  # noqa: ARG001 - no bolts
) -> Plate:
    """The ring.

    Args:
        spec: what was said [mm, deg].
        frame: of the plate.
        pipe: the tube that ends in it, if it is known.
        edge_factor: not looked at: a ring has no bolts.

    Raises:
        NoPlate: the numbers leave no ring.
    """
    hole = opening(spec.bore, spec.window, spec.fit, pipe)
    step = spec.spigot
    notes = [TURNED, f"Blank: OD {spec.od:g} mm, bore {hole.diameter:g} mm."]
    if step is not None:
        notes.append(
            f"Spigot {step.diameter:g} x {step.height:g} mm stands over the gasket face and is "
            "turned from the stock there."
        )
    ring = made(
        spec,
        frame,
        "V-band ring, a blank for turning",
        circle((0.0, 0.0), spec.od / 2.0),
        windows=(circle((0.0, 0.0), hole.diameter / 2.0),),
        window_fit=hole.fit,
        window_style=hole.style,
        window_wall=hole.wall,
        facing=spec.facing + (step.height if step is not None else 0.0),
        notes=tuple(notes),
        ring=Ring(spec.facing, None if step is None else (step.diameter, step.height)),
    )
    return sound(ring, "od", "bore")


def mate(spec: Spec, ring: Plate) -> Plate | None:
    """The loose ring on the other side of the joint; None when it was not asked for.

    Its frame faces the first ring's: both gasket faces are one plane.
    """
    if not spec.pair:
        return None
    back = Frame(ring.frame.origin, scale(ring.frame.x, -1.0), scale(ring.frame.z, -1.0))
    return replace(
        ring,
        name=f"{ring.name}_mate",
        title=f"{ring.title}, the mate",
        frame=back,
        facing=spec.facing,
        loose=True,
        notes=mate_notes(ring),
    )


def mate_notes(of: Plate) -> tuple[str, ...]:
    """What is to be said of a part that the clamp holds against a ring; nothing of other plates."""
    if of.ring is None:
        return ()
    if of.ring.spigot is None:
        return (TURNED,)
    diameter, height = of.ring.spigot
    return (TURNED, f"Recess for a spigot {diameter:g} x {height:g} mm in the gasket face.")
