"""Where the time goes: a word on the terminal while work is long, figures on request.

``GEOMGEN_TIMINGS=1`` prints one JSON object on stderr at the end: seconds by phase.
"""

from __future__ import annotations

import json
import os
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager

Say = Callable[[str], None]

_seconds: dict[str, float] = {}
_begun = time.perf_counter()


@contextmanager
def phase(name: str, saying: str = "") -> Iterator[Say]:
    """Time a piece of work; with ``saying``, show it on a terminal while it lasts.

    Yields:
        What changes the words while the work goes on; it does nothing when piped.
    """
    start = time.perf_counter()
    try:
        if saying and sys.stderr.isatty():
            from rich.console import Console

            with Console(stderr=True).status(saying) as status:
                yield lambda text: status.update(text)
        else:
            yield lambda _text: None
    finally:
        _seconds[name] = _seconds.get(name, 0.0) + time.perf_counter() - start


def report() -> None:
    """Print the timings on stderr, when they are asked for."""
    if os.environ.get("GEOMGEN_TIMINGS") == "1":
        figures = {name: round(value, 4) for name, value in _seconds.items()}
        figures["total"] = round(time.perf_counter() - _begun, 4)
        print(json.dumps({"timings_s": figures}), file=sys.stderr)
