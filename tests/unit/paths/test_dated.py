"""Moments and dates by the clocks of a zone; instants worked out by hand from the rules told in ``test_clock``."""

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from doorwright.model.calling import DAY_MIN, Timetable, TimetablePurpose, Window
from doorwright.paths import week
from doorwright.paths.call import Behaviour, Call, End
from doorwright.paths.clock import change_after, showing
from doorwright.paths.dated import length_of, moment_at, pieces_on
from doorwright.paths.proof import Partition, Stretch

BERLIN, APIA, UTC_ZONE = ZoneInfo("Europe/Berlin"), ZoneInfo("Pacific/Apia"), ZoneInfo("Etc/UTC")
IN, OUT = Behaviour(Call(End.RINGS)), Behaviour(Call(End.SILENT))


def wall(text: str) -> datetime:
    return datetime.fromisoformat(text)


def told(instants: tuple[datetime, ...]) -> list[str]:
    return [f"{at:%Y-%m-%d %H:%M}" for at in instants]


def partition(*windows: Window) -> Partition:
    spans = week.spans_of(Timetable(id="t", name="T", entrance="e", purpose=TimetablePurpose.CALL, windows=windows))
    stretches = week.stretches({"t": spans})
    return tuple(Stretch(start_min, end_min, IN if inside else OUT) for start_min, end_min, inside in stretches)


def test_an_ordinary_moment_is_one_instant() -> None:
    found = moment_at(wall("2031-07-15 14:30"), zone=BERLIN, holidays=())  # a Tuesday, UTC+2
    assert told(found.instants) == ["2031-07-15 12:30"]
    assert (found.skipped, found.turned, found.minute) == (False, None, DAY_MIN + 14 * 60 + 30)


@pytest.mark.parametrize("minute", [0, 30, 59])
def test_a_moment_in_the_gap_is_answered_at_its_end(minute: int) -> None:
    # 30 March 2031: from 02:00 the clock goes to 03:00, at 01:00 UTC
    found = moment_at(wall(f"2031-03-30 02:{minute:02d}"), zone=BERLIN, holidays=())
    assert found.skipped
    assert found.answered == wall("2031-03-30 03:00")
    assert told(found.instants) == ["2031-03-30 01:00"]
    assert found.turned == (wall("2031-03-30 02:00"), wall("2031-03-30 03:00"))
    assert found.minute == 6 * DAY_MIN + 180  # a Sunday


def test_the_minutes_beside_the_gap_are_themselves() -> None:
    for hour, minute, utc in ((1, 59, "00:59"), (3, 0, "01:00")):
        found = moment_at(wall(f"2031-03-30 {hour:02d}:{minute:02d}"), zone=BERLIN, holidays=())
        assert (found.skipped, told(found.instants)) == (False, [f"2031-03-30 {utc}"])


def test_a_moment_that_occurs_twice_is_two_instants() -> None:
    # 26 October 2031: at 01:00 UTC the clock goes back from 03:00 to 02:00
    found = moment_at(wall("2031-10-26 02:30"), zone=BERLIN, holidays=())
    assert told(found.instants) == ["2031-10-26 00:30", "2031-10-26 01:30"]
    assert not found.skipped
    assert found.turned == (wall("2031-10-26 03:00"), wall("2031-10-26 02:00"))


def test_a_day_that_never_was_is_answered_on_the_next() -> None:
    # Samoa went from 29 to 31 December 2011 (tz database, Pacific/Apia)
    found = moment_at(wall("2011-12-30 12:00"), zone=APIA, holidays=(date(2011, 12, 31),))
    assert found.answered == wall("2011-12-31 00:00")
    assert week.day_name(found.minute // DAY_MIN) == "Hol on Sat"
    assert length_of(date(2011, 12, 30), APIA) == timedelta(0)
    assert pieces_on(partition(), date(2011, 12, 30), zone=APIA, holidays=()) == ()


def test_the_kind_of_day_comes_from_the_holidays() -> None:
    found = moment_at(wall("2031-05-02 09:00"), zone=UTC_ZONE, holidays=(date(2031, 5, 1),))
    assert week.day_name(found.minute // DAY_MIN) == "Fri after Hol"


def test_days_are_as_long_as_the_clock_makes_them() -> None:
    hours = [
        length_of(date(2031, month, day), BERLIN) / timedelta(hours=1) for month, day in ((1, 15), (3, 30), (10, 26))
    ]
    assert hours == [24, 23, 25]


def test_the_pieces_of_a_date_follow_each_other_and_repeat_what_occurs_twice() -> None:
    # every day 02:10-02:50, on 26 October 2031: 00:10-00:50 and 01:10-01:50 UTC; the day is 22:00 to 23:00 UTC
    found = pieces_on(
        partition(Window(days=tuple(range(7)), start_min=130, end_min=170)),
        date(2031, 10, 26), zone=BERLIN, holidays=(),
    )  # fmt: skip
    assert [(f"{p.opens:%d %H:%M}", f"{p.closes:%d %H:%M}", p.behaviour is IN) for p in found] == [
        ("25 22:00", "26 00:10", False),
        ("26 00:10", "26 00:50", True),
        ("26 00:50", "26 01:10", False),
        ("26 01:10", "26 01:50", True),
        ("26 01:50", "26 23:00", False),
    ]


def test_what_lies_in_the_gap_is_not_on_the_day() -> None:
    found = pieces_on(
        partition(Window(days=tuple(range(7)), start_min=130, end_min=170)),
        date(2031, 3, 30), zone=BERLIN, holidays=(),
    )  # fmt: skip
    assert [(f"{p.opens:%d %H:%M}", f"{p.closes:%d %H:%M}", p.behaviour) for p in found] == [
        ("29 23:00", "30 22:00", OUT)
    ]


@pytest.mark.parametrize("zone", [BERLIN, ZoneInfo("America/New_York"), ZoneInfo("Australia/Lord_Howe"), APIA])
def test_moments_agree_with_the_clock_on_the_wall_all_year(zone: ZoneInfo) -> None:
    """Every instant shown for a wall time shows it, and none is missed: two only on the days that have more hours."""
    at = wall("2031-01-01 00:00")
    while at.year == 2031:
        shown = showing(at, zone)
        assert all(instant.astimezone(zone).replace(tzinfo=None) == at for instant in shown)
        hours = length_of(at.date(), zone) / timedelta(hours=1)
        assert len(shown) == 1 or (len(shown) == 0 and hours < 24) or (len(shown) == 2 and hours > 24)
        at += timedelta(minutes=15)


def test_clocks_that_do_not_change_have_no_next_change() -> None:
    with pytest.raises(LookupError, match="within two days"):
        change_after(datetime(2031, 1, 1, tzinfo=UTC_ZONE), UTC_ZONE)
