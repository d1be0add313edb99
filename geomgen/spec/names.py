"""Names and grades as a spec writes them; told to plug-ins too, so they stand on the ground."""

from geomgen.names import Material, Name

__all__ = ["Material", "Name"]
