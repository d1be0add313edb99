"""The house keeps its own rules: lint, types, import contracts, sizes, words."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PACKAGE = ROOT / "geomgen"
MODULES = sorted(PACKAGE.rglob("*.py"))
TOP = {
    "pyproject.toml",
    "README.md",
    "LICENSE",
    "DEVELOPERS.md",
    "geomgen",
    "specs",
    "tests",
    "output_examples",
}
BUILT_ASIDE = {"out", "build", "dist"}


def tool(*command: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [str(Path(sys.executable).parent / command[0]), *command[1:]],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize(
    "command",
    [
        ("ruff", "check", "."),
        ("ruff", "format", "--check", "."),
        ("mypy",),
        ("lint-imports",),
    ],
    ids=["lint", "format", "types", "contracts"],
)
def test_tools_find_nothing(command: tuple[str, ...]) -> None:
    run = tool(*command)
    assert run.returncode == 0, run.stdout + run.stderr


def test_top_level_is_what_was_agreed() -> None:
    there = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert there - BUILT_ASIDE - {"geomgen.egg-info"} == TOP


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(PACKAGE)))
def test_no_module_is_too_long(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400


def test_degrees_become_radians_in_few_places() -> None:
    """Conversion belongs to design, to the edges that print, and to plug-ins that read a Spec."""
    allowed = ("design", "families", "exports", "checks", "cli", "report", "proofs", "targets")
    wrong = []
    for path in MODULES:
        place = path.relative_to(PACKAGE).parts[0]
        if place in allowed or path.name == "units.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            name = getattr(node, "attr", getattr(node, "id", ""))
            if name in ("degrees",) and isinstance(node, ast.Attribute | ast.Name):
                wrong.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert wrong == []


def test_check_does_not_import_the_kernel_or_cadquery() -> None:
    code = (
        "import sys; import geomgen.cli.main, geomgen.design.resolve, geomgen.checks as c; "
        "c.names(); "
        "sys.exit(any(m.split('.')[0] in ('OCP', 'cadquery', 'ezdxf', 'scipy', 'pint') "
        "for m in sys.modules))"
    )
    run = subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=False)
    assert run.returncode == 0
