"""The written assembly in readers that are not ours: gmsh and cadquery."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

NAME = "step/brackenhall-20-sprint_assembly.step"

GMSH = """
import gmsh, json, sys
gmsh.initialize(interruptible=False)
gmsh.option.setNumber("General.Terminal", 0)
gmsh.option.setString("Geometry.OCCTargetUnit", "MM")
gmsh.merge(sys.argv[1])
out = {}
for dim, tag in gmsh.model.getEntities(3):
    out[gmsh.model.getEntityName(dim, tag)] = gmsh.model.occ.getMass(dim, tag)
json.dump(out, open(sys.argv[2], "w"))
gmsh.finalize()
"""


def parts(design) -> list[str]:
    from geomgen.recipe.nodes import parts_of

    return [part.name for part in parts_of(design.assembly)]


def test_gmsh_finds_every_part_by_its_nested_name_and_volume(
    demo_build: Path, demo_design, tmp_path: Path
) -> None:
    """Tubes by Pappus: wall area times centreline length."""
    import math

    out = tmp_path / "volumes.json"
    subprocess.run(
        [sys.executable, "-c", GMSH, str(demo_build / NAME), str(out)],
        check=True,
        capture_output=True,
        timeout=120,
    )
    volumes = {name.split("/")[-1]: v for name, v in json.loads(out.read_text()).items()}
    assert sorted(volumes) == sorted(parts(demo_design))
    for runner in demo_design.runners:
        wall = math.pi * (runner.outer_radius**2 - runner.inner_radius**2)
        assert volumes[f"tube_{runner.cylinder}"] == pytest.approx(
            wall * runner.path.length, rel=1e-6
        )
    nested = [n for n in json.loads(out.read_text()) if n.endswith("/tube_3")]
    assert len(nested) == 1
    assert "runners/runner_3/" in nested[0]


def test_cadquery_reads_names_nesting_and_colours(demo_build: Path, demo_design) -> None:
    code = (
        "import cadquery, json, sys\n"
        "a = cadquery.Assembly.importStep(sys.argv[1])\n"
        "def walk(n, up=()):\n"
        "    here = (*up, n.name)\n"
        "    own = [['/'.join(here), n.color.toTuple() if n.color else None, bool(n.obj)]]\n"
        "    return own + [row for c in n.children for row in walk(c, here)]\n"
        "print(json.dumps(walk(a)))\n"
    )
    run = subprocess.run(
        [sys.executable, "-W", "ignore", "-c", code, str(demo_build / NAME)],
        check=True,
        capture_output=True,
        text=True,
        timeout=120,
    )
    rows = json.loads(run.stdout.splitlines()[-1])
    paths = [row[0] for row in rows]
    assert any(p.endswith("runners/runner_2/tube_2") for p in paths)
    leaves = {row[0].split("/")[-1] for row in rows if row[2]}
    assert leaves >= set(parts(demo_design))


def test_header_says_ap214_and_millimetres_and_nothing_of_the_machine(demo_build: Path) -> None:
    """Schema and unit strings of ISO 10303-214, as in the standard's clear text."""
    import socket

    for path in demo_build.rglob("*.step"):
        text = path.read_text(encoding="ascii")
        assert text.startswith("ISO-10303-21;")
        assert text.rstrip().endswith("END-ISO-10303-21;")
        assert "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));" in text
        assert "SI_UNIT(.MILLI.,.METRE.)" in text
        header = text[: text.index("DATA;")]
        assert "2000-01-01T00:00:00" in header
        assert socket.gethostname() not in text
        assert str(demo_build.parent) not in text
        assert "Open CASCADE" not in text
