"""Which attachment goes with which family: what passes stands where it should, the rest says why.

The README has the same table.
"""

import re
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import pytest

from geomgen.cli import pipeline
from geomgen.design.attached_runners import on_laid
from geomgen.design.attaching import with_attachments
from geomgen.design.fixed import Fixed, fixed_parts
from geomgen.design.model import Design
from geomgen.errors import SpecError
from geomgen.spec.load import load

SPECS = Path(__file__).parents[2] / "specs"

FAMILIES = {
    "merge": "brackenhall-20-sprint",
    "slip": "hartsop-16-slip",
    "spike": "calder-30-six",
    "pairs": "larkfield-18-pairs",
    "banks": "wexcombe-20-flat",
    "log": "dunmore-16-log",
    "turbo": "marlock-20-turbo",
    "divided": "marlock-30-twin-scroll",
    "stubs": "skelby-16-stubs",
    "cast": "dunmore-16-cast",
}

SMALL = "doubler_length: 20, bracket_width: 14"
SHEET = 'thickness: 12, material: "304"'
RING = f"{{kind: vband, name: ring, {SHEET}, od: 110}}"
FLANGE = f"{{kind: round, name: tail, {SHEET}, bolts: {{thread: M8, count: 3, circle: 110}}}}"

ROWS = {
    "wastegate": "{kind: wastegate, name: gate, on: HOST, lean: 90, od: 16, wall: 1.5}",
    "steps": "{kind: steps, sizes: [{od: 34, wall: 1.5, to: 200}]}",
    "oxygen": "{kind: bung, name: o2, use: oxygen, on: HOST, thread: M14x1.5, od: 18}",
    "pressure": "{kind: bung, name: pressure, use: pressure, on: runner 2}",
    "egt": "{kind: bung, name: egt, use: egt, on: runners}",
    "plain": "{kind: end, form: plain}",
    "vband": f"{{kind: end, form: vband, ring: {RING}}}",
    "flat": f"{{kind: end, form: flat, flange: {FLANGE}}}",
    "slip": "{kind: end, form: slip}",
    "support": f"{{kind: support, name: hanger, on: HOST, {SMALL}}}",
    "support on a runner": f"{{kind: support, name: hanger, on: runner 1, {SMALL}}}",
    "flex": "{kind: flex, od: 95}",
}

# A star: it goes. Otherwise the key that is to change.
TABLE = """
                    merge slip spike pairs banks log  turbo divided stubs cast
wastegate           *     *    *     *     *     *    *     *       on    .
steps               *     *    *     *     *     .    *     *       .     .
oxygen              *     *    *     *     *     *    *     *       on    .
pressure            *     *    *     *     *     at   *     *       *     .
egt                 *     *    *     *     *     at   *     *       *     .
plain               *     *    *     *     *     *    kind  kind    kind  .
vband               *     *    *     *     *     *    kind  kind    kind  .
flat                *     *    *     *     *     *    kind  kind    kind  .
slip                *     *    *     *     *     *    kind  kind    kind  .
support             *     *    *     *     *     *    *     on      on    .
support on a runner *     *    *     *     *     at   *     *       *     .
flex                *     *    *     *     *     *    kind  kind    kind  .
"""

HOSTS = {"turbo": "pipe", "divided": "pipe"}

_HEAD, *_LINES = [line for line in TABLE.splitlines() if line]
CASES = [
    (family, line[:20].strip(), said)
    for line in _LINES
    for family, said in zip(_HEAD.split(), line[20:].split(), strict=True)
]

WHY = {
    ("stubs", "wastegate"): "every runner of its scroll feeds: there is none",
    ("stubs", "oxygen"): "runner N",
    ("stubs", "support"): "one pipe: runner N",
    ("stubs", "steps"): "lays the runners itself",
    ("log", "steps"): "lays the runners itself",
    ("log", "egt"): "lengthen the stubs",
    ("log", "pressure"): "lengthen the stubs",
    ("log", "support on a runner"): "a straight of 20 mm, which runner 1 has not",
    ("turbo", "vband"): "it ends in the flange to its turbine",
    ("divided", "flex"): "it ends in the flange to its turbine",
    ("divided", "support"): "one pipe: pipe_a, pipe_b, runner N",
    ("stubs", "flat"): "no pipe is its outlet",
    ("cast", "vband"): "cast with it",
    ("cast", "egt"): "cast with it",
    ("cast", "steps"): "lays the runners itself",
}


@dataclass(frozen=True)
class Made:
    """A demo without what is attached to it, laid out, and its runners."""

    text: str
    fixed: Fixed
    design: Design


@cache
def made(family: str) -> Made:
    file = SPECS / f"{FAMILIES[family]}.yaml"
    text = file.read_text(encoding="utf-8")
    bare = re.sub(r"(?m)^attachments:.*\n(?: .*\n|\n)*", "", text)
    design = pipeline.decide(pipeline.load(file)).design
    return Made(bare, fixed_parts(load(bare, "x.yaml").required()), design)


def attached(family: str, row: str):
    """The layout and what stands on the runners, or ``SpecError``."""
    base = made(family)
    said = ROWS[row].replace("HOST", HOSTS.get(family, "outlet"))
    text = base.text.replace("tools:\n", f"attachments:\n  - {said}\n\ntools:\n", 1)
    spec = load(text, "x.yaml").required()
    layout = with_attachments(spec, base.fixed.asked, base.fixed.layout)
    return layout, on_laid(spec, base.fixed.asked, layout, base.design.runners)


@pytest.mark.parametrize(("family", "row", "said"), CASES)
def test_an_attachment_goes_with_a_family_or_says_what_is_to_change(family, row, said):
    if said != "*":
        with pytest.raises(SpecError) as refused:
            attached(family, row)
        (problem,) = refused.value.problems
        assert problem.path == ("attachments", 0, *([] if said == "." else [said]))
        assert problem.remedy
        assert WHY.get((family, row), "") in f"{problem.found}: {problem.allowed}; {problem.remedy}"
        return
    base = made(family).fixed.layout
    layout, (_, parts, fitted, _) = attached(family, row)
    new = [piece.name for piece in layout.pieces[len(base.pieces) :]]
    plates = [plate.name for plate in layout.plates[len(base.plates) :]]
    ends = {face.name for scroll in layout.scrolls for face in scroll.outlets}
    here = (*layout.fitted, *fitted)
    count = len(made(family).design.runners)
    suffixes = [f"_{scroll.name}" if scroll.name else "" for scroll in layout.scrolls]
    expected = {
        "wastegate": ([f"gate{s}" for s in suffixes], []),
        "oxygen": ([f"o2{s}" for s in suffixes], []),
        "vband": ([], ["ring"]),
        "flat": ([], ["tail"]),
        "slip": (["tab_1", "tab_2", "tab_3"], []),
        "support": (["hanger_doubler", "hanger_bracket"], []),
        "flex": (["flex", "flex_tail"], []),
    }
    assert (new, plates) == expected.get(row, ([], []))
    on = {
        "pressure": ["pressure"],
        "egt": [f"egt_{r.cylinder}" for r in made(family).design.runners],
        "support on a runner": ["hanger_doubler", "hanger_bracket"],
    }
    assert [part.name for part in parts] == on.get(row, [])
    hosts = {one.host for one in here}
    match row:
        case "pressure":
            assert hosts == {"runner 2"}
        case "egt":
            places = [dict(one.facts)["at_mm"] for one in here]
            assert len(places) == count
            assert max(places) - min(places) < 1e-9
        case "wastegate":
            assert ends == {f"{end}{s}".upper() for end in ("OUTLET", "WG") for s in suffixes}
            fed = sorted(slot for one in here for slot in one.slots)
            assert fed == list(range(count))
        case "steps":
            assert not here
        case "flex":
            assert layout.outlet.origin != base.outlet.origin


@cache
def shown() -> dict[str, set[str]]:
    """Arrangements of the demos that each attachment, by kind and what for, is shown on."""
    found: dict[str, set[str]] = {}
    for file in sorted(SPECS.glob("*.yaml")):
        if file.name.endswith(".lock.yaml"):
            continue
        spec = pipeline.load(file).spec
        how = spec.collector
        kinds = (getattr(how, key, None) or "" for key in ("array", "entry"))
        arrangement = " ".join((how.family, str(spec.engine.cylinders), *kinds)).strip()
        for said in spec.attachments or ():
            what = getattr(said, "use", None) or getattr(said, "form", "")
            found.setdefault(f"{said.kind} {what}".strip(), set()).add(arrangement)
    return found


@pytest.mark.parametrize(
    "what",
    ["bung egt", "bung oxygen", "end flat", "end slip", "end vband", "flex", "steps", "support"],
)
def test_the_demos_show_every_attachment_on_three_arrangements(what):
    assert len(shown()[what]) >= 3
