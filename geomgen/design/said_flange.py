"""The head flange that a spec asks for, in plain numbers, and how it is cut."""

from __future__ import annotations

import math
from dataclasses import replace

from geomgen.design.cutting import Cutter
from geomgen.design.engine_rows import EngineRows
from geomgen.design.flange import HeadFlange, Slotted, dowel, head_flange, tapped, windows
from geomgen.design.growth import HotGrowth
from geomgen.design.heads import PlacedHead, titled
from geomgen.design.model import FlatPart, Limits
from geomgen.design.outlines import Relief
from geomgen.design.window_fit import fit_of
from geomgen.errors import Problem, SpecError
from geomgen.families import TubeSize
from geomgen.plates import PlateHole
from geomgen.spec.flange import Flange
from geomgen.spec.header import HeaderSpec

NAME = "head_flange"
"""Of the part; one piece a port adds its cylinder: ``head_flange_2``."""


def head_flanges(
    spec: HeaderSpec, head: PlacedHead, tube: TubeSize, limits: Limits
) -> tuple[FlatPart, ...]:
    """The flange of a head as it is cut: one part, or one a port.

    Raises:
        SpecError: no such flange exists.
    """
    said = spec.flange
    wanted = _wanted(spec, head, tube, limits)
    try:
        fits = tuple(
            fit_of(
                window.loop,
                fit=0.0 if said.window == "butt" else said.fit,
                wall=wanted.wall,
                process=said.process,
                thickness=wanted.thickness + wanted.facing,
                limit=limits.__getitem__,
            )
            for window in windows(wanted)
        )
        flats = head_flange(
            wanted,
            text=" ".join(filter(None, (spec.name, spec.revision, head.place.name))).upper(),
            process=said.process,
            cutter=Cutter.of(limits.__getitem__, said.process),
            fits=fits,
        )
        bank = EngineRows.of(spec).told(head.place.name)
        return tuple(replace(f, own_notes=(bank, *f.own_notes)) for f in flats) if bank else flats
    except ValueError as error:
        raise SpecError(
            (
                Problem(
                    ("flange",),
                    str(error),
                    "ports and studs that the flange can hold",
                    "check the port and stud pattern, and flange.outline",
                ),
            )
        ) from None


def growth_of(spec: HeaderSpec, limits: Limits) -> HotGrowth:
    """How hot flange and head get, as the spec has it or by default."""
    said, span = spec.flange.growth, limits["growth_span"]
    if said is None:
        return HotGrowth(span=span)
    return HotGrowth(
        flange=said.flange_temperature,
        head=said.head_temperature,
        head_material=said.head_material,
        coefficient=None if said.expansion is None else 1e-6 * said.expansion,
        register=said.register_stud or "",
        wanted=said.open,
        span=span,
    )


def _wanted(spec: HeaderSpec, head: PlacedHead, tube: TubeSize, limits: Limits) -> HeadFlange:
    said, place = spec.flange, head.place
    names = [stud.name for stud in head.studs]
    growth = growth_of(spec, limits)
    if growth.register not in names:  # the register of another head
        growth = replace(growth, register="")
    return HeadFlange(
        name=f"{NAME}_{place.name}" if place.name else NAME,
        title=titled(spec, place.name),
        ports=head.ports,
        studs=tuple(replace(stud, at=place.frame.point(stud.at)) for stud in head.studs),
        frame=place.frame,
        wall=tube.outer_radius - tube.inner_radius,
        inner_radius=tube.inner_radius,
        fit=said.fit,
        land=said.land,
        thickness=said.thickness,
        material=said.material,
        facing=said.facing or 0.0,
        hole_class=said.hole_class,
        window=said.window,
        edge_factor=limits["edge_factor"],
        corner=limits[f"corner_{said.process}"],
        outline=said.outline or "hugging",
        relief=_relief(said, limits),
        growth=growth,
        slotted=tuple(
            Slotted(slot.stud, slot.length, math.radians(slot.angle))
            for slot in said.slots or ()
            if slot.stud in names
        ),
        more=_more(said, limits["edge_factor"]),
    )


def _relief(said: Flange, limits: Limits) -> Relief | None:
    relief = said.relief
    if relief is None:
        return None
    corner = limits[f"corner_{said.process}"]
    web = limits[f"web_ratio_{said.process}"] * (said.thickness + (said.facing or 0.0))
    stop = relief.stop if relief.stop is not None else max(relief.width, 2.0 * corner)
    return Relief(relief.width, relief.web or max(said.land, said.thickness, web), stop)


def _more(said: Flange, edge_factor: float) -> tuple[PlateHole, ...]:
    dowels = tuple(
        dowel(f"dowel {pin.name or i + 1}", pin.at, pin.diameter, edge_factor)
        for i, pin in enumerate(said.dowels or ())
    )
    threads = tuple(
        tapped(f"tapped {hole.name or i + 1}", hole.at, hole.size, edge_factor)
        for i, hole in enumerate(said.tapped or ())
    )
    return (*dowels, *threads)
