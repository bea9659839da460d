"""A second import changes what the workbook says otherwise, and nothing else."""

from pathlib import Path
from typing import Any

import openpyxl
import pytest

from doorwright.model.change import Add, Set, diff
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.store.workbook import template_bytes, workbook_bytes
from tests.unit.workbook.shelf import profiles, read, told


def book(path: Path, sheets: dict[str, Any]) -> Path:
    made = openpyxl.Workbook()
    del made["Sheet"]
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    made.save(path)
    return path


@pytest.fixture
def site(tmp_path: Path) -> Site:
    sheets: dict[str, Any] = {
        "Dwellings": [
            ["Dwelling", "Core", "Level", "Call number", "Tenure", "Unit type", "Serial"],
            ["1", "A", "0", "001", "rent", "uru-video", "Q00000001"],
            ["2", "A", "0", "002", None, "uru-video", None],
            ["1", "B", "1", None, None, None, None],
        ],
        "Entrances": [["Name", "Serves"], ["Front", "A, B/1"]],
        "Units": [["Name", "Type", "Entrance", "Serial"], ["Panel", "vcu-direct", "Front", "Q00000009"]],
        "Keys": [["Unit", "Module", "Key", "Dwelling"], ["Panel", 0, 1, "A/1"], ["Panel", 1, 1, "2"]],
        "Switches": [["Name", "Type"], ["SW1", "switch-8"]],
        "Cables": [["Name", "From", "To"], ["C1", "SW1", "Panel"], ["C2", "SW1", "URU 2"]],
    }
    reading = read(book(tmp_path / "first.xlsx", sheets))
    assert told(reading) == []
    return reading.site


def again(tmp_path: Path, site: Site, sheets: dict[str, Any], *, remove_missing: bool = False) -> Site:
    reading = read(book(tmp_path / "second.xlsx", sheets), site, remove_missing=remove_missing)
    assert told(reading) == []
    return reading.site


def test_the_same_rows_without_identifiers_in_another_order_change_nothing(tmp_path: Path, site: Site) -> None:
    rows = [["Level", "Dwelling", "Core"], ["1", "1", "B"], ["0", "2", "A"], ["0", "1", "A"]]
    assert again(tmp_path, site, {"Dwellings": rows}) == site


def test_a_blank_keeps_a_dash_clears_and_a_value_sets(tmp_path: Path, site: Site) -> None:
    rows = [
        ["Dwelling", "Core", "Call number", "Tenure"],
        ["1", "A", None, "-"],
        ["2", "A", "-", "sold"],
        ["1", "B", "9", None],
    ]
    after = again(tmp_path, site, {"Dwellings": rows})
    first, second, third = (dwelling.id for dwelling in site.dwellings)
    assert diff(site, after) == (
        Set("dwelling", first, "notes", (("Tenure", "rent"),), ()),
        Set("dwelling", second, "notes", (), (("Tenure", "sold"),)),
        Set("dwelling", second, "call_number", "002", None),
        Set("dwelling", third, "call_number", None, "9"),
    )


def test_what_must_be_known_cannot_be_cleared(tmp_path: Path, site: Site) -> None:
    rows = [["Dwelling", "Core", "Level"], ["1", "A", "-"]]
    reading = read(book(tmp_path / "second.xlsx", {"Dwellings": rows}), site)
    assert [mistake.problem for mistake in reading.mistakes] == ["this cannot be cleared"]
    assert reading.site == site


def test_a_row_renamed_under_its_identifier_is_the_same_part(tmp_path: Path, site: Site) -> None:
    path = tmp_path / "out.xlsx"
    path.write_bytes(workbook_bytes(site, title="Schedules"))
    made = openpyxl.load_workbook(path)
    sheet = made["Cores"]
    headings = [cell.value for cell in sheet[1]]
    sheet.cell(2, headings.index("Name") + 1).value = "East"
    made.save(path)
    reading = read(path, site)
    assert told(reading) == []
    assert diff(site, reading.site) == (Set("core", site.cores[0].id, "name", "A", "East"),)


def test_new_rows_come_behind_and_rows_left_out_are_kept_with_a_remark(tmp_path: Path, site: Site) -> None:
    rows = [["Dwelling", "Core", "Level"], ["3", "A", "0"], ["1", "A", "0"]]
    reading = read(book(tmp_path / "second.xlsx", {"Dwellings": rows}), site)
    added = Dwelling(id="new1", door_label="3", core=site.cores[0].id, level=site.levels[0].id)
    assert diff(site, reading.site) == (Add(added, 3),)
    (remark,) = (remark for remark in reading.remarks if "kept as it was" in remark.change)
    assert (remark.where, remark.count) == ('sheet "Dwellings"', 2)


def test_rows_left_out_are_removed_on_request_with_what_hangs_on_them(tmp_path: Path, site: Site) -> None:
    rows = [["Dwelling", "Core", "Level"], ["1", "A", "0"], ["1", "B", "1"]]
    after = again(tmp_path, site, {"Dwellings": rows}, remove_missing=True)
    assert [dwelling.id for dwelling in after.dwellings] == [site.dwellings[0].id, site.dwellings[2].id]
    assert [unit.name for unit in after.units] == ["Panel", "URU A/1"]
    assert [key.slot for key in after.keys] == [1]
    assert [run.name for run in after.runs] == ["C1"]


def test_a_core_is_not_removed_while_dwellings_lie_in_it(tmp_path: Path, site: Site) -> None:
    path = book(tmp_path / "second.xlsx", {"Cores": [["Name"], ["A"]]})
    reading = read(path, site, remove_missing=True)
    assert [mistake.problem for mistake in reading.mistakes] == [
        'the core "B" has no row any more, but the dwelling "1" needs it'
    ]
    assert reading.site == site


def test_first_receivers_are_amended_not_doubled(tmp_path: Path, site: Site) -> None:
    rows = [
        ["Dwelling", "Core", "Serial", "MAC"],
        ["1", "A", "Q00000001", "00005E005301"],
        ["2", "A", "Q00000002", None],
    ]
    after = again(tmp_path, site, {"Dwellings": rows})
    assert [(unit.name, unit.serial, unit.mac) for unit in after.units] == [
        ("Panel", "Q00000009", None),
        ("URU A/1", "Q00000001", "00-00-5E-00-53-01"),
        ("URU 2", "Q00000002", None),
    ]


def test_a_new_value_is_held_against_parts_that_are_not_in_the_file(tmp_path: Path, site: Site) -> None:
    rows = [["Name", "Type", "Serial"], ["SW1", "switch-8", "Q00000009"]]
    (mistake,) = read(book(tmp_path / "second.xlsx", {"Switches": rows}), site).mistakes
    assert mistake.problem == 'this serial number stands twice; the other is at the unit "Panel"'


def test_a_unit_of_another_type_brings_its_data_sheet_and_keeps_the_old(tmp_path: Path, site: Site) -> None:
    after = again(tmp_path, site, {"Units": [["Name", "Type"], ["Panel", "vcu-keypad"]]})
    assert after.profiles[: len(site.profiles)] == site.profiles
    assert [profile.key for profile in after.profiles[len(site.profiles) :]] == ["vcu-keypad"]


def test_the_data_sheets_of_the_site_go_before_those_given(tmp_path: Path, site: Site) -> None:
    from dataclasses import replace

    own = tuple(replace(profile, title=f"Our {profile.key}") for profile in site.profiles)
    mine = replace(site, profiles=own)
    rows = [["Name", "Type", "Entrance"], ["Panel 2", "our VCU-direct", "Front"]]
    after = again(tmp_path, mine, {"Units": rows})
    assert after.profiles == own
    assert after.units[-1].profile == "vcu-direct"


def test_the_template_of_a_user_is_a_first_import(tmp_path: Path) -> None:
    (tmp_path / "template.xlsx").write_bytes(template_bytes(profiles()))
    reading = read(tmp_path / "template.xlsx")
    assert told(reading) == []
    assert reading.remarks == ()
    site = reading.site
    counts = [
        len(site.table(kind)) for kind in (Dwelling, *(type(p) for p in (site.doors[0], site.keys[0], site.runs[0])))
    ]
    assert counts == [1, 1, 1, 1]
