"""Write anew what is committed and made by the program: ``python tests/regenerate.py [--solve]``.

Run it after an intended change and look at the diff before committing it: the schema, the
spec reference, and for every spec its lock (only with ``--solve``) and its output example.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[1]
SPECS = ROOT / "specs"
EXAMPLES = ROOT / "output_examples"


def specs() -> list[Path]:
    """Every spec that ships, sorted."""
    return sorted(p for p in SPECS.glob("*.yaml") if not p.name.endswith(".lock.yaml"))


def main(solve: bool) -> None:
    """Write schema, reference, locks and examples."""
    from geomgen.spec.reference import reference
    from geomgen.spec.schema import schema_text

    (SPECS / "geomgen.schema.json").write_text(schema_text(), encoding="utf-8")
    (SPECS / "README.md").write_text(reference(), encoding="utf-8")
    for spec in specs():
        lock = spec.with_name(f"{spec.stem}.lock.yaml")
        if solve:
            lock.unlink(missing_ok=True)
        with tempfile.TemporaryDirectory() as out:
            command = [sys.executable, "-m", "geomgen.cli.main", "build", str(spec), "--out", out]
            subprocess.run(command, check=True, cwd=ROOT)
            target = EXAMPLES / spec.stem
            if target.exists():
                shutil.rmtree(target)
            shutil.copytree(Path(out) / spec.stem, target)


if __name__ == "__main__":
    main("--solve" in sys.argv[1:])
