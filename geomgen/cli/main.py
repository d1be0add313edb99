"""``geomgen``: one command a file; exit code 0 good, 1 a check failed, 2 bad input."""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence

import click

from geomgen.cli import build, check, new, route, schema, targets

GOOD, FAILED, REFUSED = 0, 1, 2
"""Exit codes: all is well; something unwaived fails; the input or the command is wrong."""


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="geomgen")
def cli() -> None:
    """Turn one YAML spec into a tubular exhaust header that a shop can make.

    Exit codes: 0 good, 1 a check failed, 2 bad input or usage.
    """


for _module in (new, check, route, build, targets, schema):
    cli.add_command(_module.command)


def main(arguments: Sequence[str] | None = None) -> None:
    """Run one command and leave with its exit code, at once.

    Everything is written by then; taking the CAD kernel's bindings down in good order
    would cost another second.
    """
    # No plug-in of a neighbouring package has a say in how a spec is read.
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")
    # Loading and checking make many objects and no garbage: look for cycles less often.
    gc.set_threshold(500_000, 50, 50)
    code = run(arguments)
    try:
        sys.stdout.flush()
        sys.stderr.flush()
    finally:
        os._exit(code)


def run(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        The exit code. Nothing that goes wrong shows a traceback, unless the environment
        sets ``GEOMGEN_DEBUG=1``.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="backslashreplace")
    try:
        outcome = cli.main(
            args=None if arguments is None else list(arguments),
            prog_name="geomgen",
            standalone_mode=False,
        )
        sys.stdout.flush()
    except click.ClickException as refusal:
        refusal.show()
        return REFUSED
    except (click.Abort, KeyboardInterrupt):
        return _refused("stopped")
    except BrokenPipeError:
        # The reader has gone; keep the interpreter from complaining about it on the way out.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return REFUSED
    except OSError as error:
        return _refused(f"{error.filename or 'file system'}: {error.strerror or error}")
    except Exception as error:
        if os.environ.get("GEOMGEN_DEBUG") == "1":
            raise
        text = " ".join(str(error).split())[:300]
        return _refused(
            f"this should not happen: {type(error).__name__}: {text}; run it again with "
            "GEOMGEN_DEBUG=1 and report what it prints, with the spec"
        )
    return outcome if isinstance(outcome, int) else GOOD


def _refused(text: str) -> int:
    print(f"geomgen: {text}", file=sys.stderr)
    return REFUSED


if __name__ == "__main__":
    main()
