"""Every limit that a check holds the design against, with the trade's default.

Each limit says where it comes from. ``practice`` is common practice, no source.
"""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import AfterValidator, Field

from geomgen.units import Number, Percent, Quantity, Span, StrictModel, refusal

Angle = Annotated[float, Field(ge=0, le=180), Quantity("angle")]
Ratio = Annotated[Number, Field(ge=0)]


def _whole(value: float) -> float:
    if value != int(value):
        raise refusal(value, "a whole number", "name the class or range of ISO 9013")
    return value


CutClass = Annotated[Number, Field(ge=1, le=2), AfterValidator(_whole)]
CutRange = Annotated[Number, Field(ge=1, le=5), AfterValidator(_whole)]
Share = Annotated[Percent, Field(ge=0)]

PRACTICE = "common practice, no source"


def _limit(value: float, source: str = PRACTICE) -> Any:
    return Field(default=value, json_schema_extra={"x-source": source})


class Limits(StrictModel):
    """What the checks hold the design against. Name one to set it."""

    runner_length: Span = _limit(0.01, "the project's own bar for the numbers inside")
    """Largest error of a solved runner's length. What a shop may be off is
    ``runners.tolerance``."""
    spread_pass_percent: Share = _limit(0.75, "practice of race builders, as half the spread")
    """Half the length spread over the mean length up to which runners pass as equal."""
    spread_warn_percent: Share = _limit(1.5, "practice of race builders, as half the spread")
    """Half the length spread over the mean length up to which unequal runners only warn."""
    straight_min: Span = _limit(0.0)
    """Least straight between two bends, when more than the shelf asks for."""
    joint_straight: Span = _limit(10.0)
    """Straight tube wanted beside a joint, both sides together, for the saw and the weld."""
    runner_gap: Span = _limit(6.0)
    """Gap between two runners, before the last straight."""

    gap_block: Span = _limit(10.0, "builders' articles: a finger, 10 to 15 mm, all round")
    """Gap to the block and what is bolted to it."""
    gap_head: Span = _limit(10.0, "builders' articles: a finger, 10 to 15 mm, all round")
    """Gap to the head and what is bolted to it."""
    gap_steering: Span = _limit(25.0)
    """Gap to the steering."""
    gap_brakes: Span = _limit(50.0)
    """Gap to the brakes and their lines; shield what comes nearer than 75 mm."""
    gap_moving: Span = _limit(30.0, "builders' articles: 20 to 40 mm to a fan")
    """Gap to what turns or travels."""
    gap_plug: Span = _limit(25.0)
    """Gap to plugs and boots: 25 to 40 mm."""
    gap_line: Span = _limit(50.0)
    """Gap to lines, hoses and wiring: 50 to 75 mm for lines, 75 to 100 mm for rubber and
    wiring, or a shield."""
    gap_ground: Span = _limit(100.0)
    """Gap to the road."""
    gap_body: Span = _limit(15.0, "builders' articles: 10 to 15 mm on rubber mounts")
    """Gap to what stands still while the engine moves on its mounts."""
    engine_roll: Span = _limit(0.0)
    """How far the header moves when the engine rolls on its mounts; added to the gap of
    everything that does not move with the engine: steering, brakes, line, ground, body."""
    tool_play: Span = _limit(1.5)
    """Air round a tool at a stud, and round its nut as it goes on: 1 to 2 mm."""
    clamp_band: Span = _limit(8.0)
    """How far a V-band clamp stands out of its rings all round."""
    clamp_width: Span = _limit(25.0, "common practice, no source: 20 to 30 mm")
    """Width of a V-band clamp, half of it on each side of the plane where its rings meet."""
    clamp_lug: Span = _limit(24.0)
    """How far lugs and screw of a V-band clamp stand out of its rings."""
    nut_start: Span = _limit(5.0)
    """Room over a nut that is put to its stud's tip: 5 for a magnetic holder or a socket with
    the nut in it, 15 to 20 for a finger."""

    hole_ratio_plasma: Ratio = _limit(1.5, "plasma cutters' guides: 1.5 times the plate")
    """Least hole over plate thickness that plasma cuts to size."""
    hole_ratio_laser: Ratio = _limit(1.0, "laser shops' guides: 0.5 to 1.5 times the plate")
    """Least hole over plate thickness that a laser cuts to size."""
    hole_ratio_waterjet: Ratio = _limit(0.2)
    """Least hole over plate thickness that a waterjet cuts to size."""
    hole_floor_waterjet: Span = _limit(1.8, "waterjet shop's rules: 0.07 in")
    """Least hole that a waterjet cuts, however thin the plate."""
    pilot_ratio_plasma: Ratio = _limit(1.0, "common practice, no source: never below the plate")
    """Least pilot hole over plate thickness that plasma cuts, to be drilled out."""
    pilot_ratio_laser: Ratio = _limit(0.5, "laser shops' guides: 0.5 to 1.5 times the plate")
    """Least pilot hole over plate thickness that a laser cuts, to be drilled out."""
    pilot_ratio_waterjet: Ratio = _limit(0.2)
    """Least pilot hole over plate thickness that a waterjet cuts, to be drilled out."""
    pilot_stock: Span = _limit(1.0)
    """Metal that a pilot hole leaves on the radius for the drill: what the cut hardened or
    tapered must go."""
    web_ratio_plasma: Ratio = _limit(1.5, "plasma cutters' guides: 1.5 times the plate")
    """Least metal between two cuts over plate thickness, plasma. Marked holes do not count."""
    web_ratio_laser: Ratio = _limit(1.0)
    """Least metal between two cuts over plate thickness, laser."""
    web_ratio_waterjet: Ratio = _limit(0.5)
    """Least metal between two cuts over plate thickness, waterjet."""
    corner_plasma: Span = _limit(2.0, "plasma cutters' guides: 1 to 2 mm")
    """Least radius of an inside corner, plasma."""
    corner_laser: Span = _limit(0.5)
    """Least radius of an inside corner, laser."""
    corner_waterjet: Span = _limit(0.8, "waterjet shops' rules: 0.5 to 0.8 mm")
    """Least radius of an inside corner, waterjet."""
    edge_factor: Ratio = _limit(1.5)
    """Least distance of a hole's centre from the edge over the hole's diameter."""
    land_min: Span = _limit(5.0, "common practice, no source: 5 to 6 mm")
    """Least metal beyond a window's edge for the gasket to seal on."""
    turbine_flange_min: Span = _limit(12.0, "builders' articles: 12 to 13 mm")
    """Least thickness, as finished, of the flange at a turbine."""
    scroll_balance_percent: Share = _limit(5.0)
    """Most that the ways to a divided turbine inlet may be off their mean, and the gas volumes
    of its scrolls apart: 5 % is fine for a turbo."""
    runner_over_valve: Ratio = _limit(1.2)
    """Most that a turbo manifold's runner bore may have of the exhaust valves' curtain area at
    full lift: not much more than 1."""
    bar_min: Span = _limit(4.0, "common practice, no source: 4 to 6 mm")
    """Least metal between two windows, whatever the process: a divided inlet seals on its bar."""
    gasket_neck: Span = _limit(3.0, "common practice, no source: 3 mm at necks")
    """Least gasket sheet between a hole and the edge, a window or another hole."""

    window_tolerance: Span = _limit(0.0, "none: the standard's by class")
    """What the shop says it holds a window to, plus or minus, in place of the standard's; 0
    for the standard's."""
    window_taper: Span = _limit(0.0, "none: the standard's by range")
    """Taper of a wall that the shop says it holds, beside ``window_tolerance``."""
    cut_class_plasma: CutClass = _limit(2.0, "common practice, no source; classes of ISO 9013")
    """Class of limit deviations that plasma holds, 1 or 2."""
    cut_class_laser: CutClass = _limit(1.0, "common practice, no source; classes of ISO 9013")
    """Class of limit deviations that a laser holds, 1 or 2."""
    cut_range_plasma: CutRange = _limit(3.0, "common practice, no source; ranges of ISO 9013")
    """Range of perpendicularity that plasma holds, 1 to 5."""
    cut_range_laser: CutRange = _limit(2.0, "common practice, no source; ranges of ISO 9013")
    """Range of perpendicularity that a laser holds, 1 to 5."""
    cut_tolerance_waterjet: Span = _limit(0.127, "waterjet shops' rules: 0.005 in locally")
    """What a waterjet holds a window to, plus or minus."""
    cut_taper_waterjet: Span = _limit(0.254, "waterjet shops' rules: 0.003 to 0.010 in")
    """Taper of a wall that a waterjet leaves."""
    weld_gap_over_wall: Ratio = _limit(0.25, "common practice, no source: a quarter of the wall")
    """Widest gap a side between tube and window over the tube's wall."""
    file_most: Span = _limit(2.0)
    """Most metal to be filed or ground out of a window, a side."""
    growth_span: Span = _limit(200.0, "common practice, no source: about 200 mm")
    """Length over the studs from which on a one-piece flange's holes are opened for hot
    growth."""

    window_perimeter_percent: Share = _limit(1.0)
    """Largest difference between a formed window's perimeter, less fit, and the tube's."""
    inward_step: Span = _limit(0.05)
    """Largest step that faces the gas: none, but for rounding."""
    outward_step: Span = _limit(0.75, "port-fit article: 0.030 in")
    """Largest step away from the gas, port to tube."""
    area_dip_percent: Share = _limit(1.0)
    """Largest fall of the bore's area from port to first join."""
    wall_angle: Angle = _limit(15.0, "common practice, no source: 10 to 15 deg")
    """Steepest wall of a transition against its axis."""
    transition_ratio_min: Ratio = _limit(0.7, "common practice, no source: 0.7 to 1.5 x OD")
    """Least length of a transition over the tube's OD."""
    transition_ratio_max: Ratio = _limit(1.5, "common practice, no source: 0.7 to 1.5 x OD")
    """Largest length of a transition over the tube's OD."""
    pairing_least: Annotated[Number, Field(ge=0, le=720)] = _limit(
        240.0, "common practice, no source: exhaust valves are open for 230 to 280 deg"
    )
    """Least crank angle between two firings of cylinders that meet before the others do, where
    the firing order allows as much."""
    merge_angle_min: Angle = _limit(7.0, "common practice, no source: 7 to 10 deg long, race")
    """Least merge angle, tube's axis to collector's axis."""
    merge_angle_max: Angle = _limit(20.0, "common practice, no source: 15 to 20 deg short")
    """Largest merge angle, tube's axis to collector's axis."""
    diffuser_angle_min: Angle = _limit(7.0, "common practice, no source: 7 to 12 deg included")
    """Least included angle of a collector that widens behind its throat."""
    diffuser_angle_max: Angle = _limit(12.0, "common practice, no source: 7 to 12 deg included")
    """Largest included angle of a collector that widens behind its throat."""
    reducer_angle_max: Angle = _limit(20.0)
    """Largest included angle of a collector that narrows behind its throat."""
    slip_clearance_min: Span = _limit(0.1, "common practice, no source: 0.1 to 0.4 mm")
    """Least clearance of a slip joint, over both sides: what is less jams."""
    slip_clearance_max: Span = _limit(0.4, "common practice, no source: 0.1 to 0.4 mm")
    """Largest clearance of a slip joint, over both sides: what is more rattles and leaks."""
    slip_overlap_min: Span = _limit(25.0, "common practice, no source: 25 to 50 mm")
    """Least length of a runner inside a slip tube."""
    slip_overlap_max: Span = _limit(50.0, "common practice, no source: 25 to 50 mm")
    """Largest length of a runner inside a slip tube."""
    wastegate_lean: Angle = _limit(
        45.0, "builders' pages ask for a lean with the flow, never a U-turn; the number is practice"
    )
    """Largest angle from the way the gas goes to a wastegate's branch."""
    wastegate_half: Ratio = _limit(0.95)
    """Least bore area of each half of a gate with a partition over its half of the seat."""
    partition_gap: Span = _limit(1.0)
    """Most that a gate's partition stays behind the face that the valve sits in."""
    oxygen_tilt: Angle = _limit(10.0, "placement guides for oxygen sensors: 10 deg or more")
    """Least angle of an oxygen sensor's axis above the horizontal: water must run off it."""
    oxygen_to_end: Ratio = _limit(10.0, "placement guides for oxygen sensors: 10 diameters")
    """Least length from an oxygen sensor to an open end over the pipe's bore."""
    egt_from_face: Span = _limit(38.0, "probe placement pages: 1.5 in from the head")
    """Least distance of an exhaust temperature probe from the gasket face."""
    egt_near: Span = _limit(50.0, "probe placement pages: 2 to 8 in")
    """Usual least distance of an exhaust temperature probe from the gasket face."""
    egt_far: Span = _limit(200.0, "probe placement pages: 2 to 8 in")
    """Usual largest distance of an exhaust temperature probe from the gasket face."""
    tail_length: Span = _limit(400.0)
    """Longest tail behind the collector that needs no bracket."""
    step_moved: Span = _limit(15.0)
    """How far a step may stand from where the spec wants it."""
