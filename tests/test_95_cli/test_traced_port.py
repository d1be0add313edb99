"""A manifold whose ports are traced: laid out, built from its lock, and refused in words."""

import json
import os

import pytest

from geomgen.cli import pipeline
from geomgen.design.laying import task
from geomgen.errors import SpecError

SAID = "{shape: traced, file: parts/larkwell-gasket.dxf, layer: PORT, pitch: 92}"


@pytest.fixture
def folder(tmp_path, demo_file):
    (tmp_path / "parts").mkdir()
    gasket = demo_file.parent / "parts" / "larkwell-gasket.dxf"
    (tmp_path / "parts" / "larkwell-gasket.dxf").write_bytes(gasket.read_bytes())
    return tmp_path


def spec(folder, demo_file, ports=SAID):
    text = demo_file.read_text()
    changed = text.replace("{shape: oval, width: 45, height: 37, pitch: 92}", ports)
    changed = changed.replace("{length: 45}", "{length: auto}")
    assert changed != text
    file = folder / "traced.yaml"
    file.write_text(changed)
    return file


def test_traced_ports_are_checked_and_their_file_is_an_input(folder, demo_file, geomgen):
    file = spec(folder, demo_file)
    run = geomgen("check", file, "--json", cwd=folder)
    told = json.loads(run.stdout)
    found = {row["name"]: row for row in told["checks"]}
    traced = found["traced-outline"]
    assert traced["verdict"] == "pass"
    assert traced["value"] <= traced["limit"] == 0.1
    assert "drawn twice" in traced["message"]
    assert found["window-perimeter"]["verdict"] == "pass"
    assert found["inward-step"]["verdict"] == "pass"
    assert found["transition-wall"]["verdict"] == "pass"
    assert "parts/larkwell-gasket.dxf_sha256" in told["inputs"]


def test_a_changed_trace_is_another_question_to_the_lock(folder, demo_file):
    source = pipeline.load(spec(folder, demo_file))
    before = task(source.spec, None, source.files).inputs
    gasket = folder / "parts" / "larkwell-gasket.dxf"
    gasket.write_bytes(gasket.read_bytes().replace(b"PORT", b"port"))
    again = pipeline.load(spec(folder, demo_file))
    assert task(again.spec, None, again.files).inputs != before


def refused(file):
    with pytest.raises(SpecError) as caught:
        pipeline.load(file)
    (problem,) = caught.value.problems
    assert problem.line > 0
    assert problem.remedy
    return problem


def test_a_link_that_leads_out_is_refused(folder, demo_file, tmp_path_factory):
    away = tmp_path_factory.mktemp("away") / "gasket.dxf"
    away.write_bytes((folder / "parts" / "larkwell-gasket.dxf").read_bytes())
    (folder / "parts" / "link.dxf").symlink_to(away)
    problem = refused(spec(folder, demo_file, SAID.replace("larkwell-gasket", "link")))
    assert "outside" in problem.allowed


@pytest.mark.parametrize("name", ["/etc/passwd.dxf", "../away.dxf", "parts/../../away.dxf"])
def test_other_folders_are_refused(folder, demo_file, name):
    ports = SAID.replace("parts/larkwell-gasket.dxf", name)
    assert "own folder" in refused(spec(folder, demo_file, ports)).allowed


def test_missing_odd_and_huge_files_are_refused(folder, demo_file):
    file = spec(folder, demo_file)
    gasket = folder / "parts" / "larkwell-gasket.dxf"
    gasket.unlink()
    assert "No such file" in refused(file).allowed
    gasket.mkdir()
    assert "folder" in refused(file).allowed
    gasket.rmdir()
    os.mkfifo(gasket)
    assert "no plain file" in refused(file).allowed
    gasket.unlink()
    with gasket.open("wb") as stream:
        stream.truncate(100_000_000)
    assert "MB" in refused(file).allowed
    gasket.write_bytes(os.urandom(5000))
    assert "DXF" in refused(file).allowed
    gasket.write_text("0\nSECTION\n2\nENTITIES\n0\nENDSEC\n0\nEOF\n")
    assert "no lines or curves" in refused(file).found


def test_traced_windows_that_overlap_are_told_with_their_line(folder, demo_file):
    ports = SAID.replace("pitch: 92", "pitch: 50")
    problem = refused(spec(folder, demo_file, ports))
    assert "between the windows" in problem.found
