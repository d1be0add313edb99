"""What is said when the runners could not be laid out."""

from __future__ import annotations

from geomgen.errors import Problem as Complaint
from geomgen.routing.problem import Impossible, Move, NotFound


class NoRoute(Exception):
    """The runners could not be laid out.

    ``answer`` says what was found instead, ``problem`` which key of the spec that is about.
    """

    def __init__(self, answer: Impossible | NotFound, base: float, problem: Complaint) -> None:
        self.answer = answer
        self.base = base
        self.problem = problem
        super().__init__(explained(answer, base))


def explained(answer: Impossible | NotFound, base: float) -> str:
    """The answer for the person at the bench.

    Args:
        answer: of the router, in lengths of bent tube alone.
        base: plate, transition and stub, which a runner's length counts too [mm].
    """
    if isinstance(answer, Impossible):
        if answer.kind != "floor":
            return f"impossible: {answer.reason}"
        link = answer.edge.startswith("secondary ")
        ends = "the merges at its ends" if link else "plate, transition and stub"
        tube = "secondary" if link else "runner"
        return (
            f"impossible: {answer.edge} is asked to be {answer.target + base:.1f} mm, but "
            f"{answer.reason}; with {ends} the least length is "
            f"{answer.floor + base:.1f} mm. Ask for a longer {tube}, or move the collector"
        )
    return " ".join([*_searched(answer), *_ways_out(answer)])


def _searched(answer: NotFound) -> list[str]:
    return [
        f"not found: {answer.binding.text}.",
        f"{answer.tried} paths were tried, which proves nothing: there may be a layout yet.",
    ]


def _ways_out(answer: NotFound) -> list[str]:
    """What would free the runners, each proven by laying them out."""
    ways = []
    if answer.nearest_length is not None:
        ways.append(f"all runners {answer.nearest_length:.1f} mm longer than asked")
    ways += [_moved(move) for move in answer.moves]
    if answer.links_longer is not None:
        ways.append(f"secondaries {answer.links_longer:.1f} mm longer than asked")
    if not ways and answer.binding.kind == "places":
        return ["No longer secondaries that free them were found.", "Look at what is said below."]
    if not ways:
        return [
            "Neither a longer common length nor a move of the collector that frees them was found.",
            "Look at what is named here, at its gap, and at the shelf.",
        ]
    return [f"Any one of these frees them, each laid out and proven: {'; '.join(ways)}."]


def _moved(move: Move) -> str:
    way = f"{'-' if move.by < 0.0 else '+'}{move.axis}"
    half = "half of that was tried as hard and failed" if move.half_failed else "less may do"
    return f"the collector {abs(move.by):.1f} mm along {way} of the head ({half})"


def facts(answer: Impossible | NotFound, base: float) -> dict[str, object]:
    """The same as a plain tree, lengths with plate, transition and stub [mm]."""
    if isinstance(answer, Impossible):
        floor = answer.kind == "floor"
        return {
            "answer": "impossible",
            "certificate": answer.kind,
            "subject": answer.edge,
            "target_mm": answer.target + base if floor else None,
            "floor_mm": answer.floor + base if floor else None,
        }
    return {
        "answer": "not found",
        "tried": answer.tried,
        "binding": answer.binding.text,
        "longer_by_mm": answer.nearest_length,
        "secondaries_longer_by_mm": answer.links_longer,
        "moves": [
            {"axis": move.axis, "by_mm": move.by, "half_failed": move.half_failed}
            for move in answer.moves
        ],
    }
