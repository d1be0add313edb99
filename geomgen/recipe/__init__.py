"""Solids as plain data: what to make, not how a kernel makes it. mm, head frame."""
