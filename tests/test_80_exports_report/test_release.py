"""What is released and what is withheld, as a pure function of the findings."""

from hypothesis import given
from hypothesis import strategies as st

from geomgen.design.model import Waiver
from geomgen.errors import Finding, Verdict
from geomgen.report.cautions import CAUTIONS
from geomgen.report.release import MARK, failed, idle, is_cut_from, release, waived

FILES = {
    "demo.step": b"s",
    "parts/runner_1.step": b"p",
    "head_flange.dxf": b"d",
    "bend_table_lra.csv": b"b",
    "result.json": b"r",
    "assembly.png": b"i",
    "head_flange.svg": b"v",
    f"step/demo_{MARK}.step": b"m",
}

findings = st.lists(
    st.builds(
        Finding,
        name=st.sampled_from(["runner-length", "stud-access", "web"]),
        subject=st.just("x"),
        verdict=st.sampled_from(list(Verdict)),
        message=st.just("said so"),
    )
)


def finding(name: str, verdict: Verdict) -> Finding:
    return Finding(name, "runner 1", verdict, "788 mm against 780 mm")


def test_a_good_design_is_released_whole() -> None:
    outcome = release([finding("a", Verdict.PASS), finding("b", Verdict.WARN)], FILES)
    assert outcome.exit_code == 0
    assert outcome.withheld == ()
    assert set(outcome.files) == {path for path in FILES if MARK not in path}


def test_a_failure_withholds_what_is_cut() -> None:
    outcome = release([finding("a", Verdict.PASS), finding("b", Verdict.FAIL)], FILES)
    assert outcome.exit_code == 1
    assert outcome.withheld == (
        "bend_table_lra.csv",
        "demo.step",
        "head_flange.dxf",
        "parts/runner_1.step",
    )
    assert set(outcome.files) == {
        "result.json",
        "assembly.png",
        "head_flange.svg",
        f"step/demo_{MARK}.step",
    }


def test_a_kind_nobody_classed_counts_as_cut_from() -> None:
    assert is_cut_from("nest.gcode")
    assert is_cut_from("result.json.dxf")


@given(findings)
def test_nothing_is_lost_or_changed(found: list[Finding]) -> None:
    outcome = release(found, FILES)
    assert outcome.exit_code == int(any(f.verdict is Verdict.FAIL for f in found))
    for path, content in outcome.files.items():
        assert FILES[path] == content
        assert not (outcome.exit_code and is_cut_from(path))
    real = {path for path in FILES if MARK not in path}
    assert set(outcome.withheld) | set(outcome.files) >= real
    assert not set(outcome.withheld) & set(outcome.files)


@given(findings)
def test_a_waiver_changes_failures_of_its_name_only(found: list[Finding]) -> None:
    after = waived(found, [Waiver("web", None, "agreed with the cutter")])
    assert len(after) == len(found)
    for old, new in zip(found, after, strict=True):
        if old.name == "web" and old.verdict is Verdict.FAIL:
            assert new.verdict is Verdict.WAIVED
            assert "agreed with the cutter" in new.message
        else:
            assert new == old
    assert failed(after) == any(f.verdict is Verdict.FAIL and f.name != "web" for f in found)


def test_a_waiver_may_name_its_subject() -> None:
    gap = [
        Finding("runner-gap", subject, Verdict.FAIL, "too near") for subject in ("1 / 2", "3 / 4")
    ]
    after = waived(gap, [Waiver("runner-gap", "1 / 2", "wrapped")])
    assert [f.verdict for f in after] == [Verdict.WAIVED, Verdict.FAIL]


def test_a_waiver_of_a_proof_covers_all_that_it_says() -> None:
    said = [
        Finding(name, "head_flange", Verdict.FAIL, "open", source=source)
        for name, source in (("dxf", "proof"), ("dxf-loops", "proof"), ("dxf-loops", "check"))
    ]
    after = waived(said, [Waiver("dxf", None, "cut by hand")])
    assert [f.verdict for f in after] == [Verdict.WAIVED, Verdict.WAIVED, Verdict.FAIL]


def test_idle_waivers_are_found() -> None:
    used, unused = Waiver("web", None, "agreed"), Waiver("webb", None, "misspelt")
    assert idle([finding("web", Verdict.PASS)], [used, unused]) == (unused,)


def test_cautions_cover_the_hazards() -> None:
    said = " ".join(f"{c.topic} {c.text}" for c in CAUTIONS).lower()
    for word in (
        "estimates only", "mock-up", "chromium", "argon", "zinc", "chlorinated",
        "carbon monoxide", "fuel", "steering", "brakes", "local law", "emissions",
        "local codes", "qualified",
    ):  # fmt: skip
        assert word in said
