"""What attachments say against one another and against the plates."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from geomgen.errors import Problem

if TYPE_CHECKING:
    from geomgen.spec.contradictions import Sections

_ONCE = ("end", "flex", "steps")


def complaints(sections: Sections) -> Iterator[Problem]:
    """Kinds and names that are given twice, and two things on the outlet's end."""
    first: dict[str, int] = {}
    names = {plate.name for plate in sections.plates or ()}
    at_outlet = next(
        (plate.name for plate in sections.plates or () if getattr(plate, "at", None) == "outlet"),
        None,
    )
    for i, said in enumerate(sections.attachments or ()):
        if said.kind in _ONCE and said.kind in first:
            yield Problem(
                ("attachments", i, "kind"),
                f"a second {said.kind}",
                f"one {said.kind} a manifold",
                "take one of them out",
            )
        first.setdefault(said.kind, i)
        name = getattr(said, "name", None)
        if name is not None and name in names:
            yield Problem(
                ("attachments", i, "name"),
                f"a second part {name}",
                "every part once",
                "give it another name",
            )
        if name is not None:
            names.add(name)
        if said.kind == "end" and said.form != "plain" and at_outlet is not None:
            yield Problem(
                ("attachments", i, "form"),
                f"{said.form} on the outlet's end, where the plate {at_outlet} stands",
                "one of the two",
                "take one of them out",
            )
