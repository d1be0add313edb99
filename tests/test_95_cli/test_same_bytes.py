"""A locked spec built twice, in two folders and two processes with other hash seeds: same bytes."""

import shutil
from pathlib import Path


def test_two_builds_are_the_same_to_the_byte(
    demo_file: Path, demo_build: Path, geomgen, tmp_path: Path
) -> None:
    home = tmp_path / "another place"
    home.mkdir()
    spec = Path(shutil.copy(demo_file, home))
    shutil.copy(demo_file.with_name(f"{demo_file.stem}.lock.yaml"), home)
    run = geomgen(
        "build", spec, "--out", home / "out", cwd=home, PYTHONHASHSEED="12345", TZ="Asia/Tokyo"
    )
    assert run.returncode == 0, run.stdout + run.stderr
    again = home / "out" / demo_build.name
    names = {p.relative_to(demo_build) for p in demo_build.rglob("*") if p.is_file()}
    assert {p.relative_to(again) for p in again.rglob("*") if p.is_file()} == names
    assert {name.suffix for name in names} >= {".step", ".dxf", ".csv", ".svg", ".json"}
    for name in sorted(names):
        assert (again / name).read_bytes() == (demo_build / name).read_bytes(), name
