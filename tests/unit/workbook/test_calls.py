"""How dwellings ring, where calls divert, who may free a door, and holidays: as people write them, and again."""

from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from doorwright.model.calling import DivertCause, RingMode
from doorwright.model.site import NumberPrefix
from doorwright.store.workbook import workbook_bytes
from tests.unit.workbook.shelf import counter, profiles, read, told
from tests.unit.workbook.test_mistakes import book, only

HOMES: list[list[Any]] = [
    ["Stair", "Floor", "Flat", "Ring order", "Ring time"],
    ["A", "G", 1, "one after another", "45 s"],
    ["A", "1", 2, None, 30],
    ["B", "G", 1, "all at once", None],
    ["B", "1", 7, None, None],
]
SHEETS: dict[str, list[list[Any]]] = {
    "Flats": HOMES,
    "Entrances": [["Name", "Serves"], ["Gate", "all"], ["Yard", "B"]],
    "Units": [
        ["Name", "Type", "Entrance"], ["Gate panel", "vcu-keypad", "Gate"], ["Front desk", "smu-desk", None],
        ["Night desk", "smu-desk", None],
    ],
    "Doors": [["Door", "Entrance"], ["Leaf", "Gate"], ["Leaf", "Yard"], ["Cycle store", "Yard"]],
    "Timetables": [
        ["Name", "Entrance", "Purpose", "Times"],
        ["Nights", "Gate", "divert", "Mon-Fri 18-8; bank holidays"],
        ["Nights", "Yard", "divert", "daily 20-7; Hol 10-12"],
    ],
    "Call diverts": [
        ["When", "Core", "Flat", "From", "Timetable", "To flat", "To concierge"],
        ["No reply", None, None, None, None, None, "Front desk"],
        ["engaged", "A", 1, None, None, 2, None],
        ["always", None, "B/1", "Yard", "Nights", "A/2", None],
    ],
    "Release rights": [
        ["Door", "Who", "Timetable"],
        ["Cycle store", "B, desks", None],
        ["Gate/Leaf", "all, Front desk", None],
        ["Yard/Leaf", "B/1, B/7", "Nights"],
    ],
}  # fmt: skip


def test_diverts_and_rights_as_people_write_them(tmp_path: Path) -> None:
    reading = read(book(tmp_path, SHEETS))
    assert told(reading) == []
    site = reading.site
    name = {part.id: part.label for parts in (site.units, site.entrances, site.timetables) for part in parts}
    home = {d.id: f"{next(c.name for c in site.cores if c.id == d.core)}/{d.door_label}" for d in site.dwellings}
    divert = [
        (d.cause, home.get(d.dwelling or ""), name.get(d.entrance or ""), home.get(d.to_dwelling or ""),
         name.get(d.to_desk or ""))
        for d in site.diverts
    ]  # fmt: skip
    assert divert == [
        (DivertCause.NO_ANSWER, None, None, None, "Front desk"),
        (DivertCause.BUSY, "A/1", None, "A/2", None),
        (DivertCause.ALWAYS, "B/1", "Yard", "A/2", None),
    ]
    yard = next(entrance.id for entrance in site.entrances if entrance.name == "Yard")
    at_yard = next(one.id for one in site.timetables if one.entrance == yard)
    assert site.diverts[2].timetable == at_yard  # of two timetables of this name, that of the row's entrance
    store, gate, leaf = site.rights
    assert (store.cores, [name[desk] for desk in store.desks]) == ((site.cores[1].id,), ["Front desk", "Night desk"])
    assert (gate.buildings, [name[desk] for desk in gate.desks]) == ((site.buildings[0].id,), ["Front desk"])
    assert ([home[ident] for ident in leaf.dwellings], leaf.timetable) == (["B/1", "B/7"], at_yard)
    ring = [(dwelling.ring_mode, dwelling.ring_s) for dwelling in site.dwellings]
    assert ring == [(RingMode.IN_TURN, 45), (None, 30), (RingMode.TOGETHER, None), (None, None)]


def test_the_same_workbook_again_changes_nothing(tmp_path: Path) -> None:
    path = book(tmp_path, SHEETS)
    site = read(path).site
    assert read(path, site).site is site or read(path, site).site == site


def test_a_changed_target_or_a_further_flat_amends_the_row_that_was_there(tmp_path: Path) -> None:
    site = read(book(tmp_path, SHEETS)).site
    diverts = [*SHEETS["Call diverts"][:1], ["No reply", None, None, None, None, None, "Night desk"]]
    rights = [*SHEETS["Release rights"][:1], ["Cycle store", "B, A/2, desks", None]]
    again = read(book(tmp_path, {"Diverts": diverts, "Release rights": rights}), site).site
    assert [divert.id for divert in again.diverts] == [divert.id for divert in site.diverts]
    assert again.diverts[0].to_desk == next(unit.id for unit in site.units if unit.name == "Night desk")
    assert [right.id for right in again.rights] == [right.id for right in site.rights]
    assert again.rights[0].dwellings == (site.dwellings[1].id,)
    assert again.rights[1:] == site.rights[1:]


def test_every_mistake_in_diverts_and_rights_is_told(tmp_path: Path) -> None:
    sheets = dict(SHEETS)
    sheets["Call diverts"] = [
        *SHEETS["Call diverts"],
        ["whenever", None, None, None, None, None, "Front desk"],
        ["busy", None, "B/7", None, None, None, "Font desk"],
        ["busy", None, None, None, None, None, None],
        ["always", None, "A/1", None, None, "B/7", "Front desk"],
        ["no answer", None, None, None, None, "A/1", None],
        ["always", None, "A/1", None, "Nights", "B/7", None],
    ]
    sheets["Release rights"] = [["Door", "Who"], ["Leaf", "all"], ["Cycle store", None], ["Cycle store", "C"]]
    mistakes = read(book(tmp_path, sheets)).mistakes
    assert [(mistake.where.partition('", ')[2], mistake.problem) for mistake in mistakes] == [
        ('row 5, column A "When"', "this is no cause of a divert known here"),
        ('row 6, column G "To concierge"', "there is no unit of this name"),
        ("row 7", "it is not said where these calls go"),
        ("row 8", "these calls go to a dwelling and to a desk"),
        ("row 9", "this divert stands in row 2 already"),
        ('row 10, column E "Timetable"', '"Nights" names more than one timetable'),
        ('row 2, column A "Door"', '"Leaf" names more than one door'),
        ('row 3, column B "Who"', "Who is missing"),
        ('row 4, column B "Who"', "there is no building, core, dwelling or unit of this name"),
    ]
    assert mistakes[1].remedy.startswith('Did you mean "Front desk"?')
    assert "Gate/Nights" in mistakes[5].remedy


def test_a_timetable_that_a_right_needs_is_not_removed(tmp_path: Path) -> None:
    site = read(book(tmp_path, SHEETS)).site
    only_gate = {**SHEETS, "Timetables": SHEETS["Timetables"][:2]}
    del only_gate["Release rights"]
    refused = read(book(tmp_path, only_gate), site, remove_missing=True)
    assert any('the release right "release right" needs it' in text for text in told(refused))


def test_who_was_removed_may_free_no_door_and_diverts_nothing(tmp_path: Path) -> None:
    site = read(book(tmp_path, SHEETS)).site
    fewer = {**SHEETS, "Flats": HOMES[:-1]}
    fewer["Release rights"] = [*SHEETS["Release rights"][:3], ["Yard/Leaf", "B/1", "Nights"]]
    reading = read(book(tmp_path, {"Flats": HOMES[:-1]}), site, remove_missing=True)
    assert told(reading) == []
    assert len(reading.site.rights[2].dwellings) == 1
    assert any("was taken out of this list of a release right" in str(remark) for remark in reading.remarks)


def test_settings_of_calls(tmp_path: Path) -> None:
    site = read(
        book(
            tmp_path,
            {
                "Site": [
                    ["Name", "Yard"], ["Ring mode", "sequential"], ["Ring time", "25 s"], ["Number prefix", "Stair"],
                    ["Reserved numbers", "0; 112, 900 – 999"], ["Holidays", "25/12/2026, 26.12.2026\n1 January 2027"],
                ],
                "Flats": HOMES,
            },
        )
    ).site  # fmt: skip
    assert (site.choices.ring_mode, site.choices.ring_s) == (RingMode.IN_TURN, 25)
    assert site.choices.number_prefix is NumberPrefix.CORE
    assert site.choices.reserved_numbers == ("0", "112", "900-999")
    assert site.holidays == (date(2026, 12, 25), date(2026, 12, 26), date(2027, 1, 1))


@pytest.mark.parametrize(
    ("heading", "value", "problem"),
    [
        ("Reserved numbers", "999-900", '"999-900" is no range of call numbers'),
        ("Reserved numbers", "112, nine", '"nine" is no call number'),
        ("Ring time (s)", "2 min", "this is no whole number"),
        ("Ring time (s)", 0, "the number is less than 1"),
        ("Holidays", "Easter", '"Easter" is no date'),
    ],
)
def test_settings_that_cannot_be_read(tmp_path: Path, heading: str, value: object, problem: str) -> None:
    assert only(tmp_path, {"Site": [["Name", "Yard"], [heading, value]], "Flats": HOMES}).problem == problem


def test_a_sheet_of_holidays_with_their_names(tmp_path: Path) -> None:
    sheet = [
        ["Bank holidays 2026"], [], ["Holiday", "Date"], ["Christmas Day", date(2026, 12, 25)],
        ["Spring holiday", "Mon 25 May 2026"], ["Early close", "03/04/2026"], ["", "28/12/2026"], [None, None],
    ]  # fmt: skip
    reading = read(book(tmp_path, {"Bank holidays": sheet, "Flats": HOMES}))
    assert told(reading) == []
    # 28/12 shows that the day stands first, so 03/04 is the third of April
    assert [str(day) for day in reading.site.holidays] == ["2026-12-25", "2026-05-25", "2026-04-03", "2026-12-28"]
    assert dict(reading.site.notes)["Holiday 2026-12-25"] == "Christmas Day"
    (tmp_path / "out.xlsx").write_bytes(workbook_bytes(reading.site, title="x"))
    written = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert [cell.value for cell in written["Holidays"]["B"]][:3] == ["Name", "Christmas Day", "Spring holiday"]
    assert written["Holidays"]["A2"].is_date
    assert all("Christmas" not in str(cell.value) for row in written["Site"].iter_rows() for cell in row)
    assert read(tmp_path / "out.xlsx").site == reading.site


def test_mistakes_in_the_sheet_of_holidays(tmp_path: Path) -> None:
    sheet = [["Date", "Name"], ["Christmas", "x"], [None, "Boxing Day"], ["2026-13-01", None]]
    mistakes = read(book(tmp_path, {"Holidays": sheet, "Flats": HOMES})).mistakes
    assert [mistake.where for mistake in mistakes] == [
        f'sheet "Holidays", row {row}, column A "Date"' for row in (2, 3, 4)
    ]
    assert mistakes[1].problem == "the date of this holiday is missing"


def test_holidays_without_a_row_are_kept_unless_told_otherwise(tmp_path: Path) -> None:
    before = read(book(tmp_path, {"Site": [["Name", "Yard"], ["Holidays", "2026-12-25"]], "Flats": HOMES})).site
    sheet = {"Holidays": [["Date", "Name"], [date(2027, 1, 1), "New Year"]], "Flats": HOMES}
    kept = read(book(tmp_path, sheet), before)
    assert kept.site.holidays == (date(2026, 12, 25), date(2027, 1, 1))
    assert any("this holiday has no row and was kept" in str(remark) for remark in kept.remarks)
    replaced = read(book(tmp_path, sheet), kept.site, remove_missing=True)
    assert replaced.site.holidays == (date(2027, 1, 1),)
    cleared = read(book(tmp_path, {"Site": [["Holidays", "-"]], "Flats": HOMES}), kept.site)
    assert cleared.site.holidays == ()


def test_rights_and_diverts_come_back_from_an_export_without_their_identifiers(tmp_path: Path) -> None:
    site = read(book(tmp_path, SHEETS)).site
    (tmp_path / "out.xlsx").write_bytes(workbook_bytes(site, title="x"))
    edited = openpyxl.load_workbook(tmp_path / "out.xlsx")
    for name in ("Diverts", "Release rights"):
        sheet = edited[name]
        sheet.delete_cols(sheet.max_column)  # the identifiers stand last
    edited.save(tmp_path / "out.xlsx")
    again = read(tmp_path / "out.xlsx", site)
    assert told(again) == []
    assert (again.site.diverts, again.site.rights) == (site.diverts, site.rights)
    assert replace(again.site, notes=()) == replace(site, notes=())


def test_a_receiver_in_the_list_of_flats_and_another_in_the_list_of_units_are_two(tmp_path: Path) -> None:
    flats = [["Flat", "Floor", "Unit type", "Serial", "Firmware", "Mounting height"],
             ["1", "G", "uru-video", "R00000001", "3.2", "1.2 m"]]  # fmt: skip
    units = [["Name", "Type", "Flat", "Serial"], ["Bedroom", "uru-audio", "1", "R00000002"]]
    reading = read(book(tmp_path, {"Flats": flats, "Units": units}))
    assert told(reading) == []
    found = {unit.name: (unit.serial, unit.position, unit.firmware, unit.height_mm) for unit in reading.site.units}
    assert found == {"Bedroom": ("R00000002", None, None, None), "URU 1": ("R00000001", 0, "3.2", 1200)}


def test_a_serial_number_in_the_list_of_flats_belongs_to_the_only_unit_listed_without_one(tmp_path: Path) -> None:
    flats = [["Flat", "Floor", "Serial"], ["1", "G", "R00000001"]]
    units = [["Name", "Type", "Flat", "Serial"], ["Hall", "uru-video", "1", None]]
    (unit,) = read(book(tmp_path, {"Flats": flats, "Units": units})).site.units
    assert (unit.name, unit.serial) == ("Hall", "R00000001")


@pytest.mark.parametrize(
    ("sheets", "remedy"),
    [
        ({"Flats": [["Flat", "Floor"], [None, "G"]]}, "Write the dwelling's label."),
        ({"Flats": HOMES, "Servers": [["Name", "Port"], [None, 5060]]}, "Write the SIP server's name."),
        ({"Flats": HOMES, "Servers": [["Name", "Port"], ["-", 5060]]}, "Write the SIP server's name; "),
        ({"Flats": HOMES, "Release rights": [["Door", "Who"], [None, "all"]]}, "Write the name of a door."),
        ({"Flats": HOMES, "Units": [["Name", "Type"], ["Panel", None]]}, "Write a unit type: VCU, URU, SMU."),
    ],
)
def test_the_remedy_for_a_missing_cell_says_what_to_write(tmp_path: Path, sheets: Any, remedy: str) -> None:
    mistake = only(tmp_path, sheets)
    assert mistake.remedy.startswith(remedy)


def test_identifiers_are_made_only_for_new_rows(tmp_path: Path) -> None:
    made = counter()
    assert made() == "new1"
    assert set(profiles()) >= {"uru-video", "smu-desk"}
    site = read(book(tmp_path, SHEETS)).site
    assert len({divert.id for divert in site.diverts} | {right.id for right in site.rights}) == 6
