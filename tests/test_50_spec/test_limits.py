"""Limits: every one is read by some check, and a spec can set every one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from geomgen.spec.limits import Limits
from geomgen.spec.load import load

ROOT = Path(__file__).parents[2]
BASE = (Path(__file__).parent / "base.yaml").read_text(encoding="utf-8")
NAMES = sorted(Limits.model_fields)
READERS = "\n".join(
    path.read_text(encoding="utf-8")
    for storey in ("design", "checks", "proofs")
    for path in sorted((ROOT / "geomgen" / storey).glob("*.py"))
)


@pytest.mark.parametrize("name", NAMES)
def test_every_limit_is_read(name):
    """A limit that nothing reads would be a promise that nobody keeps."""
    family = name.rsplit("_", 1)[0]
    assert f'"{name}"' in READERS or f".{name}" in READERS or f"{family}_{{" in READERS


@pytest.mark.parametrize("name", NAMES)
def test_every_limit_can_be_set(name):
    most = [m.le for m in Limits.model_fields[name].metadata if hasattr(m, "le")]
    value = min([12.25, *most])
    text = BASE.replace("{runner_gap: 7}", f"{{{name}: {value}}}")
    assert getattr(load(text, "x.yaml").required().limits, name) == value


def test_loading_needs_no_heavy_library():
    code = (
        "import sys; from pathlib import Path; from geomgen.spec.load import load\n"
        f"assert load(Path({str(ROOT / 'specs' / 'brackenhall-20-sprint.yaml')!r})"
        ".read_text(), 'x').spec\n"
        "heavy = {'pint', 'scipy', 'OCP', 'cadquery', 'ezdxf', 'jsonschema'}\n"
        "sys.exit(bool(heavy & {name.split('.')[0] for name in sys.modules}))"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
