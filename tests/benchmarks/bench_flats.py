"""Time of all files of the demo's flat parts, as a ratio to ``python -c "import cadquery"``.

Run from the repository: ``python tests/benchmarks/bench_flats.py``. What counts is the time that
a process spends on them once the design is there, imports of the DXF and PDF libraries
included: cut files, hole table, pictures and sheets; their proofs, without the kernel, are said
beside it. Bar: 0.5. Not a test: a machine that is busy must not turn the tests red.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROUNDS = 5
BAR = 0.5
DEMO = Path(__file__).parents[2] / "specs" / "brackenhall-20-sprint.yaml"

WORK = f"""
import time
from pathlib import Path
from geomgen.cli import pipeline
design = pipeline.decide(pipeline.load(Path({str(DEMO)!r}))).design
start = time.perf_counter()
from geomgen.exports import dxf, dxf_kerf, hole_table_csv
from geomgen.report import flange_picture, sheet_pdf
files = {{}}
for module in (dxf, dxf_kerf, hole_table_csv):
    files.update(module.export(design))
for module in (flange_picture, sheet_pdf):
    files.update(module.pictures(design))
made = time.perf_counter()
from geomgen.proofs import dxf, dxf_kerf, sheet_pdf
dxf.prove(design, files, {{}})
dxf_kerf.prove(design, files)
sheet_pdf.prove(design, files)
print(made - start, time.perf_counter() - made, len(design.flats), len(files))
"""


def main() -> None:
    """Measure and print."""
    base, made, proven = [], [], []
    for _ in range(ROUNDS):
        start = time.perf_counter()
        subprocess.run([sys.executable, "-c", "import cadquery"], check=True)
        base.append(time.perf_counter() - start)
        done = subprocess.run(
            [sys.executable, "-c", WORK], check=True, capture_output=True, text=True
        )
        one, other, parts, files = done.stdout.split()
        made.append(float(one))
        proven.append(float(other))
    whole = statistics.median(base)
    files_s, proofs_s = statistics.median(made), statistics.median(proven)
    print(f"import cadquery: {whole:.2f} s, median of {ROUNDS} rounds")
    ratio = files_s / whole
    print(f"{files} files of {parts} flat parts: {files_s:.2f} s, ratio {ratio:.2f}, bar {BAR}")
    print(f"their proofs: {proofs_s:.2f} s, ratio {proofs_s / whole:.2f}")


if __name__ == "__main__":
    main()
