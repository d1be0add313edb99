"""How much gas a turbine manifold holds, from the gasket face and from the valves."""

from __future__ import annotations

import math

from geomgen.design.model import Runner, Transition
from geomgen.families import Layout, Scroll
from geomgen.profiles.loops import area
from geomgen.recipe.volumes import NoClosedForm, bore_volume
from geomgen.spec.header import HeaderSpec


def gas_facts(
    spec: HeaderSpec, layout: Layout, runners: tuple[Runner, ...]
) -> tuple[tuple[str, float], ...]:
    """Gas of each scroll and of all, by name with unit suffix; none where no turbine is.

    From the valves on: with the ports as the spec gives their volume, or else as prisms of the
    port's area at the gasket face over ``engine.valve_to_face``.
    """
    if not layout.bolted:
        return ()
    found, total = [], []
    for scroll in layout.scrolls:
        volume = _held(scroll, runners)
        total.append(volume)
        if scroll.name:
            found.append((f"scroll_{scroll.name}_gas_cc", volume / 1000.0))
    said = dict(layout.facts).get("port_volume_cc")
    depth = spec.engine.valve_to_face
    ports = [_at_face(r) * depth if said is None else said * 1000.0 for r in runners]
    gas = math.fsum(total)
    found.append(("gas_face_to_turbine_cc", gas / 1000.0))
    found.append(("gas_valve_to_turbine_cc", (gas + math.fsum(ports)) / 1000.0))
    return tuple(found)


def _held(scroll: Scroll, runners: tuple[Runner, ...]) -> float:
    """Gas from the gasket face to the turbine's face [mm3]."""
    tubes = [
        _blend(runner.transition) + runner.tube_gas
        for runner in runners
        if runner.slot in scroll.slots
    ]
    return math.fsum((*tubes, *(bore_volume(node) for node in scroll.gas)))


def _at_face(runner: Runner) -> float:
    return abs(area(runner.transition.bore[0]))


def _blend(transition: Transition) -> float:
    """Gas from the gasket face to a transition's round end [mm3]."""
    try:
        return bore_volume(transition.gas)
    except NoClosedForm:
        # Where the port leans: the same sections along its axis, by Simpson's rule.
        areas = [row.area for row in transition.areas[1:]]
        odd, even = math.fsum(areas[1:-1:2]), math.fsum(areas[2:-1:2])
        step = transition.length / (len(areas) - 1)
        blend = step / 3.0 * (areas[0] + 4.0 * odd + 2.0 * even + areas[-1])
        return transition.areas[0].area * transition.plate + blend
