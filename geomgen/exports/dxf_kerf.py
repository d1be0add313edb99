"""A second DXF a flat part, only where the spec asks for it: the path of the torch.

The outline moved outwards and every opening inwards by half the kerf, each begun in the scrap
with a lead-in, inner paths before the outline: for a machine that makes no paths of its own.
Its name says ``kerf_compensated``. Everybody else wants the net file: kerf set twice is scrap.
"""

from __future__ import annotations

from geomgen.design.model import Design, FlatPart, Kerf
from geomgen.exports._dxf_writing import Drawn, Pen, Unit, written
from geomgen.exports.dxf import COLOURS
from geomgen.exports.dxf import file_name as net_name
from geomgen.profiles.kerf import TorchPath, torch_path
from geomgen.profiles.loops import bounding_box

NAME = "dxf-kerf"

WHAT = "kerf_compensated"
"""In the name of every such file."""

LEAST_LEAD = 5.0
"""From pierce point to edge, however thin the plate [mm]; common practice, no source: the
plate's thickness, and 4 to 5 mm at least."""


def export(design: Design) -> dict[str, bytes]:
    """The path of every flat part, by file name; nothing where no kerf is asked for."""
    said = design.files
    if said.kerf is None:
        return {}
    pen = Pen(said.version, said.style, said.unit)
    return {
        file_name(part, said.unit): compensated(part, said.kerf, pen, (said.cut, said.mark))
        for part in design.flats
    }


def file_name(part: FlatPart, unit: Unit = "mm") -> str:
    """``flats/head_flange_10mm_304_kerf_compensated_mm.dxf``."""
    return net_name(part, unit, WHAT)


def wanted_lead(part: FlatPart, kerf: Kerf) -> float:
    """How far from the edge the torch should pierce [mm]."""
    return max(part.cut_thickness, LEAST_LEAD) if kerf.lead_in is None else kerf.lead_in


def torch_paths(part: FlatPart, kerf: Kerf) -> tuple[TorchPath | None, ...]:
    """Paths in the order they are cut, the outline last; None where the kerf has no room."""
    loops = [(loop, True) for loop in reversed(part.profile.holes)]
    wanted = wanted_lead(part, kerf)
    return tuple(
        torch_path(loop, kerf.width, opening, wanted, kerf.lead, kerf.overrun)
        for loop, opening in (*loops, (part.profile.outer, False))
    )


def compensated(part: FlatPart, kerf: Kerf, pen: Pen, layers: tuple[str, str]) -> bytes:
    """The path of one part as the bytes of a DXF file.

    Args:
        part: what to cut.
        kerf: width and lead-ins.
        pen: version, style and unit.
        layers: names for what is cut and marked.
    """
    cut, mark = layers
    things = [Drawn(mark, (stroke,), closed=False) for stroke in part.marks]
    paths = [path for path in torch_paths(part, kerf) if path is not None]
    things += [Drawn(cut, path.pieces, closed=False) for path in paths]
    box = (
        bounding_box(*(path.pieces for path in paths))
        if paths
        else bounding_box(part.profile.outer)
    )
    used = tuple(zip(layers, COLOURS, strict=False))
    return written(
        things, used, box, pen, f"kerf {kerf.width:g} mm and lead-ins are in these paths"
    )
