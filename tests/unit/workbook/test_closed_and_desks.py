"""Timetables closed on holidays and diverts of a desk's calls: as people write them, exported, and read again."""

from dataclasses import replace
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from doorwright.model.calling import Window
from doorwright.store.workbook import workbook_bytes
from doorwright.store.workbook.windows import closed_on_holidays
from tests.unit.workbook.shelf import read, told
from tests.unit.workbook.test_calls import SHEETS
from tests.unit.workbook.test_mistakes import book

HEADINGS: list[Any] = ["Name", "Entrance", "Purpose", "Times", "Closed on bank holidays"]
WORKDAYS = (0, 1, 2, 3, 4)


def sheets(*timetables: list[Any]) -> dict[str, list[list[Any]]]:
    return {**SHEETS, "Timetables": [HEADINGS, ["Nights", "Yard", "divert", "daily 20-7", None], *timetables]}


@pytest.mark.parametrize(
    ("text", "left", "closed"),
    [
        ("Mon-Fri 08:00-18:00; Hol closed", "Mon-Fri 08:00-18:00", True),
        ("Mon-Fri 8-18 except bank holidays", "Mon-Fri 8-18", True),
        ("Mon-Fri 8-18 (not on public holidays); Sat 9-12", "Mon-Fri 8-18; Sat 9-12", True),
        ("Mon-Fri 8-18, closed on holidays", "Mon-Fri 8-18", True),
        ("daily 8-20\nHolidays – none", "daily 8-20", True),
        ("Bank holidays: closed", "", True),
        ("Mon-Fri 8-18; Hol 10-12", "Mon-Fri 8-18; Hol 10-12", False),
        ("Mon-Fri 8-18; bank holidays", "Mon-Fri 8-18; bank holidays", False),
    ],
)
def test_words_that_close(text: str, left: str, closed: bool) -> None:
    assert closed_on_holidays(text) == (left, closed)


@pytest.mark.parametrize(
    "rows",
    [
        [["Office", "Gate", "calls", "Mon-Fri 8-18", "yes"]],
        [["Office", "Gate", "calls", "Mon-Fri 8-18; bank holidays closed", None]],
        [["Office", "Gate", "calls", "Mon-Fri 8-18", None], [None, None, None, "Holidays: closed", None]],
    ],
)
def test_a_timetable_that_is_closed_on_holidays(tmp_path: Path, rows: list[list[Any]]) -> None:
    reading = read(book(tmp_path, sheets(*rows)))
    assert told(reading) == []
    nights, office = reading.site.timetables
    assert (nights.closed_on_holidays, office.closed_on_holidays) == (False, True)
    assert office.windows == (Window(days=WORKDAYS, start_min=480, end_min=1080),)


def test_windows_and_column_that_contradict_each_other_are_told(tmp_path: Path) -> None:
    reading = read(book(tmp_path, sheets(["Office", "Gate", "calls", "Mon-Fri 8-18; Hol closed", "no"])))
    (mistake,) = told(reading)
    assert "the windows say closed on holidays, and the column beside them says no" in str(mistake)


def test_diverts_of_a_desk_are_read_told_apart_and_written_again(tmp_path: Path) -> None:
    diverts: list[list[Any]] = [
        ["When", "Flat", "Desk called", "From", "Timetable", "To flat", "To concierge"],
        ["always", None, "Front desk", "Yard", "Nights", None, "Night desk"],
        ["no reply", None, "Front desk", None, None, "A/2", None],
        ["no reply", None, None, None, None, None, "Front desk"],
    ]
    reading = read(
        book(tmp_path, {**sheets(["Office", "Gate", "calls", "daily 8-18", "yes"]), "Call diverts": diverts})
    )
    assert told(reading) == []
    site = reading.site
    assert site is not None
    desks = {unit.id: unit.name for unit in site.units}
    assert [(desks.get(d.desk or ""), d.dwelling) for d in site.diverts] == [
        ("Front desk", None),
        ("Front desk", None),
        (None, None),
    ]
    path = tmp_path / "again.xlsx"
    path.write_bytes(workbook_bytes(site, title="Again"))
    headings = [[cell.value for cell in next(sheet.rows)] for sheet in openpyxl.load_workbook(path)]
    assert any("Desk called" in row for row in headings)
    again = read(path, before=site)
    assert told(again) == []
    assert again.site == site


def test_old_sheets_without_the_columns_read_as_before(tmp_path: Path) -> None:
    site = read(book(tmp_path, SHEETS)).site
    assert not any(one.closed_on_holidays for one in site.timetables)
    assert all(divert.desk is None for divert in site.diverts)
    assert replace(site.timetables[0], closed_on_holidays=False) == site.timetables[0]
