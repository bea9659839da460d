"""Dates in every usual form. Weekdays and the calendar are common knowledge; 2026-12-25 is a Friday."""

from datetime import date, datetime
from typing import Any

import pytest

from doorwright.store.workbook.dates import DATES, date_of, dates_in, day_first_of
from doorwright.store.workbook.values import Unreadable

CHRISTMAS = date(2026, 12, 25)


@pytest.mark.parametrize(
    "raw",
    [
        "2026-12-25", "2026/12/25", "2026.12.25", "20261225", "25.12.2026", "25/12/2026", "12/25/2026", "25-12-2026",
        "25 December 2026", "25 Dec 2026", "25th of December, 2026", "25-Dec-2026",
        "December 25, 2026", "Dec 25th 2026",
        "Fri 25 Dec 2026", "Friday, 25 December 2026", "Fri, Dec 25, 2026", "25. december 2026", "2026-12-25 00:00:00",
        "2026-12-25T00:00:00Z", CHRISTMAS, datetime(2026, 12, 25, 0, 0),  # noqa: DTZ001  (as spreadsheets give it)
        46381, 46381.0, 20261225.0,
    ],
)  # fmt: skip
def test_one_day_in_many_forms(raw: Any) -> None:
    # 46381: 46023 is 1 January 2026 in spreadsheet programs (from memory), and 25 December the 359th day of the year
    assert dates_in(raw) == (CHRISTMAS,)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("03/04/2026", "may begin with the day or with the month"),
        ("25/12/26", "has two digits"),
        ("25 Dec 26", "has two digits"),
        ("25 December", "names no year"),
        ("December 25th", "names no year"),
        ("25.12.", "names no year"),
        ("31/11/2026", "no day of the calendar"),
        ("2025-02-29", "no day of the calendar"),
        ("25 Brumaire 2026", "no month"),
        ("Christmas", "no date"),
        ("#REF!", "gives the error"),
        ("26 Dec 2026 to 25 Dec 2026", "goes backwards"),
    ],
)
def test_what_is_no_date_or_may_be_two(text: str, problem: str) -> None:
    with pytest.raises(Unreadable) as caught:
        dates_in(text)
    assert problem in caught.value.problem


def test_dates_that_could_be_two_follow_the_others_of_their_list() -> None:
    assert dates_in("03/04/2026, 25/12/2026") == (date(2026, 4, 3), CHRISTMAS)
    assert dates_in("03/04/2026; 12/25/2026") == (date(2026, 3, 4), CHRISTMAS)
    assert day_first_of(["25/12/2026", "12/25/2026"]) is None
    assert date_of("05/05/2026") == date(2026, 5, 5)  # either way
    assert date_of("03.04.2026") == date(2026, 4, 3)  # with points the day stands first (common practice)


def test_lists_and_spans() -> None:
    read = dates_in("Thu, Dec 24, 2026, 25 Dec 2026 to 27 Dec 2026\n2027-01-01, 2026-12-25")
    assert [str(day) for day in read] == ["2026-12-24", "2026-12-25", "2026-12-26", "2026-12-27", "2027-01-01"]


def test_a_list_in_our_own_form_is_no_change() -> None:
    shown = DATES.show((CHRISTMAS, date(2027, 1, 1)))
    assert shown == "2026-12-25, 2027-01-01"
    assert DATES.read(str(shown), "") == ((CHRISTMAS, date(2027, 1, 1)), "")
    assert DATES.read("25 Dec 2026", "").change == "dates put in one form"
