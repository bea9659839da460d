"""What is rehearsed: every key and every number at every call unit, at each different stretch of the week.

What ought to happen is read from the call-path proof; what does happen comes over the wire. For each way that a call
can take (it is taken at once; nobody answers; they are busy; they are not registered) one call is played, at the first
minute at which the proof says that it behaves so. For one dwelling of each group that behaves alike, the last minute of
that stretch is played as well, so both edges of each timetable are met.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Final, TypeAlias

from doorwright.model.calling import DivertCause
from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.call import Behaviour, Call, End, Target, TargetKind
from doorwright.paths.follow import receivers
from doorwright.paths.proof import Calls, Proof
from doorwright.rehearse.actors import Mood
from doorwright.rehearse.box import Box

Groups: TypeAlias = tuple[frozenset[str], ...]
"""Units that ring, group after group; those of a group ring at once."""

_MOOD_FOR: Final = {DivertCause.BUSY: Mood.IS_BUSY, DivertCause.NO_ANSWER: Mood.LETS_RING}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of a call: who rang, who took it, which digit freed which door, whether both ends heard each other.

    ``picture``: who took it saw the visitor. ``silent``: it never left the call unit. What the proof cannot tell is not
    compared with it: ``held`` are the freed doors that did not open, ``code`` is what the call unit was answered.
    """

    rang: Groups = ()
    took: str | None = None
    freed: frozenset[tuple[str, str]] = frozenset()
    both_heard: bool = False
    silent: bool = False
    picture: bool = False
    held: frozenset[tuple[str, str]] = field(default=frozenset(), compare=False)
    code: str = field(default="", compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Play:
    """One call to be played, and what the proof says of it.

    ``key`` is the key that the visitor presses; None where they dial ``number``. ``called`` is the dwelling or desk
    that they want. ``way`` is what must happen before the call comes where it is taken.
    """

    entrance: str
    unit: str
    key: str | None
    number: str
    called: str
    minute: int
    way: tuple[DivertCause, ...]
    moods: Mapping[str, Mood]
    lapsed: frozenset[str]
    expected: Outcome


@dataclass(frozen=True, slots=True)
class NotPlayed:
    """A call that cannot be rehearsed, and why."""

    entrance: str
    called: str
    why: str


def script(walk: Walk, proof: Proof, boxes: Mapping[str, Box]) -> Iterator[Play | NotPlayed]:
    """Yield every call to be played, entrance by entrance.

    Args:
        walk: the site.
        proof: its call paths.
        boxes: as planned, without faults: what visitors press and dial hangs on them.
    """
    for ident, at in proof.entrances.items():
        entrance = walk.get(Entrance, ident)
        units = sorted(walk.units_at(ident), key=lambda unit: (natural_key(unit.name), unit.id))
        vcus = [unit for unit in units if unit.kind is UnitKind.VCU]
        wanted: list[_Wanted] = []
        for group in at.groups:
            ordered = sorted(group.dwellings, key=lambda one: natural_key(walk.get(Dwelling, one).door_label))
            wanted += [_Wanted(dwelling, group, place == 0) for place, dwelling in enumerate(ordered)]
        wanted += [_Wanted(calls.desk, calls, True) for calls in at.desks]
        for one in wanted:
            yield from _plays(walk, vcus, boxes, one, entrance=entrance.id)


def play_at(
    walk: Walk,
    proof: Proof,
    boxes: Mapping[str, Box],
    *,
    unit: str,
    key: str | None,
    number: str,
    called: str,
    minute: int,
) -> Play | NotPlayed:
    """Return one call at one moment, taken by whoever answers first, and what the proof says of it.

    Args:
        walk: the site.
        proof: its call paths.
        boxes: as planned, without faults.
        unit: the call unit, which stands at an entrance of the proof.
        key: what the visitor presses; None where they dial.
        number: what that calls.
        called: the dwelling or desk that they want.
        minute: of the axis of the week.

    Raises:
        LookupError: nobody at this entrance calls that.
    """
    entrance = walk.get(Unit, unit).entrance or ""
    at = proof.entrances[entrance]
    calls = at.group_of(called) if walk.find(Dwelling, called) is not None else at.desk_calls(called)
    behaviour = calls.at(minute)
    way, ends_at = next(_ways(behaviour.call))
    digits = {release.door: release.digit for box in boxes.values() for release in box.releases}
    seen = _Expecting(walk, boxes, called, digits)
    expected = seen.outcome(behaviour, way, ends_at)
    if seen.missing:
        return NotPlayed(entrance, called, f"{seen.missing} cannot be rehearsed: something of its plan lacks")
    return Play(
        entrance=entrance, unit=unit, key=key, number=number, called=called, minute=minute,
        way=tuple(cause for cause, _ in way), moods=seen.moods, lapsed=frozenset(seen.lapsed),
        expected=_with_picture(expected, boxes, unit),
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class _Wanted:
    """A dwelling or desk that visitors want, how calls to it behave, and whether to play both edges of each stretch."""

    called: str
    calls: Calls
    both_edges: bool


def _plays(
    walk: Walk, vcus: list[Unit], boxes: Mapping[str, Box], wanted: _Wanted, *, entrance: str
) -> Iterator[Play | NotPlayed]:
    called, calls = wanted.called, wanted.calls
    presses = [(vcu.id, key, number) for vcu in vcus for key, number in _presses(walk, vcu, boxes.get(vcu.id), called)]
    if not presses:
        yield NotPlayed(entrance, called, "no key rings it here and nobody can dial it")
    digits = {release.door: release.digit for vcu in vcus if vcu.id in boxes for release in boxes[vcu.id].releases}
    for behaviour in calls.behaviours if presses else ():
        minutes = _minutes(calls, behaviour, wanted.both_edges)
        for way, ends_at in _ways(behaviour.call):
            seen = _Expecting(walk, boxes, called, digits)
            expected = seen.outcome(behaviour, way, ends_at)
            if seen.missing:
                yield NotPlayed(entrance, called, f"{seen.missing} cannot be rehearsed: something of its plan lacks")
                continue
            for unit, key, number in presses:
                for minute in minutes:
                    yield Play(
                        entrance=entrance, unit=unit, key=key, number=number, called=called, minute=minute,
                        way=tuple(cause for cause, _ in way), moods=seen.moods, lapsed=frozenset(seen.lapsed),
                        expected=_with_picture(expected, boxes, unit),
                    )  # fmt: skip


def _with_picture(outcome: Outcome, boxes: Mapping[str, Box], unit: str) -> Outcome:
    """Return the outcome of a call from a unit: with a picture where it has a camera, and who takes it a screen."""
    taker = boxes.get(outcome.took or "")
    shown = taker is not None and unit in boxes and bool(boxes[unit].video and taker.video)
    return replace(outcome, picture=True) if shown else outcome


def _presses(walk: Walk, vcu: Unit, box: Box | None, called: str) -> Iterator[tuple[str | None, str]]:
    """Yield the keys of a unit that ring somebody, and their number where it can be dialled."""
    if box is None:
        return
    for key in walk.keys_ringing(called):
        if key.unit == vcu.id and key.label in box.keys:
            yield key.label, box.keys[key.label]
    dwelling, desk = walk.find(Dwelling, called), walk.find(Unit, called)
    number = dwelling.call_number if dwelling else desk.call_number if desk else None
    if number is not None and number in box.lines:
        yield None, number


def _minutes(calls: Calls, behaviour: Behaviour, both_edges: bool) -> tuple[int, ...]:
    """Return the first minute at which calls behave so; with both edges, the last of that stretch too."""
    stretch = next(one for one in calls.stretches if one.behaviour == behaviour)
    last = (stretch.end_min - 1,) if both_edges and len(calls.behaviours) > 1 else ()
    return tuple(dict.fromkeys((stretch.start_min, *last)))


_Way: TypeAlias = tuple[tuple[DivertCause, Call], ...]
"""What happens on the way: the cause that leads on, and where."""


def _ways(call: Call, way: _Way = ()) -> Iterator[tuple[_Way, Call]]:
    """Yield every way that a call can take, and where it ends up."""
    if call.end is not End.UNHEARD or call.not_registered is None:
        yield way, call
    for cause, after in call.branches:
        yield from _ways(after, (*way, (cause, call)))


class _Expecting:
    """Works out what ought to happen on one way, and how everybody must behave for it."""

    def __init__(self, walk: Walk, boxes: Mapping[str, Box], called: str, digits: Mapping[str, str]) -> None:
        self._walk = walk
        self._digits = digits
        self._boxes = boxes
        self._called = called
        self.moods: dict[str, Mood] = {}
        self.lapsed: set[str] = set()
        self.missing = ""

    def outcome(self, behaviour: Behaviour, way: _Way, ends_at: Call) -> Outcome:
        """Return what ought to happen."""
        if ends_at.end is End.SILENT:
            return Outcome(silent=True)
        rang: list[frozenset[str]] = []
        for cause, call in way:
            units = self._units(call.target)
            if cause is DivertCause.NOT_REGISTERED:
                self.lapsed.update(units)
                continue
            self.moods |= dict.fromkeys(units, _MOOD_FOR[cause])
            if cause is DivertCause.NO_ANSWER:
                rang += self._groups(call, units)
        if ends_at.end is not End.RINGS or ends_at.target is None:
            return Outcome(rang=tuple(rang))
        units = self._units(ends_at.target)
        if not units:
            return Outcome(rang=tuple(rang))
        rang += self._groups(ends_at, units)
        self.moods[units[-1]] = Mood.ANSWERS
        freed = next((free.doors for free in behaviour.frees if free.target == ends_at.target), ())
        pressed = frozenset((self._digits[door], door) for door in freed if door in self._digits)
        return Outcome(rang=tuple(rang), took=units[-1], freed=pressed, both_heard=True)

    def _groups(self, call: Call, units: tuple[str, ...]) -> list[frozenset[str]]:
        if not units:
            return []
        return [frozenset(units) if stage.nth is None else frozenset({units[stage.nth]}) for stage in call.stages]

    def _units(self, target: Target | None) -> tuple[str, ...]:
        if target is None:
            return ()
        if target.kind is TargetKind.DESK or self._walk.find(Unit, target.id or self._called) is not None:
            found: tuple[str, ...] = (target.id or self._called,)
        else:
            found = tuple(unit.id for unit in receivers(self._walk, target.id or self._called))
        lacking = [unit for unit in found if unit not in self._boxes]
        if lacking:
            unit = self._walk.find(Unit, lacking[0])
            self.missing = unit.name if unit is not None else lacking[0]
        return found if not lacking else ()
