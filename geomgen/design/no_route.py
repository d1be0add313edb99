"""What is said when the runners could not be laid out."""

from __future__ import annotations

from geomgen.routing.problem import Impossible, NotFound


class NoRoute(Exception):
    """The runners could not be laid out; ``answer`` says what was found instead."""

    def __init__(self, answer: Impossible | NotFound, base: float) -> None:
        self.answer = answer
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
        return (
            f"impossible: {answer.edge} is asked to be {answer.target + base:.1f} mm, but "
            f"{answer.reason}; with plate, transition and stub the least length is "
            f"{answer.floor + base:.1f} mm. Ask for a longer runner, or move the collector"
        )
    text = f"not found: {answer.binding} ({answer.tried} paths tried, which proves nothing). "
    if answer.nearest_length is None:
        return text + "No longer common length was found either: move the collector or an obstacle"
    return (
        text
        + f"The shortest common length found is {answer.nearest_length:.1f} mm longer than asked. "
        "Ask for that, or move the collector"
    )
