"""Centrelines as a sweep sees them: no empty pieces, no joints inside a straight."""

from __future__ import annotations

from geomgen.geometry.centreline import Bend, Piece, Straight
from geomgen.solids.errors import SolidError

SHORTEST = 1e-7
"""Pieces shorter than this are nothing to the kernel [mm]."""


def merged(pieces: tuple[Piece, ...]) -> tuple[Piece, ...]:
    """The pieces without empty ones, and neighbouring straights made one.

    Raises:
        SolidError: a piece of negative length.
    """
    kept: list[Piece] = []
    roll = 0.0
    for piece in pieces:
        if piece.length < -SHORTEST:
            raise SolidError(f"piece of negative length {piece.length:.6g} mm")
        if piece.length < SHORTEST:
            # An empty bend still rolls the frame that the next bend is measured from.
            roll += piece.roll if isinstance(piece, Bend) else 0.0
        elif isinstance(piece, Bend):
            kept.append(Bend(piece.radius, piece.angle, piece.roll + roll))
            roll = 0.0
        elif kept and isinstance(kept[-1], Straight):
            kept[-1] = Straight(kept[-1].length + piece.length)
        else:
            kept.append(piece)
    return tuple(kept)
