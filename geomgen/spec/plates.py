"""What a spec says of flat parts beside the head flange: any plate that there is a file for."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geomgen.errors import Problem
from geomgen.spec.kinds import tagged

if TYPE_CHECKING:
    from collections.abc import Sequence

    from geomgen.plates._said import PlateSpec as PlateSpec
else:
    PlateSpec = tagged("geomgen.plates", "kind")


def complaints(plates: Sequence[PlateSpec]) -> Iterator[Problem]:
    """What plates say against one another: names given twice, two at the outlet, wrong order."""
    seen: dict[str, int] = {}
    later = {plate.name for plate in plates}
    at_outlet: str | None = None
    for i, plate in enumerate(plates):
        of = getattr(plate, "of", None)
        if of is not None and of in later and of not in seen:
            yield Problem(
                ("plates", i, "of"),
                f"{of}, which comes later",
                "head_flange, or a plate that comes before this one",
                f"move {of} before {plate.name}",
            )
        if plate.name in seen:
            yield Problem(
                ("plates", i, "name"),
                f"a second plate {plate.name}",
                "every plate once",
                "give it another name",
            )
        seen.setdefault(plate.name, i)
        if getattr(plate, "at", None) != "outlet":
            continue
        if at_outlet is not None:
            yield Problem(
                ("plates", i, "at"),
                f"a second plate at the outlet, where {at_outlet} stands",
                "one plate at the outlet",
                "leave at out: then it is a loose part",
            )
        at_outlet = plate.name
