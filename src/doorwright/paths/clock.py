"""The week on the calendar: local spans as instants in UTC, across the days on which clocks change.

A local minute holds whenever the clock on the wall shows it. So what lies in an hour that does not exist begins at the
gap's end, and what lies in an hour that occurs twice holds twice.
"""

from collections.abc import Collection, Iterator
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final, TypeAlias

from doorwright.paths.week import Spans, day_index, of_day

Instants: TypeAlias = tuple[tuple[datetime, datetime], ...]
"""Intervals in UTC, each from the first instant up to, not including, the second."""

_DAY: Final = timedelta(days=1)
_LOOK: Final = timedelta(hours=1)
"""How far apart offsets are compared. No zone has changed its clocks twice within an hour."""
_MARGIN: Final = timedelta(hours=26)
"""No zone is further from UTC."""


def day_of(on: date, holidays: Collection[date]) -> int:
    """Return which day of the axis a date is."""
    return day_index(on.weekday(), holiday=on in holidays, after_holiday=on - _DAY in holidays)


def instants(spans: Spans, *, zone: tzinfo, first: date, last: date, holidays: Collection[date]) -> Instants:
    """Return when a set of local minutes holds, from the date ``first`` to the date ``last``, both included.

    Args:
        spans: minutes of the axis of ``week``.
        zone: the zone whose clock hangs on the wall.
        first: the first local date.
        last: the last local date.
        holidays: the dates that are holidays.
    """
    found: list[tuple[datetime, datetime]] = []
    begin = datetime.combine(first, time(), UTC) - _MARGIN
    end = datetime.combine(last, time(), UTC) + _DAY + _MARGIN
    for start, stop, offset in _steady(zone, begin, end):
        wall_start, wall_stop = (start + offset).replace(tzinfo=None), (stop + offset).replace(tzinfo=None)
        on = max(first, wall_start.date())
        while on <= min(last, wall_stop.date()):
            midnight = datetime.combine(on, time())
            for start_min, end_min in of_day(spans, day_of(on, holidays)):
                opens = max(wall_start, midnight + timedelta(minutes=start_min))
                closes = min(wall_stop, midnight + timedelta(minutes=end_min))
                if opens < closes:
                    found.append(((opens - offset).replace(tzinfo=UTC), (closes - offset).replace(tzinfo=UTC)))
            on += _DAY
    return _joined(found)


def showing(wall: datetime, zone: tzinfo) -> tuple[datetime, ...]:
    """Return every instant, in UTC, at which the clock on the wall shows a time: none, one, or two.

    Args:
        wall: date and time without zone.
        zone: the zone whose clock hangs on the wall.
    """
    meant = {wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}
    return tuple(sorted(at for at in meant if at.astimezone(zone).replace(tzinfo=None) == wall))


def change_after(instant: datetime, zone: tzinfo) -> datetime:
    """Return the first change of clocks after an instant, in UTC, within two days of it.

    Raises:
        LookupError: clocks do not change so soon.
    """
    for start, _, _ in _steady(zone, instant, instant + 2 * _DAY):
        if start > instant:
            return start
    raise LookupError(f"clocks do not change within two days of {instant:%Y-%m-%d %H:%M}")


def _steady(zone: tzinfo, begin: datetime, end: datetime) -> Iterator[tuple[datetime, datetime, timedelta]]:
    """Yield the stretches of time in which the zone's offset does not change."""
    start, offset, at = begin, _offset(zone, begin), begin
    while at < end:
        after = min(at + _LOOK, end)
        if _offset(zone, after) != offset:
            low, high = at, after  # the change is after low, at or before high
            while high - low > timedelta(seconds=1):
                middle = low + timedelta(seconds=(high - low) // timedelta(seconds=2))
                low, high = (low, middle) if _offset(zone, middle) != offset else (middle, high)
            yield start, high, offset
            start, offset = high, _offset(zone, high)
        at = after
    yield start, end, offset


def _offset(zone: tzinfo, instant: datetime) -> timedelta:
    return instant.astimezone(zone).utcoffset() or timedelta()


def _joined(found: list[tuple[datetime, datetime]]) -> Instants:
    joined: list[tuple[datetime, datetime]] = []
    for opens, closes in sorted(found):
        if joined and opens <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(closes, joined[-1][1]))
        else:
            joined.append((opens, closes))
    return tuple(joined)
