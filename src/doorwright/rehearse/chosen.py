"""Which call of a rehearsal somebody means by a text such as "Gate unit:101, Sat 14:30, no answer"."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from doorwright.model.calling import DAY_MIN, DivertCause
from doorwright.model.label import natural_key
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import Calls, Proof
from doorwright.paths.week import DAYS_COUNT, day_name
from doorwright.rehearse.box import Box
from doorwright.rehearse.observed import told_called, told_minute
from doorwright.rehearse.script import NotPlayed, Play, script

_NUMBER: Final = "number "
_KEY: Final = "key "  # which the label of a key begins with
_LISTED_COUNT: Final = 12
_MINUTE: Final = re.compile(r"(?P<day>[A-Za-z ]+) (?P<hour>\d{1,2}):(?P<minute>\d\d)")
_CAUSES: Final = {cause.value: cause for cause in DivertCause}
_DAYS: Final = {day_name(day).casefold(): day for day in range(DAYS_COUNT)}


class NoSuchCallError(Exception):
    """Nobody can mean a call by this text, or no such call is played; the message says why."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """A call that somebody wants to see.

    ``unit`` is the name of the call unit. ``press`` is what the visitor does there: the label of a key, a number, or
    the name of the dwelling or desk that they want; "number 12" is never a key. ``minute`` is of the axis of the week,
    None for the first at which the call goes through. ``way`` is what must happen before the call comes where it is
    taken.
    """

    unit: str
    press: str
    minute: int | None = None
    way: tuple[DivertCause, ...] = ()


def read_wanted(text: str) -> Wanted:
    """Return the call that a text means: UNIT:KEY or UNIT:NUMBER, then a day and time, then the way, behind commas.

    Raises:
        NoSuchCallError: the text has another form.
    """
    named, *rest = _pieces(text)
    unit, colon, press = named.rpartition(":")
    if not colon or not unit.strip() or not press.strip():
        raise NoSuchCallError(f"{text!r} has no call unit and key or number with a colon between them")
    minute: int | None = None
    way: list[DivertCause] = []
    for piece in rest:
        if piece in _CAUSES:
            way.append(_CAUSES[piece])
        elif minute is not None:
            raise NoSuchCallError(f"{text!r} has two times")
        else:
            minute = _minute(piece)
    return Wanted(unit.strip(), press.strip(), minute, tuple(way))


def text_of(walk: Walk, play: Play) -> str:
    """Return the text that means a call of the script."""
    press = play.key if play.key is not None else f"{_NUMBER}{play.number}"
    return ", ".join((f"{walk.get(Unit, play.unit).name}:{press}", told_minute(play.minute), *play.way))


def chosen(walk: Walk, proof: Proof, boxes: Mapping[str, Box], unit: Unit, wanted: Wanted) -> Play:
    """Return the call of the script that is wanted, at the minute that is wanted.

    Args:
        walk: the site.
        proof: its call paths.
        boxes: as planned, without faults.
        unit: the call unit that was named.
        wanted: the call.

    Raises:
        NoSuchCallError: no such call is played; the message says which are.
    """
    at = proof.entrances.get(unit.entrance or "")
    if unit.entrance is None or at is None:
        raise NoSuchCallError(f"{unit.name} stands at no entrance, so nobody calls there")
    here = list(script(walk, Proof({unit.entrance: at}), boxes))
    plays = [one for one in here if isinstance(one, Play) and one.unit == unit.id]
    pressed = [one for one in plays if _is_pressed(walk, one, wanted.press)]
    if not pressed:
        whys = [one.why for one in here if isinstance(one, NotPlayed) and _names(walk, one.called, wanted)]
        keys = sorted({f"{one.key or one.number} ({told_called(walk, one.called)})" for one in plays}, key=natural_key)
        more = f" and {len(keys) - _LISTED_COUNT} more" if len(keys) > _LISTED_COUNT else ""
        there_are = f"there are {', '.join(keys[:_LISTED_COUNT])}{more}" if keys else "there are none"
        raise NoSuchCallError(
            f"no call with {wanted.press!r} is played at {unit.name}: {whys[0] if whys else there_are}"
        )
    calls = _calls(proof, pressed[0])
    same = [one for one in pressed if one.called == pressed[0].called]
    at_minute = [one for one in same if wanted.minute is None or calls.at(one.minute) == calls.at(wanted.minute)]
    ways = list(dict.fromkeys(one.way for one in at_minute))
    fitting = [one for one in at_minute if one.way == wanted.way]
    if not fitting:
        listed = "; ".join(", ".join(way) or "taken at once" for way in ways)
        raise NoSuchCallError(f"this call is not played so; there is: {listed}")
    if wanted.minute is None:
        return next((one for one in fitting if not one.expected.silent), fitting[0])
    return replace(fitting[0], minute=wanted.minute)


def _pieces(text: str) -> list[str]:
    """Return a text cut at the commas behind which a time or a cause stands: names may hold commas."""
    named, rest = text.strip(), list[str]()
    while "," in named:
        before, _, piece = (part.strip() for part in named.rpartition(","))
        if piece.casefold() not in _CAUSES and not _MINUTE.fullmatch(piece):
            break
        named, rest = before, [piece.casefold() if piece.casefold() in _CAUSES else piece, *rest]
    return [named, *rest]


def _minute(text: str) -> int:
    found = _MINUTE.fullmatch(text)
    day = _DAYS.get(" ".join(found["day"].casefold().split())) if found is not None else None
    if found is None or day is None or int(found["hour"]) > 23 or int(found["minute"]) > 59:
        raise NoSuchCallError(f"{text!r} is no time of the week, such as {told_minute(0)!r}")
    return day * DAY_MIN + int(found["hour"]) * 60 + int(found["minute"])


def _is_pressed(walk: Walk, play: Play, press: str) -> bool:
    called = told_called(walk, play.called)
    means = {called, play.number}
    means |= {f"{_NUMBER}{play.number}"} if play.key is None else {play.key, play.key.removeprefix(_KEY)}
    return press.casefold() in {one.casefold() for one in means}


def _names(walk: Walk, called: str, wanted: Wanted) -> bool:
    return told_called(walk, called).casefold() == wanted.press.casefold()


def _calls(proof: Proof, play: Play) -> Calls:
    at = proof.entrances[play.entrance]
    return next((desk for desk in at.desks if desk.desk == play.called), None) or at.group_of(play.called)
