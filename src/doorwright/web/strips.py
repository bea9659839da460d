"""Week strips for the page of calls: a row a day, and across the hours what a call does then, by letter and pattern."""

from collections.abc import Iterator
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Final

from doorwright.model.calling import DAY_MIN
from doorwright.model.walk import Walk
from doorwright.paths import week
from doorwright.paths.call import Behaviour
from doorwright.paths.proof import Calls
from doorwright.paths.telling import clock, rows, tell_call, tell_frees, tell_spans

_PATTERNS_COUNT: Final = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A part of a day, in minutes of it: the letter of what a call does then; the letter has room where it is wide."""

    start_min: int
    end_min: int
    letter: str
    pattern: int
    hours: str


@dataclass(frozen=True, slots=True, kw_only=True)
class DayRow:
    """A day, or days that are alike."""

    name: str
    pieces: tuple[Piece, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a letter stands for: what a call does, who may free which door by it, and when."""

    letter: str
    pattern: int
    call: str
    frees: str
    when: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Strip:
    """The week of one kind of call."""

    days: tuple[DayRow, ...]
    meanings: tuple[Meaning, ...]


def strip(walk: Walk, calls: Calls) -> Strip:
    """Return the week strip of calls that behave alike."""
    letters = {behaviour: _letter(number) for number, behaviour in enumerate(calls.behaviours)}
    days = [tuple(_of_day(calls, day)) for day in range(week.DAYS_COUNT)]
    names = [("every day", 0)] if len(set(days)) == 1 else [(row.name, row.day) for row in rows(days)]
    return Strip(
        days=tuple(
            DayRow(name=name, pieces=tuple(_piece(start, end, one, letters) for start, end, one in days[day]))
            for name, day in names
        ),
        meanings=tuple(
            Meaning(
                letter=letter,
                pattern=number % _PATTERNS_COUNT,
                call=tell_call(walk, behaviour.call),
                frees=tell_frees(walk, behaviour),
                when=tell_spans(calls.when([behaviour])),
            )
            for number, (behaviour, letter) in enumerate(letters.items())
        ),
    )


def _of_day(calls: Calls, day: int) -> Iterator[tuple[int, int, Behaviour]]:
    midnight = day * DAY_MIN
    for stretch in calls.stretches:
        start_min, end_min = max(stretch.start_min, midnight), min(stretch.end_min, midnight + DAY_MIN)
        if start_min < end_min:
            yield start_min - midnight, end_min - midnight, stretch.behaviour


def _piece(start_min: int, end_min: int, behaviour: Behaviour, letters: dict[Behaviour, str]) -> Piece:
    return Piece(
        start_min=start_min,
        end_min=end_min,
        letter=letters[behaviour],
        pattern=list(letters).index(behaviour) % _PATTERNS_COUNT,
        hours=f"{clock(start_min)} to {clock(end_min)}",
    )


def _letter(number: int) -> str:
    """Return A to Z, then AA, AB, ..."""
    first, rest = divmod(number, len(ascii_uppercase))
    return (_letter(first - 1) if first else "") + ascii_uppercase[rest]
