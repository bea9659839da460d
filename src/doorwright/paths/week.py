"""The local week as minutes, and sets of them as spans.

What a day is to a timetable hangs on three things: its weekday, whether it is a holiday (a timetable with holiday
windows then has only those, one that is closed on holidays none), and whether the day before was one (a window belongs
to the day on which it begins, so what runs over midnight is that day's). So there are 28 kinds of day, and every date
is exactly one of them. The axis has 28 x 1440 minutes: first the seven ordinary days that follow ordinary days, in
order and in a ring, then three times seven days that stand alone: holidays, days after a holiday, holidays after a
holiday.
"""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final, TypeAlias

from doorwright.model.calling import DAY_MIN, DAYS, HOLIDAY, Timetable, Window

Span: TypeAlias = tuple[int, int]
"""Minutes from the first up to, not including, the second."""
Spans: TypeAlias = tuple[Span, ...]
"""A set of minutes: spans in order that neither overlap nor touch."""
Stretches: TypeAlias = tuple[tuple[int, int, frozenset[str]], ...]
"""The axis cut into stretches, with the timetables that hold in each."""

WEEKDAYS: Final = 7
WEEK_MIN: Final = WEEKDAYS * DAY_MIN
DAYS_COUNT: Final = 4 * WEEKDAYS
AXIS_MIN: Final = DAYS_COUNT * DAY_MIN


def day_index(weekday: int, *, holiday: bool = False, after_holiday: bool = False) -> int:
    """Return where a day stands on the axis: weekday 0 is Monday."""
    return weekday + WEEKDAYS * holiday + 2 * WEEKDAYS * after_holiday


def is_holiday(day: int) -> bool:
    """Say whether a day of the axis is a holiday."""
    return day // WEEKDAYS % 2 == 1


def is_after_holiday(day: int) -> bool:
    """Say whether a day of the axis follows a holiday."""
    return day // WEEKDAYS >= 2


def day_name(day: int) -> str:
    """Return what a day of the axis is called: "Mon", "Hol on Mon", "Tue after Hol", "Hol on Tue after Hol"."""
    name = DAYS[day % WEEKDAYS]
    name = f"{DAYS[HOLIDAY]} on {name}" if is_holiday(day) else name
    return f"{name} after {DAYS[HOLIDAY]}" if is_after_holiday(day) else name


def possible(window: Window) -> bool:
    """Say whether a window has days and times that exist; one that has not is never inside."""
    days = bool(window.days) and all(0 <= day < len(DAYS) for day in window.days)
    return days and 0 <= window.start_min < DAY_MIN and 0 <= window.end_min <= DAY_MIN


def spans_of(timetable: Timetable) -> Spans:
    """Return when a timetable's windows hold, on the axis."""
    windows = [window for window in timetable.windows if possible(window)]
    on_holidays = [window for window in windows if HOLIDAY in window.days]

    def begin(weekday: int, holiday: bool) -> list[Window]:
        if holiday and timetable.closed_on_holidays:
            return []
        return on_holidays if holiday and on_holidays else [window for window in windows if weekday in window.days]

    raw: list[Span] = []
    for day in range(DAYS_COUNT):
        midnight = day * DAY_MIN
        for window in begin(day % WEEKDAYS, is_holiday(day)):
            overnight = window.end_min <= window.start_min
            raw.append((midnight + window.start_min, midnight + (DAY_MIN if overnight else window.end_min)))
        raw.extend(
            (midnight, midnight + window.end_min)
            for window in begin((day - 1) % WEEKDAYS, is_after_holiday(day))
            if window.end_min <= window.start_min and window.end_min
        )
    return union(raw)


def union(spans: Iterable[Span]) -> Spans:
    """Return the set of all minutes in any of the spans, which may overlap and stand in any order."""
    joined: list[Span] = []
    for start_min, end_min in sorted(spans):
        if joined and start_min <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(joined[-1][1], end_min))
        elif start_min < end_min:
            joined.append((start_min, end_min))
    return tuple(joined)


def outside(spans: Spans) -> Spans:
    """Return the minutes of the axis that are in none of the spans."""
    gaps: list[Span] = []
    reach_min = 0
    for start_min, end_min in spans:
        if start_min > reach_min:
            gaps.append((reach_min, start_min))
        reach_min = end_min
    if reach_min < AXIS_MIN:
        gaps.append((reach_min, AXIS_MIN))
    return tuple(gaps)


def within(spans: Spans, start_min: int, end_min: int) -> Spans:
    """Return the part of a set that lies from ``start_min`` up to ``end_min``."""
    cut = ((max(a_min, start_min), min(b_min, end_min)) for a_min, b_min in spans)
    return tuple((a_min, b_min) for a_min, b_min in cut if a_min < b_min)


def of_day(spans: Spans, day: int) -> Spans:
    """Return the part of a set on one day, in minutes of that day."""
    midnight = day * DAY_MIN
    cut = within(spans, midnight, midnight + DAY_MIN)
    return tuple((start_min - midnight, end_min - midnight) for start_min, end_min in cut)


def stretches(spans_of_timetable: Mapping[str, Spans]) -> Stretches:
    """Cut the axis where any timetable begins or ends, and where days stop being neighbours.

    Inside a stretch nothing changes, so one answer holds for all its minutes.
    """
    turns: dict[int, list[str]] = {minute: [] for minute in range(WEEK_MIN, AXIS_MIN, DAY_MIN)}
    for ident, spans in spans_of_timetable.items():
        for span in spans:
            for minute in span:
                turns.setdefault(minute, []).append(ident)
    return tuple(_stretches(turns))


def _stretches(turns: Mapping[int, list[str]]) -> Iterator[tuple[int, int, frozenset[str]]]:
    inside: frozenset[str] = frozenset()
    start_min = 0
    for minute in sorted(turns):
        if minute > 0:
            yield start_min, minute, inside
        for ident in turns[minute]:
            inside ^= {ident}
        start_min = minute
    if start_min < AXIS_MIN:
        yield start_min, AXIS_MIN, inside
