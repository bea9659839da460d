"""Supplies, junctions, locks, routes, prices and assumptions: as people write them, and again."""

from dataclasses import fields
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest

from doorwright.model.door import LockTakes
from doorwright.model.habits import CallHabits
from doorwright.model.media import MediaChoices
from doorwright.model.price import Price, PricedBy
from doorwright.model.site import PARTS, Choices, Site
from doorwright.store.workbook import workbook_bytes
from doorwright.store.workbook.columns import SETTINGS, SHEET_BY_KIND
from tests.unit.workbook.shelf import read, told
from tests.unit.workbook.test_mistakes import book, only

SHEETS: dict[str, list[list[Any]]] = {
    "Project": [
        ["Setting", "Value"], ["Currency", "EUR"], ["Cutting loss", "12 %"], ["Battery practice", "BS5839 1"],
        ["Calls per flat", 2.5], ["Calls answered", "65 %"], ["Packet time", "30 ms"], ["Multicast", "yes"],
        ["Hours of the day", ", ".join(["0"] * 7 + ["1.5"] * 17)],
        ["Diversity factor", "80 %"], ["PoE efficiency", 0.9],
    ],
    "Stair cores": [["Core", "X", "Y"], ["A", "40 ft", 2]],
    "Floors": [["Floor", "Cables may cross"], ["G", "x"], ["1", None]],
    "Flats": [["Floor", "Flat", "From riser"], ["G", 1, "7,5"], ["1", 2, 9]],
    "Rooms": [["Room", "Kind", "Floor", "Room for switches", "Main room"], ["Cupboard", "riser", "G", 2, "yes"]],
    "Entrances": [["Name", "Serves"], ["Gate", "all"]],
    "Locks": [
        ["Door", "Entrance", "Load type", "Inrush", "Holding current", "Diode", "Relock", "Request to exit",
         "Button height"],
        ["Leaf", "Gate", "constant power", "1.2 A", 0.2, "yes", "1.5 s", "no", "105 cm"],
        ["Side", "Gate", None, None, None, None, None, None, None],
    ],
    "PSUs": [
        ["Supply", "Type", "Battery", "Hour rate", "Battery temp", "Autonomy", "Of which busy"],
        ["PSU", "supply-12v-5a", "7 Ah", 20, "-2 °C", "4 h", 0.5],
    ],
    "SIP servers": [["Server", "Concurrent calls"], ["Registrar", 30], ["Spare", None]],
    "Junction boxes": [["Box", "Location"], ["Box 1", "Cupboard"]],
    "Cable schedule": [
        ["From", "To", "Fused at", "Bundled"], ["PSU", "Box 1", "2 A", None], ["Box 1", "Leaf", None, 6],
        ["Box 1", "Side", None, None],
    ],
    "Price list": [
        ["Article", "Net price", "Sold by", "Reel length"],
        ["switch-8", "€ 1.240,50", "ea", None], ["cat6", "148.00 EUR", "reel", "1000 ft"], ["2x1.5", 0.74, "lm", None],
        ["uru-video", "19.999999999999999999", None, None],
    ],
}  # fmt: skip


def test_facts_as_people_write_them(tmp_path: Path) -> None:
    reading = read(book(tmp_path, SHEETS))
    assert told(reading) == []
    site = reading.site
    assert (site.currency, site.choices.waste_ratio, site.choices.standby_practice) == ("EUR", 0.12, "bs5839-1")
    assert (site.choices.poe_diversity_ratio, site.choices.poe_efficiency_ratio) == (0.8, 0.9)
    assert [server.calls_max_count for server in site.servers] == [30, None]
    assert (site.habits.calls_per_dwelling_count, site.habits.answer_ratio) == (2.5, 0.65)
    assert site.habits.hour_weights == (0.0,) * 7 + (1.5,) * 17
    assert (site.media.packet_ms, site.media.video_multicast, site.media.tagged) == (30.0, True, True)
    assert (site.cores[0].x_m, site.cores[0].y_m) == (12.192, 2.0)  # 40 ft of 0.3048 m
    assert [(level.name, level.crosses) for level in site.levels] == [("G", True), ("1", False)]
    assert [home.run_m for home in site.dwellings] == [7.5, 9.0]
    assert (site.places[0].switches_max_count, site.places[0].main) == (2, True)
    leaf, side = site.doors
    assert (leaf.lock_takes, leaf.lock_inrush_a, leaf.lock_hold_a) == (LockTakes.POWER, 1.2, 0.2)
    assert (leaf.lock_suppressed, leaf.relock_s, leaf.exit_button) == (True, 1.5, False)
    assert (leaf.exit_button_height_mm, side.exit_button_height_mm) == (1050, None)
    assert (side.lock_takes, side.lock_suppressed, side.exit_button) == (LockTakes.CURRENT, None, None)
    (supply,) = site.supplies
    assert supply.battery_temperature_c == -2.0
    assert (supply.battery_rate_h, supply.standby_h, supply.standby_busy_h) == (20.0, 4.0, 0.5)
    (box,) = site.junctions
    assert box.place == site.places[0].id
    ends = [(run.near, run.far, run.fuse_a, run.bundle_count) for run in site.runs]
    assert ends == [(supply.id, box.id, 2.0, None), (box.id, leaf.id, None, 6), (box.id, side.id, None, None)]
    prices = [(price.item, str(price.amount), price.per, price.drum_m) for price in site.prices]
    assert prices == [
        ("switch-8", "1240.50", PricedBy.PIECE, None), ("cat6", "148.00", PricedBy.DRUM, 304.8),
        ("2x1.5", "0.74", PricedBy.METRE, None), ("uru-video", "19.999999999999999999", PricedBy.PIECE, None),
    ]  # fmt: skip


def test_the_same_workbook_again_changes_nothing(tmp_path: Path) -> None:
    path = book(tmp_path, SHEETS)
    site = read(path).site
    assert read(path, site).site == site


def test_a_junction_that_has_no_row_any_more_takes_its_cables_with_it(tmp_path: Path) -> None:
    site = read(book(tmp_path, SHEETS)).site
    less = book(tmp_path, SHEETS | {"Junction boxes": [["Box", "Location"], ["Box 2", "Cupboard"]],
                                    "Cable schedule": [["From", "To"], ["PSU", "Box 2"]]})  # fmt: skip
    after = read(less, site, remove_missing=True)
    assert told(after) == []
    assert [box.name for box in after.site.junctions] == ["Box 2"]
    assert [run.far for run in after.site.runs] == [after.site.junctions[0].id]


@pytest.mark.parametrize(
    ("sheet", "rows", "problem"),
    [
        ("Prices", [["Item", "Price"], ["cat6", "cheap"]], "this is no number"),
        ("Prices", [["Item", "Price"], ["cat6", -1]], "the amount is less than 0"),
        ("Prices", [["Item", "Price"], ["cat6", "12 per reel"]], '"per reel" is no currency'),
        ("Prices", [["Item", "Price"], ["cat6", "1,240"]], "the comma may stand for thousands or for decimals"),
        ("Prices", [["Item", "Price"], ["cat6", 1e15]], "the amount is too large to be a price"),
        ("Site", [["Hours of the day", "1, 2, 3"]], "there are 3 numbers, not one for each hour of the day"),
        ("Site", [["Hours of the day", ", ".join(["0"] * 24)]], "a weight is below zero, or none is above it"),
        ("Site", [["Hours of the day", "busy at noon"]], "this is no list of numbers"),
        ("Site", [["Share answered", "120 %"]], "this is more than the whole"),
        ("Site", [["PoE diversity", "120 %"]], "this is more than the whole"),
        ("Site", [["Standby practice", "guesswork"]], "this is no practice of standby known here"),
    ],
)
def test_what_cannot_be_read(tmp_path: Path, sheet: str, rows: list[list[Any]], problem: str) -> None:
    homes = [["Floor", "Flat"], ["G", 1]]
    assert only(tmp_path, {"Flats": homes, sheet: rows}).problem == problem


def test_weights_with_decimal_commas_are_told_apart_by_semicolons(tmp_path: Path) -> None:
    rows = [["Hours of the day", "; ".join(["0,5"] * 24)]]
    reading = read(book(tmp_path, {"Flats": [["Floor", "Flat"], ["G", 1]], "Site": rows}))
    assert told(reading) == []
    assert reading.site.habits.hour_weights == (0.5,) * 24


def test_an_amount_of_more_digits_than_a_cell_keeps_comes_back_to_the_last_one(tmp_path: Path) -> None:
    amount = Decimal("123456789.123456789012345")
    site = Site(name="S", prices=(Price(id="p", item="cat6", amount=amount),))
    path = tmp_path / "prices.xlsx"
    path.write_bytes(workbook_bytes(site, title="Prices"))
    assert str(read(path, site).site.prices[0].amount) == str(amount)
    assert [price.amount for price in read(path, Site(name="S")).site.prices] == [amount]


def test_every_field_of_the_model_has_a_column_or_a_setting() -> None:
    lacking = {
        (kind.__name__, field.name)
        for kind in PARTS
        for field in fields(kind)
        if field.name not in {name for column in SHEET_BY_KIND[kind].columns for name in column.fields}
    }
    # notes have columns of their own, and what kind a unit is its type says
    assert {(kind, name) for kind, name in lacking if name != "notes"} == {("Unit", "kind")}
    groups = {"choices": Choices, "habits": CallHabits, "media": MediaChoices}
    settings = {setting.field for setting in SETTINGS}
    assert {f"{group}.{field.name}" for group, kind in groups.items() for field in fields(kind)} <= settings
    tables = {kind.TABLE for kind in PARTS}
    own = {field.name for field in fields(Site)} - tables - groups.keys() - {"notes", "profiles"}
    assert own <= settings
