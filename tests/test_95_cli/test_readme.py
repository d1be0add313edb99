"""README keeps its promises: two commands, the files that come out, links that lead somewhere."""

import re
import subprocess
from fnmatch import fnmatch
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def section(title: str) -> str:
    return README.split(f"\n## {title}\n")[1].split("\n## ")[0]


def commands() -> list[str]:
    return re.findall(r"^```sh\n(.*?)^```$", section("Two commands"), re.DOTALL | re.MULTILINE)


def test_exactly_two_commands_of_one_line_each() -> None:
    job, tests = commands()
    assert job.count("\n") == tests.count("\n") == 1
    for command in (job, tests):
        assert command.startswith("python3.11 -m venv .venv && .venv/bin/pip install ")
        assert "\\" not in command
    assert job.endswith("&& .venv/bin/geomgen build specs/brackenhall-20-sprint.yaml\n")
    assert tests.endswith("&& .venv/bin/pytest\n")
    assert "```sh" not in README.replace(section("Two commands"), "")


def test_the_job_comes_first() -> None:
    first = README.split("\n## ")[0]
    assert first.startswith("# geomgen\n\n")
    assert first.count("\n\n") == 1, "a title and one paragraph"
    assert README.split("\n## ")[1].startswith("Two commands\n")


def test_ci_takes_the_same_words() -> None:
    """The shell that CI reads README with finds what this file finds."""
    text = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    function = text[text.index("command_of() {") : text.index("\npackages=")]
    for number, command in enumerate(commands(), start=1):
        found = subprocess.run(
            ["bash", "-c", f'here="{ROOT}"\n{function}\ncommand_of {number}'],
            capture_output=True,
            text=True,
            check=True,
        )
        assert found.stdout == command
    line = next(line for line in text.splitlines() if line.startswith("packages="))
    found = subprocess.run(
        ["bash", "-c", f'here="{ROOT}"\n{line}\nprintf %s "$packages"'],
        capture_output=True,
        text=True,
        check=True,
    )
    assert "libgl1" in found.stdout.split()
    assert f"`apt-get install -y {found.stdout}`" in README


def test_every_file_of_a_build_has_its_row(demo_build: Path) -> None:
    patterns = re.findall(r"^\| `([^`]+)` \|", section("What comes out"), re.MULTILINE)
    made = [p.relative_to(demo_build).as_posix() for p in demo_build.rglob("*") if p.is_file()]
    for path in made:
        assert any(fnmatch(path, pattern) for pattern in patterns), path
    for pattern in patterns:
        assert any(fnmatch(path, pattern) for path in made), pattern


def test_links_and_pictures_lead_somewhere() -> None:
    targets = re.findall(r"\]\(([^)#]+)\)", README)
    assert len(targets) > 4
    for target in targets:
        assert (ROOT / target).exists(), target


def test_commands_of_daily_use_exist() -> None:
    from geomgen.cli.main import cli

    named = set(re.findall(r"^\| `geomgen (\w+)", section("Daily use"), re.MULTILINE))
    assert named == set(cli.commands)
