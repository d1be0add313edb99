"""What is said when there is no route: plain words, the numbers, the key, and the same as data."""

from dataclasses import replace

import pytest

from geomgen.design.blame import blamed
from geomgen.design.fixed import Fixed, fixed_parts
from geomgen.design.network import routing_problem
from geomgen.design.no_route import NoRoute, facts
from geomgen.errors import Problem
from geomgen.routing.problem import Binding, Impossible, Move, NotFound
from geomgen.spec.bench import Pin
from geomgen.spec.header import HeaderSpec
from geomgen.spec.load import load

BASE = 72.5  # plate, transition and stub
KEY = Problem(("runners", "length"), "300 mm", "400 mm", "ask for more")
FLOOR = Impossible("floor", "runner 1", 300.0, 410.25, "no bent tube is shorter than this")
NEAR = Binding("gap", "runner 1 comes within 4.1 mm of runner 2", "runner 1", "runner 2")


def test_a_floor_is_said_in_whole_runners() -> None:
    said = str(NoRoute(FLOOR, BASE, KEY))
    assert said.startswith("impossible: runner 1 is asked to be 372.5 mm, but no bent tube")
    assert "least length is 482.8 mm" in said
    assert facts(FLOOR, BASE)["floor_mm"] == pytest.approx(482.75)


def test_another_certificate_speaks_for_itself() -> None:
    answer = Impossible("pitch", "slots", 0.0, 0.0, "slots 1 and 2 are 40 mm apart")
    assert str(NoRoute(answer, BASE, KEY)) == "impossible: slots 1 and 2 are 40 mm apart"
    assert facts(answer, BASE)["certificate"] == "pitch"
    assert facts(answer, BASE)["floor_mm"] is None


def test_what_was_not_found_claims_nothing_and_names_every_way_out() -> None:
    moves = (Move("x", 12.5, True), Move("y", -40.0, False))
    answer = NotFound(5120, NEAR, 18.25, moves)
    said = str(NoRoute(answer, BASE, KEY))
    assert said.startswith("not found: runner 1 comes within 4.1 mm of runner 2. 5120 paths were")
    assert "proves nothing" in said
    assert "all runners 18.2 mm longer than asked; " in said
    assert "12.5 mm along +x of the head (half of that was tried as hard and failed)" in said
    assert "40.0 mm along -y of the head (less may do)" in said
    assert "impossible" not in said
    data = facts(answer, BASE)
    assert (data["tried"], data["longer_by_mm"]) == (5120, 18.25)
    assert data["moves"] == [
        {"axis": "x", "by_mm": 12.5, "half_failed": True},
        {"axis": "y", "by_mm": -40.0, "half_failed": False},
    ]


def test_no_way_out_is_said_too() -> None:
    answer = NotFound(7, Binding("alone", "runner 3 finds no path", "runner 3"), None)
    said = str(NoRoute(answer, BASE, KEY))
    assert "Neither a longer common length nor a move of the collector" in said


# The key that each refusal is about


@pytest.fixture(scope="module")
def known(demo_file) -> dict[str, tuple[HeaderSpec, Fixed]]:
    """Specs, and what is decided of them without runners."""
    found = {}
    for name in ("brackenhall-20-sprint", "larkfield-18-pairs", "marlock-20-turbo"):
        file = demo_file.with_name(f"{name}.yaml")
        spec = load(file.read_bytes(), file.name).required()
        few = spec.model_copy(update={"shelf": spec.shelf.model_copy(update={"most_bends": 2})})
        found[name] = (few, fixed_parts(few))
    return found


def impossible(kind: str, edge: str, other: str = "") -> Impossible:
    return Impossible(kind, edge, 300.0, 400.0, "so", other)


def gap(other: str) -> NotFound:
    return NotFound(7, Binding("gap", "so", "runner 1", other), None)


@pytest.mark.parametrize(
    ("name", "answer", "path"),
    [
        ("brackenhall-20-sprint", impossible("floor", "runner 2"), ("runners", "length")),
        ("larkfield-18-pairs", impossible("floor", "secondary 1"), "collector.secondary.length"),
        # The demo says limits.runner_gap, the 4-2-1 leaves it to us.
        ("brackenhall-20-sprint", impossible("pitch", "runner 1", "runner 2"), "limits.runner_gap"),
        ("larkfield-18-pairs", impossible("pitch", "runner 1", "runner 2"), "runners.tube.od"),
        ("brackenhall-20-sprint", impossible("end-blocked", "slot 1", "sump"), "collector.at"),
        ("marlock-20-turbo", impossible("end-blocked", "slot 1", "x"), "collector.turbine.at"),
        ("larkfield-18-pairs", impossible("end-blocked", "runner 1", "sump"), ("obstacles", 1)),
        ("larkfield-18-pairs", impossible("sealed", "runner 1", "block face"), ("obstacles", 0)),
        ("brackenhall-20-sprint", impossible("turn", "runner 1"), "shelf.most_bends"),
        ("brackenhall-20-sprint", impossible("too-few-bends", "runner 1"), "shelf.most_bends"),
        ("larkfield-18-pairs", gap("road"), ("obstacles", 2)),
        ("brackenhall-20-sprint", gap("runner 2"), "collector.at"),
        ("brackenhall-20-sprint", gap("cone"), "collector.at"),
        ("brackenhall-20-sprint", gap("head flange"), ("flange",)),
        ("brackenhall-20-sprint", NotFound(7, Binding("together", "so"), None), "collector.at"),
        (
            "brackenhall-20-sprint",
            NotFound(7, Binding("shelf", "so", "runner 1"), None),
            "shelf.bends",
        ),
        (
            "brackenhall-20-sprint",
            NotFound(7, Binding("alone", "so", "runner 1"), None),
            "runners.length",
        ),
        ("larkfield-18-pairs", NotFound(7, Binding("places", "so"), None), "collector.merges"),
        ("brackenhall-20-sprint", NotFound(7, NEAR, 12.0), "runners.length"),
    ],
)
def test_every_refusal_names_its_key(known, name, answer, path) -> None:
    spec, fixed = known[name]
    told = blamed(answer, BASE, spec, fixed)
    assert told.path == (tuple(path.split(".")) if isinstance(path, str) else path)
    assert all((told.found, told.allowed, told.remedy))
    assert "None" not in str(told)


def test_a_floor_says_what_would_do(known) -> None:
    told = blamed(FLOOR, BASE, *known["brackenhall-20-sprint"])
    assert (told.found, told.allowed) == ("372.5 mm for runner 1", "482.8 mm or more")
    assert "collector.at" in told.remedy
    assert "shelf.bends" in told.remedy


def test_one_length_of_a_list_is_named(known) -> None:
    spec, fixed = known["brackenhall-20-sprint"]
    runners = spec.runners.model_copy(update={"length": (500.0, 300.0, 500.0, 500.0)})
    listed = spec.model_copy(update={"runners": runners})
    answer = replace(FLOOR, edge="runner 2")
    assert blamed(answer, BASE, listed, fixed).path == ("runners", "length", 1)


def test_moves_are_said_as_the_places_that_were_proven(known) -> None:
    spec, fixed = known["larkfield-18-pairs"]
    answer = NotFound(7, gap("road").binding, 10.0, (Move("x", 12.5, True), Move("y", -40, False)))
    told = blamed(answer, BASE, spec, fixed)
    assert told.path == ("collector", "at")
    # The demo's last merge stands at [330, -470, 190].
    assert told.found == "[330, -470, 190]"
    assert told.allowed == "[342.5, -470, 190] or [330, -510, 190]"
    assert "obstacles.2" in told.remedy
    assert "runners.length" in told.remedy


def test_the_shortest_is_not_told_to_be_longer(known) -> None:
    spec, fixed = known["brackenhall-20-sprint"]
    runners = spec.runners.model_copy(update={"length": "shortest"})
    short = spec.model_copy(update={"runners": runners})
    assert blamed(NotFound(7, NEAR, 12.0), BASE, short, fixed).path == ("collector", "at")


def test_what_stands_is_named_too(known) -> None:
    spec, fixed = known["brackenhall-20-sprint"]
    pinned = spec.model_copy(update={"pins": (Pin(runner=2),)})
    assert blamed(NotFound(7, NEAR, None), BASE, pinned, fixed).remedy.endswith("too (pins)")
    assert "pins" not in blamed(NotFound(7, NEAR, None), BASE, spec, fixed).remedy


def test_tubes_that_cannot_come_together_are_named_with_how_far_they_are_apart(known) -> None:
    spec, fixed = known["larkfield-18-pairs"]
    told = blamed(NotFound(7, Binding("places", "so"), None), BASE, spec, fixed)
    # Ports 90 mm apart: 1 and 4 begin three pitches apart.
    assert "tubes 1 and 4, which meet first, begin 270 mm apart" in told.found


def test_a_secondary_s_own_length_is_named(known) -> None:
    spec, fixed = known["larkfield-18-pairs"]
    alone = NotFound(7, Binding("alone", "so", "secondary 1"), None)
    told = blamed(alone, BASE, spec, fixed)
    assert told.path == ("collector", "secondary", "length")
    (asked,) = {link.length for link in fixed.layout.links}
    assert told.found == f"{asked:g} mm, at which secondary 1 finds no path"


def test_what_the_merges_take_of_a_secondary_is_told(known) -> None:
    spec, fixed = known["larkfield-18-pairs"]
    places = NotFound(7, Binding("places", "so"), None)
    told = blamed(places, BASE, spec, fixed)
    link, free = fixed.layout.links[0], routing_problem(spec, fixed).edges[-1].length
    assert f"take {link.length - free:.0f}, which leaves {free:.0f} mm of tube" in told.found
    longer = blamed(replace(places, links_longer=120.0), BASE, spec, fixed)
    assert longer.path == ("collector", "secondary", "length")
    assert longer.allowed.startswith(f"{link.length + 120.0:g} mm, which was laid out and proven")
    said = str(NoRoute(replace(places, links_longer=120.0), BASE, longer))
    assert "each laid out and proven: secondaries 120.0 mm longer than asked." in said
    assert facts(replace(places, links_longer=120.0), BASE)["secondaries_longer_by_mm"] == 120.0


def test_a_secondary_s_floor_is_told_in_its_own_words(known) -> None:
    spec, fixed = known["larkfield-18-pairs"]
    chain = replace(FLOOR, edge="secondary 1", other="runner 1")
    told = blamed(chain, BASE, spec, fixed)
    assert "longer primaries (runners.length)" in told.remedy
    assert "shelf.bends" not in told.remedy
    said = str(NoRoute(chain, BASE, told))
    assert "with the merges at its ends the least length is 482.8 mm" in said
    assert "Ask for a longer secondary" in said
    assert "shelf.bends" in blamed(replace(chain, other=""), BASE, spec, fixed).remedy
