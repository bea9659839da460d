"""Local windows as UTC instants over the days on which clocks change; instants worked out by hand.

The rules of the zones are those of the tz database: Europe/Berlin is UTC+1, in summer UTC+2, and changes at 01:00 UTC
on the last Sundays of March and October; America/New_York is UTC-5, in summer UTC-4, and changes at 02:00 local time on
the second Sunday of March and the first of November. In 2031 these are 30 March, 26 October, 9 March and 2 November.
"""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from doorwright.model.calling import DAY_MIN, HOLIDAY, Timetable, TimetablePurpose, Window
from doorwright.paths import week
from doorwright.paths.clock import day_of, instants

BERLIN, NEW_YORK = ZoneInfo("Europe/Berlin"), ZoneInfo("America/New_York")


def timetable(*windows: Window) -> Timetable:
    return Timetable(id="t", name="T", entrance="e", purpose=TimetablePurpose.CALL, windows=windows)


def daily(start_min: int, end_min: int) -> week.Spans:
    return week.spans_of(timetable(Window(days=tuple(range(7)), start_min=start_min, end_min=end_min)))


def told(spans: week.Spans, zone: ZoneInfo, on: date) -> list[str]:
    found = instants(spans, zone=zone, first=on, last=on, holidays=())
    return [f"{opens:%d %H:%M}-{closes:%d %H:%M}" for opens, closes in found]


@pytest.mark.parametrize(
    ("zone", "on", "start_min", "end_min", "expected"),
    [
        # an ordinary winter and summer day: 08:00-18:00 is 07:00-17:00 and 06:00-16:00 UTC in Berlin
        (BERLIN, date(2031, 1, 15), 480, 1080, ["15 07:00-15 17:00"]),
        (BERLIN, date(2031, 7, 15), 480, 1080, ["15 06:00-15 16:00"]),
        # 30 March: 02:00 to 03:00 do not exist. 02:30-03:30 begins at the gap's end, 03:00 summer time = 01:00 UTC
        (BERLIN, date(2031, 3, 30), 150, 210, ["30 01:00-30 01:30"]),
        (BERLIN, date(2031, 3, 30), 130, 170, []),  # 02:10-02:50: no such minute
        (BERLIN, date(2031, 3, 30), 0, 0, ["29 23:00-30 22:00"]),  # the day has 23 hours
        # 26 October: 02:00 to 03:00 occur twice. 02:10-02:50 is 00:10-00:50 and 01:10-01:50 UTC
        (BERLIN, date(2031, 10, 26), 130, 170, ["26 00:10-26 00:50", "26 01:10-26 01:50"]),
        # 01:30-02:30: until the first 02:30 (00:30 UTC), and again from the second 02:00 (01:00 UTC)
        (BERLIN, date(2031, 10, 26), 90, 150, ["25 23:30-26 00:30", "26 01:00-26 01:30"]),
        (BERLIN, date(2031, 10, 26), 0, 0, ["25 22:00-26 23:00"]),  # 25 hours
        # 9 March, New York: 02:00-03:00 do not exist; 03:00 EDT is 07:00 UTC
        (NEW_YORK, date(2031, 3, 9), 150, 210, ["09 07:00-09 07:30"]),
        # 2 November: 01:00-02:00 occur twice, EDT 05:00-06:00 and EST 06:00-07:00 UTC, without a break between
        (NEW_YORK, date(2031, 11, 2), 60, 120, ["02 05:00-02 07:00"]),
        (NEW_YORK, date(2031, 11, 2), 90, 100, ["02 05:30-02 05:40", "02 06:30-02 06:40"]),
    ],
)
def test_windows_over_the_change_of_clocks(
    zone: ZoneInfo, on: date, start_min: int, end_min: int, expected: list[str]
) -> None:
    # a window of a whole day runs from midnight to midnight, and so does the day before it
    assert told(daily(start_min, end_min), zone, on) == expected


@pytest.mark.parametrize("zone", [BERLIN, NEW_YORK, ZoneInfo("Asia/Kolkata"), ZoneInfo("Australia/Lord_Howe")])
def test_a_year_agrees_with_the_clock_on_the_wall(zone: ZoneInfo) -> None:
    """Every quarter of an hour of 2031 is inside exactly when zoneinfo's wall clock shows a minute of the window."""
    spans = week.spans_of(
        timetable(
            Window(days=(0, 1, 2, 3, 4, 6), start_min=90, end_min=150), Window(days=(5, 6), start_min=1320, end_min=165)
        )
    )
    found = instants(spans, zone=zone, first=date(2031, 1, 1), last=date(2031, 12, 31), holidays=())
    at = datetime(2031, 1, 1, tzinfo=zone).astimezone(UTC)
    end = datetime(2032, 1, 1, tzinfo=zone).astimezone(UTC)
    number = 0
    while at < end:
        while number < len(found) and found[number][1] <= at:
            number += 1
        inside = number < len(found) and found[number][0] <= at
        wall = at.astimezone(zone)
        minute, day = wall.hour * 60 + wall.minute, wall.weekday()
        early = day != 5 and 90 <= minute < 150
        late = (day in (5, 6) and minute >= 1320) or (day in (6, 0) and minute < 165)
        assert inside == (early or late), (at, wall)
        at += timedelta(minutes=15)


def test_a_holiday_has_its_own_windows_and_the_night_before_runs_into_it() -> None:
    # nights from 20:00 on weekdays, on a holiday 10:00-12:00; the holiday is Thursday 1 May 2031
    spans = week.spans_of(
        timetable(
            Window(days=(0, 1, 2, 3, 4), start_min=1200, end_min=360),
            Window(days=(HOLIDAY,), start_min=600, end_min=720),
        )
    )
    found = instants(
        spans, zone=ZoneInfo("Etc/UTC"), first=date(2031, 4, 30), last=date(2031, 5, 2), holidays=(date(2031, 5, 1),)
    )
    assert [f"{a:%a %H:%M}-{b:%a %H:%M}" for a, b in found] == [
        "Wed 00:00-Wed 06:00",  # Tuesday's night
        "Wed 20:00-Thu 06:00",  # Wednesday's night runs into the holiday
        "Thu 10:00-Thu 12:00",
        "Fri 20:00-Sat 00:00",  # no night began on the holiday, so Friday's early hours are outside
    ]


def test_every_date_is_one_day_of_the_axis() -> None:
    holidays = (date(2031, 12, 25), date(2031, 12, 26))  # a Thursday and a Friday
    days = [day_of(date(2031, 12, n), holidays) for n in range(24, 29)]
    assert [week.day_name(day) for day in days] == ["Wed", "Hol on Thu", "Hol on Fri after Hol", "Sat after Hol", "Sun"]
    assert all(0 <= day < week.AXIS_MIN // DAY_MIN for day in days)
