"""Blocks from other files: what they stand for, where their faults are told, what is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from geomgen.spec.load import Loaded, load

BASE = (Path(__file__).parent / "base.yaml").read_text(encoding="utf-8")
HEAD = """\
  - ports: {shape: rectangle, width: 38, height: 32, corner_radius: 8, pitch: 88}
    studs: {size: M8, protrusion: 25, at_each_port: [[-30, 26], [30, -26]]}
    gasket: {thickness: 1}
"""
BLOCK = """\
# a head that was measured once
head:
  ports: {shape: rectangle, width: 38, height: 32, corner_radius: 8, pitch: 88}
  studs: {size: M8, protrusion: 25, at_each_port: [[-30, 26], [30, -26]]}
  gasket: {thickness: 1}
"""


def taking(text: str, **files: str | bytes) -> Loaded:
    named = {name.replace("__", "/") + ".yaml": content for name, content in files.items()}

    def read(path: str) -> str | bytes:
        if path not in named:
            raise FileNotFoundError(2, "No such file", path)
        return named[path]

    return load(text, "header.yaml", read=read)


def test_a_block_stands_for_its_keys():
    loaded = taking(BASE.replace(HEAD, "  - take: ports/wren.yaml#head\n"), ports__wren=BLOCK)
    assert loaded.problems == ()
    assert loaded.spec == load(BASE, "header.yaml").spec
    assert loaded.files == ("ports/wren.yaml",)


def test_keys_beside_it_win():
    text = BASE.replace(HEAD, "  - take: wren.yaml#head\n    gasket: {thickness: 0.6}\n")
    assert taking(text, wren=BLOCK).required().heads[0].gasket.thickness == 0.6


def test_a_list_is_put_in_its_place():
    text = BASE.replace("  - {name: road,", "  - {take: bay.yaml#bay}\n  - {name: road,")
    bay = """\
bay:
  - {name: hose, kind: line, gap: 60, plane: {point: [900, 0, 0], normal: [-1, 0, 0]}}
  - {name: fan, kind: moving, plane: {point: [0, 900, 0], normal: [0, -1, 0]}}
"""
    names = [thing.name for thing in taking(text, bay=bay).required().obstacles]
    assert names == ["sump", "column", "hose", "fan", "road"]


def test_a_fault_in_a_block_is_told_in_the_blocks_file():
    text = BASE.replace(HEAD, "  - take: wren.yaml#head\n")
    loaded = taking(text, wren=BLOCK.replace("width: 38", "widht: 38"))
    places = [(p.file, p.line, p.column, p.path) for p in loaded.problems]
    assert ("wren.yaml", 3, 29, ("heads", 0, "ports", "widht")) in places
    assert all(place[0] == "wren.yaml" for place in places)


def test_yaml_faults_and_contradictions_are_told_there_too():
    text = BASE.replace(HEAD, "  - take: wren.yaml#head\n")
    (problem, *_) = [
        p for p in taking(text, wren=BLOCK + "\tx: 1\n").problems if p.file == "wren.yaml"
    ]
    assert (problem.line, problem.found) == (6, "a tab")
    (problem,) = taking(text, wren=BLOCK.replace("pitch: 88", "pitch: 49")).problems
    assert (problem.file, problem.line) == ("wren.yaml", 3)


def test_the_specs_own_faults_come_first():
    text = BASE.replace(HEAD, "  - take: a.yaml#head\n").replace("normal: [0, 1, 0]", "normal: 1")
    loaded = taking(text, a=BLOCK.replace("M8", "M9"))
    assert [p.file for p in loaded.problems] == ["header.yaml", "a.yaml"]


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ("/etc/passwd#head", "own folder"),
        ("../ports.yaml#head", "own folder"),
        ("ports/../../x.yaml#head", "own folder"),
        ("./wren.yaml#head", "own folder"),
        ("~/wren.yaml#head", "own folder"),
        ("ports//wren.yaml#head", "own folder"),
        ("'C:/wren.yaml#head'", "file.yaml#block"),
        ("'..\\wren.yaml#head'", "file.yaml#block"),
        ("wren.yaml", "file.yaml#block"),
        ("'#head'", "file.yaml#block"),
        ("wren.yaml#", "file.yaml#block"),
        ("12", "file.yaml#block"),
        ("[wren.yaml#head]", "file.yaml#block"),
        ("", "file.yaml#block"),
        ("missing.yaml#head", "No such file"),
        ("wren.yaml#haed", "a block of wren.yaml: head"),
    ],
)
def test_refused_with_its_place(asked, words):
    text = BASE.replace(HEAD, f"  - take: {asked}\n")
    told = [p for p in taking(text, wren=BLOCK).problems if p.path == ("heads", 0, "take")]
    assert len(told) == 1
    assert words in f"{told[0].allowed}; {told[0].remedy}"
    assert (told[0].file, told[0].line) == ("header.yaml", 16)


def test_only_files_below_the_spec_are_ever_asked_for():
    asked: list[str] = []

    def read(path: str) -> str:
        asked.append(path)
        return BLOCK

    for path in ("/etc/passwd", "../x.yaml", "a/../../x.yaml", "a/b.yaml", "\\\\host\\x"):
        load(BASE.replace(HEAD, f"  - take: '{path}#head'\n"), "header.yaml", read=read)
    assert asked == ["a/b.yaml"]


def test_refused_where_nothing_can_be_read():
    (problem, *_) = [
        p
        for p in load(BASE.replace(HEAD, "  - take: wren.yaml#head\n"), "x.yaml").problems
        if p.path[-1] == "take"
    ]
    assert "no blocks" in problem.allowed


def test_rings_are_refused():
    ring = "one: {take: b.yaml#two}\n", "two: {take: a.yaml#one}\n"
    text = BASE.replace(HEAD, "  - take: a.yaml#one\n")
    told = [p for p in taking(text, a=ring[0], b=ring[1]).problems if "ring" in p.remedy]
    assert [(p.file, p.line) for p in told] == [("b.yaml", 1)]
    assert "a.yaml#one -> b.yaml#two -> a.yaml#one" in told[0].remedy


def test_blocks_may_take_blocks():
    outer = "head: {take: b.yaml#head, gasket: {thickness: 2}}\n"
    spec = taking(BASE.replace(HEAD, "  - take: a.yaml#head\n"), a=outer, b=BLOCK).required()
    assert spec.heads[0].gasket.thickness == 2


def test_a_tree_of_takes_that_doubles_is_cut_short():
    lines = [f"b{i}: [{{take: x.yaml#b{i + 1}}}, {{take: x.yaml#b{i + 1}}}]" for i in range(40)]
    text = BASE.replace(HEAD, "  - take: x.yaml#b0\n")
    problems = taking(text, x="\n".join([*lines, "b40: [1]"])).problems
    assert any("at most 200 blocks" in p.allowed for p in problems)


@pytest.mark.parametrize("depth", [0, 20])
def test_a_long_chain_of_takes_is_cut_short(depth):
    """200 blocks, each taking the next from 0 or 20 levels down."""
    lines = []
    for i in range(200):
        taken = f"{{take: x.yaml#b{i + 1}}}"
        lines.append(f"b{i}: {'{a: ' * depth}{taken}{'}' * depth}")
    text = BASE.replace(HEAD, "  - take: x.yaml#b0\n")
    problems = taking(text, x="\n".join([*lines, "b200: {a: 1}"])).problems
    assert any("deep" in p.allowed for p in problems)


def test_a_list_where_a_mapping_belongs_is_refused():
    text = BASE.replace("limits: {runner_gap: 7}", "limits: {take: x.yaml#gaps}")
    told = [p for p in taking(text, x="gaps: [1, 2]\n").problems if p.path[-1] == "take"]
    assert "a list of 2" in told[0].allowed or "[1, 2]" in told[0].allowed
