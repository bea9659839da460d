"""The bill of materials, counted by hand."""

from doorwright.model.power import Supply
from doorwright.model.unit import KeyModule
from doorwright.model.walk import Walk
from doorwright.plan.materials import bill_of_materials
from tests.unit.plan.block import block, plus, run, switch, unit


def test_everything_is_counted_by_type_and_cable_is_summed_by_kind() -> None:
    site = plus(
        block({"A": {1: ["1", "2"]}}),
        unit("uru second", profile="uru-audio", dwelling="A/1"),
        KeyModule(id="m", unit="vcu A", profile="key-module-6", ordinal=1),
        switch("S1"),
        Supply(id="p", name="P", profile="supply-12v-5a"),
        run("a", "S1", "uru A/1", cable="cat6", length_m=20.4),
        run("b", "S1", "uru A/2", cable="cat6", length_m=10.3),
        run("c", "S1", "uru second", cable="cat6"),
        run("d", "p", "door"),
    )
    lines = {(line.group, line.key): (line.amount, line.measure) for line in bill_of_materials(Walk(site))}
    assert lines == {
        ("units", "vcu-directory"): (1, "pieces"),
        ("units", "uru-video"): (2, "pieces"),
        ("units", "uru-audio"): (1, "pieces"),
        ("modules", "key-module-6"): (1, "pieces"),
        ("switches", "switch-8"): (1, "pieces"),
        ("supplies", "supply-12v-5a"): (1, "pieces"),
        ("cable", "cat6"): (30.7, "m"),
        ("cable", "cable not chosen"): (0, "m"),
    }


def test_runs_without_length_are_told_of() -> None:
    site = plus(
        block({}), switch("S"), run("a", "S", "x", cable="cat6", length_m=5.0), run("b", "S", "y", cable="cat6")
    )
    (line,) = [line for line in bill_of_materials(Walk(site)) if line.group == "cable"]
    assert line.remark == "1 of 2 runs have no length"


def test_a_type_without_data_sheet_goes_by_its_key() -> None:
    (line,) = bill_of_materials(Walk(plus(block({}), switch("S", "unheard-of"))))
    assert (line.key, line.title, line.amount) == ("unheard-of", "unheard-of", 1)
