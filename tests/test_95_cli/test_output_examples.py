"""output_examples/ is what a fresh build makes today: no more, no less, the same numbers.

Byte identity is promised per platform and library version and is tested elsewhere; here
every number may differ by 1e-6, so the examples hold on other machines.
"""

import hashlib
import io
import json
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
EXAMPLES = ROOT / "output_examples"
SPECS = ROOT / "specs"
NUMBER = re.compile(r"(?<![A-Za-z_0-9#.])[-+]?(?:\d+\.\d*|\.\d+|\d+)(?:[eE][-+]?\d+)?")
VARIES = {"versions"}
"""Fields of result.json that follow the installation."""
NOT_OF_THE_DESIGN = {"checks", "exit_code", "inputs", "targets", "verdict", "versions", "withheld"}
"""Fields that a design alone does not know."""


def files(folder: Path) -> set[str]:
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def numbers(text: str) -> tuple[str, list[float]]:
    return NUMBER.sub("<n>", text), [float(n) for n in NUMBER.findall(text)]


def same_json(a: object, b: object, where: str) -> None:
    if isinstance(a, dict) and isinstance(b, dict):
        assert a.keys() == b.keys(), where
        for key in a.keys() - VARIES:
            same_json(a[key], b[key], f"{where}.{key}")
    elif isinstance(a, list) and isinstance(b, list):
        assert len(a) == len(b), where
        for i, (x, y) in enumerate(zip(a, b, strict=True)):
            same_json(x, y, f"{where}[{i}]")
    elif isinstance(a, float) or isinstance(b, float):
        assert a == pytest.approx(b, abs=2e-6, rel=1e-6), where
    else:
        assert a == b, where


def same_picture(a: bytes, b: bytes) -> None:
    from PIL import Image, ImageChops, ImageStat

    one, two = (Image.open(io.BytesIO(data)).convert("RGB") for data in (a, b))
    assert one.size == two.size
    assert max(ImageStat.Stat(ImageChops.difference(one, two)).mean) < 0.5


def same_text(a: bytes, b: bytes, name: str) -> None:
    (words, left), (other, right) = numbers(a.decode()), numbers(b.decode())
    assert words == other, f"{name}: the text differs beside its numbers"
    worst = max((abs(x - y) for x, y in zip(left, right, strict=True)), default=0.0)
    assert worst <= 1e-6, f"{name}: a number differs by {worst}"


def test_every_spec_has_its_example_and_every_example_its_spec() -> None:
    specs = {p.stem for p in SPECS.glob("*.yaml") if not p.name.endswith(".lock.yaml")}
    assert {p.name for p in EXAMPLES.iterdir()} == specs


def test_no_output_is_missing_and_none_is_left_over(demo_build: Path) -> None:
    assert files(EXAMPLES / demo_build.name) == files(demo_build)


def test_every_file_is_what_a_fresh_build_makes(demo_build: Path) -> None:
    for name in sorted(files(demo_build) - {"manifest.json"}):
        made = (demo_build / name).read_bytes()
        kept = (EXAMPLES / demo_build.name / name).read_bytes()
        if made == kept:
            continue
        if name.endswith(".json"):
            same_json(json.loads(kept), json.loads(made), name)
        elif name.endswith(".png"):
            same_picture(kept, made)
        else:
            same_text(kept, made, name)


@pytest.mark.parametrize("name", sorted(p.name for p in EXAMPLES.iterdir()))
def test_every_example_is_of_its_spec_as_it_stands(name: str) -> None:
    """Without the kernel: what cutter and bender get, and the numbers; nothing is solved."""
    from geomgen.cli import pipeline
    from geomgen.registry import plugins
    from geomgen.report.result_json import Facts, as_bytes, document

    decided = pipeline.decide(pipeline.load(SPECS / f"{name}.yaml"))
    assert not decided.resolved.solved
    design = decided.design
    for kind, module in plugins("geomgen.exports", "NAME").items():
        for file, made in module.export(design).items() if kind != "step" else ():
            same_text((EXAMPLES / name / file).read_bytes(), made, file)
    kept = json.loads((EXAMPLES / name / "result.json").read_bytes())
    made = json.loads(as_bytes(document(design, Facts(()))))
    for runner in (*made["runners"], *kept["runners"]):
        runner.pop("length_from_step_mm")
    for key in made.keys() - NOT_OF_THE_DESIGN:
        same_json(kept[key], made[key], key)
    assert kept["exit_code"] == 0
    assert kept["inputs"] == dict(decided.inputs)


def test_the_examples_manifest_is_true() -> None:
    for folder in sorted(EXAMPLES.iterdir()):
        manifest = json.loads((folder / "manifest.json").read_bytes())
        held = {name: row["sha256"] for name, row in manifest["files"].items()}
        assert set(held) == files(folder) - {"manifest.json"}
        for name, digest in held.items():
            assert hashlib.sha256((folder / name).read_bytes()).hexdigest() == digest


def test_the_comparison_sees_a_changed_number() -> None:
    one = b"#12=CARTESIAN_POINT('',(1.,2.5,-3.E-2));"
    same_text(one, b"#12=CARTESIAN_POINT('',(1.,2.5000001,-3.E-2));", "x")
    for other in (
        b"#12=CARTESIAN_POINT('',(1.,2.50001,-3.E-2));",
        b"#13=CARTESIAN_POINT('',(1.,2.5,-3.E-2));",
        b"#12=CARTESIAN_POINT('a',(1.,2.5,-3.E-2));",
    ):
        with pytest.raises(AssertionError):
            same_text(one, other, "x")
