"""Ask about one call: from an entrance to a dwelling or desk at a moment, who rings, and who may free which door."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Final, TypeAlias
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from doorwright.kernel.errors import Refused
from doorwright.model.calling import DAY_MIN, DAYS, HOLIDAY
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.call import Behaviour, Call, Target
from doorwright.paths.dated import Moment, length_of, moment_at
from doorwright.paths.follow import receivers
from doorwright.paths.proof import EntranceProof, prove_entrance
from doorwright.paths.sequence import Causes, steps
from doorwright.paths.telling import clock, tell_end, tell_target
from doorwright.paths.week import WEEKDAYS, day_index, day_name
from doorwright.plan.edits.called import called
from doorwright.store.workbook.dates import date_of
from doorwright.store.workbook.values import Unreadable

Called: TypeAlias = Dwelling | Unit
"""What visitors call: a dwelling, or a desk."""

_WEEKLY: Final = re.compile(r"\s*([A-Za-z]{3})\w*(?:\s+on\s+([A-Za-z]{3})\w*)?\s+([01]?\d|2[0-3])[:.]([0-5]\d)\s*")
_DATED: Final = re.compile(r"\s*(.*?\d)(?:\s*T\s*|[\s,]+)(?:at\s+)?([01]?\d|2[0-3])[:.]([0-5]\d)\s*")
_WHOLE_DAY: Final = "Add a time, such as 14:30, or ask about the whole day: --on with the date."
_HOW: Final = "Write it like Sat 14:30, Hol on Mon 09:00 for a holiday, or 2027-03-28 14:30."


@dataclass(frozen=True, slots=True)
class When:
    """A moment of the week, or of the calendar: then ``dated`` says which instants it is."""

    minute: int
    dated: Moment | None = None
    zone: str = ""

    @property
    def day(self) -> str:
        """The kind of day: "Sat", "Hol on Mon", "Tue after Hol"."""
        return day_name(self.minute // DAY_MIN)

    def __str__(self) -> str:
        if self.dated is None:
            return f"{self.day} {clock(self.minute % DAY_MIN)}"
        utc = " and ".join(f"{at:%H:%M}" for at in self.dated.instants)
        return f"{self.dated.answered:%Y-%m-%d %H:%M} ({self.day}, {self.zone}; {utc} UTC)"

    @property
    def remark(self) -> str:
        """What the change of clocks does to this moment, in words; empty where it does nothing."""
        dated = self.dated
        if dated is None or dated.turned is None:
            return ""
        before, after = (f"{at:%H:%M}" for at in dated.turned)
        if dated.skipped:
            return (
                f"{dated.asked:%Y-%m-%d %H:%M} does not exist in {self.zone}: clocks go forward from {before} to"
                f" {after}. Hours that lie in the gap begin at its end, so this tells of {after}."
            )
        return (
            f"{dated.asked:%Y-%m-%d %H:%M} occurs twice in {self.zone}: clocks go back from {before} to {after}."
            " Timetables follow the clock on the wall, so the same holds both times."
        )


@dataclass(frozen=True, slots=True)
class Ringing:
    """Somebody rings, or nobody does, from one second after the visitor called to another.

    ``causes`` are what must have happened on the way; each is any one of several.
    """

    start_s: int
    end_s: int
    causes: tuple[Causes, ...]
    who: str
    units: tuple[str, ...]
    end: str

    @property
    def way(self) -> str:
        """What must have happened, in words: "busy or not registered, then no answer"."""
        return ", then ".join(" or ".join(cause.value for cause in causes) for causes in self.causes) or "at once"


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a call does at a moment: who rings in which order, who may free which door, and whether trades may."""

    entrance: Entrance
    called: Called
    when: When
    behaviour: Behaviour
    ringings: tuple[Ringing, ...]
    frees: tuple[tuple[str, tuple[str, ...]], ...]
    trade_doors: tuple[str, ...]


def ask_paths(walk: Walk, *, entrance: str, to: str, at: str) -> Answer:
    """Answer who rings, and who may free which door, for one call.

    Args:
        walk: the site.
        entrance: the name of the entrance.
        to: the label of the dwelling ("305", or "Stair A/305" where several have it), or the name of a desk.
        at: "Sat 14:30", "Hol on Mon 09:00", or a date and time by the clocks of the site: "2027-03-28 14:30".

    Raises:
        Refused: there is no such entrance, dwelling, desk or moment, or no such call.
    """
    desk = desk_called(walk, to) if to.strip().casefold() in _desk_names(walk) else None
    found: Entrance = called(walk, entrance, Entrance)
    home = desk or dwelling_called(walk, to)
    return answer(walk, prove_entrance(walk, found), home, when_of(walk, at))


def answer(walk: Walk, at: EntranceProof, to: Called, when: When) -> Answer:
    """Answer out of the proof of an entrance.

    Raises:
        Refused: the entrance does not call that dwelling or desk.
    """
    entrance = walk.get(Entrance, at.entrance)
    try:
        calls = at.desk_calls(to.id) if isinstance(to, Unit) else at.group_of(to.id)
    except LookupError:
        raise Refused(
            f"no call from {entrance.name} is for {told_called(to)}",
            remedy="Let the entrance serve it, or ask about another.",
        ) from None
    behaviour = calls.at(when.minute)
    trade = any(start_min <= when.minute < end_min for start_min, end_min in at.trade)
    return Answer(
        entrance=entrance,
        called=to,
        when=when,
        behaviour=behaviour,
        ringings=tuple(_ringings(walk, behaviour.call, to)),
        frees=tuple(
            (tell_target(walk, free.target, _name(to)), tuple(walk.get(Door, door).name for door in free.doors))
            for free in behaviour.frees
        ),
        trade_doors=tuple(walk.get(Door, door).name for door in at.doors) if trade else (),
    )


def _ringings(walk: Walk, call: Call, to: Called) -> Iterator[Ringing]:
    for step in steps(call):
        target = step.call.target
        who = tell_target(walk, target, _name(to)) if target is not None else ""
        units = _units(walk, target, to) if step.call.stages and target is not None else ()
        units = units if step.nth is None else units[step.nth : step.nth + 1]
        end = "" if step.call.stages else tell_end(walk, step.call, _name(to))
        yield Ringing(step.start_s, step.end_s, step.causes, who, units, end)


def _units(walk: Walk, target: Target, to: Called) -> tuple[str, ...]:
    unit = walk.find(Unit, target.id)
    if unit is not None:
        return (unit.name,)
    return tuple(unit.name for unit in receivers(walk, target.id or to.id))


def _name(to: Called) -> str:
    return f"dwelling {to.door_label}" if isinstance(to, Dwelling) else to.name


def told_called(to: Called) -> str:
    """Return whom a call is for: "dwelling 305", "desk Reception"."""
    return f"dwelling {to.door_label}" if isinstance(to, Dwelling) else f"desk {to.name}"


# what people write


def when_of(walk: Walk, text: str) -> When:
    """Return the moment that somebody means by "Sat 14:30", "Hol on Mon 09:00" or "2027-03-28 14:30".

    Raises:
        Refused: it is none, or it is a date and the site has no time zone.
    """
    dated = _DATED.fullmatch(text)
    if dated is None:
        return When(moment(text))
    on = date_in_words(dated[1])
    zone = zone_of(walk)
    asked = datetime.combine(on, time(int(dated[2]), int(dated[3])))
    found = moment_at(asked, zone=zone, holidays=walk.settings().holidays)
    return When(found.minute, found, zone.key)


def moment(text: str) -> int:
    """Return the minute of the axis that a person means by "Sat 14:30" or "Hol on Mon 09:00"; "Hol" alone is on Mon.

    Raises:
        Refused: it is no moment of the week.
    """
    found = _WEEKLY.fullmatch(text)
    names = [name.casefold() for name in DAYS]
    first, on = (found[1].casefold(), (found[2] or DAYS[0]).casefold()) if found else ("", "")
    known = first in names and on in names[:WEEKDAYS] and (first == names[HOLIDAY] or not (found and found[2]))
    if not found or not known:
        raise Refused(f"{text!r} is no moment of the week", remedy=_HOW if not _is_date(text) else _WHOLE_DAY)
    holiday = first == names[HOLIDAY]
    day = day_index(names.index(on if holiday else first), holiday=holiday)
    return day * DAY_MIN + int(found[3]) * 60 + int(found[4])


def _is_date(text: str) -> bool:
    try:
        date_of(text)
    except Unreadable:
        return False
    return True


def date_in_words(text: str) -> date:
    """Return the date that a text names.

    Raises:
        Refused: it names none, or may be two, or lies at the ends of the calendar.
    """
    try:
        found = date_of(text)
    except Unreadable as fault:
        raise Refused(fault.problem, remedy=fault.remedy) from None
    if not date.min + timedelta(days=7) < found < date.max - timedelta(days=7):
        raise Refused(f"{found} lies at the end of the calendar", remedy="Ask about a year in between.")
    return found


def zone_of(walk: Walk) -> ZoneInfo:
    """Return the time zone of a site.

    Raises:
        Refused: it has none, or one that is not known here.
    """
    name = walk.settings().time_zone
    if not name:
        raise Refused(
            "the site has no time zone, so nobody can say when a date's hours are",
            remedy="Write it on the sheet Site, such as Europe/Paris; moments of the week such as Sat 14:30 need none.",
        )
    try:
        return ZoneInfo(name)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise Refused(
            f"the site's time zone {name!r} is not known", remedy="Write one such as Europe/Paris on the sheet Site."
        ) from None


def change_on(on: date, zone: ZoneInfo) -> str:
    """Return what clocks do on a date, in words; empty where they do nothing."""
    hours = length_of(on, zone)
    if hours == timedelta(days=1):
        return ""
    if not hours:
        return f"there is no {on} in {zone.key}: clocks go forward over it"
    way = "forward" if hours < timedelta(days=1) else "back"
    return f"clocks go {way}: this day has {hours / timedelta(hours=1):g} hours"


def dwelling_called(walk: Walk, text: str) -> Dwelling:
    """Return the dwelling of a label, or of core and label.

    Raises:
        Refused: there is none (the nearest are named), or there are several.
    """
    found: Dwelling = called(walk, text, Dwelling)
    return found


def desk_called(walk: Walk, text: str) -> Unit:
    """Return the desk of a name.

    Raises:
        Refused: there is none, or there are several.
    """
    names = _desk_names(walk)
    found = names.get(text.strip().casefold(), ())
    if len(found) == 1:
        return found[0]
    if found:
        raise Refused(f"{len(found)} desks are called {text!r}", remedy="Give them names of their own, then ask again.")
    desks = sorted((desk.name for desks in names.values() for desk in desks), key=natural_key)
    raise Refused(f"no desk is called {text!r}", remedy=f"Desks: {', '.join(desks) or 'none'}.")


def _desk_names(walk: Walk) -> dict[str, list[Unit]]:
    names: dict[str, list[Unit]] = {}
    for desk in walk.units_of_kind(UnitKind.SMU):
        names.setdefault(desk.name.casefold(), []).append(desk)
    return names
