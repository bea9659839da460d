"""The bill of materials, counted and priced by hand."""

from dataclasses import replace
from datetime import UTC, datetime
from decimal import Decimal
from io import BytesIO
from typing import Any

import pytest
from python_calamine import CalamineWorkbook

from doorwright.model.network import Junction
from doorwright.model.part import Part
from doorwright.model.power import Supply
from doorwright.model.price import Price, PricedBy
from doorwright.model.unit import KeyModule
from doorwright.model.walk import Walk
from doorwright.plan.materials import Bill, Material, bill_of_materials, drums_count
from doorwright.render.pdf.papers.materials import materials
from doorwright.render.xlsx import bill_xlsx
from tests.unit.plan.block import block, plus, run, switch, unit


def bill(*parts: Part, homes: int = 0, currency: str | None = "EUR", **choices: Any) -> Bill:
    site = plus(block({"A": {1: [str(n + 1) for n in range(homes)]}} if homes else {}, **choices), *parts)
    return bill_of_materials(Walk(replace(site, currency=currency)))


def only(bill: Bill, key: str) -> Material:
    (line,) = [line for line in bill.lines if line.key == key]
    return line


def price(item: str, amount: str, per: PricedBy = PricedBy.PIECE, drum_m: float | None = None) -> Price:
    return Price(id=f"price {item} {amount}", item=item, amount=Decimal(amount), per=per, drum_m=drum_m)


def test_everything_is_counted_by_type_and_cable_is_summed_by_kind() -> None:
    found = bill(
        unit("uru second", profile="uru-audio", dwelling="A/1"),
        KeyModule(id="m", unit="vcu A", profile="key-module-6", ordinal=1),
        switch("S1"),
        Supply(id="p", name="P", profile="supply-12v-5a", battery_ah=7.0),
        Junction(id="j", name="J1"),
        run("a", "S1", "uru A/1", cable="cat6", length_m=20.4),
        run("b", "S1", "uru A/2", cable="cat6", length_m=10.3),
        run("c", "S1", "uru second", cable="cat6"),
        run("d", "p", "door"),
        homes=2,
    )
    assert {(line.group, line.key): (str(line.amount), line.measure) for line in found.lines} == {
        ("units", "vcu-directory"): ("1", "pieces"),
        ("units", "uru-video"): ("2", "pieces"),
        ("units", "uru-audio"): ("1", "pieces"),
        ("modules", "key-module-6"): ("1", "pieces"),
        ("switches", "switch-8"): ("1", "pieces"),
        ("supplies", "supply-12v-5a"): ("1", "pieces"),
        ("supplies", "battery-7ah"): ("1", "pieces"),
        ("junctions", "junction"): ("1", "pieces"),
        ("cable", "cat6"): ("30.7", "m"),
        ("cable", "cable not chosen"): ("0", "m"),
    }
    assert not found.has_prices


def test_runs_without_length_are_told_of() -> None:
    found = bill(switch("S"), run("a", "S", "x", cable="cat6", length_m=5.0), run("b", "S", "y", cable="cat6"))
    assert only(found, "cat6").remark == "1 of 2 runs have no length"


def test_a_type_without_data_sheet_goes_by_its_key() -> None:
    (line,) = bill(switch("S", "unheard-of")).lines
    assert (line.key, line.title, line.amount) == ("unheard-of", "unheard-of", Decimal(1))


@pytest.mark.parametrize(("homes", "ratio", "order"), [(40, 0.05, 42), (41, 0.05, 44), (1, 0.05, 2), (30, 0.0, 30)])
def test_spare_parts_are_rounded_up(homes: int, ratio: float, order: int) -> None:
    """By hand: 40 × 0.05 = 2; 41 × 0.05 = 2.05, so 3; 1 × 0.05 = 0.05, so 1."""
    assert only(bill(homes=homes, spare_parts_ratio=ratio), "uru-video").order == order


def test_sums_by_hand() -> None:
    """3 video URUs and 1 spare (3 × 0.1 = 0.3, up) at 129.90 = 519.60; 2 VCUs (1 spare) at 0.10 = 0.20: 519.80.

    Cable by the metre: (20.1 + 30.2) × 1.1 = 55.33, up to 56 m at 0.35 = 19.60. In all 539.40. Binary floats would
    give 0.30000000000000004 for the like of 3 × 0.10.
    """
    found = bill(
        run("a", "S", "uru A/1", cable="cat6", length_m=20.1),
        run("b", "S", "uru A/2", cable="cat6", length_m=30.2),
        price("uru-video", "129.90"),
        price("vcu-directory", "0.10"),
        price("cat6", "0.35", PricedBy.METRE),
        homes=3,
        spare_parts_ratio=0.1,
        waste_ratio=0.1,
    )
    assert only(found, "uru-video").cost == Decimal("519.60")
    assert (only(found, "cat6").amount, only(found, "cat6").order) == (Decimal("50.3"), Decimal(56))
    assert found.total("units").cost == Decimal("519.80")
    assert found.total("cable").cost == Decimal("19.60")
    assert found.total_words() == "539.40 EUR"


def test_a_total_says_what_it_leaves_out() -> None:
    found = bill(
        switch("S"),
        Junction(id="j", name="J1"),
        run("a", "S", "uru A/1", cable="cat6", length_m=20.0),
        run("b", "S", "uru A/2", cable="cat6"),
        price("uru-video", "1000"),
        price("cat6", "1", PricedBy.METRE),
        homes=2,
        spare_parts_ratio=0.0,
        waste_ratio=0.0,
    )
    # 2 × 1000 + 20 × 1; without the VCU, the switch and the junction box, and run b has no length
    assert found.total_words() == "2,020 EUR, without prices for 3 items, without 1 run of no length"
    assert found.total().unpriced == ("vcu-directory", "switch-8", "junction")
    assert found.total("switches").leaves_out == "without prices for 1 item"


def test_whole_drums_of_runs_in_one_piece() -> None:
    """Four runs of 60 m, no waste: 240 m are 3 drums of 100 m by sum, but no drum gives two runs of 60 m: 4 drums.

    4 × 100 - 240 = 160 m left over; 4 × 31.50 = 126.00.
    """
    runs = [run(f"r{n}", "S", f"uru A/{n}", cable="cat6", length_m=60.0) for n in range(4)]
    found = bill(*runs, price("cat6", "31.50", PricedBy.DRUM, 100.0), waste_ratio=0.0)
    line = only(found, "cat6")
    assert (line.order, line.order_measure, line.cost) == (Decimal(4), "drums of 100 m", Decimal("126.00"))
    assert line.remark == "4 runs; 160.0 m left over"


def test_drums_by_hand() -> None:
    """90 + 10, 70 + 30, 50 fill three drums of 100 m; 250 m takes two and half a third, where 40 m fit too."""
    assert drums_count(map(Decimal, (10, 30, 50, 70, 90)), Decimal(100)) == 3
    assert drums_count(map(Decimal, (250, 40)), Decimal(100)) == 3
    assert drums_count((), Decimal(100)) == 0


def test_a_run_longer_than_a_drum_is_told_of() -> None:
    found = bill(
        run("r", "S", "x", cable="cat6", length_m=120.0),
        price("cat6", "30", PricedBy.DRUM, 100.0),
        waste_ratio=0.0,
    )
    assert only(found, "cat6").remark == "1 run; 80.0 m left over; 1 run longer than a drum: joined"


def test_prices_that_do_not_fit_are_told_of_and_price_nothing() -> None:
    found = bill(
        switch("S"),
        run("r", "S", "x", cable="cat6", length_m=10.0),
        price("switch-8", "3", PricedBy.METRE),
        price("cat6", "3"),
        price("cat6", "30", PricedBy.DRUM),
    )
    assert only(found, "switch-8").remark == "1 of them spare; priced by the metre, not by the piece"
    assert only(found, "cat6").remark == (
        "1 run; priced by the piece, not by length; priced by the drum, length of the drum not given"
    )
    assert found.total_words() == "0 EUR, without prices for 2 items"


def test_the_cheapest_of_several_prices_counts() -> None:
    """10 m at 0.50 are 5.00; a drum of 305 m at 80 is dearer for so little."""
    found = bill(
        run("r", "S", "x", cable="cat6", length_m=10.0),
        price("cat6", "80", PricedBy.DRUM, 305.0),
        price("cat6", "0.50", PricedBy.METRE),
        waste_ratio=0.0,
    )
    assert only(found, "cat6").cost == Decimal("5.00")
    assert "cheapest of 2 prices" in only(found, "cat6").remark


def test_cable_that_is_not_chosen_has_no_price() -> None:
    found = bill(run("r", "S", "x", length_m=10.0), price("cable not chosen", "1", PricedBy.METRE))
    assert found.total().unpriced == ("cable not chosen",)


def test_paper_and_sheet_say_the_same() -> None:
    site = plus(block({"A": {1: ["1"]}}, spare_parts_ratio=0.0), price("uru-video", "129.90"))
    walk = Walk(replace(site, currency="GBP"))
    paper = materials(walk)
    assert paper is not None
    assert paper["total"] == "129.90 GBP, without prices for 1 item"
    assert paper["unpriced"] == "vcu-directory"
    made_at = datetime(2026, 1, 1, tzinfo=UTC)
    content = bill_xlsx(bill_of_materials(walk), title="Bill", made_at=made_at)
    assert content == bill_xlsx(bill_of_materials(walk), title="Bill", made_at=made_at)
    rows = CalamineWorkbook.from_filelike(BytesIO(content)).get_sheet_by_index(0).to_python()
    assert rows[0][7:9] == ["Price, GBP", "Cost, GBP"]
    totals = {str(row[0]): (row[8], row[9]) for row in rows if "otal" in str(row[0])}
    assert totals == {
        "Units: total": (129.9, "without prices for 1 item"),
        "Total": (129.9, "without prices for 1 item: vcu-directory"),
    }
