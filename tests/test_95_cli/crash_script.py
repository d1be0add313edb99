"""Kill a folder write just before its n-th file-system event, for every n.

Run as a script: ``crash_script.py OUT``. Each line it prints is one crash point's verdict:
which generation was found whole, old, new or NONE. A child process does the write and
kills itself with SIGKILL, so nothing of ours runs after the event.
"""

import os
import shutil
import signal
import sys
from pathlib import Path

from geomgen.cli import folder

EVENTS = ("open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "shutil.rmtree")
OLD = {"result.json": b"old", "flats/flange.dxf": b"old flange"}
NEW = {"result.json": b"new", "flats/flange.dxf": b"new flange", "bends.csv": b"new bends"}
OLDER = {"result.json": b"older"}


def killed_write(out: Path, point: int) -> bool:
    """Write NEW in a child that dies before event ``point``; True when it died."""
    child = os.fork()
    if child == 0:
        seen = 0

        def hook(event: str, args: tuple[object, ...]) -> None:
            nonlocal seen
            if event in EVENTS and str(out) in str(args[0] if args else ""):
                seen += 1
                if seen == point:
                    os.kill(os.getpid(), signal.SIGKILL)

        sys.addaudithook(hook)
        folder.write(out, "demo", NEW)
        os._exit(0)
    _, status = os.waitpid(child, 0)
    return os.WIFSIGNALED(status)


def generation(path: Path) -> str:
    if folder.state(path) != "whole":
        return ""
    return (path / "result.json").read_text()


def main(out: Path) -> None:
    point = 0
    died = True
    while died:
        point += 1
        shutil.rmtree(out, ignore_errors=True)
        folder.write(out, "demo", OLDER)
        folder.write(out, "demo", OLD)
        died = killed_write(out, point)
        found = generation(out / "demo") or generation(out / "demo.previous") or "NONE"
        again = folder.write(out, "demo", NEW)
        after = generation(again)
        litter = sorted(p.name for p in out.iterdir() if p.name.startswith("."))
        print(point, found, after, ",".join(litter) or "clean", "died" if died else "finished")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
