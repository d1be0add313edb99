"""Which key of a spec a refusal of the router is about: what was found, what would do, how.

The first key to turn is named as the place; others that would do too stand in the remedy.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

from geomgen.design.fixed import Fixed
from geomgen.errors import KeyPath
from geomgen.errors import Problem as Complaint
from geomgen.geometry.frames import distance
from geomgen.routing.problem import Binding, Impossible, Move, NotFound
from geomgen.spec.header import HeaderSpec

LENGTH: KeyPath = ("runners", "length")


def blamed(answer: Impossible | NotFound, base: float, spec: HeaderSpec, fixed: Fixed) -> Complaint:
    """The complaint that a refusal comes to, not placed yet.

    Args:
        answer: of the router, in lengths of bent tube alone.
        base: plate, transition and stub, which a tube's length counts too [mm].
        spec: what was said.
        fixed: what was decided without runners.
    """
    if isinstance(answer, NotFound):
        told = _not_found(answer, spec, fixed)
        stands = [key for key in ("pins", "bench") if getattr(spec, key)]
        if not stands:
            return told
        return replace(told, remedy=f"{told.remedy}; what stands binds too ({', '.join(stands)})")
    if answer.kind == "floor":
        return _floor(answer, base, spec)
    if answer.kind == "pitch":
        return _pitch(answer, spec)
    if answer.kind in ("turn", "too-few-bends"):
        return _bends(answer, spec)
    return _barred(answer, spec, fixed)


def _floor(answer: Impossible, base: float, spec: HeaderSpec) -> Complaint:
    nearer = f"ask for more, or bring nearer what it leads to ({_dotted(_places(spec))})"
    # Where a merge between may stand anywhere, what leads to it makes up for it.
    other = f"longer primaries ({_dotted(LENGTH)}) reach farther"
    if not answer.other:
        other = "tighter bends on the shelf (shelf.bends) make the way shorter"
    return Complaint(
        length_key(spec, answer.edge),
        f"{answer.target + base:.1f} mm for {answer.edge}",
        f"{answer.floor + base:.1f} mm or more",
        f"{nearer}; {other}",
    )


def _pitch(answer: Impossible, spec: HeaderSpec) -> Complaint:
    found = f"{answer.edge} and {answer.other}, too near to each other where they begin"
    gap = f"{spec.limits.runner_gap:g} mm or more between them"
    if any(name.startswith("secondary ") for name in (answer.edge, answer.other)):
        remedy = "move one of them away, or set limits.runner_gap"
        return Complaint(_places(spec), found, gap, remedy)
    thinner = "take a thinner tube (runners.tube.od)"
    if "runner_gap" in spec.limits.model_fields_set:
        key: KeyPath = ("limits", "runner_gap")
        return Complaint(key, found, gap, f"ask for what the ports leave, or {thinner}")
    remedy = f"{thinner}, or set limits.runner_gap to what the ports leave"
    return Complaint(("runners", "tube", "od"), found, gap, remedy)


def _bends(answer: Impossible, spec: HeaderSpec) -> Complaint:
    key: KeyPath = ("shelf", "most_bends")
    found = f"{spec.shelf.most_bends} bends for {answer.edge}"
    if answer.kind == "too-few-bends":
        remedy = "allow a third bend, or take the step out (shelf.angle_step)"
        return Complaint(key, f"{found}, in whole steps", "3 or more", remedy)
    return Complaint(
        key,
        found,
        "as many as its turn takes",
        "allow more, put bends of larger angle on the shelf (shelf.bends), or turn what the tube "
        f"leads to ({_dotted((*_place(spec)[:-1], 'direction'))})",
    )


def _barred(answer: Impossible, spec: HeaderSpec, fixed: Fixed) -> Complaint:
    """A straight that every layout has is blocked, or a start sealed in."""
    bars = obstacle_key(spec, answer.other)
    found, room = f"{answer.edge}, barred by {answer.other}", "room for it, and the gap beside it"
    if answer.edge.startswith("slot "):
        at = _slot_key(spec, fixed, int(answer.edge.split()[1]) - 1)
        other = f", or what bars it ({_dotted(bars)})" if bars else ""
        return Complaint(at, found, room, f"move the collector{other}")
    if bars is None:
        return Complaint(_place(spec), found, room, "move what bars it")
    shorter = "a shorter straight (runners.transition.length, shelf.min_straight_at_flange)"
    return Complaint(bars, found, room, f"check where it stands and its gap, or ask for {shorter}")


def _not_found(answer: NotFound, spec: HeaderSpec, fixed: Fixed) -> Complaint:
    """By what was proven to free the runners; else by what binds."""
    bars = obstacle_key(spec, answer.binding.other)
    also = [f"what is in the way ({_dotted(bars)})"] if bars else []
    if answer.moves:
        if answer.nearest_length is not None:
            also.append(f"the runners' length ({_dotted(LENGTH)})")
        return Complaint(
            _place(spec),
            _shown(_stands(spec)),
            " or ".join(_shown(_after(spec, move)) for move in answer.moves),
            _or("move it there: each was laid out and proven", also),
        )
    if answer.links_longer is not None:
        link = fixed.layout.links[0]
        told = _no_places(spec, fixed)
        return replace(
            told,
            path=("collector", "secondary", "length"),
            allowed=f"{link.length + answer.links_longer:g} mm, which was laid out and proven",
            remedy=f"ask for that; or {told.remedy}",
        )
    # Longer than the shortest is no answer to it.
    if answer.nearest_length is not None and spec.runners.length != "shortest":
        return Complaint(
            LENGTH,
            _said_length(spec),
            f"{answer.nearest_length:.1f} mm more for every tube, which was laid out and proven",
            _or("ask for that", also),
        )
    return _unaided(answer.binding, spec, fixed)


def _unaided(bind: Binding, spec: HeaderSpec, fixed: Fixed) -> Complaint:
    """By what binds, where nothing was proven to free the runners."""
    place, length = _place(spec), length_key(spec, bind.subject)
    if bind.kind == "places":
        return _no_places(spec, fixed)
    if bind.kind == "alone":
        said = _asked(fixed, bind.subject) or _said_length(spec)
        return Complaint(
            length,
            f"{said}, at which {bind.subject} finds no path",
            "a length at which it does",
            f"try a longer one, or another place of the collector ({_dotted(place)})",
        )
    if bind.kind == "shelf":
        return Complaint(
            ("shelf", "bends"),
            f"{bind.subject}, which lacks straight or bend",
            "bends that it can be made of",
            "add a tighter bend, ask for less straight (shelf.min_straight), or for another "
            f"length ({_dotted(length)})",
        )
    return _too_near(bind, spec)


def _too_near(bind: Binding, spec: HeaderSpec) -> Complaint:
    place, bars = _place(spec), obstacle_key(spec, bind.other)
    found = f"{bind.subject} too near to {bind.other}" if bind.other else "tubes that do not fit"
    if bars is not None:
        remedy = f"check where it stands and its gap, or move the collector ({_dotted(place)})"
        return Complaint(bars, found, "room beside it", remedy)
    remedy = f"try another place or direction, or other lengths ({_dotted(LENGTH)})"
    if bind.other.startswith(("runner ", "secondary ")):
        remedy += ", or a smaller gap (limits.runner_gap)"
    return Complaint(place, found, "a place that all tubes reach together", remedy)


def _no_places(spec: HeaderSpec, fixed: Fixed) -> Complaint:
    """No places for free junctions: how far those are apart that must come together."""
    one, two, apart = _farthest(fixed)
    link, layout = fixed.layout.links[0], fixed.layout
    behind = dict(layout.ends[link.slots[0]])[spec.runners.length_to]
    return Complaint(
        ("collector", "merges"),
        f"no places for the first merges; tubes {one} and {two}, which meet first, begin "
        f"{apart:.0f} mm apart; of a secondary's {link.length:.0f} mm the merges at its ends take "
        f"{link.before + behind:.0f}, which leaves {link.length - link.before - behind:.0f} mm of "
        "tube to bend",
        "room in which each is reached at the lengths that are asked",
        f"give longer primaries ({_dotted(LENGTH)}) or secondaries (collector.secondary.length), "
        f"more room (collector.merges: at, room), or move the last merge ({_dotted(_place(spec))}) "
        "farther from the ports",
    )


def _asked(fixed: Fixed, tube: str) -> str:
    """The length of a tube between junctions, as asked; empty for others."""
    found = [link.length for link in fixed.layout.links if link.name == tube]
    return f"{found[0]:g} mm" if found else ""


def _farthest(fixed: Fixed) -> tuple[int, int, float]:
    """Of the cylinders that meet first, the two whose tubes begin farthest apart [mm]."""
    taken, starts = dict(fixed.layout.takes), fixed.asked.starts
    found = [
        (distance(a.exit.origin, b.exit.origin), a.cylinder, b.cylinder)
        for a, b in combinations(starts, 2)
        if taken.get(a.cylinder) == taken.get(b.cylinder)
    ]
    apart, one, two = max(found)
    return one, two, apart


def length_key(spec: HeaderSpec, tube: str) -> KeyPath:
    """The key that a tube's length is said by."""
    if tube.startswith("secondary "):
        return ("collector", "secondary", "length")
    if isinstance(spec.runners.length, tuple) and tube.startswith("runner "):
        return (*LENGTH, int(tube.split()[1]) - 1)
    return LENGTH


def obstacle_key(spec: HeaderSpec, name: str) -> KeyPath | None:
    """The key that something in the way is said by; None for what follows from other keys."""
    for i, obstacle in enumerate(spec.obstacles):
        if obstacle.name == name:
            return ("obstacles", i)
    turbine = getattr(spec.collector, "turbine", None)
    for i, room in enumerate(turbine.envelopes if turbine is not None else ()):
        if name == f"turbine {room.name}":
            return ("collector", "turbine", "envelopes", i)
    return ("flange",) if name.endswith("head flange") else None


def _place(spec: HeaderSpec) -> KeyPath:
    """Where the collector is said to stand."""
    if getattr(spec.collector, "turbine", None) is not None:
        return ("collector", "turbine", "at")
    return ("collector", "at")


def _places(spec: HeaderSpec) -> KeyPath:
    """Where that is said which primaries lead to."""
    said = getattr(spec.collector, "merges", None)
    return ("collector", "merges") if said is not None else _place(spec)


def _slot_key(spec: HeaderSpec, fixed: Fixed, slot: int) -> KeyPath:
    """Where the junction is said to stand that a slot is of."""
    merges = getattr(spec.collector, "merges", None)
    for k, ring in enumerate(fixed.layout.rings):
        if slot in ring and merges is not None and k < len(merges):
            return ("collector", "merges", k, "at")
    return _place(spec)


def _stands(spec: HeaderSpec) -> tuple[float, float, float]:
    """Where the collector stands [mm]."""
    turbine = getattr(spec.collector, "turbine", None)
    at: tuple[float, float, float] = (turbine or spec.collector).at
    return at


def _after(spec: HeaderSpec, move: Move) -> tuple[float, float, float]:
    """Where the collector stands after a move [mm]."""
    x, y, z = (
        value + (move.by if axis == move.axis else 0.0)
        for axis, value in zip("xyz", _stands(spec), strict=True)
    )
    return x, y, z


def _shown(point: tuple[float, float, float]) -> str:
    return "[" + ", ".join(f"{value:.1f}".removesuffix(".0") for value in point) + "]"


def _said_length(spec: HeaderSpec) -> str:
    said = spec.runners.length
    if isinstance(said, tuple):
        return ", ".join(f"{length:g}" for length in said) + " mm"
    return said if isinstance(said, str) else f"{said:g} mm"


def _or(first: str, others: list[str]) -> str:
    return f"{first}; or change {', or '.join(others)}" if others else first


def _dotted(path: KeyPath) -> str:
    return ".".join(str(part) for part in path)
