"""A spec resolved into frozen numbers: mm, radians, SI for gas. Nothing here is optional input."""
