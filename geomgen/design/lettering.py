"""Single-stroke lettering for the mark layer: straight strokes on a four by six grid."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from geomgen.profiles.loops import Line, Point2

GLYPHS = {
    "A": "00 04 26 44 40|02 42",
    "B": "00 06 36 45 44 33 03|33 42 41 30 00",
    "C": "45 36 16 05 01 10 30 41",
    "D": "00 06 26 44 42 20 00",
    "E": "46 06 00 40|03 33",
    "F": "46 06 00|03 33",
    "G": "45 36 16 05 01 10 30 41 43 23",
    "H": "00 06|40 46|03 43",
    "I": "10 30|16 36|20 26",
    "J": "01 10 30 41 46",
    "K": "00 06|46 03 40",
    "L": "06 00 40",
    "M": "00 06 23 46 40",
    "N": "00 06 40 46",
    "O": "10 01 05 16 36 45 41 30 10",
    "P": "00 06 36 45 44 33 03",
    "Q": "10 01 05 16 36 45 41 30 10|22 40",
    "R": "00 06 36 45 44 33 03|23 40",
    "S": "45 36 16 05 04 13 33 42 41 30 10 01",
    "T": "06 46|20 26",
    "U": "06 01 10 30 41 46",
    "V": "06 20 46",
    "W": "06 10 23 30 46",
    "X": "00 46|06 40",
    "Y": "06 23 46|23 20",
    "Z": "06 46 00 40",
    "0": "10 01 05 16 36 45 41 30 10|11 35",
    "1": "15 26 20|10 30",
    "2": "05 16 36 45 44 00 40",
    "3": "05 16 36 45 44 33 13|33 42 41 30 10 01",
    "4": "30 36 02 42",
    "5": "46 06 03 33 42 41 30 10 01",
    "6": "45 36 16 05 01 10 30 41 42 33 13 02",
    "7": "06 46 10",
    "8": "13 04 05 16 36 45 44 33 13 02 01 10 30 41 42 33",
    "9": "01 10 30 41 45 36 16 05 04 13 33 44",
    "-": "13 33",
    "+": "13 33|22 24",
    ".": "20 21",
    "/": "00 46",
    "(": "36 25 21 30",
    ")": "16 25 21 10",
    "^": "20 26|04 26 44",
    "~": "10 16 44 12",
    " ": "",
}
"""Strokes of each character: points ``xy`` on the grid, strokes parted by ``|``."""

ARROW = "^"
"""The character that draws an arrow pointing up."""

PENNANT = "~"
"""The character that draws a pennant on its pole: it flies to the right, so a part that is
turned over or mirrored shows it flying to the left."""

NARROW = 0.8 / 6.0
"""Grid step across over cap height; up it is a sixth."""

ADVANCE = 6
"""Grid steps from one character to the next."""

LINE_PITCH = 1.6
"""From one line of text to the next, in cap heights."""


@dataclass(frozen=True)
class Block:
    """Lines of text, centred over each other; sizes for a cap height of 1."""

    lines: tuple[str, ...]

    @property
    def width(self) -> float:
        """Width over cap height."""
        return max(_width(line) for line in self.lines)

    @property
    def height(self) -> float:
        """Height over cap height."""
        return 1.0 + LINE_PITCH * (len(self.lines) - 1)

    def strokes(self, centre: Point2, cap: float, upright: bool = True) -> tuple[Line, ...]:
        """The strokes with the block's middle at ``centre`` [mm].

        Args:
            centre: middle of the block [mm].
            cap: height of a capital [mm].
            upright: False turns the block a quarter left, to be read from the right.
        """

        def carry(x: float, y: float) -> Point2:
            u, v = (x, y) if upright else (-y, x)
            return (centre[0] + cap * u, centre[1] + cap * v)

        strokes = []
        for row, text in enumerate(self.lines):
            left = -_width(text) / 2.0
            foot = self.height / 2.0 - 1.0 - LINE_PITCH * row
            for place, character in enumerate(text):
                for a, b in _segments(character):
                    x = left + NARROW * ADVANCE * place
                    strokes.append(
                        Line(
                            carry(x + NARROW * a[0], foot + a[1] / 6.0),
                            carry(x + NARROW * b[0], foot + b[1] / 6.0),
                        )
                    )
        return tuple(strokes)


def _width(text: str) -> float:
    return NARROW * (ADVANCE * len(text) - 2)


def _segments(character: str) -> list[tuple[tuple[int, int], tuple[int, int]]]:
    segments: list[tuple[tuple[int, int], tuple[int, int]]] = []
    for stroke in GLYPHS[character].split("|"):
        points = [(int(pair[0]), int(pair[1])) for pair in stroke.split()]
        segments.extend(pairwise(points))
    return segments


def spelled(text: str) -> str:
    """The text in characters that can be drawn: capitals, and ``-`` for what has none."""
    return "".join(c if c in GLYPHS and c not in (ARROW, PENNANT) else "-" for c in text.upper())


def layouts(text: str, most_lines: int = 3) -> tuple[Block, ...]:
    """The text on one line, on two, ...: broken after blanks and hyphens, evenly."""
    words = _words(spelled(text))
    blocks: list[Block] = []
    for count in range(1, min(most_lines, len(words)) + 1):
        block = Block(_broken(words, count))
        if block not in blocks:
            blocks.append(block)
    return tuple(blocks)


def _words(text: str) -> list[str]:
    words, word = [], ""
    for character in text:
        word += character
        if character in " -":
            words.append(word)
            word = ""
    return [*words, word] if word else words


def _broken(words: list[str], count: int) -> tuple[str, ...]:
    """Words over ``count`` lines, the longest line as short as can be."""
    best: tuple[float, tuple[str, ...]] = (math.inf, ())

    def place(rest: list[str], lines: tuple[str, ...], left: int) -> None:
        nonlocal best
        if left == 1:
            done = (*lines, "".join(rest).strip())
            widest = max(len(line) for line in done)
            if widest < best[0] and all(done):
                best = (widest, done)
            return
        for n in range(1, len(rest) - left + 2):
            place(rest[n:], (*lines, "".join(rest[:n]).strip()), left - 1)

    place(words, (), count)
    return best[1] or ("".join(words).strip(),)
