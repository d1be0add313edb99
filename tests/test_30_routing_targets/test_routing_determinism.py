"""The same problem has the same answer to the last bit, whatever the process and its threads."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).parents[1]

ROUTES = """
import math
from dataclasses import replace
from routing_bundles import SHELF, bundle, keeping
from geomgen.geometry.centreline import Bend, Centreline, Straight
from geomgen.routing.solve import EFFORTS, route

problem = bundle()
tacked = Centreline(problem.edges[0].start.rolled(0.4), (Straight(23.7), Bend(57.3, 0.65, 1.2)))
for asked in (
    problem,
    bundle(3, 680.0),
    keeping(problem, 0, tacked),
    replace(problem, shelf=replace(SHELF, angle_step=math.radians(1))),
    replace(problem, shelf=replace(SHELF, most_bends=2)),
):
    answer = route(asked, efforts=EFFORTS[:2])
    assert hasattr(answer, "paths"), answer
    for path in answer.paths:
        print([float(field).hex()
               for piece in path.pieces for field in vars(piece).values()])
    print(answer.slots, answer.score.hex(), answer.in_order, answer.tried)
"""


def answers(threads: int, seed: int) -> str:
    """What a process of its own says, every number in hexadecimal."""
    number = str(threads)
    run = subprocess.run(
        [sys.executable, "-c", ROUTES],
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
        env={
            **os.environ,
            "PYTHONPATH": str(TESTS),
            "PYTHONHASHSEED": str(seed),
            "OMP_NUM_THREADS": number,
            "OPENBLAS_NUM_THREADS": number,
            "MKL_NUM_THREADS": number,
        },
    )
    assert run.returncode == 0, run.stderr
    return run.stdout


def test_two_processes_agree_to_the_last_bit() -> None:
    one, two = answers(1, 0), answers(2, 4711)
    assert one.count("0x") > 100
    assert one == two
