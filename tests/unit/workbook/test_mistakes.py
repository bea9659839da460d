"""Every mistake in a workbook is told at once, with sheet, row, column, what was read and what to do."""

import datetime as dt
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from doorwright.kernel.errors import Mistake
from tests.unit.workbook.shelf import read, told

Sheets = dict[str, Any]

HOMES: list[list[Any]] = [["Dwelling", "Core", "Level"], ["1", "A", "Ground"], ["2", "A", "Ground"]]


def book(folder: Path, sheets: Sheets) -> Path:
    made = openpyxl.Workbook()
    del made["Sheet"]
    for name, rows in sheets.items():
        sheet = made.create_sheet(name)
        for row in rows:
            sheet.append(row)
    path = folder / "site.xlsx"
    made.save(path)
    return path


def only(folder: Path, sheets: Sheets) -> Mistake:
    mistakes = read(book(folder, sheets)).mistakes
    assert len(mistakes) == 1, [str(mistake) for mistake in mistakes]
    return mistakes[0]


def test_no_sheet_of_dwellings(tmp_path: Path) -> None:
    mistake = only(tmp_path, {"Places": [["Name", "Kind"], ["Lobby", "lobby"]]})
    assert mistake.problem == 'the sheet "Dwellings" is missing'


def test_a_missing_column_is_told_once(tmp_path: Path) -> None:
    mistake = only(tmp_path, {"Dwellings": [["Dwelling", "Core"], ["1", "A"], ["2", "A"], ["3", "A"]]})
    assert (mistake.where, mistake.problem) == ('sheet "Dwellings"', 'the column "Level" is missing')


def test_a_sheet_without_headings(tmp_path: Path) -> None:
    mistake = only(tmp_path, {"Dwellings": [["12", "x", "3"], ["13", "x", "3"]]})
    assert mistake.problem == "no row of headings was found"
    assert "Dwelling, Level" in mistake.remedy


def test_a_blank_cell_where_a_value_is_needed(tmp_path: Path) -> None:
    mistake = only(tmp_path, {"Flats": [["Flat", "Floor"], ["1", "Ground"], ["2", None]]})
    assert (mistake.where, mistake.problem) == ('sheet "Flats", row 3, column B "Floor"', "Level is missing")


def test_the_same_dwelling_twice(tmp_path: Path) -> None:
    mistake = only(tmp_path, {"Dwellings": [*HOMES, ["1", "a", "Ground"]]})
    assert mistake.where == 'sheet "Dwellings", row 4'
    assert mistake.problem == "this dwelling stands in row 2 already"


def test_the_same_dwelling_twice_within_one_range(tmp_path: Path) -> None:
    mistake = only(tmp_path, {"Dwellings": [HOMES[0], ["1-4, 2", "A", "Ground"]]})
    assert (mistake.read, mistake.problem) == ("A/2", "this dwelling stands in row 2 already")


@pytest.mark.parametrize(
    ("heading", "first", "second", "what"),
    [
        ("Serial", "Q00000001", "q0000 0001", "serial number"),
        ("MAC", "00-00-5E-00-53-01", "0000.5e00.5301", "MAC address"),
        ("Address", "192.0.2.9", "192.0.2.9", "address"),
    ],
)
def test_the_same_value_twice(tmp_path: Path, heading: str, first: str, second: str, what: str) -> None:
    units = [["Name", "Type", "Dwelling", heading], ["U1", "uru-video", "1", first]]
    switches = [["Name", "Type", heading], ["SW1", "switch-8", second]]
    mistake = only(tmp_path, {"Dwellings": HOMES, "Units": units, "Switches": switches})
    assert mistake.where == f'sheet "Switches", row 2, column C "{heading}"'
    assert mistake.problem == f'this {what} stands twice; the other is at sheet "Units", row 2'


@pytest.mark.parametrize(
    ("sheets", "problem", "remedy"),
    [
        ({"Doors": [["Name", "Entrance"], ["D", "Frnt"]]},
         "there is no entrance of this name", 'Did you mean "Front"?'),
        ({"Cores": [["Name"], ["A"], ["North"]], "Dwellings": [*HOMES, ["3", "Nort", "Ground"]]},
         "there is no core of this name", 'Did you mean "North"?'),
        ({"Levels": [["Name"], ["Ground"]], "Dwellings": [*HOMES, ["3", "A", "Groundd"]]},
         "there is no level of this name", 'Did you mean "Ground"?'),
        ({"Switches": [["Name", "Type", "Place"], ["S", "switch-8", "Cellar"]]},
         "there is no place of this name", "add"),
        ({"Switches": [["Name", "Type"], ["S", "swich-8"]]},
         "there is no unit type of this name", 'Did you mean "switch-8"?'),
        ({"Switches": [["Name", "Type"], ["S", "uru-video"]]}, "this unit type is a URU, not a switch", "switch-8"),
        ({"Units": [["Name", "Type", "Dwelling"], ["U", "uru-video", "99"]]},
         "there is no dwelling of this name", "Dwellings"),
        ({"Cables": [["Name", "From", "To"], ["C", "Front", "Front"]]},
         "there is no unit or switch or door or supply or junction of this name", "Units"),
        ({"Entrances": [["Name", "Serves"], ["E", "Z"]]}, "there is no building, core or dwelling of this name", "all"),
        ({"Entrances": [["Name", "Serves"], ["E", "70-80"]]}, "no dwelling of this range is listed", "range"),
    ],
)  # fmt: skip
def test_a_name_that_nothing_has(tmp_path: Path, sheets: Sheets, problem: str, remedy: str) -> None:
    entrances = {"Entrances": [["Name", "Serves"], ["Front", "all"]]}
    mistakes = read(book(tmp_path, {"Dwellings": HOMES, **entrances, **sheets})).mistakes
    assert {mistake.problem for mistake in mistakes} == {problem}
    assert remedy in mistakes[0].remedy


def test_a_label_of_several_cores_needs_its_core(tmp_path: Path) -> None:
    homes = [*HOMES, ["1", "B", "Ground"]]
    mistake = only(tmp_path, {"Dwellings": homes, "Entrances": [["Name", "Serves"], ["Front", "1"]]})
    assert mistake.problem == '"1" names more than one of those it may mean'
    assert mistake.remedy == "Write core/label: A/1, B/1."
    units = [["Name", "Type", "Dwelling"], ["U", "uru-video", "1"]]
    mistake = only(tmp_path, {"Dwellings": homes, "Units": units})
    assert mistake.problem == '"1" names more than one dwelling'


def test_a_core_beside_a_label_is_believed(tmp_path: Path) -> None:
    units = [["Name", "Type", "Dwelling", "Core"], ["U", "uru-video", "2", "B"]]
    mistake = only(tmp_path, {"Dwellings": [*HOMES, ["1", "B", "Ground"]], "Units": units})
    assert mistake.problem == "there is no dwelling of this name"


@pytest.mark.parametrize(
    ("sheet", "heading", "value", "problem"),
    [
        ("Doors", "Release time (s)", "soon", "this is no number"),
        ("Doors", "Release time (s)", "5 h", '"h" is not the unit wanted'),
        ("Doors", "Release time (s)", -5, "the number is less than 0"),
        ("Doors", "Release time (s)", "1,250", "the comma may stand for thousands or for decimals"),
        ("Doors", "Output", 1.5, "this is no whole number"),
        ("Doors", "Output", 0, "the number is less than 1"),
        ("Doors", "Lock", "glue", "this is no kind of lock known here"),
        ("Doors", "Fail mode", "maybe", "this is no fail mode known here"),
        ("Doors", "Fire door", "perhaps", "this is neither yes nor no"),
        ("Doors", "Fire door", 2, "this is neither yes nor no"),
        ("Timetables", "Windows", "Mon-Fri 25:00-26:00", '"25:00" is no time of day'),
        ("Timetables", "Windows", "someday 9-12", '"someday" is no day of the week'),
        ("Timetables", "Windows", "Mon 9", '"9" is no span of time'),
        ("Timetables", "Windows", dt.time(9, 0), "the spreadsheet program made a date or time of what was typed"),
    ],
)
def test_a_value_that_is_none(tmp_path: Path, sheet: str, heading: str, value: Any, problem: str) -> None:
    rows = {
        "Doors": [["Name", "Entrance", heading], ["D", "Front", value]],
        "Timetables": [["Name", "Entrance", "Purpose", heading], ["T", "Front", "divert", value]],
    }[sheet]
    sheets: Sheets = {"Dwellings": HOMES, "Entrances": [["Name", "Serves"], ["Front", "all"]], sheet: rows}
    mistake = only(tmp_path, sheets)
    column = "C" if sheet == "Doors" else "D"
    assert mistake.where == f'sheet "{sheet}", row 2, column {column} "{heading}"'
    assert mistake.problem == problem
    assert mistake.read == str(value)
    assert mistake.remedy


@pytest.mark.parametrize(
    ("heading", "value", "problem"),
    [
        ("Range", "192.0.2.0", "this is no range of addresses"),
        ("Range", "192.0.2.0/33", "this is no range of addresses"),
        ("Gateway", "192.0.2", "this is no IP address"),
        ("Gateway", "192.0.2.256", "this is no IP address"),
        ("Reserved", "192.0.2.1, x", "this is no IP address"),
        ("VLAN", "office", "this is no number"),
        ("For", "VCU, lifts", '"lifts" is no kind of unit'),
    ],
)
def test_a_subnet_with_a_wrong_value(tmp_path: Path, heading: str, value: str, problem: str) -> None:
    row = {"Name": "N", "Range": "192.0.2.0/24", heading: value}
    assert only(tmp_path, {"Dwellings": HOMES, "Subnets": [list(row), list(row.values())]}).problem == problem


@pytest.mark.parametrize("value", ["192.0.2.200", "198.51.100.1"])
def test_whether_a_gateway_fits_is_not_for_the_import_to_say(tmp_path: Path, value: str) -> None:
    rows = [["Name", "Range", "Gateway"], ["N", "192.0.2.0/28", value]]
    assert told(read(book(tmp_path, {"Dwellings": HOMES, "Subnets": rows}))) == []


@pytest.mark.parametrize(
    ("label", "problem"),
    [
        ("24-1", "the range counts downwards"),
        ("G08-G01", "the range counts downwards"),
        ("1-6000", "the range has 6000 labels, more than 5000"),
        ("A1-B9", "the range goes from A to B"),
        (dt.date(2025, 2, 1), "the spreadsheet program made a date or time of what was typed"),
        (1234567890123456789, "the spreadsheet program keeps only 15 digits of a number, so some are lost"),
        ("1.23457E+12", "the spreadsheet program shortened a long number, so digits are lost"),
        ("x" * 10_001, "the cell holds 10001 characters, more than 10000"),
    ],
)
def test_a_label_that_is_none(tmp_path: Path, label: Any, problem: str) -> None:
    mistakes = read(book(tmp_path, {"Dwellings": [*HOMES, [label, "A", "Ground"]]})).mistakes
    assert [mistake.problem for mistake in mistakes] == [problem]
    assert len(mistakes[0].read) <= 60


def test_one_serial_number_cannot_stand_for_a_range(tmp_path: Path) -> None:
    rows = [["Dwelling", "Level", "Unit type", "Serial"], ["1-4", "0", "uru-video", "Q00000001"]]
    mistake = only(tmp_path, {"Dwellings": rows})
    assert mistake.problem == "one value stands for 4 dwellings"


def test_a_unit_type_must_be_given_with_a_serial_number(tmp_path: Path) -> None:
    mistake = only(tmp_path, {"Dwellings": [["Dwelling", "Level", "Serial"], ["1", "0", "Q00000001"]]})
    assert "uru-video" in mistake.remedy


def test_formulas_that_failed_or_never_ran(tmp_path: Path) -> None:
    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = "Dwellings"
    rows: list[list[Any]] = [["Dwelling", "Core", "Level", "Remark"], ["1", "A", "Ground"], ["2", "A"], ["3", "A", "1"]]
    for row in rows:
        sheet.append(row)
    for place, error in (("C3", "#REF!"), ("D4", "#N/A")):
        sheet[place] = error
        sheet[place].data_type = "e"
    sheet["B2"] = "=A1"
    path = tmp_path / "formulas.xlsx"
    made.save(path)
    assert [(mistake.where, mistake.problem) for mistake in read(path).mistakes] == [
        ('sheet "Dwellings", row 2, column B "Core"', "the formula in this cell was never worked out"),
        ('sheet "Dwellings", row 3, column C "Level"', "the formula in this cell gives the error #REF!"),
        ('sheet "Dwellings", row 4, column D "Remark"', "the formula in this cell gives the error #N/A"),
    ]


def test_two_hundred_mistakes_all_come_in_order(tmp_path: Path) -> None:
    homes: list[list[Any]] = [["Dwelling", "Core", "Level"], *[[f"{n}", "A", "0"] for n in range(1, 101)]]
    units = [["Name", "Type", "Dwelling", "MAC", "Address"]]
    units += [[f"U{n}", "uru-video", f"{n}", f"bad{n}", f"192.0.2.{n + 256}"] for n in range(1, 101)]
    mistakes = read(book(tmp_path, {"Units": units, "Dwellings": homes})).mistakes
    rows = [int(mistake.where.split("row ")[1].split(",")[0]) for mistake in mistakes]
    assert rows == sorted([*range(2, 102), *range(2, 102)])
    assert [mistake.read for mistake in mistakes[:4]] == ["bad1", "192.0.2.257", "bad2", "192.0.2.258"]


def test_a_megabyte_in_a_cell_is_a_mistake_like_any_other(tmp_path: Path) -> None:
    path = tmp_path / "Dwellings.csv"
    path.write_text("Dwelling,Level,Remark\n1,0," + "x" * 1_000_000 + "\n" + "y" * 1_000_000 + ",0,\n")
    mistakes = read(path).mistakes
    assert [mistake.where for mistake in mistakes] == [
        'sheet "Dwellings", row 2, column C "Remark"',
        'sheet "Dwellings", row 3, column A "Dwelling"',
    ]
    assert all(len(str(mistake)) < 400 for mistake in mistakes)


def test_a_secret_in_a_column_of_secrets_is_never_told(tmp_path: Path) -> None:
    rows: list[list[Any]] = [["Dwelling", "Level", "SIP password"], ["1", None, "hunter-hunter"]]
    reading = read(book(tmp_path, {"Dwellings": rows}))
    assert "hunter" not in repr(reading)


def test_the_same_identifier_twice(tmp_path: Path) -> None:
    rows = [["Id", "Dwelling", "Core", "Level"], ["7", "1", "A", "0"], ["7", "2", "A", "0"]]
    mistake = only(tmp_path, {"Dwellings": rows})
    assert mistake.problem == 'this identifier stands in sheet "Dwellings", row 2, column A "Id" already'


def test_a_sealed_line_of_nowhere(tmp_path: Path) -> None:
    rows: list[list[Any]] = [["Owner", "Use", "Line"], ["SW1", "device secret", 1]]
    switches = [["Name", "Type"], ["SW1", "switch-8"]]
    mistake = only(tmp_path, {"Dwellings": HOMES, "Switches": switches, "Sealed lines": rows})
    assert mistake.problem == "a sealed line without identifier belongs to no secret"


def test_a_cell_far_outside_the_list_is_refused_before_memory_is_spent(tmp_path: Path) -> None:
    from doorwright.kernel.errors import Refused

    made = openpyxl.Workbook()
    sheet = made.active
    assert sheet is not None
    sheet.title = "Dwellings"
    sheet["A1"] = "Dwelling"
    sheet["XFD1048576"] = "stray"
    path = tmp_path / "far.xlsx"
    made.save(path)
    with pytest.raises(Refused, match="reaches to row 1048576 and column 16384"):
        read(path)
