"""What a spec says of the tools that must reach the studs' nuts."""

from __future__ import annotations

from typing import Annotated, Self

from pydantic import Discriminator, Field, Tag, model_validator

from geomgen.units import Quantity, Size, StrictModel, later, refusal

SOCKET_LENGTH = 2.2
"""Length of a socket alone over its size across flats; common practice, no source."""

_Name = Annotated[str, Field(min_length=1, max_length=60)]


class Socket(StrictModel):
    """A socket on an extension: needs a way in over the nut, straight or within a cone."""

    name: _Name | None = None
    """What it is called in reports."""
    socket: Size
    """Across flats."""
    extension: Size = 75.0
    """Length of socket and extension, clear over the nut."""
    diameter: Size | None = None
    """Outside of the socket; from its size across flats without it."""
    wobble: Annotated[float, Field(gt=0, le=30), Quantity("angle")] | None = later()
    """How far a wobble extension may lean from the nut's axis, all round: 10 to 15 (common
    practice, no source). Without it the extension stands straight."""
    length: Size | None = later()
    """Length of the socket alone, where a wobble extension begins to lean; 2.2 times its size
    across flats without it."""
    bar: Size | None = later()
    """Outside of the extension; the socket's own without it."""

    @property
    def alone(self) -> float:
        """Length of the socket without its extension [mm]."""
        return self.length if self.length is not None else SOCKET_LENGTH * self.socket

    @model_validator(mode="after")
    def _something_leans(self) -> Self:
        if self.extension <= self.alone and (self.wobble is not None or self.bar is not None):
            raise refusal(
                f"{self.extension:g} mm with a socket of {self.alone:g} mm",
                "an extension that is longer than its socket alone",
                "extension is socket and extension together; give the socket's own length as "
                "length if it is short",
            )
        return self


class Ring(StrictModel):
    """A ring spanner: goes on over the stud's tip, needs room to swing beside the nut."""

    name: _Name | None = None
    """What it is called in reports."""
    ring: Size
    """Across flats."""
    swing: Annotated[float, Field(gt=0, le=360), Quantity("angle")] = 60.0
    """Swing it needs before it can be set over: 60 for a six-point hold, 30 for twelve."""
    diameter: Size | None = None
    """Outside of the ring; from its size across flats without it."""
    length: Size | None = None
    """Length of the spanner; from its size across flats without it."""


class Open(StrictModel):
    """An open-ended spanner: slides on to the nut from the side, needs room to swing."""

    name: _Name | None = None
    """What it is called in reports."""
    open: Size
    """Across flats."""
    swing: Annotated[float, Field(gt=0, le=180), Quantity("angle")] = 30.0
    """Swing it needs before it can be set anew: 30 when it is turned over each time, for its
    head stands 15 off the handle; 60 when it is not."""
    diameter: Size | None = None
    """Width of the head; 2.1 times its size across flats without it."""
    length: Size | None = None
    """Length of the spanner; from its size across flats without it."""


def size_of(tool: Socket | Ring | Open) -> float:
    """A tool's size across flats [mm]."""
    if isinstance(tool, Socket):
        return tool.socket
    return tool.ring if isinstance(tool, Ring) else tool.open


def _which_tool(value: object) -> str | None:
    for key in ("socket", "ring", "open"):
        said = key in value if isinstance(value, dict) else hasattr(value, key)
        if said:
            return f"<{key}>"
    return None


Tool = Annotated[
    Annotated[Socket, Tag("<socket>")]
    | Annotated[Ring, Tag("<ring>")]
    | Annotated[Open, Tag("<open>")],
    Discriminator(
        _which_tool,
        custom_error_type="tool",
        custom_error_message="a tool with its size across flats, as socket, ring or open",
    ),
]
