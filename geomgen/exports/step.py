"""STEP files: the assembly, each part as it is cut, and the gas volume. AP214, mm."""

from __future__ import annotations

from dataclasses import replace

from geomgen.design.model import Design
from geomgen.recipe.nodes import Group, Part

NAME = "step"

UNRELEASED = "_not_for_manufacture"
"""Follows the assembly's name while something fails that nobody has waived."""


def export(design: Design) -> dict[str, bytes]:
    """Every STEP file of a design that may be made, by path in its folder.

    Parts that are one shape in one colour, placed several times, share one part file.
    """
    from geomgen.solids.products import products_of
    from geomgen.solids.step_writer import product_files, step_bytes

    path = assembly_path(design)
    whole = step_bytes(design.assembly, _title(path))
    files = {path: whole}
    names = {product.name: None for product in products_of(design.assembly).values()}
    titles = {name: _title(part_path(name)) for name in names}
    for name, content in product_files(whole, titles).items():
        files[part_path(name)] = content
    for gas in design.gases:
        files[gas_path(design, gas)] = step_bytes(gas, _title(gas_path(design, gas)))
    return files


def export_unreleased(design: Design) -> dict[str, bytes]:
    """The assembly alone, its product and file named as not for manufacture."""
    from geomgen.solids.step_writer import step_bytes

    marked = not_for_manufacture(design.assembly)
    path = f"step/{marked.name}.step"
    return {path: step_bytes(marked, _title(path))}


def not_for_manufacture(assembly: Group) -> Group:
    """The assembly under a name that says so."""
    return replace(assembly, name=assembly.name + UNRELEASED)


def assembly_path(design: Design) -> str:
    """Where the assembly's file goes in the folder."""
    return f"step/{design.name}_assembly.step"


def part_path(product: str) -> str:
    """Where one product's file goes in the folder."""
    return f"step/parts/{product}.step"


def gas_path(design: Design, gas: Part) -> str:
    """Where a gas volume's file goes in the folder."""
    return f"step/{design.name}{gas.name.removeprefix(design.part_name)}.step"


def occurrences(design: Design) -> dict[str, int]:
    """How many of each product the assembly holds, by path of its file."""
    from geomgen.solids.products import products_of

    return {part_path(p.name): len(p.parts) for p in products_of(design.assembly).values()}


def _title(path: str) -> str:
    return path.rpartition("/")[2]
