"""What specs say of attachments of any kind: name, place, and way out."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from geomgen.names import Name
from geomgen.plates._said import PartName
from geomgen.units import Direction, Quantity, Size, Span, StrictModel

Lean = Annotated[float, Field(ge=25, le=155), Quantity("angle")]
"""An axis against the way the gas goes [deg]."""


class AttachmentSpec(StrictModel):
    """What is said of every attachment."""

    kind: str
    """What kind of attachment it is."""


class OnPipe(AttachmentSpec):
    """What is said of one that stands on a pipe's side."""

    name: PartName
    """Name of its part, and of its files: small letters, digits and _."""
    on: Name = "outlet"
    """Pipe that it stands on: ``outlet``, or what else the family calls its pipes (``pipe``,
    ``pipe_a``); ``runners`` for one on every runner, or ``runner 2``."""
    at: Span | None = None
    """Where along it: from the pipe's beginning, of a runner from the gasket face, z = 0. The
    middle of its longest straight without it."""
    toward: Direction | None = None
    """The side that it stands on, as far as the pipe allows; ``vertical`` without it."""


__all__ = ["AttachmentSpec", "Lean", "OnPipe", "Size"]
