"""A plate from what was said of every plate, with what its kind adds."""

from __future__ import annotations

from typing import Any

from geomgen.geometry.frames import Frame
from geomgen.plates import Label, NoPlate, Pipe, Plate
from geomgen.plates._said import Derived, PlateSpec, Standing
from geomgen.profiles.loops import Loop, bounding_box


def made(spec: PlateSpec, frame: Frame, what: str, outer: Loop, **more: Any) -> Plate:
    """A plate with everything that a spec says of any.

    Args:
        spec: what was said.
        frame: of the plate.
        what: its title, if it was given none.
        outer: outline.
        **more: further fields of the plate.
    """
    standing = isinstance(spec, Standing) and (spec.at is not None or spec.stand is not None)
    facing = spec.facing if isinstance(spec, Standing) else 0.0
    box = bounding_box(outer)
    labels = (Label(spec.label, ((box.left + box.right) / 2.0, box.top)),) if spec.label else ()
    fields: dict[str, Any] = {
        "name": spec.name,
        "title": spec.title or what,
        "frame": frame,
        "thickness": spec.thickness,
        "material": spec.material,
        "outer": outer,
        "labels": labels,
        "facing": facing,
        "quantity": spec.quantity,
        "process": spec.process or "",
        "loose": not standing,
    }
    return Plate(**(fields | more))


def not_on_a_pipe(pipe: Pipe | None, what: str) -> None:
    """Refuse a plate on the end of a round tube that does not suit it.

    Raises:
        NoPlate: there is such a tube.
    """
    if pipe is not None:
        raise NoPlate(
            ("at",),
            f"{what} on a round tube of {pipe.od:g} mm",
            "a plate with a round window there",
            "say where it stands by stand, or take kind: round",
        )


def named(of: Plate) -> str:
    """A plate's name in words."""
    return of.name.replace("_", " ")


def made_for(spec: Derived, of: Plate, what: str, relief: bool = False, **more: Any) -> Plate:
    """A loose plate with the outline of another one; its windows are drawn to look at.

    It seals on that plate, and so has the outline without relief slots unless ``relief`` is said.
    """
    fields: dict[str, Any] = {"reference": of.windows, "holes": of.holes}
    outer = of.outer if relief or of.whole is None else of.whole
    return made(spec, of.frame, f"{what} {named(of)}", outer, **(fields | more))
