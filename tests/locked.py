"""Designs of the demos, laid out as their locks have them."""

from functools import cache
from pathlib import Path

from geomgen.design.model import Design
from geomgen.design.resolve import resolve
from geomgen.spec.load import load

SPECS = Path(__file__).parents[1] / "specs"


@cache
def demo(name: str) -> Design:
    """The design of a demo; its lock must hold."""
    file = SPECS / f"{name}.yaml"
    lock = file.with_suffix(".lock.yaml").read_text(encoding="utf-8")
    made = resolve(load(file.read_bytes(), file.name).required(), lock)
    assert not made.solved, "the demo's lock does not hold"
    return made.design
