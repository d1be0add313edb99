"""Weld elbows: pipe fittings without legs, of fixed angles, that may be cut shorter.

Sizes: ASME B16.9 (outside diameters as ASME B36.10M), as reprinted in public tables. A
long-radius elbow's centreline radius is 1.5 times its nominal size in inches (not its
outside diameter), a short-radius one's 1.0 times, a 3D one's 3 times; of the 1/2 and 3/4
sizes the long-radius elbow is as large as that of 1 in.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, WithJsonSchema, model_validator

from geomgen.shelf._offer import BendSpec, Offer
from geomgen.units import MM_PER_INCH, Quantity, Size, later, refusal

KIND = "elbow"

PIPES: dict[str, tuple[int, float, float]] = {
    "1/2": (15, 0.5, 21.3),
    "3/4": (20, 0.75, 26.7),
    "1": (25, 1.0, 33.4),
    "1-1/4": (32, 1.25, 42.2),
    "1-1/2": (40, 1.5, 48.3),
    "2": (50, 2.0, 60.3),
    "2-1/2": (65, 2.5, 73.0),
    "3": (80, 3.0, 88.9),
    "3-1/2": (90, 3.5, 101.6),
    "4": (100, 4.0, 114.3),
}
"""DN, nominal size [in] and outside diameter [mm] by NPS."""

CENTRE_TO_END_45 = {
    "1/2": 16.0,
    "3/4": 19.0,
    "1": 22.0,
    "1-1/4": 25.0,
    "1-1/2": 29.0,
    "2": 35.0,
    "2-1/2": 44.0,
    "3": 51.0,
    "3-1/2": 57.0,
    "4": 64.0,
}
"""Of a long-radius 45 deg elbow [mm]; more than its bend needs, so it has short straight ends."""

_TIMES = {"long": 1.5, "short": 1.0, "3d": 3.0}
_ANGLES = {"long": (45.0, 90.0, 180.0), "short": (90.0, 180.0), "3d": (45.0, 90.0)}
_CLOSE = 0.5
"""What a data sheet's rounding may take off a radius or an outside diameter [mm]."""


def _size(value: Any) -> Any:
    """A nominal size as it is said: 2, 1-1/2, 1.5, 1 1/2."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        return value
    text = str(value).strip().removesuffix("in").strip().replace(" ", "-")
    for nps, (_, inches, _) in PIPES.items():
        if text in (nps, f"{inches:g}", f"{inches}"):
            return nps
    return text


_Nps = Literal["1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4"]
Nps = Annotated[
    _Nps,
    BeforeValidator(_size),
    WithJsonSchema(
        {"anyOf": [{"enum": [*PIPES]}, {"type": "number", "minimum": 0.5, "maximum": 4}]}
    ),
]
"""A nominal pipe size in inches."""


class Spec(BendSpec):
    """One size of weld elbow, by its nominal size or by its radius off its data sheet."""

    kind: Literal["elbow"]
    """A weld elbow, without straight legs."""
    clr: Size = Field(default_factory=lambda: 1.0)
    """Centreline radius; follows from ``nps`` or ``dn``: of a long-radius elbow 1.5 times its
    nominal size, not its OD."""
    angle: Annotated[float, Field(gt=0, le=180), Quantity("angle")] = 90.0
    """Angle of the elbow as it is bought."""
    cut: bool = True
    """Whether elbows may be cut to smaller angles (common practice). Not, and every bend is a
    whole one."""
    nps: Nps | None = later()
    """Nominal size in inches, of ASME B16.9: gives radius and OD."""
    dn: Literal[15, 20, 25, 32, 40, 50, 65, 80, 90, 100] | None = later()
    """The same as DN: 40 is 1-1/2. ASME's: DN 65 is 73.0 OD, not 76.1."""
    radius: Literal["long", "short", "3d"] | None = later()
    """Which elbow of that size: ``long`` 1.5 times the nominal size, the default, ``short``
    1.0 times, ``3d`` 3 times."""

    @model_validator(mode="before")
    @classmethod
    def _sized(cls, said: Any) -> Any:
        """Radius and outside diameter off the standard's table.

        The field's own default never stands: where no size is known, a radius is asked for.
        """
        if not isinstance(said, dict):
            return said
        if all(said.get(key) is None for key in ("clr", "nps", "dn")):
            raise refusal("neither", "clr, or a nominal size as nps or dn", "add nps: 1-1/2")
        nps = _nominal(said)
        if nps is None:
            return said
        size = {"clr": radius_of(nps, said.get("radius") or "long"), "od": PIPES[nps][2]}
        return {**size, **{key: value for key, value in said.items() if value is not None}}

    @model_validator(mode="after")
    def _agrees(self) -> Spec:
        nps = _nominal({"nps": self.nps, "dn": self.dn})
        if nps is None:
            if self.radius is not None:
                raise refusal(
                    f"radius {self.radius} without a size",
                    "radius beside nps or dn",
                    "add nps, or give clr alone",
                )
            return self
        dn, _, od = PIPES[nps]
        kind = self.radius or "long"
        wanted = radius_of(nps, kind)
        if self.dn is not None and self.dn != dn:
            raise refusal(f"nps {nps} and dn {self.dn}", f"dn {dn}, or nps alone", "say one")
        if abs(self.clr - wanted) > _CLOSE or self.od is None or abs(self.od - od) > _CLOSE:
            raise refusal(
                f"clr {self.clr:g} and od {self.od}",
                f"clr {wanted:g} and od {od:g}, which NPS {nps} {kind} radius has",
                "give the size, or clr and od, not both",
            )
        if self.angle not in _ANGLES[kind] and not self.cut:
            angles = " or ".join(f"{angle:g}" for angle in _ANGLES[kind])
            raise refusal(
                f"{self.angle:g} deg, {kind} radius, not to be cut",
                f"{angles} deg, as ASME B16.9 has them",
                "cut it from a 90, or take another",
            )
        return self


def radius_of(nps: str, kind: str) -> float:
    """Centreline radius of an elbow of ASME B16.9 [mm].

    Args:
        nps: nominal size, ``1-1/2``.
        kind: ``long``, ``short`` or ``3d``.
    """
    inches = PIPES[nps][1]
    # The two smallest long-radius elbows share the size of the next.
    inches = max(inches, 1.0) if kind == "long" else inches
    return round(_TIMES.get(kind, 1.5) * inches * MM_PER_INCH, 6)


def _nominal(said: dict[str, Any]) -> str | None:
    """The nominal size that is said, as NPS or as DN; None when there is none in the table."""
    nps = _size(said.get("nps"))
    if nps is not None:
        return nps if nps in PIPES else None
    return next((key for key, row in PIPES.items() if row[0] == said.get("dn")), None)


def offer(spec: Spec) -> Offer:
    """What can be had from this line of the shelf [mm, deg]."""
    nps = _nominal({"nps": spec.nps, "dn": spec.dn})
    size = f"NPS {nps} {spec.radius or 'long'} radius, " if nps is not None else ""
    return Offer(
        label=f"weld elbow {spec.angle:g} deg, {size}CLR {spec.clr:g} mm",
        clr=spec.clr,
        most=spec.angle,
        made="cut",
        angles=() if spec.cut else (spec.angle,),
        legs=_legs(spec, nps),
        od=spec.od,
    )


def _legs(spec: Spec, nps: str | None) -> tuple[float, float]:
    """Straight ends: only a long-radius 45 deg elbow has any to speak of [mm]."""
    if nps is None or spec.angle != 45.0 or (spec.radius or "long") != "long":
        return (0.0, 0.0)
    leg = max(CENTRE_TO_END_45[nps] - spec.clr * math.tan(math.radians(22.5)), 0.0)
    return (leg, leg)
