"""Contradictions about the head flange: studs that are not there, slots that make no sense."""

from __future__ import annotations

from collections.abc import Iterator

from geomgen.errors import KeyPath, Problem
from geomgen.spec.contradictions import Rule, Sections, complaint
from geomgen.spec.positions import cylinders, studs

LEAST_CUT = {"plasma": 1.5, "laser": 0.1, "waterjet": 0.75}
"""Least width of a cut [mm]: plasma cutters' and waterjet shops' guides; laser common practice,
no source."""


def studs_named(s: Sections) -> Iterator[Problem]:
    """Every stud that the flange names stands in a head."""
    if s.flange is None or s.engine is None or s.heads is None:
        return
    named: list[tuple[KeyPath, str]] = [
        (("flange", "slots", i, "stud"), slot.stud) for i, slot in enumerate(s.flange.slots or ())
    ]
    if s.flange.growth is not None and s.flange.growth.register_stud is not None:
        named.append((("flange", "growth", "register"), s.flange.growth.register_stud))
    known = [
        stud.name for head in s.heads for stud in studs(head, cylinders(head, s.engine.cylinders))
    ]
    for path, name in named:
        if known and name not in known:
            yield complaint(
                path, name, f"a stud: {', '.join(known)}", "name the stud as the hole table does"
            )


def relief_in_one_piece(s: Sections) -> Iterator[Problem]:
    """Slots between the ports are for a flange of one piece."""
    if s.flange is not None and s.flange.relief is not None and s.flange.outline == "separate":
        yield complaint(
            ("flange", "relief"),
            "relief slots in a flange of one piece a port",
            "relief in one-piece flanges, outline hugging or bar",
            "take relief out: separate pieces grow by themselves",
        )


def relief_can_be_cut(s: Sections) -> Iterator[Problem]:
    """A relief slot is no narrower than the cut itself."""
    if s.flange is None or s.flange.relief is None:
        return
    process, width = s.flange.process, s.flange.relief.width
    cut = LEAST_CUT[process]
    if width < cut:
        yield complaint(
            ("flange", "relief", "width"),
            f"a slot of {width:g} mm",
            f"at least the width of the cut: {process} takes out {cut:g} mm and more",
            "make it 2 to 3 mm",
        )


RULES: tuple[Rule, ...] = (studs_named, relief_in_one_piece, relief_can_be_cut)
