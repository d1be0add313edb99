"""Frames, centrelines of straights and bends, proven distances. mm and radians throughout.

Nothing here knows of engines, pipes or files: plain numbers, tuples and numpy.
"""
