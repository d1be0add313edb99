"""What a shop must be told of a flat part, in words: its head line, table of holes and notes."""

from __future__ import annotations

import math

from geomgen.design.leaning import STRAIGHT
from geomgen.design.model import PLAIN, Files, FlatPart, Hole
from geomgen.exports import dxf, dxf_kerf
from geomgen.exports.hole_table_csv import slot_degrees
from geomgen.profiles.loops import Arc, bounding_box, profile_area

FLATNESS = 0.15
"""What a flange may be out of flat overall before it is welded [mm]; common practice, no source."""

READS_RIGHT = (
    "Seen from the tube side: there the lettering reads right and the pennant beside UP flies "
    "to the right. If not, the part is mirrored."
)

_TOOLS = {"plasma": "torch", "laser": "beam", "waterjet": "jet"}

HEADS = ("hole", "x", "y", "size", "for", "how", "note")
"""Columns of the table of holes."""


def headline(part: FlatPart) -> str:
    """What the part is, and of what."""
    what = part.name.replace("_", " ").capitalize()
    return what if part.title in ("", what) else f"{what}: {part.title}"


def plate(part: FlatPart) -> str:
    """Its thickness: ``10 mm``, or ``12 mm, faced to 10 mm``."""
    if part.facing <= 0.0:
        return f"{part.thickness:g} mm"
    return f"{part.cut_thickness:g} mm, faced to {part.thickness:g} mm"


def what_it_is(part: FlatPart, manifold: str, revision: str) -> str:
    """Manifold, revision, quantity, material, plate, process, unit and view."""
    return (
        f"{manifold}, revision {revision}: {part.quantity} off, {part.material}, {plate(part)}, "
        f"{part.process}; all sizes in mm; seen from the tube side"
    )


def cells(hole: Hole) -> tuple[str, ...]:
    """A row of the table of holes, in the order of ``HEADS``."""
    size = f"{hole.diameter:.1f}"
    if hole.slot > 0.0:
        size += f" x {hole.diameter + hole.slot:.1f} at {slot_degrees(hole):.0f} deg"
    name = hole.name.removeprefix("stud ")
    place = (f"{hole.at[0] + 0.0:.2f}", f"{hole.at[1] + 0.0:.2f}")
    return (name, *place, size, hole.thread, to_do(hole), hole.note)


def to_do(hole: Hole) -> str:
    """``cut``, ``cut 7.0, drill`` or ``mark, drill``, and what follows."""
    first = {"cut": "cut", "pilot": f"cut {hole.pilot:.1f}, drill", "mark": "mark, drill"}[hole.how]
    if hole.kind == "tapped":
        return f"{first}, tap"
    if hole.how != "cut" and hole.slot > 0.0:
        return f"{first}, mill"
    return f"{first}, ream" if hole.kind == "dowel" else first


def notes(part: FlatPart, files: Files = PLAIN) -> tuple[str, ...]:
    """What goes with the order, never into the cut file."""
    texts = [
        _file(part, files),
        "Net size: no kerf, no lead-ins. Pierce in the scrap, not at the corners of a window.",
        _layers(files),
        READS_RIGHT,
    ]
    if part.facing > 0.0 and not any("face the gasket side" in note for note in part.notes):
        texts.append(
            f"Cut from {part.cut_thickness:g} mm plate; face {part.facing:g} mm off the gasket "
            f"side after welding, {part.thickness:g} mm finished."
        )
    texts += _drilled(part)
    texts += _far_origin(part)
    if part.window_style != "butt":
        tube = "formed" if part.window_style == "socket" else "round"
        texts.append(
            f"Windows take the {tube} tube, {part.window_fit:g} mm free over both sides"
            f"{_leaning(part)}. Grey dashes: edge of the port."
        )
    texts += _measures(part)
    if files.kerf is not None:
        texts.append(
            f"{dxf_kerf.file_name(part, files.unit).rpartition('/')[2]} is the path of the "
            f"{_TOOLS[part.process]}: kerf {files.kerf.width:g} mm and lead-ins are in it. "
            "Set no kerf with that file."
        )
    return (*texts, *(note[:1].upper() + note[1:] for note in part.notes))


def _leaning(part: FlatPart) -> str:
    """What a leaning tube leaves free beside the fit: its window is cut square."""
    if part.lean < STRAIGHT:
        return ""
    left = part.thickness * math.tan(part.lean)
    return (
        f" across its lean. It leans up to {math.degrees(part.lean):.1f} deg, its window is cut "
        f"square: along the lean {left:.1f} mm more is free, all of it on one side at each face"
    )


def _file(part: FlatPart, files: Files) -> str:
    name = dxf.file_name(part, files.unit).rpartition("/")[2]
    unit = {"mm": "millimetres", "inch": "inches"}[files.unit]
    said = f"Cut file {name}: DXF {files.version}, in {unit}, full size"
    if files.version == "R12":
        return f"{said}. R12 cannot say its unit in the file: say {unit} in the order."
    return f"{said}, unit in its header."


def _layers(files: Files) -> str:
    look = f" {files.reference} is only to be looked at." if files.with_reference else ""
    return (
        f"{files.cut} is cut; {files.mark} is a light etch or pen, or is left out.{look} "
        "Protect the gasket face."
    )


def _drilled(part: FlatPart) -> list[str]:
    """What is not cut, or not to size."""
    texts = []
    marked = [hole for hole in part.holes if hole.how == "mark"]
    if marked:
        texts.append(
            f"Red dashed holes are NOT cut: centre mark only, {_to_drill(marked)}"
            f"{_because(part, marked)}."
        )
    pilots = [hole for hole in part.holes if hole.how == "pilot"]
    if pilots:
        texts.append(
            f"Holes with a red dashed circle round them are cut small, as pilots: "
            f"{_to_drill(pilots)}{_because(part, pilots)}."
        )
    if any(hole.kind == "tapped" for hole in part.holes):
        texts.append("Tapped holes: the size is that of the tap drill. Never burn them to size.")
    if any(hole.kind == "dowel" for hole in part.holes):
        texts.append("Dowel holes: the size is as reamed, H7. Drill 0.2 to 0.3 mm under it first.")
    return texts


def _far_origin(part: FlatPart) -> list[str]:
    """Where a window is, on a part that the origin of its table of holes does not lie on."""
    box = bounding_box(part.profile.outer)
    if not part.windows or (box.left <= 0.0 <= box.right and box.bottom <= 0.0 <= box.top):
        return []
    window = bounding_box(part.windows[0])
    x, y = (window.left + window.right) / 2.0, (window.bottom + window.top) / 2.0
    place = f"x {x:.2f}, y {y + 0.0:.2f}"
    return [f"The origin of x and y is off this part: the middle of its window is at {place}."]


def _to_drill(holes: list[Hole]) -> str:
    """``drill 9.0, 10.5 mm after cutting``; the drill of a dowel's hole is a note of its own."""
    sizes = sorted({hole.diameter for hole in holes if hole.kind != "dowel"})
    said = ", ".join(f"{d:.1f}" for d in sizes)
    return f"drill {said} mm after cutting" if sizes else "drill after cutting"


def _because(part: FlatPart, holes: list[Hole]) -> str:
    if all(hole.kind != "clearance" for hole in holes):
        return ""
    limit = holes[0].cut_limit
    return (
        f" ({part.process} cuts to size from {limit:g} x plate = "
        f"{limit * part.cut_thickness:.1f} mm on)"
    )


def _measures(part: FlatPart) -> list[str]:
    pieces = [piece for piece in part.profile.outer if isinstance(piece, Arc)]
    fillets = sorted({round(arc.radius, 2) for arc in pieces if arc.sweep < 0.0})
    texts = []
    if fillets:
        texts.append(f"Inside fillets R{', R'.join(f'{r:g}' for r in fillets)}.")
    area = profile_area(part.drilled) / 100.0
    if part.sheet:
        return [*texts, f"Area {area:.1f} cm2."]
    return [*texts, f"Flat within {FLATNESS:g} mm after cutting. Area {area:.1f} cm2 as drilled."]
