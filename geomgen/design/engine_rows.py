"""How the engine's cylinders stand, and what its banks are called."""

from __future__ import annotations

from dataclasses import dataclass

from geomgen.spec.engine import ENDS
from geomgen.spec.header import HeaderSpec


@dataclass(frozen=True)
class EngineRows:
    """How the engine's cylinders stand.

    Attributes:
        layout: ``inline``, ``vee`` or ``flat``; empty where it is not known.
        banks: name of each bank, and its cylinders from the front to the flywheel; empty where
            the spec does not say.
        seen_from: ``flywheel`` or ``front``: the end from which they are left and right; empty
            where the spec does not say.
        here: names of the banks that the manifold has heads on.
    """

    layout: str = ""
    banks: tuple[tuple[str, tuple[int, ...]], ...] = ()
    seen_from: str = ""
    here: tuple[str, ...] = ()

    @staticmethod
    def of(spec: HeaderSpec) -> EngineRows:
        """As a spec has them."""
        said, layout = spec.engine.banks, spec.engine.layout
        here = tuple(head.bank for head in spec.heads if head.bank is not None)
        if said is None:
            return EngineRows(layout, here=here)
        banks = (("left", said.left), ("right", said.right))
        return EngineRows(layout, banks, said.seen_from, here)

    def row(self, bank: str) -> tuple[int, ...]:
        """Cylinders of a bank from the front to the flywheel; empty where that is not known."""
        return dict(self.banks).get(bank, ())

    def called(self, bank: str) -> str:
        """``left bank seen from the flywheel end``; ``left bank`` where the end is not known."""
        return f"{bank} bank seen from {ENDS[self.seen_from]}" if self.seen_from else f"{bank} bank"

    def told(self, bank: str) -> str:
        """A bank with its cylinders in words; empty where the spec does not say.

        >>> rows = EngineRows("vee", (("left", (1, 3, 5)), ("right", (2, 4, 6))), "flywheel")
        >>> rows.told("left")
        'left bank seen from the flywheel end: cylinders 1 3 5, front to flywheel'
        """
        row = " ".join(map(str, self.row(bank)))
        return f"{self.called(bank)}: cylinders {row}, front to flywheel" if row else ""


UNKNOWN = EngineRows()
"""Of an engine of which nothing is said."""
