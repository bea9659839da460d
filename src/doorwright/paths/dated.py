"""Moments and days of the calendar: what the wall clock of a site's zone shows, and what calls then do."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import NamedTuple

from doorwright.model.calling import DAY_MIN
from doorwright.paths import week
from doorwright.paths.call import Behaviour
from doorwright.paths.clock import Instants, change_after, day_of, instants, showing
from doorwright.paths.proof import Partition
from doorwright.paths.week import Spans


@dataclass(frozen=True, slots=True)
class Moment:
    """A moment of the calendar that somebody asks about.

    ``asked`` is what the clock on the wall is to show, without zone. ``instants`` are when it does, in UTC: one, or two
    where clocks go back over it. Where clocks go forward over it there is none, ``answered`` is what the clock shows
    when it has gone forward, and ``instants`` holds that instant. ``turned`` is what the clock shows just before and
    just after the change in both cases. ``minute`` is the minute of the axis that holds.
    """

    asked: datetime
    answered: datetime
    instants: tuple[datetime, ...]
    turned: tuple[datetime, datetime] | None
    minute: int

    @property
    def skipped(self) -> bool:
        """Whether the clock never shows what was asked."""
        return self.answered != self.asked


class Piece(NamedTuple):
    """From one instant up to another, in UTC, in which calls do the same."""

    opens: datetime
    closes: datetime
    behaviour: Behaviour


def moment_at(asked: datetime, *, zone: tzinfo, holidays: Collection[date]) -> Moment:
    """Return a moment of the calendar.

    Args:
        asked: date, hour and minute on the wall, without zone.
        zone: the zone whose clock hangs on the wall.
        holidays: the dates that are holidays.
    """
    shown = showing(asked, zone)
    answered, turned = asked, None
    if len(shown) != 1:
        around = shown or tuple(sorted(_both(asked, zone)))
        change = change_after(around[0], zone)
        turned = (_wall(change - timedelta(seconds=1), zone) + timedelta(seconds=1), _wall(change, zone))
        if not shown:
            answered, shown = turned[1], (change,)
    day = day_of(answered.date(), holidays)
    return Moment(asked, answered, shown, turned, day * DAY_MIN + answered.hour * 60 + answered.minute)


def pieces_on(partition: Partition, on: date, *, zone: tzinfo, holidays: Collection[date]) -> tuple[Piece, ...]:
    """Return what calls do from midnight to midnight of a date, in order of time; nothing where no such day was.

    Args:
        partition: the week of the calls.
        on: the local date.
        zone: the zone whose clock hangs on the wall.
        holidays: the dates that are holidays.
    """
    found: list[Piece] = []
    for stretch in partition:
        span: Spans = ((stretch.start_min, stretch.end_min),)
        for opens, closes in spans_on(span, on, zone=zone, holidays=holidays):
            found.append(Piece(opens, closes, stretch.behaviour))
    joined: list[Piece] = []
    for piece in sorted(found, key=lambda piece: piece.opens):
        last = joined[-1] if joined else None
        if last is not None and last.closes == piece.opens and last.behaviour == piece.behaviour:
            joined[-1] = Piece(last.opens, piece.closes, piece.behaviour)
        else:
            joined.append(piece)
    return tuple(joined)


def spans_on(spans: Spans, on: date, *, zone: tzinfo, holidays: Collection[date]) -> Instants:
    """Return when a set of minutes of the axis holds on one date, in UTC."""
    midnight = day_of(on, holidays) * DAY_MIN
    today = week.within(spans, midnight, midnight + DAY_MIN)
    return instants(today, zone=zone, first=on, last=on, holidays=holidays) if today else ()


def length_of(on: date, zone: tzinfo) -> timedelta:
    """Return how long a date lasts on the wall: 24 hours but where clocks change."""
    begins, ends = (datetime.combine(day, time(), zone).astimezone(UTC) for day in (on, on + timedelta(days=1)))
    return ends - begins


def _both(wall: datetime, zone: tzinfo) -> set[datetime]:
    """Return what a wall time that is never shown would be by the clock before and after the change."""
    return {wall.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)}


def _wall(instant: datetime, zone: tzinfo) -> datetime:
    return instant.astimezone(zone).replace(tzinfo=None)
