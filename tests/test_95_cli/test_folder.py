"""Output folders: whole or not there, never half; nothing of anybody else's is touched."""

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from geomgen.cli import folder
from geomgen.exports import manifest

SCRIPT = Path(__file__).with_name("crash_script.py")
FILES = {"result.json": b"{}", "flats/flange.dxf": b"0\nEOF\n"}


def names(out: Path) -> list[str]:
    return sorted(path.name for path in out.iterdir())


def test_a_killed_write_leaves_the_old_or_the_new_whole(tmp_path: Path) -> None:
    """SIGKILL at every file-system event in turn, in a real process."""
    run = subprocess.run(
        [sys.executable, str(SCRIPT), str(tmp_path / "out")],
        capture_output=True,
        text=True,
        check=True,
        timeout=120,
    )
    rows = [line.split() for line in run.stdout.splitlines()]
    assert len(rows) > 25
    assert [row[-1] for row in rows] == ["died"] * (len(rows) - 1) + ["finished"]
    assert {row[1] for row in rows} == {"old", "new"}
    assert rows[-1][1] == "new"
    assert all(row[2] == "new" and row[3] == "clean" for row in rows)


def test_first_second_and_third(tmp_path: Path) -> None:
    for content in (b"1", b"2", b"3"):
        folder.write(tmp_path, "demo", {"result.json": content})
    assert names(tmp_path) == ["demo", "demo.previous"]
    assert (tmp_path / "demo" / "result.json").read_bytes() == b"3"
    assert (tmp_path / "demo.previous" / "result.json").read_bytes() == b"2"


def test_the_previous_folder_stays_while_the_new_one_is_broken(tmp_path: Path) -> None:
    for content in (b"1", b"2"):
        folder.write(tmp_path, "demo", {"result.json": content})
    (tmp_path / "demo" / "result.json").write_bytes(b"spoilt")
    folder.write(tmp_path, "demo", {"result.json": b"3"})
    assert (tmp_path / "demo.previous" / "result.json").read_bytes() == b"1"
    assert (tmp_path / "demo" / "result.json").read_bytes() == b"3"


def test_manifest_says_what_is_there(tmp_path: Path) -> None:
    made = folder.write(tmp_path, "demo", FILES)
    promised = manifest.read((made / "manifest.json").read_bytes())
    assert promised == {path: manifest.digest(content) for path, content in FILES.items()}
    held = {p.relative_to(made).as_posix() for p in made.rglob("*") if p.is_file()}
    assert held == {*FILES, "manifest.json"}


@pytest.mark.parametrize(
    "spoil",
    [
        lambda made: (made / "result.json").write_bytes(b"x"),
        lambda made: (made / "result.json").unlink(),
        lambda made: (made / "flats" / "flange.dxf").write_bytes(b""),
    ],
)
def test_a_spoilt_folder_is_not_whole(tmp_path: Path, spoil) -> None:
    made = folder.write(tmp_path, "demo", FILES)
    assert folder.state(made) == "whole"
    spoil(made)
    assert folder.state(made) == "broken"


def test_a_linked_file_is_not_whole(tmp_path: Path) -> None:
    made = folder.write(tmp_path, "demo", FILES)
    (tmp_path / "elsewhere").mkdir()
    (made / "flats" / "flange.dxf").rename(tmp_path / "elsewhere" / "flange.dxf")
    (made / "flats").rmdir()
    (made / "flats").symlink_to(tmp_path / "elsewhere")
    assert folder.state(made) == "broken"


@pytest.mark.parametrize("which", ["demo", "demo.previous"])
@pytest.mark.parametrize("kind", ["folder", "file", "link", "dangling", "foreign manifest"])
def test_what_geomgen_did_not_make_is_refused(tmp_path: Path, which: str, kind: str) -> None:
    out, place = tmp_path / "out", tmp_path / "out" / which
    out.mkdir()
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "cat.png").write_bytes(b"cat")
    if kind == "folder":
        place.mkdir()
        (place / "notes.txt").write_text("mine")
    elif kind == "file":
        place.write_text("mine")
    elif kind == "link":
        place.symlink_to(tmp_path / "photos")
    elif kind == "dangling":
        place.symlink_to(tmp_path / "nowhere")
    else:
        place.mkdir()
        (place / "manifest.json").write_text('{"files": {}}')
    before = sorted(str(p) for p in tmp_path.rglob("*"))
    with pytest.raises(folder.FolderError, match="not made by geomgen"):
        folder.write(out, "demo", FILES)
    assert sorted(str(p) for p in tmp_path.rglob("*")) == before


def test_a_users_own_file_is_never_deleted(tmp_path: Path) -> None:
    folder.write(tmp_path, "demo", {"result.json": b"1"})
    (tmp_path / "demo" / "notes.txt").write_text("mine")
    folder.write(tmp_path, "demo", {"result.json": b"2"})
    assert (tmp_path / "demo.previous" / "notes.txt").read_text() == "mine"
    with pytest.raises(folder.FolderError, match=r"notes\.txt was not made by geomgen"):
        folder.write(tmp_path, "demo", {"result.json": b"3"})
    assert (tmp_path / "demo.previous" / "notes.txt").read_text() == "mine"
    assert folder.state(tmp_path / "demo") == "whole"


def test_a_planted_working_folder_link_is_not_followed(tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    (tmp_path / "photos").mkdir()
    (tmp_path / "photos" / "cat.png").write_bytes(b"cat")
    (out / ".demo.making").symlink_to(tmp_path / "photos")
    made = folder.write(out, "demo", FILES)
    assert not made.is_symlink()
    assert names(tmp_path / "photos") == ["cat.png"]


@pytest.mark.parametrize(
    "name", ["", ".", "..", "a/b", "../up", "a b", "-x", ".hidden", "demo.previous", "a" * 81, "ø"]
)
def test_bad_names_are_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(folder.FolderError, match="cannot name a folder"):
        folder.write(tmp_path, name, FILES)
    assert names(tmp_path) == []


@pytest.mark.parametrize(
    "path", ["", "../x", "a/../b", "/etc/x", "a//b", "manifest.json", ".x", "a\\b", "x\n"]
)
def test_bad_file_names_are_refused(tmp_path: Path, path: str) -> None:
    with pytest.raises(folder.FolderError, match="cannot name an output file"):
        folder.write(tmp_path, "demo", {path: b""})
    assert names(tmp_path) == []


def test_a_full_disk_leaves_the_old_folder(tmp_path: Path) -> None:
    """A file-size limit makes the system refuse the write, as a full disk would."""
    folder.write(tmp_path, "demo", FILES)
    code = (
        "import resource, sys, pathlib\n"
        "from geomgen.cli import folder\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000))\n"
        "try:\n"
        "    folder.write(pathlib.Path(sys.argv[1]), 'demo', {'big.step': b'x' * 5000})\n"
        "except OSError as error:\n"
        "    print('refused', error.errno)\n"
    )
    run = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path)], capture_output=True, text=True, check=True
    )
    assert run.stdout.startswith("refused")
    assert names(tmp_path) == ["demo"]
    assert folder.state(tmp_path / "demo") == "whole"


@given(st.binary(max_size=200))
def test_no_manifest_text_is_trusted(text: bytes) -> None:
    assert manifest.read(text) is None


def test_a_deeply_nested_manifest_is_no_manifest() -> None:
    assert manifest.read(b"[" * 200_000) is None
