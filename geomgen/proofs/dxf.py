"""The written DXF of every flat part, read back and measured again.

What: version, unit, layers and entities as they are set; loops closed, single, simple, apart,
inside the outline and before it; every edge, arc, hole, centre mark and letter where the design
has it, and of its radius; not mirrored; metal area times thickness against the part's own solid.
Why: open loops, doubled lines, wrong units and small holes are what cutters reject, and a
mirrored flange fits nothing.
Limit: 0.01 mm for places and sizes, the project's own bar; 1e-6 of the volume.
Source: cutters' public guides; units and bulges as in the DXF reference.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import combinations

from geomgen.design.model import Design, Files, FlatPart
from geomgen.errors import Finding, Verdict
from geomgen.exports import dxf_kerf
from geomgen.exports._dxf_writing import IN_MM, UNIT_CODES
from geomgen.exports.dxf import file_name
from geomgen.profiles.distances import inside, is_simple, loop_to_loop
from geomgen.profiles.loops import Loop
from geomgen.proofs import _dxf_measures as measures
from geomgen.proofs import _dxf_strokes as marking
from geomgen.proofs._dxf_reading import Reading, Unreadable, chained, read

NAME = "dxf"

RELEASES = {
    "R12": "AC1009",
    "R2000": "AC1015",
    "R2004": "AC1018",
    "R2007": "AC1021",
    "R2010": "AC1024",
    "R2013": "AC1027",
    "R2018": "AC1032",
}
"""``$ACADVER`` of each version: DXF reference."""

TOUCHING = 1e-4
"""Ends nearer than this touch [mm]."""


def prove(
    design: Design, files: Mapping[str, bytes], volumes: Mapping[str, float] | None = None
) -> tuple[Finding, ...]:
    """Findings on every flat part's DXF.

    Args:
        design: what was decided.
        files: every file's bytes, by name.
        volumes: each part's solid [mm3] by part name; built from the recipe when left out.
    """
    if volumes is None:
        volumes = _volumes(design)
    found: list[Finding] = [_all_there(design, files)]
    for part in design.flats:
        data = files.get(file_name(part, design.files.unit))
        if data is None:
            continue
        try:
            reading = read(data)
        except Unreadable as error:
            message = f"cannot be read: {error}"
            found.append(measures.finding("dxf-file", part, False, message))
            continue
        found += _prove_part(part, design.files, reading, volumes.get(part.name))
    return tuple(found)


def _volumes(design: Design) -> dict[str, float]:
    """Volume of each flat part's solid, from the recipe; of loose parts from their own [mm3]."""
    from geomgen.recipe.nodes import Prism, parts_of
    from geomgen.solids.build import build
    from geomgen.solids.measure import volume

    flat = {part.name for part in design.flats}
    nodes = {part.name: part.node for part in parts_of(design.assembly) if part.name in flat}
    nodes |= {
        part.name: Prism(part.frame, part.drilled, part.thickness)
        for part in design.flats
        if part.loose
    }
    return {name: volume(build(node)) for name, node in nodes.items()}


def _all_there(design: Design, files: Mapping[str, bytes]) -> Finding:
    unit, kerf = design.files.unit, design.files.kerf
    wanted = {file_name(part, unit) for part in design.flats}
    if kerf is not None:
        wanted |= {dxf_kerf.file_name(part, unit) for part in design.flats}
    written = {name for name in files if name.endswith(".dxf")}
    missing, strange = sorted(wanted - written), sorted(written - wanted)
    message = f"{len(wanted)} files of {len(design.flats)} flat parts"
    if missing or strange:
        message = f"missing: {', '.join(missing) or 'none'}; not asked for: {', '.join(strange)}"
    return Finding(
        "dxf-file",
        "flat parts",
        Verdict.FAIL if missing or strange else Verdict.PASS,
        message,
        value=float(len(written)),
        limit=float(len(wanted)),
        unit="count",
        source="proof",
    )


def _prove_part(
    part: FlatPart, said: Files, reading: Reading, volume: float | None
) -> list[Finding]:
    drawn = reading.in_mm(IN_MM[said.unit])
    loops, faults = chained(drawn.on(said.cut), TOUCHING)
    paired = measures.pairs((part.profile.outer, *part.profile.holes), loops)
    strokes = marking.strokes_of(drawn.on(said.mark))
    return [
        units(part.name, said, reading),
        _entities(part, said, drawn),
        _loops(part, loops, faults),
        measures.shape(part, paired),
        measures.arcs(part, paired),
        measures.holes(part, loops, strokes),
        marking.marks(part, strokes),
        marking.hand(part, strokes),
        measures.area(part, loops, volume),
    ]


def units(subject: str, said: Files, reading: Reading) -> Finding:
    """The header's version and unit, as set; R12 has no unit."""
    if reading.version != RELEASES[said.version]:
        message = f"the file is {reading.version}; {said.version} is {RELEASES[said.version]}"
        return Finding("dxf-units", subject, Verdict.FAIL, message, source="proof")
    if said.version == "R12":
        return Finding(
            "dxf-units",
            subject,
            Verdict.WARN,
            f"this DXF version cannot name its unit; it is {said.unit}",
            remedy="say the unit in the order; the file's name says it",
            source="proof",
        )
    code, measurement = UNIT_CODES[said.unit]
    good = (reading.units, reading.measurement) == (code, measurement)
    return Finding(
        "dxf-units",
        subject,
        Verdict.PASS if good else Verdict.FAIL,
        f"unit code {reading.units}, measurement {reading.measurement}; "
        f"{said.unit} is {code} and {measurement}",
        remedy="" if good else measures.DO_NOT_CUT,
        source="proof",
    )


def _entities(part: FlatPart, said: Files, reading: Reading) -> Finding:
    known = (said.cut, said.mark, *((said.reference,) if said.with_reference else ()))
    faults = [f"{what}: not a line or arc" for what in reading.foreign]
    faults += [f"{what}: not at z = 0" for what in reading.raised]
    faults += [
        f"{c.kind} on unknown layer {c.layer}" for c in reading.contours if c.layer not in known
    ]
    faults += [f"{c.kind} on layer {c.layer}" for c in reading.on(said.mark) if c.kind != "LINE"]
    faults += [
        f"{c.kind} where {said.style} are asked for"
        for c in reading.on(said.cut)
        if c.kind.endswith("POLYLINE") and said.style == "lines-arcs"
    ]
    message = "; ".join(faults[:5]) or f"{len(reading.contours)} entities, lines and arcs at z = 0"
    count = float(len(faults))
    return measures.finding("dxf-entities", part, not faults, message, count, 0.0, "count")


def _loops(part: FlatPart, loops: list[Loop], faults: list[str]) -> Finding:
    """Closed, simple, apart from each other, all but one inside that one, and before it."""
    faults = list(faults)
    faults += [
        f"loop {k + 1} crosses itself" for k, loop in enumerate(loops) if not is_simple(loop)
    ]
    faults += [
        f"loops {i + 1} and {j + 1} touch, cross or lie on each other"
        for (i, a), (j, b) in combinations(enumerate(loops), 2)
        if loop_to_loop(a, b) < TOUCHING
    ]
    outers = [k for k, loop in enumerate(loops) if not _within_another(loop, k, loops)]
    if len(outers) != 1:
        faults.append(f"{len(outers)} outlines in one file")
    elif outers[0] != len(loops) - 1:
        faults.append("the outline comes before an inner loop")
    wanted = 1 + len(part.profile.holes)
    if len(loops) != wanted:
        faults.append(f"{len(loops)} loops, {wanted} wanted")
    message = "; ".join(faults[:5]) or f"{len(loops)} closed loops, simple and apart"
    return measures.finding(
        "dxf-loops", part, not faults, message, float(len(faults)), 0.0, "count"
    )


def _within_another(loop: Loop, k: int, loops: list[Loop]) -> bool:
    start = loop[0].start
    return any(inside(start, other) for j, other in enumerate(loops) if j != k)
