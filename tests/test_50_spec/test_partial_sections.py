"""A wrong key does not hide what else is wrong with its section."""

from pathlib import Path

from geomgen.spec.load import load

DEMO = (Path(__file__).parents[2] / "specs" / "brackenhall-20-sprint.yaml").read_text("utf-8")


def complaints(*changes: tuple[str, str]) -> set[str]:
    text = DEMO
    for old, new in changes:
        assert old in text
        text = text.replace(old, new, 1)
    return {".".join(map(str, p.path)) for p in load(text, "x.yaml").problems}


def test_a_bad_word_does_not_hide_a_bad_firing_order() -> None:
    found = complaints(("use: race", "use: rally"), ("[1, 3, 4, 2]", "[1, 3, 3, 2]"))
    assert found == {"engine.use", "engine.firing_order"}


def test_an_unknown_key_does_not_hide_a_set_back_through_the_plate() -> None:
    found = complaints(("hole_class:", "hole_clas:"), ("set_back: 2 ", "set_back: 12 "))
    assert found == {"flange.hole_clas", "flange.set_back"}


def test_what_is_left_out_is_not_called_missing() -> None:
    """The cam cannot be used; that tuning has none must not be a second complaint."""
    found = complaints(("exhaust_opens: 62", "exhaust_opens: soon"))
    assert found == {"engine.cam.exhaust_opens"}


def test_a_gas_temperature_that_no_gas_table_holds_is_refused() -> None:
    """Properties of burnt petrol are held from 250 to 2000 K."""
    for said in ("2500 degC", "-100"):
        assert complaints(("gas_temperature: 727 degC", f"gas_temperature: {said}")) == {
            "engine.gas_temperature"
        }
