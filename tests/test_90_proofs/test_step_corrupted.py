"""The written STEP spoilt one way at a time: the proof that should see it does."""

import re
from pathlib import Path

import pytest

from geomgen.errors import Finding, Verdict
from geomgen.registry import plugins

ASSEMBLY = "step/brackenhall-20-sprint_assembly.step"
GAS = "step/brackenhall-20-sprint_gas.step"


@pytest.fixture(scope="module")
def files(demo_build: Path) -> dict[str, bytes]:
    return {
        p.relative_to(demo_build).as_posix(): p.read_bytes() for p in demo_build.rglob("*.step")
    }


def failed(design, files: dict[str, bytes]) -> set[str]:
    """Names of the STEP proofs that fail."""
    found: list[Finding] = []
    for name, module in plugins("geomgen.proofs", "NAME").items():
        if name.startswith("step-"):
            found.extend(module.prove(design, files))
    assert found
    return {finding.name for finding in found if finding.verdict is Verdict.FAIL}


def spoilt(files: dict[str, bytes], path: str, change) -> dict[str, bytes]:
    before = files[path].decode("ascii")
    after = change(before)
    assert after != before, "the change hit nothing"
    return {**files, path: after.encode("ascii")}


def body_of(text: str, name: str) -> tuple[int, int]:
    """Where the entities of a part's body stand in the file."""
    start = text.index(f"MANIFOLD_SOLID_BREP('{name}'")
    following = text.find("MANIFOLD_SOLID_BREP('", start + 10)
    return start, following if following > 0 else len(text)


def within(name: str, pattern: str, new: str):
    """Replace the first match of a pattern inside one part's body."""

    def change(text: str) -> str:
        start, end = body_of(text, name)
        return text[:start] + re.sub(pattern, new, text[start:end], count=1) + text[end:]

    return change


def everywhere_within(name: str, pattern: str, new: str):
    def change(text: str) -> str:
        start, end = body_of(text, name)
        return text[:start] + re.sub(pattern, new, text[start:end]) + text[end:]

    return change


def test_nothing_fails_on_what_was_written(demo_design, files) -> None:
    assert failed(demo_design, files) == set()


@pytest.mark.parametrize(
    ("change", "proof"),
    [
        (
            lambda t: t.replace("PRODUCT('tube_2','tube_2'", "PRODUCT('tube_7','tube_7'"),
            "step-names",
        ),
        (lambda t: t.replace("'runner_3'", "'runner_5'"), "step-names"),
        (
            lambda t: re.sub(r"(COLOUR_RGB\('',)0\.8\d*", r"\g<1>0.1", t, count=1),
            "step-names",
        ),
        (lambda t: t.replace("SI_UNIT(.MILLI.,.METRE.)", "SI_UNIT($,.METRE.)"), "step-units"),
        (lambda t: t.replace("AUTOMOTIVE_DESIGN {", "CONFIG_CONTROL_DESIGN {"), "step-units"),
        (
            everywhere_within("tube_1", r"(CYLINDRICAL_SURFACE\('',#\d+,)22\.5\)", r"\g<1>22.7)"),
            "step-centreline",
        ),
        (
            everywhere_within("tube_4", r"(TOROIDAL_SURFACE\('',#\d+,)67\.5,", r"\g<1>68.5,"),
            "step-centreline",
        ),
        (within("tube_3", r"(CLOSED_SHELL\('',\()#\d+,", r"\g<1>"), "step-solids"),
        (within("cone", r"(CLOSED_SHELL\('',\()#\d+,", r"\g<1>"), "step-solids"),
    ],
    ids=[
        "product renamed",
        "branch renamed",
        "colour changed",
        "metres",
        "another schema",
        "tube radius",
        "bend radius",
        "face lost from a tube",
        "face lost from the cone",
    ],
)
def test_one_change_in_the_assembly(demo_design, files, change, proof) -> None:
    assert proof in failed(demo_design, spoilt(files, ASSEMBLY, change))


@pytest.mark.parametrize("shift", [0.1, 30.0])
def test_a_stub_out_of_place(demo_design, files, shift) -> None:
    """One placement moved along x: a tenth reaches into a neighbour, thirty even more."""

    def change(text: str) -> str:
        home = re.search(r"=CARTESIAN_POINT\('',\(300\.,-330\.,190\.\)\);", text)
        assert home is not None
        moved = f"=CARTESIAN_POINT('',({300.0 + shift},-330.,190.));"
        return text[: home.start()] + moved + text[home.end() :]

    assert failed(demo_design, spoilt(files, ASSEMBLY, change)) & {"step-overlap", "step-solids"}


def test_a_part_laid_over_another(demo_design, files) -> None:
    """Transition 1 and 2 exchanged in the part files; tube 1 drawn where tube 2 is."""
    swapped = {
        **files,
        "step/parts/transition_1.step": files["step/parts/transition_2.step"],
        "step/parts/tube_1.step": files["step/parts/tube_2.step"],
    }
    assert "step-solids" in failed(demo_design, swapped)


@pytest.mark.parametrize(
    "change",
    [
        lambda t: t.replace("'INLET_3'", "'INLET_9'"),
        lambda t: t.replace("'OUTLET'", "''"),
        lambda t: re.sub(r"(CLOSED_SHELL\('',\()#\d+,", r"\g<1>", t, count=1),
    ],
    ids=["inlet renamed", "outlet unnamed", "face lost"],
)
def test_one_change_in_the_gas_volume(demo_design, files, change) -> None:
    assert "step-gas" in failed(demo_design, spoilt(files, GAS, change))


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\x00\xff" * 500,
        b"ISO-10303-21;\nHEADER;\nENDSEC;\nDATA;\nENDSEC;\nEND-ISO-10303-21;\n",
    ],
    ids=["empty", "garbage", "no data"],
)
@pytest.mark.parametrize("path", [ASSEMBLY, GAS])
def test_what_is_no_step_at_all_is_a_finding(demo_design, files, path, content) -> None:
    assert failed(demo_design, {**files, path: content})


def test_half_a_file_is_a_finding(demo_design, files) -> None:
    half = files[ASSEMBLY][: len(files[ASSEMBLY]) // 2]
    assert failed(demo_design, {**files, ASSEMBLY: half})


def test_a_missing_file_is_a_finding(demo_design, files) -> None:
    assert failed(demo_design, {k: v for k, v in files.items() if k != ASSEMBLY})
