"""Flat loops of lines and arcs: what a flange outline, a port and a window are made of."""
