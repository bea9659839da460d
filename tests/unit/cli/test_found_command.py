"""`found`: from a settings table to differences, findings and back."""

import os
from pathlib import Path

import pytest

from doorwright.store.book import Book
from tests.unit.cli.conftest import Doorwright

MAPPED = ("--map", "unit=Device", "--map", "address=IP", "--map", "mac=MAC", "--by", "A. Fitter")
TEXT = "Device;IP;MAC;Password\nPanel A;192.0.2.99;00:00:5e:00:53:02;hunter2\nNobody;203.0.113.7;;x\n"


@pytest.fixture
def settings(tmp_path: Path) -> Path:
    place = tmp_path / "settings.csv"
    place.write_text(TEXT, encoding="utf-8")
    os.utime(place, (1_700_000_000, 1_700_000_000))  # 2023-11-14 22:13:20 UTC
    return place


def kept(book: Path) -> int:
    with Book.open(book, read_only=True) as opened:
        return len(opened.observations())


def test_a_table_is_taken_in_once_under_a_mapping_that_is_kept(
    doorwright: Doorwright, book: Path, settings: Path
) -> None:
    first = doorwright("found", book, settings, "--as", "units", *MAPPED, "--json")
    assert first.code == 0
    assert (first.json["new_count"], first.json["strangers_count"]) == (4, 1)
    assert first.json["seen_at"] == "2023-11-14T22:13:20Z"
    assert "hunter2" not in first.out

    again = doorwright("found", book, settings, "--as", "units", "--json")
    assert again.json["new_count"] == 0
    assert kept(book) == 4

    maps = doorwright("found", book, "--mappings", "--json").json
    assert [(one["name"], one["by"], len(one["columns"])) for one in maps] == [("units", "A. Fitter", 3)]
    assert "Device" in doorwright("found", book, "--mappings").out


def test_what_differs_is_listed_and_found_by_the_rules(doorwright: Doorwright, book: Path, settings: Path) -> None:
    assert "Nothing was found yet" in doorwright("found", book).out
    doorwright("found", book, settings, "--as", "units", *MAPPED)

    # Panel A is planned at 192.0.2.18 (doorwright show BOOK addresses); its MAC address is as planned
    listed = doorwright("found", book, "--json").json
    assert [(one["part"]["label"], one["aspect"], one["found"]) for one in listed["differences"]] == [
        ("Panel A", "IP address", "192.0.2.99")
    ]
    assert listed["not_in_plan"][0]["identity"] == "Nobody"
    assert (listed["seen"], listed["parts"]) == (1, 84)
    assert "at Panel A enter IP address" in doorwright("found", book).out

    rules = [one["rule"] for one in doorwright("check", book, "--json").json["findings"]]
    assert rules.count("found-address-differs") == 1
    assert rules.count("found-unit-not-in-plan") == 1


def test_a_later_table_puts_it_right(doorwright: Doorwright, book: Path, settings: Path) -> None:
    doorwright("found", book, settings, "--as", "units", *MAPPED)
    planned = doorwright("found", book, "--json").json["differences"][0]["planned"]
    settings.write_text(f"Device;IP;MAC\nPanel A;{planned};\n", encoding="utf-8")
    assert doorwright("found", book, settings, "--as", "units", "--seen-at", "2024-01-02T10:00").code == 0
    assert doorwright("found", book, "--json").json["differences"] == []


def test_a_table_with_a_mistake_leaves_nothing_behind(doorwright: Doorwright, book: Path, settings: Path) -> None:
    settings.write_text(TEXT.replace("192.0.2.99", "192.0.2.999"), encoding="utf-8")
    ran = doorwright("found", book, settings, "--as", "units", *MAPPED, "--json")
    assert ran.code == 2
    assert [mistake["where"] for mistake in ran.json["mistakes"]] == ['sheet "settings", row 2, column B "IP"']
    assert kept(book) == 0
    assert doorwright("found", book, "--mappings", "--json").json == []


def test_without_a_mapping_a_guess_is_offered_and_nothing_read(
    doorwright: Doorwright, book: Path, settings: Path
) -> None:
    ran = doorwright("found", book, settings, "--as", "units")
    assert ran.code == 2
    assert '--map "unit=Device" --map "address=IP" --map "mac=MAC"' in ran.err
    assert "Password=" not in ran.err
    assert kept(book) == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["TABLE"], "--as NAME"),
        (["--as", "units"], "a table is needed"),
        (["TABLE", "--mappings"], "leave the table out"),
        (["TABLE", "--as", "u", "--map", "mac=MAC", "--seen-at", "2999-01-01"], "has not come yet"),
        (["nowhere.csv", "--as", "u", "--map", "mac=MAC"], "nowhere.csv"),
    ],
)
def test_misuse_is_refused(doorwright: Doorwright, book: Path, settings: Path, arguments: list[str], said: str) -> None:
    ran = doorwright("found", book, *(settings if word == "TABLE" else word for word in arguments))
    assert ran.code == 2
    assert said in ran.err
