"""The written DXF with kerf and lead-ins, read back: its cut leaves the part at net size.

What: every path keeps half the kerf from the finished edge, in the scrap, all the way round;
it begins in the scrap far enough from the part; the outline comes last.
Why: kerf on the wrong side, or a pierce in the part, is scrap.
Limit: 0.01 mm for the path, the project's own bar; pierce at least ``files.kerf.lead_in``, the
plate's thickness and 5 mm without it: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from geomgen.design.model import Design, FlatPart, Kerf
from geomgen.errors import Finding, Verdict
from geomgen.exports._dxf_writing import IN_MM
from geomgen.exports.dxf_kerf import file_name, wanted_lead
from geomgen.profiles.crossings import point_at
from geomgen.profiles.distances import inside, point_to_loop
from geomgen.profiles.loops import Loop
from geomgen.proofs._dxf_measures import CLOSE, finding
from geomgen.proofs._dxf_reading import Reading, Unreadable, read, strung
from geomgen.proofs.dxf import units

NAME = "dxf-kerf"

TOUCHING = 1e-4
"""Ends nearer than this touch [mm]."""


def prove(design: Design, files: Mapping[str, bytes]) -> tuple[Finding, ...]:
    """Findings on every file with kerf; none where the spec asks for none."""
    said = design.files
    found: list[Finding] = []
    for part in design.flats if said.kerf is not None else ():
        data = files.get(file_name(part, said.unit))
        if data is None or said.kerf is None:
            continue  # the proof of the net files says what is missing
        try:
            reading = read(data)
        except Unreadable as error:
            message = f"cannot be read: {error}"
            found.append(finding("dxf-kerf-file", part, False, message))
            continue
        found.append(units(f"{part.name}, kerf", said, reading))
        found += _prove_part(part, said.kerf, reading.in_mm(IN_MM[said.unit]), said.cut)
    return tuple(found)


def _prove_part(part: FlatPart, kerf: Kerf, reading: Reading, layer: str) -> Iterable[Finding]:
    nets = (*reversed(part.profile.holes), part.profile.outer)
    paths = strung(reading.on(layer), TOUCHING)
    if len(paths) != len(nets):
        message = f"{len(paths)} paths for {len(nets)} loops: kerf {kerf.width:g} mm has no room"
        yield finding("dxf-kerf-path", part, False, message, float(len(paths)), float(len(nets)))
        return
    openings = [True] * (len(nets) - 1) + [False]
    off = max(
        _off(net, path, kerf.width / 2.0, opening)
        for net, path, opening in zip(nets, paths, openings, strict=True)
    )
    message = f"{len(paths)} paths leave the net size to {off:.6f} mm, the outline last"
    yield finding("dxf-kerf-path", part, off <= CLOSE, message, off, CLOSE, "mm")
    yield _pierces(part, wanted_lead(part, kerf), nets, paths)


def _off(net: Loop, path: Loop, half: float, opening: bool) -> float:
    """What a path cuts into the part, or leaves on it [mm]."""
    points = [point_at(piece, k / 4.0) for piece in path for k in range(5)]
    worst = max(half - point_to_loop(point, net) for point in points)
    if any(inside(point, net) is not opening for point in points):
        worst = max(worst, 2.0 * half)
    left = max(
        point_to_loop(point_at(piece, k / 4.0), path) - half for piece in net for k in (1, 2, 3)
    )
    return max(worst, left, 0.0)


def _pierces(part: FlatPart, wanted: float, nets: tuple[Loop, ...], paths: list[Loop]) -> Finding:
    room = [point_to_loop(path[0].start, net) for net, path in zip(nets, paths, strict=True)]
    near = sum(value < wanted - CLOSE for value in room)
    message = f"pierces at least {min(room):.1f} mm from the part; {wanted:.1f} wanted"
    if near:
        message += f"; {near} of {len(room)} have no room for that"
    return Finding(
        "dxf-kerf-pierce",
        part.name,
        Verdict.WARN if near else Verdict.PASS,
        message,
        value=min(room),
        limit=wanted,
        unit="mm",
        remedy="have small openings drilled, or pierce them slowly" if near else "",
        source="proof",
    )
