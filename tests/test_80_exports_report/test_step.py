"""STEP text: schema and units of the standard, one order, no clock, names where readers look."""

import os
import random
import re
import subprocess
import sys
from collections import Counter
from dataclasses import replace
from hashlib import sha256
from pathlib import Path

import pytest
from sample_header import sample_design

from geomgen.exports.step import (
    UNRELEASED,
    assembly_path,
    export,
    export_unreleased,
    gas_path,
    occurrences,
)
from geomgen.recipe.nodes import Group, NamedFace, Part, parts_of
from geomgen.solids.errors import SolidError
from geomgen.solids.part21 import Part21Error, body_digests, canonical, parse
from geomgen.solids.step_writer import DESCRIPTION, step_bytes


@pytest.fixture(scope="module")
def files():
    return export(sample_design())


@pytest.fixture(scope="module")
def assembly(files):
    return files[assembly_path(sample_design())].decode("ascii")


def test_files_are_the_assembly_each_part_and_the_gas(files):
    parts = {f"step/parts/{name}.step" for name in ("head_flange", "transition", "loft", "outlet")}
    parts |= {f"step/parts/{kind}_{k}.step" for kind in ("tube", "stub") for k in (1, 2, 3, 4)}
    whole = {"step/sample-header_assembly.step", "step/sample-header_gas.step"}
    assert set(files) == parts | whole


def test_schema_unit_and_frame_of_the_file(files):
    """Strings of ISO 10303-21 and of AP214 (ISO 10303-214) as an international standard."""
    for text in (content.decode("ascii") for content in files.values()):
        assert text.startswith("ISO-10303-21;\nHEADER;\n")
        assert text.endswith("ENDSEC;\nEND-ISO-10303-21;\n")
        assert "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));" in text
        units = re.findall(r"\(LENGTH_UNIT\(\)NAMED_UNIT\(\*\)(.*?)\);", text)
        assert set(units) == {"SI_UNIT(.MILLI.,.METRE.)"}
        assert "CONVERSION_BASED_UNIT" not in text


def test_nothing_in_a_file_tells_when_or_where_it_was_made(files):
    for text in (content.decode("ascii") for content in files.values()):
        assert set(re.findall(r"\d{4}-\d\d-\d\d(?:T[\d:]+)?", text)) == {"2000-01-01T00:00:00"}
        for word in ("Open CASCADE", "cadquery", "OCP", str(Path.home()), "Author"):
            assert word not in text
        assert "PCURVE" not in text


def test_bodies_carry_their_part_s_name(assembly):
    bodies = Counter(re.findall(r"MANIFOLD_SOLID_BREP\('([^']*)'", assembly))
    wanted = {re.sub(r"^(transition)_\d$", r"\1", p.name) for p in _parts()}
    assert bodies == dict.fromkeys(wanted, 1)
    products = Counter(re.findall(r"=PRODUCT\('([^']*)'", assembly))
    groups = {"sample_header", "runners", "collector", *(f"runner_{k}" for k in (1, 2, 3, 4))}
    assert products == dict.fromkeys(wanted | groups, 1)


def _parts():
    return parts_of(sample_design().assembly)


def test_one_shape_placed_four_times_is_written_once(assembly):
    named = re.findall(r"NEXT_ASSEMBLY_USAGE_OCCURRENCE\('(\d+)','([^']*)'", assembly)
    assert [int(number) for number, _ in named] == list(range(1, len(named) + 1))
    names = {name for _, name in named}
    assert {f"transition_{k}" for k in (1, 2, 3, 4)} <= names
    assert occurrences(sample_design())["step/parts/transition.step"] == 4
    assert sum(occurrences(sample_design()).values()) == len(_parts())


def test_one_shape_in_two_colours_is_two_products():
    design = sample_design()
    paint = iter((0.1 * k, 0.5, 0.5) for k in range(1, 5))

    def painted(branch):
        if isinstance(branch, Group):
            return replace(branch, children=tuple(painted(child) for child in branch.children))
        return replace(branch, colour=next(paint)) if "transition" in branch.name else branch

    text = step_bytes(painted(design.assembly), "painted.step").decode("ascii")
    bodies = re.findall(r"MANIFOLD_SOLID_BREP\('(transition[^']*)'", text)
    assert sorted(bodies) == [f"transition_{k}" for k in (1, 2, 3, 4)]


def test_part_files_are_what_writing_the_part_alone_gives(files):
    for part in _parts():
        if part.name.startswith("transition"):
            part = replace(part, name="transition")
        path = f"step/parts/{part.name}.step"
        assert step_bytes(part, f"{part.name}.step") == files[path]


def test_ends_of_the_gas_are_named_faces(files):
    text = files[gas_path(sample_design(), sample_design().gases[0])].decode("ascii")
    names = Counter(re.findall(r"ADVANCED_FACE\('([^']+)'", text))
    assert names == dict.fromkeys(("inlet_1", "inlet_2", "inlet_3", "inlet_4", "outlet"), 1)


def test_unreleased_step_says_so_in_file_and_product():
    files = export_unreleased(sample_design())
    assert list(files) == [f"step/sample_header{UNRELEASED}.step"]
    text = files[f"step/sample_header{UNRELEASED}.step"].decode("ascii")
    assert f"PRODUCT('sample_header{UNRELEASED}'" in text
    assert "PRODUCT('sample_header'," not in text


def test_second_export_in_one_process_is_the_same(files):
    assert export(sample_design()) == files


@pytest.mark.parametrize("seed", ["77"])
def test_export_in_another_process_is_the_same(files, seed):
    """The kernel keys a map by memory address, Python by a seed: neither may show."""
    script = (
        "import hashlib;from sample_header import sample_design;"
        "from geomgen.exports.step import export;"
        "[print(hashlib.sha256(b).hexdigest(),p) for p,b in export(sample_design()).items()]"
    )
    run = subprocess.run(
        [sys.executable, "-c", script],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(__file__).parents[1],
        env={**os.environ, "PYTHONHASHSEED": seed},
    )
    wanted = [f"{sha256(content).hexdigest()} {path}" for path, content in files.items()]
    assert run.stdout.splitlines() == wanted
    assert run.stderr == ""


def _title(text):
    return re.search(r"FILE_NAME\('([^']*)'", text).group(1)


def test_canonical_text_is_canonical(assembly):
    assert canonical(assembly, _title(assembly), DESCRIPTION) == assembly


@pytest.mark.parametrize("seed", range(4))
def test_order_and_numbers_of_entities_do_not_matter(assembly, seed):
    """What differs between two runs of the kernel's writer: numbering, order, counters."""
    shuffle = random.Random(seed)
    head, data = assembly.split("DATA;\n")
    lines = data.split("ENDSEC;")[0].splitlines()
    numbers = [int(line.partition("=")[0][1:]) for line in lines]
    others = shuffle.sample(range(1, 10 * len(numbers)), len(numbers))
    new = dict(zip(numbers, others, strict=True))
    # Numbers inside strings are none.
    lines = [
        re.sub(r"'[^']*'|#(\d+)", lambda m: f"#{new[int(m[1])]}" if m[1] else m[0], line)
        for line in lines
    ]
    lines = [
        re.sub(r"(OCCURRENCE\()'(\d+)'", lambda m: f"{m[1]}'{int(m[2]) + 40}'", line)
        for line in lines
    ]
    shuffle.shuffle(lines)
    mixed = head + "DATA;\n" + "\n".join(lines) + "\nENDSEC;\nEND-ISO-10303-21;\n"
    assert mixed != assembly
    assert canonical(mixed, _title(assembly), DESCRIPTION) == assembly


SMALL = """ISO-10303-21;
HEADER;
FILE_DESCRIPTION((''),'2;1');
FILE_NAME('','',(''),(''),'','','');
FILE_SCHEMA(('X'));
ENDSEC;
DATA;
#1=A('it''s; #9',#2);
#2 = ( B(1.,
  2.) C('a b') );
ENDSEC;
END-ISO-10303-21;
"""


def test_strings_keep_their_spaces_semicolons_and_numbers():
    entities = parse(SMALL).entities
    assert entities[1] == (["A('it''s; #9',", ")"], [2])
    assert entities[1].said({2: "#7"}) == "A('it''s; #9',#7)"
    assert entities[2] == (["(B(1.,2.)C('a b'))"], [])


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("END-ISO-10303-21;", "", "not a whole"),
        ("ISO-10303-21;\nHEADER", "HEADER", "not a whole"),
        ("FILE_SCHEMA(('X'));", "", "no schema"),
        ("#2 =", "#3 =", "not in the file"),
        ("#2 =", "#1 =", "stated twice"),
        ("#2 = (", "rubbish #2 = (", "cannot read"),
        ("C('a b') );", "C('a b') ) #", "cannot read"),
    ],
)
def test_broken_text_is_refused(old, new, says):
    broken = SMALL.replace(old, new)
    assert broken != SMALL
    with pytest.raises(Part21Error, match=says):
        parse(broken)


def test_entities_in_a_ring_are_refused():
    ring = SMALL.replace("C('a b') )", "C(#1) )")
    with pytest.raises(Part21Error, match="refers to itself"):
        canonical(ring, "x", "y")


def test_bodies_digest_changes_with_one_digit(assembly):
    before = body_digests(parse(assembly))
    spoiled = re.sub(
        r"TOROIDAL_SURFACE\('',(#\d+),67\.5,", r"TOROIDAL_SURFACE('',\1,67.6,", assembly, count=1
    )
    after = body_digests(parse(spoiled))
    changed = [name for name in before if before[name] != after[name]]
    assert len(changed) == 1
    assert changed[0].startswith("tube_")


@pytest.mark.parametrize("name", ["", "Tube 1", "tube-1", "röhre", "a'b"])
def test_names_that_readers_mangle_are_refused(name):
    part = next(iter(_parts()))
    with pytest.raises(SolidError, match="is no name"):
        step_bytes(replace(part, name=name), "x.step")


def test_two_parts_of_one_name_are_refused():
    part: Part = _parts()[0]
    with pytest.raises(SolidError, match="two parts"):
        step_bytes(Group("root", (part, part)), "x.step")


def test_a_named_face_that_is_not_there_is_refused():
    part = replace(_parts()[0], faces=(NamedFace("top", (0.0, 0.0, 99.0), (0.0, 0.0, 1.0)),))
    with pytest.raises(SolidError, match="no flat face for top"):
        step_bytes(part, "x.step")
