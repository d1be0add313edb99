"""What tests share: the demo spec, its design, a real build of it, and the command line.

A file's tests stay on one worker (``--dist loadfile``), so what they share is made once. What
takes long begins: types and lint, then the top storey. What is left at the end is short, and no
worker waits for another.
"""

from __future__ import annotations

import fcntl
import gc
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from geomgen.design.model import Design
    from geomgen.design.resolve import Resolved

ROOT = Path(__file__).parents[1]
DEMO = ROOT / "specs" / "brackenhall-20-sprint.yaml"

Run = Callable[..., "subprocess.CompletedProcess[str]"]

# The same examples every time: a red test is red again on the next run and elsewhere.
settings.register_profile("geomgen", deadline=None, derandomize=True, max_examples=30)
settings.load_profile("geomgen")

# Collecting makes hundreds of thousands of objects and drops few: looking through them every 700
# new ones takes a quarter of its time.
FEWER = (100_000, 50, 50)
USUAL = gc.get_threshold()
gc.set_threshold(*FEWER)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """The house's own rules first, then the top storey; within a folder as collected."""
    tests = ROOT / "tests"
    items.sort(key=lambda item: (item.path.parent == tests, item.path.parent), reverse=True)


def pytest_collection_finish() -> None:
    """What was imported stays: nobody looks through it again."""
    gc.set_threshold(*USUAL)
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session")
def geomgen() -> Run:
    """Run the command line in a process of its own: ``geomgen("check", spec, cwd=...)``."""

    def run(
        *arguments: str | Path, cwd: Path = ROOT, timeout: float = 300.0, **environment: str
    ) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "geomgen.cli.main", *map(str, arguments)],
            capture_output=True,
            text=True,
            cwd=cwd,
            timeout=timeout,
            env={**os.environ, **environment},
            stdin=subprocess.DEVNULL,
            check=False,
        )

    return run


@pytest.fixture(scope="session")
def demo_file() -> Path:
    """The demo spec."""
    return DEMO


@pytest.fixture(scope="session")
def demo_resolved() -> Resolved:
    """The demo, laid out from its lock."""
    from geomgen.design.resolve import resolve
    from geomgen.spec.load import load

    lock = DEMO.with_name(f"{DEMO.stem}.lock.yaml")
    text = lock.read_text(encoding="utf-8") if lock.exists() else None
    return resolve(load(DEMO.read_bytes(), DEMO.name).required(), text)


@pytest.fixture(scope="session")
def demo_design(demo_resolved: Resolved) -> Design:
    """The demo's design."""
    return demo_resolved.design


@pytest.fixture(scope="session")
def demo_build(tmp_path_factory: pytest.TempPathFactory, geomgen: Run) -> Path:
    """Folder of a real build of the demo, made by the command line; one for all workers."""
    own = tmp_path_factory.getbasetemp()
    out = (own.parent if "PYTEST_XDIST_WORKER" in os.environ else own) / "demo_build"
    with out.with_suffix(".held").open("w") as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        if not (out / DEMO.stem).exists():
            out.mkdir(exist_ok=True)
            for file in DEMO.parent.glob(f"{DEMO.stem}*.yaml"):
                shutil.copy(file, out)
            run = geomgen("build", out / DEMO.name, "--out", out)
            assert run.returncode == 0, run.stdout + run.stderr
    return out / DEMO.stem
