"""The shelf as the router knows it: radii with their largest angles, and least straights."""

from __future__ import annotations

import math

from geomgen.errors import Problem as Complaint
from geomgen.errors import SpecError
from geomgen.registry import home
from geomgen.routing.problem import Radius, Shelf
from geomgen.spec.header import HeaderSpec


def bends_to_be_had(spec: HeaderSpec) -> Shelf:
    """What bends and straights the runners may be made of."""
    shelf = spec.shelf
    offers = [home(bend).offer(bend) for bend in shelf.bends]
    fitting = [o for o in offers if o.od is None or abs(o.od - spec.runners.tube.od) < 1e-6]
    # Whole stock angles only, and bends in limited number, are not laid out by this version.
    usable = [offer for offer in fitting if not offer.angles]
    if not usable:
        raise SpecError(
            (
                Complaint(
                    ("shelf", "bends"),
                    f"no bend of {spec.runners.tube.od:g} mm tube that can be cut to any angle",
                    "at least one",
                    "add a U-bend in the runners' tube size",
                ),
            )
        )
    grip = max(offer.grip for offer in usable)
    between = max(shelf.min_straight, grip, spec.limits.straight_min)
    return Shelf(
        radii=tuple(Radius(offer.clr, math.radians(offer.most)) for offer in usable),
        least_angle=math.radians(shelf.min_angle),
        straight=between,
        straight_at_start=shelf.min_straight_at_flange,
        straight_at_end=shelf.min_straight_at_collector,
    )
