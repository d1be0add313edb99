"""What goes wrong when solids are made."""

from __future__ import annotations


class SolidError(Exception):
    """A recipe cannot be made into the solid that it asks for."""
