"""Contradictions inside engine, tube, shelf and collector."""

from __future__ import annotations

import math
from collections.abc import Iterator

from geomgen.errors import Problem
from geomgen.registry import home
from geomgen.spec.contradictions import Rule, Sections, complaint


def firing_order(s: Sections) -> Iterator[Problem]:
    """Every cylinder fires once."""
    if s.engine is None:
        return
    wanted = list(range(1, s.engine.cylinders + 1))
    if sorted(s.engine.firing_order) != wanted:
        yield complaint(
            ("engine", "firing_order"),
            f"{list(s.engine.firing_order)} for {s.engine.cylinders} cylinders",
            f"every cylinder of {wanted} once",
            "name every cylinder once, in the order that they fire",
        )


def cam_durations(s: Sections) -> Iterator[Problem]:
    """Exhaust = EVO + 180 + EVC, intake = IVO + 180 + IVC: more than nothing."""
    cam = s.engine.cam if s.engine is not None else None
    if cam is None:
        return
    for valve, opens, closes in (
        ("exhaust", cam.exhaust_opens, cam.exhaust_closes),
        ("intake", cam.intake_opens, cam.intake_closes),
    ):
        duration = opens + 180.0 + closes
        if not 0.0 < duration < 540.0:
            yield complaint(
                ("engine", "cam", f"{valve}_opens"),
                f"an {valve} duration of {duration:g} deg ({opens:g} + 180 + {closes:g})",
                "a duration above 0 and below 540 deg",
                "exhaust opens before BDC and closes after TDC, intake opens before TDC and "
                "closes after BDC; a minus sign means the other side",
            )


def speeds(s: Sections) -> Iterator[Problem]:
    """Power is torque times speed, so its peak never lies below the torque's."""
    e = s.engine
    if e is None or e.peak_torque_rpm is None or e.peak_power_rpm is None:
        return
    if e.peak_torque_rpm > e.peak_power_rpm:
        yield complaint(
            ("engine", "peak_torque_rpm"),
            f"peak torque at {e.peak_torque_rpm:g} rpm, above peak power at "
            f"{e.peak_power_rpm:g} rpm",
            "peak torque at or below peak power",
            "swap the two, or correct one",
        )


def tuning_needs(s: Sections) -> Iterator[Problem]:
    """A tuned length needs a cam and both speeds."""
    if s.engine is None or s.runners is None or s.runners.length != "tuned":
        return
    needed = ("cam", "peak_torque_rpm", "peak_power_rpm")
    missing = [name for name in needed if getattr(s.engine, name) is None]
    if missing:
        yield complaint(
            ("runners", "length"),
            f"tuned, without {' and '.join(f'engine.{name}' for name in missing)}",
            f"tuned with {', '.join(f'engine.{name}' for name in needed)}, or a length",
            f"add {' and '.join(missing)} to engine, or give the length",
        )


def length_list(s: Sections) -> Iterator[Problem]:
    """A list of lengths has one for every cylinder, each longer than plate and transition."""
    if s.runners is None or isinstance(s.runners.length, str):
        return
    said = s.runners.length
    lengths = said if isinstance(said, tuple) else (said,)
    if isinstance(said, tuple) and s.engine is not None and len(said) != s.engine.cylinders:
        yield complaint(
            ("runners", "length"),
            f"{len(said)} lengths for {s.engine.cylinders} cylinders",
            "one length for every cylinder, in the order of their numbers",
            "give one length for all, or one for each",
        )
    plate = s.flange.thickness if s.flange is not None else 0.0
    if s.runners.length_from == "valve":
        plate += s.engine.valve_to_face if s.engine is not None else 0.0
    blend = s.runners.transition.length
    least = plate + (0.0 if blend == "auto" else blend)
    for i, length in enumerate(lengths):
        if length <= least:
            yield complaint(
                ("runners", "length", i) if isinstance(said, tuple) else ("runners", "length"),
                f"{length:g} mm",
                f"more than plate and transition take, {least:g} mm",
                "make the runner longer or the transition shorter",
            )


def tube_walls(s: Sections) -> Iterator[Problem]:
    """A tube has a bore."""
    tubes = []
    if s.runners is not None:
        tubes.append((("runners", "tube", "wall"), s.runners.tube.od, s.runners.tube.wall))
    outlet = getattr(s.collector, "outlet", None)
    if outlet is not None:
        tubes.append((("collector", "outlet", "wall"), outlet.od, outlet.wall))
    for path, od, wall in tubes:
        if wall >= od / 2.0:
            yield complaint(
                path,
                f"a wall of {wall:g} mm in a tube of {od:g} mm OD",
                f"less than half the OD, {od / 2.0:g} mm",
                "give the wall of the tube, not its bore",
            )


def shelf_needed(s: Sections) -> Iterator[Problem]:
    """What the router lays out is made of bends."""
    if s.shelf is None or s.shelf.bends or (s.runners is None and s.collector is None):
        return
    lays = s.collector is not None and hasattr(home(s.collector), "LAYS_RUNNERS")
    if lays or (s.runners is not None and s.runners.length == "as-laid"):
        return
    yield complaint(
        ("shelf",),
        "nothing",
        "a value for shelf, which the spec must have where runners are laid out of bends",
        "add shelf: ...",
    )


def radii(s: Sections) -> Iterator[Problem]:
    """A bend's centreline stays outside its own tube, and some bend suits the runners."""
    if s.shelf is None or s.runners is None or not s.shelf.bends:
        return
    od = s.runners.tube.od
    sizes = [bend.od if bend.od is not None else od for bend in s.shelf.bends]
    for i, (bend, size) in enumerate(zip(s.shelf.bends, sizes, strict=True)):
        if bend.clr <= size / 2.0:
            yield complaint(
                ("shelf", "bends", i, "clr"),
                f"CLR {bend.clr:g} mm for a tube of {size:g} mm OD",
                f"more than half the OD, {size / 2.0:g} mm",
                "give the radius of the bend's centreline; tight bends have 1 x OD",
            )
    if all(abs(size - od) > 1e-6 for size in sizes):
        yield complaint(
            ("shelf", "bends"),
            f"bends of OD {', '.join(f'{size:g}' for size in sizes)} mm",
            f"at least one bend for the runners' tube, OD {od:g} mm",
            "put a bend of that OD on the shelf, or change runners.tube",
        )


def shallow_bends(s: Sections) -> Iterator[Problem]:
    """The least bend worth cutting can be cut from something."""
    if s.shelf is None or not s.shelf.bends:
        return
    most = max(bend.angle for bend in s.shelf.bends)
    if s.shelf.min_angle > most:
        yield complaint(
            ("shelf", "min_angle"),
            f"{s.shelf.min_angle:g} deg, with bends up to {most:g} deg",
            f"at most {most:g} deg",
            "make it smaller, or put larger bends on the shelf",
        )


def stepped_bends(s: Sections) -> Iterator[Problem]:
    """Steps make up square bends, leave bends to choose from, and have three bends to do it."""
    if s.shelf is None or s.shelf.angle_step is None:
        return
    step, path = s.shelf.angle_step, ("shelf", "angle_step")
    most = max(bend.angle for bend in s.shelf.bends)
    if abs(90.0 / step - round(90.0 / step)) > 1e-6:
        yield complaint(
            path,
            f"{step:g} deg",
            "a step that divides 90 evenly: 1, 2.5, 5, 7.5, 10, 15, 22.5, 30, 45",
            "take 5, or take it out for any angle",
        )
    if s.shelf.most_bends is not None and s.shelf.most_bends < 3:
        yield complaint(
            path,
            f"steps of {step:g} deg with at most {s.shelf.most_bends} bends",
            "steps with 3 bends or more: with two, their angles follow from where the port and "
            "the collector stand, and nothing is left to take up the rest",
            "allow 3 bends, or take the step out",
        )
    if math.ceil(s.shelf.min_angle / step - 1e-9) * step > most + 1e-6:
        yield complaint(
            path,
            f"steps of {step:g} deg between {s.shelf.min_angle:g} and {most:g} deg",
            "a step with a multiple between the least bend and the largest on the shelf",
            "make the step or shelf.min_angle smaller",
        )


def slot_places(s: Sections) -> Iterator[Problem]:
    """A pinned place is one of the collector's, for a cylinder of the engine, and only once."""
    if s.runners is None or s.runners.slots is None or s.engine is None:
        return
    count, seen = s.engine.cylinders, dict[int, int]()
    for cylinder, place in s.runners.slots:
        path = ("runners", "slots", str(cylinder))
        if not 1 <= cylinder <= count:
            yield complaint(
                path, f"cylinder {cylinder}", f"a cylinder from 1 to {count}", "take it out"
            )
        if place >= count:
            yield complaint(
                path,
                f"place {place}",
                f"a place from 0 to {count - 1}, counted as the reports print it",
                "clockwise looking the way the gas goes, from 0",
            )
        if place in seen:
            yield complaint(
                path,
                f"place {place}, which cylinder {seen[place]} has",
                "one cylinder a place",
                "give one of them another place",
            )
        seen.setdefault(place, cylinder)


def outlet_size(s: Sections) -> Iterator[Problem]:
    """The outlet takes more gas than one runner."""
    outlet = getattr(s.collector, "outlet", None)
    if outlet is None or s.runners is None:
        return
    bore, runner = outlet.od - 2.0 * outlet.wall, s.runners.tube.bore
    if 0.0 < bore < runner:
        yield complaint(
            ("collector", "outlet", "od"),
            f"an outlet of {bore:g} mm ID behind runners of {runner:g} mm ID",
            f"an ID of at least {runner:g} mm",
            "a 4-1 outlet usually has 1.4 to 1.9 times the runner's ID",
        )


def merge_angle(s: Sections) -> Iterator[Problem]:
    """Tubes lean towards the collector's axis, and go with the gas."""
    angle = getattr(s.collector, "merge_angle", None)
    if angle is not None and not 0.0 < angle < 45.0:
        yield complaint(
            ("collector", "merge_angle"),
            f"{angle:g} deg",
            "more than 0 and less than 45 deg, from a tube's axis to the collector's axis",
            "7 to 10 is long and for racing, 15 to 20 short; halve an included angle",
        )


RULES: tuple[Rule, ...] = (
    firing_order,
    cam_durations,
    speeds,
    tuning_needs,
    length_list,
    tube_walls,
    shelf_needed,
    radii,
    shallow_bends,
    stepped_bends,
    slot_places,
    outlet_size,
    merge_angle,
)
