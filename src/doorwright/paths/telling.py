"""Stretches of the week and calls in the words in which people tell them: "Sat 12:00 to Mon 08:00"."""

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from doorwright.model.calling import DAY_MIN, DAYS, HOLIDAY, DivertCause
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths import week
from doorwright.paths.call import Behaviour, Call, End, Target, TargetKind
from doorwright.paths.week import DAYS_COUNT, WEEK_MIN, WEEKDAYS, Span, Spans

_HOL: Final = DAYS[HOLIDAY]
_ENDS: Final = {
    End.SILENT: "silent",
    End.NOBODY: "sent to nobody",
    End.LOOP: "goes round in a loop",
    End.TOO_OFTEN: "sent on too often",
}


@dataclass(frozen=True, slots=True)
class Row:
    """Days that are alike, under one name; ``day`` of the axis stands for them."""

    name: str
    day: int


def rows(of_day: Sequence[Hashable]) -> tuple[Row, ...]:
    """Fold the days of the axis to those worth a row: the weekdays, and what holidays change.

    Args:
        of_day: what each day of the axis is like; equal values are like days. A day without a row is as its weekday.
    """
    return (
        *(Row(DAYS[day], day) for day in range(WEEKDAYS)),
        *_folded(of_day, range(WEEKDAYS, 2 * WEEKDAYS), 0, _holidays),
        *_folded(of_day, range(2 * WEEKDAYS, 3 * WEEKDAYS), 0, lambda days: f"{_days(days)} after {_HOL}"),
        *_folded(of_day, range(3 * WEEKDAYS, DAYS_COUNT), 1, lambda days: f"{_holidays(days)} after {_HOL}"),
    )


def _folded(
    of_day: Sequence[Hashable], block: range, like_block: int, name: Callable[[list[int]], str]
) -> Iterator[Row]:
    """Yield one row for a block of like days, else rows for those that differ from the days before them."""
    differing = [day for day in block if of_day[day] != of_day[like_block * WEEKDAYS + day % WEEKDAYS]]
    if differing and len({of_day[day] for day in block}) == 1:
        differing = list(block)
    alike: dict[Hashable, list[int]] = {}
    for day in differing:
        alike.setdefault(of_day[day], []).append(day)
    for days in alike.values():
        yield Row(name([day % WEEKDAYS for day in days]), days[0])


def _holidays(weekdays: list[int]) -> str:
    return _HOL if len(weekdays) == WEEKDAYS else f"{_HOL} on {_days(weekdays)}"


def _days(weekdays: Iterable[int]) -> str:
    """Return weekdays with runs drawn together: "Mon-Wed+Sat"."""
    runs: list[list[int]] = []
    for day in sorted(set(weekdays)):
        if runs and runs[-1][-1] == day - 1:
            runs[-1].append(day)
        else:
            runs.append([day])
    return "+".join(DAYS[run[0]] if len(run) == 1 else f"{DAYS[run[0]]}-{DAYS[run[-1]]}" for run in runs)


def clock(minute: int) -> str:
    """Return a minute of the day as people write it; 1440 is 24:00."""
    return f"{minute // 60:02d}:{minute % 60:02d}"


def tell_spans(spans: Spans) -> str:
    """Return a set of minutes in words: the ordinary week first, then what holidays change."""
    ordinary = ", ".join(_ordinary(week.within(spans, 0, WEEK_MIN)))
    of_day = [week.of_day(spans, day) for day in range(DAYS_COUNT)]
    told = [ordinary] if ordinary else []
    for row in rows(of_day)[WEEKDAYS:]:
        whole = of_day[row.day] == ((0, DAY_MIN),)
        hours = "all day" if whole else ", ".join(f"{clock(a)}-{clock(b)}" for a, b in of_day[row.day])
        told.append(f"{row.name} {hours}" if hours else f"not on {row.name}")
    return ", ".join(told)


def _ordinary(spans: Spans) -> Iterator[str]:
    if spans == ((0, WEEK_MIN),):
        yield "all week"
        return
    ring = list(spans)
    if len(ring) > 1 and ring[0][0] == 0 and ring[-1][1] == WEEK_MIN:
        ring = [*ring[1:-1], (ring[-1][0], ring[0][1] + WEEK_MIN)]
    alike: dict[Span, list[int]] = {}
    for start_min, end_min in ring:
        day, opens_min = divmod(start_min, DAY_MIN)
        alike.setdefault((opens_min, end_min - day * DAY_MIN), []).append(day)
    for (opens_min, closes_min), days in alike.items():
        later = closes_min // DAY_MIN
        if opens_min == 0 and closes_min % DAY_MIN == 0:
            whole = [day + more for day in days for more in range(later)]
            yield f"{_days(day % WEEKDAYS for day in whole)} all day"
        elif closes_min <= DAY_MIN:
            yield f"{_days(days)} {clock(opens_min)}-{clock(closes_min)}"
        elif len(days) > 1 and later == 1:
            yield f"{_days(days)} {clock(opens_min)} to {clock(closes_min % DAY_MIN)} the next day"
        else:
            for day in days:
                end = f"{DAYS[(day + later) % WEEKDAYS]} {clock(closes_min % DAY_MIN)}"
                yield f"{DAYS[day]} {clock(opens_min)} to {end}"


def tell_target(walk: Walk, target: Target, called: str = "the dwelling called") -> str:
    """Return what a target is called."""
    if target.kind is TargetKind.DESK:
        return named_desk(walk, target.id)
    dwelling = walk.find(Dwelling, target.id)
    return f"dwelling {dwelling.door_label}" if dwelling else called


def named_desk(walk: Walk, ident: str) -> str:
    """Return the name of a desk; of one that the site does not have, its identifier."""
    desk = walk.find(Unit, ident)
    return desk.name if desk else ident


def tell_call(walk: Walk, call: Call) -> str:
    """Return a call in words: who rings, and where it goes when nobody takes it."""
    if call.end is not End.RINGS:
        said = tell_end(walk, call)
    else:
        who = tell_target(walk, call.target) if call.target else ""
        said = f"{who} rings {_how(call)}".rstrip()
    next_calls: dict[Call, list[DivertCause]] = {}
    for cause, after in call.branches:
        next_calls.setdefault(after, []).append(cause)
    for after, causes in next_calls.items():
        words = tell_call(walk, after)
        said += f"; {_or(causes)}: {f'[{words}]' if after.branches else words}"
    return said


def tell_end(walk: Walk, call: Call, called: str = "the dwelling called") -> str:
    """Return in words what a call comes to that does not ring."""
    if call.end is End.UNHEARD:
        return f"{tell_target(walk, call.target, called) if call.target else ''} rings nowhere: not registered"
    through = ", ".join(tell_target(walk, target, called) for target in call.chain)
    return f"{_ENDS[call.end]} ({through})" if through else _ENDS[call.end]


def tell_frees(walk: Walk, behaviour: Behaviour) -> str:
    """Return in words who may free which door: "the dwelling called: Main door, Bicycle room"."""
    said = []
    for free in behaviour.frees:
        doors = [door.name for door in (walk.find(Door, ident) for ident in free.doors) if door]
        said.append(f"{tell_target(walk, free.target)}: {', '.join(doors) or 'no door'}")
    return "; ".join(said) or "nobody"


def labels_of(walk: Walk, dwellings: Iterable[str], *, at_most_count: int = 12) -> str:
    """Return the door labels of some dwellings in natural order, and how many more there are."""
    found = (walk.find(Dwelling, ident) for ident in dwellings)
    labels = sorted((dwelling.door_label for dwelling in found if dwelling), key=natural_key)
    more = len(labels) - at_most_count
    return ", ".join(labels[:at_most_count]) + (f" and {more} more" if more > 0 else "")


def _how(call: Call) -> str:
    if len(call.stages) == 1 and call.stages[0].nth is None:
        where = "" if call.target and call.target.kind is TargetKind.DESK else "on all receivers "
        return f"{where}for {call.stages[0].ring_s} s"
    if len(call.stages) == 1:
        return f"for {call.stages[0].ring_s} s"
    return f"on {len(call.stages)} receivers in turn, {call.stages[0].ring_s} s each"


def _or(causes: list[DivertCause]) -> str:
    return " or ".join(cause.value for cause in causes)
