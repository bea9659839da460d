"""Spans of the week, and how they are told."""

from dataclasses import replace

import pytest

from doorwright.model.calling import DAY_MIN, HOLIDAY, Timetable, TimetablePurpose, Window
from doorwright.paths import week
from doorwright.paths.telling import rows, tell_spans

WORKDAYS = (0, 1, 2, 3, 4)


def spans(*windows: Window) -> week.Spans:
    return week.spans_of(Timetable(id="t", name="T", entrance="e", purpose=TimetablePurpose.CALL, windows=windows))


def test_an_overnight_window_runs_into_the_next_day_and_from_sunday_into_monday() -> None:
    found = spans(Window(days=(6,), start_min=1320, end_min=360))
    # Sunday 22:00 is minute 6 * 1440 + 1320 of the week, its end Monday 06:00
    assert week.within(found, 0, week.WEEK_MIN) == ((0, 360), (6 * 1440 + 1320, 7 * 1440))


def test_closed_on_holidays_no_window_begins_and_the_eve_runs_out() -> None:
    nights = Window(days=tuple(range(7)), start_min=1200, end_min=360)
    found = week.spans_of(
        Timetable(
            id="t", name="T", entrance="e", purpose=TimetablePurpose.CALL, windows=(nights,), closed_on_holidays=True
        )
    )
    day = {
        (holiday, after): week.of_day(found, week.day_index(2, holiday=holiday, after_holiday=after))
        for holiday in (False, True)
        for after in (False, True)
    }
    # Wednesday: the night before until 06:00 unless it was a holiday's, and its own from 20:00 unless it is one
    assert day == {
        (False, False): ((0, 360), (1200, 1440)),
        (True, False): ((0, 360),),
        (False, True): ((1200, 1440),),
        (True, True): (),
    }
    told = tell_spans(found)
    assert (
        told
        == "Mon-Sun 20:00 to 06:00 the next day, Hol 00:00-06:00, Mon-Sun after Hol 20:00-24:00, not on Hol after Hol"
    )


def test_closed_holds_where_holidays_have_hours_too() -> None:
    windows = (Window(days=(*WORKDAYS, HOLIDAY), start_min=480, end_min=1080),)
    timetable = Timetable(id="t", name="T", entrance="e", purpose=TimetablePurpose.CALL, windows=windows)
    assert week.of_day(week.spans_of(timetable), week.day_index(6, holiday=True)) == ((480, 1080),)
    closed = replace(timetable, closed_on_holidays=True)
    assert week.of_day(week.spans_of(closed), week.day_index(6, holiday=True)) == ()


def test_a_window_that_ends_as_it_begins_lasts_a_day() -> None:
    found = week.within(spans(Window(days=(2,), start_min=600, end_min=600)), 0, week.WEEK_MIN)
    assert found == ((2 * 1440 + 600, 3 * 1440 + 600),)


@pytest.mark.parametrize(
    "window",
    [
        Window(days=(), start_min=0, end_min=60),
        Window(days=(8,), start_min=0, end_min=60),
        Window(days=(0,), start_min=1440, end_min=60),
        Window(days=(0,), start_min=-1, end_min=60),
        Window(days=(0,), start_min=0, end_min=1441),
    ],
)
def test_a_window_that_cannot_be_never_holds(window: Window) -> None:
    assert spans(window) == ()


def test_outside_and_union_make_the_axis_whole() -> None:
    inside = spans(Window(days=WORKDAYS, start_min=480, end_min=1080), Window(days=(5,), start_min=1200, end_min=120))
    outside = week.outside(inside)
    assert week.union((*inside, *outside)) == ((0, week.AXIS_MIN),)
    assert sum(b - a for a, b in inside) + sum(b - a for a, b in outside) == 28 * 1440
    assert week.outside(()) == ((0, week.AXIS_MIN),)
    assert week.outside(((0, week.AXIS_MIN),)) == ()


@pytest.mark.parametrize(
    ("windows", "told"),
    [
        ([Window(days=(5, 6), start_min=0, end_min=0)], "Sat-Sun all day"),
        ([Window(days=tuple(range(7)), start_min=0, end_min=0)], "all week"),
        ([Window(days=WORKDAYS, start_min=480, end_min=1080)], "Mon-Fri 08:00-18:00"),
        ([Window(days=(0, 2), start_min=0, end_min=1440)], "Mon+Wed all day"),
        ([Window(days=(4,), start_min=1200, end_min=420)], "Fri 20:00 to Sat 07:00"),
        ([Window(days=(0, 1, 2), start_min=1200, end_min=420)], "Mon-Wed 20:00 to 07:00 the next day"),
        ([Window(days=(6,), start_min=1200, end_min=420)], "Sun 20:00 to Mon 07:00"),
        (
            [
                Window(days=(5,), start_min=720, end_min=1440),
                Window(days=(6,), start_min=0, end_min=1440),
                Window(days=(0,), start_min=0, end_min=480),
            ],
            "Sat 12:00 to Mon 08:00",
        ),
        (
            [Window(days=WORKDAYS, start_min=480, end_min=1080), Window(days=(HOLIDAY,), start_min=600, end_min=720)],
            "Mon-Fri 08:00-18:00, Hol 10:00-12:00",
        ),
        # on holidays none of its windows but the one of Hol holds; the night that began on a holiday's eve runs on
        (
            [Window(days=(5,), start_min=600, end_min=720), Window(days=(HOLIDAY,), start_min=600, end_min=720)],
            "Sat 10:00-12:00, Hol 10:00-12:00",
        ),
        ([], ""),
    ],
)
def test_hours_are_told_as_people_do(windows: list[Window], told: str) -> None:
    assert tell_spans(spans(*windows)) == told


def test_silence_is_told_with_what_holidays_change() -> None:
    silent = week.outside(
        spans(Window(days=WORKDAYS, start_min=480, end_min=1080), Window(days=(HOLIDAY,), start_min=0, end_min=0))
    )
    assert tell_spans(silent) == ("Mon-Thu 18:00 to 08:00 the next day, Fri 18:00 to Mon 08:00, not on Hol")


def test_days_after_holidays_get_a_row_only_where_they_differ() -> None:
    found = spans(Window(days=WORKDAYS, start_min=1200, end_min=360), Window(days=(HOLIDAY,), start_min=0, end_min=60))
    of_day = [week.of_day(found, day) for day in range(week.DAYS_COUNT)]
    names = [row.name for row in rows(of_day)]
    assert names[:7] == ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"]
    # a holiday on Tue-Fri has the night of the workday before it and none of its own; on Saturday that is as always;
    # the day after a holiday misses the night that did not begin
    assert names[7:] == ["Hol on Mon+Sun", "Hol on Tue-Fri", "Tue-Fri after Hol", "Sat after Hol", "Hol after Hol"]
    assert of_day[week.day_index(1, after_holiday=True)] == ((1200, 1440),)
    assert all(0 <= a < b <= DAY_MIN for day in of_day for a, b in day)
