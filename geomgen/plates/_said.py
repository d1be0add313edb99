"""What specs say of every plate: name, sheet, place, and how its edge runs."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from geomgen.names import Material, Name
from geomgen.units import Direction, FacePoint, Point, Quantity, StrictModel, refusal

Process = Literal["plasma", "laser", "waterjet"]

LARGEST = 2000.0
"""No plate of an exhaust is larger [mm]."""

Size = Annotated[float, Field(gt=0, le=LARGEST), Quantity("length")]
"""A length of something that is there [mm]."""
Span = Annotated[float, Field(ge=0, le=LARGEST), Quantity("length")]
"""A length that may be nothing [mm]."""
Thickness = Annotated[float, Field(ge=0.1, le=200), Quantity("length")]
"""Of plate or sheet [mm]."""
Angle = Annotated[float, Field(ge=-360, le=360), Quantity("angle")]
"""An angle within one turn either way [deg]."""

PartName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_]*$", max_length=40)]
"""Name of a part and of its file."""


def _both_above_nothing(value: tuple[float, float]) -> tuple[float, float]:
    if not 0.0 < min(value) <= max(value) <= LARGEST:
        raise refusal(
            list(value), f"two sizes above 0 and up to {LARGEST:g} mm", "write it as [across, up]"
        )
    return value


def _near(value: tuple[float, float]) -> tuple[float, float]:
    if max(abs(value[0]), abs(value[1])) > LARGEST:
        raise refusal(list(value), f"a place within {LARGEST:g} mm", "write it as [x, y]")
    return value


Place = Annotated[FacePoint, AfterValidator(_near)]
"""``[x, y]`` seen from the tube side [mm]."""
Sizes = Annotated[FacePoint, AfterValidator(_both_above_nothing)]
"""``[across, up]``, both above nothing [mm]."""


def contradiction(found: str, allowed: str, remedy: str) -> PydanticCustomError:
    """The error of a model's validator about keys that contradict each other."""
    return PydanticCustomError(
        "contradiction",
        "{allowed}; {remedy}",
        {"found": found, "allowed": allowed, "remedy": remedy},
    )


class Stand(StrictModel):
    """Where a plate stands."""

    at: Point
    """Middle of the plate on its gasket face, in the head frame."""
    tube_side: Direction
    """The way from the gasket face to the tube."""
    up: Direction | None = None
    """What the plate's y points to, as far as its face allows; ``vertical`` without it."""


class PlateSpec(StrictModel):
    """What is said of every plate."""

    kind: str
    """What kind of plate it is."""
    name: PartName
    """Name of the part and of its files: small letters, digits and _."""
    title: Annotated[str, Field(max_length=120)] = ""
    """One line for the head of its sheet."""
    thickness: Thickness
    """Plate as finished."""
    material: Material
    """Grade of the plate."""
    process: Process | None = None
    """How it is cut; as the head flange without it."""
    quantity: Annotated[int, Field(strict=True, ge=1, le=1000)] = 1
    """How many."""
    label: Name | None = None
    """A word lettered on it beside its name."""


class Standing(PlateSpec):
    """What is said of a plate that may stand in the manifold."""

    at: Literal["outlet"] | None = None
    """``outlet``: on the end of the collector's outlet, its tube side to the pipe. Without
    ``at`` and ``stand`` it is a loose part."""
    stand: Stand | None = None
    """Its place, where that is not the outlet's end."""
    roll: Angle = 0.0
    """Clocking of windows, bolts and edge, clockwise as seen from the tube side; y, and UP on
    the plate, stay up."""
    facing: Span = 0.0
    """Stock to be faced off after welding, on top of ``thickness``."""

    @model_validator(mode="after")
    def _one_place(self) -> Self:
        if self.at is not None and self.stand is not None:
            raise contradiction("both at and stand", "one of the two", "take one of them out")
        return self


class Hugging(Standing):
    """What is said of a plate whose edge hugs bolts and windows unless its size is given."""

    land: Size = 8.0
    """Metal round the windows where the edge hugs them."""
    waist: Size | None = None
    """Radius of hollows between bolts and windows; straight from one to the next without it."""


def one_edge(said: object, waist: float | None, key: str = "od") -> None:
    """An edge hugs what it holds, or its size is given.

    Raises:
        PydanticCustomError: both are said.
    """
    if said is not None and waist is not None:
        raise contradiction(f"both {key} and waist", "one of the two", "take waist out")


class Derived(PlateSpec):
    """What is said of a plate that is made for another one."""

    of: PartName
    """The plate it is for: ``head_flange``, or a plate that is named before it."""


class Bolts(StrictModel):
    """Bolts of a plate: on a circle, on a rectangle, or one by one."""

    thread: Literal["M6", "M8", "M10", "M12"]
    """Of the bolts or studs."""
    count: Annotated[int, Field(strict=True, ge=1, le=48)] | None = None
    """How many there are on the ``circle``."""
    circle: Size | None = None
    """Diameter of the circle that ``count`` bolts stand on."""
    phase: Angle = 0.0
    """Where the first bolt of the circle stands, from the top, clockwise as seen from the tube
    side; the others follow clockwise."""
    pitch: Sizes | None = None
    """Four bolts on a rectangle: from one to the next, ``[across, up]``."""
    places: Annotated[tuple[Place, ...], Field(min_length=1, max_length=48)] | None = None
    """Where each bolt stands, ``[x, y]`` seen from the tube side."""
    hole: Literal["clearance", "tapped"] = "clearance"
    """Clearance holes, or threads in the plate itself."""
    hole_class: Literal["fine", "medium", "coarse"] = "medium"
    """Clearance holes, ISO 273."""
    diameter: Size | None = None
    """Of a clearance hole that is not one of ISO 273."""

    @model_validator(mode="after")
    def _one_pattern(self) -> Self:
        said = [
            name
            for name, value in (
                ("count and circle", self.circle),
                ("pitch", self.pitch),
                ("places", self.places),
            )
            if value is not None
        ]
        if len(said) != 1 or (self.count is None) != (self.circle is None):
            half = "count without circle" if self.circle is None else "circle without count"
            uneven = (self.count is None) != (self.circle is None)
            raise contradiction(
                half if uneven else " and ".join(said) or "no places",
                "one of: count with circle, pitch, places",
                "write {count: 3, circle: 90, thread: M10} or {pitch: [90, 60], thread: M8}",
            )
        if self.hole == "tapped" and self.diameter is not None:
            raise contradiction(
                "a diameter for tapped holes",
                "the thread alone: it decides the drill",
                "take diameter out",
            )
        return self
