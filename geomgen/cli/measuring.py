"""The process that measures one STEP file: bytes in, measured solid or a refusal out.

It stands alone because the kernel's reader may crash on hostile text, or never come back.
"""

from __future__ import annotations

import os
import sys

REFUSED = 3
"""Exit code when what is written is why the file cannot be used."""

_MOST_MEMORY = 8_000_000_000


def child() -> None:
    """Read a STEP file from stdin, write the measured solid to stdout, and leave."""
    out = os.fdopen(os.dup(1), "wb")
    # The kernel prints where it likes; nothing of that may get into the answer.
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    _bounded()
    step = sys.stdin.buffer.read()
    code, answer = _answer(step)
    out.write(answer)
    out.flush()
    os._exit(code)


def _answer(step: bytes) -> tuple[int, bytes]:
    from geomgen.geometry.solid_file import packed
    from geomgen.solids.errors import SolidError
    from geomgen.solids.foreign import solid_from_step

    try:
        return 0, packed(solid_from_step(step))
    except SolidError as error:
        return REFUSED, str(error).encode()
    except MemoryError:
        return REFUSED, b"it needs more memory than there is"
    except Exception as error:
        # The kernel's failures have no base but this.
        return REFUSED, f"the CAD kernel stops on it: {type(error).__name__}".encode()


def _bounded() -> None:
    """At most so much memory, where the system can hold a process to that."""
    if sys.platform == "win32":
        return
    import resource

    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    most = _MOST_MEMORY if hard == resource.RLIM_INFINITY else min(_MOST_MEMORY, hard)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
