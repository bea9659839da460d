"""The one place that says what a call does: which divert holds, who rings, who may free which door.

docs/explain/call-paths.md tells the same in words. Times come in as the set of timetables inside whose windows the
moment lies, so nothing here knows of days or minutes.
"""

from collections.abc import Iterator
from typing import Final, TypeAlias

from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.place import Core, Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.call import CALLED, Behaviour, Call, End, Free, Stage, Target, TargetKind

Inside: TypeAlias = frozenset[str]
"""The timetables inside whose windows a moment lies."""

DIVERTS_MOST: Final = 5
"""How often one call is sent on. Common practice: later stages ring when the visitor has long gone."""

_AFTER_RINGING: Final = (DivertCause.NO_ANSWER, DivertCause.BUSY, DivertCause.NOT_REGISTERED)


def is_registered(walk: Walk, unit: Unit) -> bool:
    """Say whether a receiver or desk registers, itself or through its primary, with a VCU or a SIP server."""
    met: set[str] = set()
    at: Unit | None = unit
    while at is not None and at.id not in met:
        met.add(at.id)
        if at.kind is UnitKind.VCU:
            return True
        if at.registrar is not None and walk.find(SipServer, at.registrar) is not None:
            return True
        at = walk.find(Unit, at.registrar)
    return False


def receivers(walk: Walk, dwelling: str) -> tuple[Unit, ...]:
    """Return the registered receivers of a dwelling in ringing order: the primary, then by position."""
    found = [u for u in walk.units_in(dwelling) if u.kind is UnitKind.URU and is_registered(walk, u)]
    return tuple(sorted(found, key=lambda u: (u.position is None, u.position or 0, natural_key(u.name), u.id)))


def rank(divert: Divert) -> tuple[int, bool, str, str, str, str]:
    """Return a divert's rank, the least of which wins.

    The most particular goes first: for a dwelling and an entrance, a dwelling, an entrance, neither. Among equals one
    with a timetable goes before one without. What is left is a clash that a rule reports; identifiers settle it.
    """
    particular = 2 * (divert.dwelling is None) + (divert.entrance is None)
    return (
        particular,
        divert.timetable is None,
        divert.to_desk or "",
        divert.to_dwelling or "",
        divert.timetable or "",
        divert.id,
    )


def diverts_at(walk: Walk, entrance: str, dwelling: str) -> list[Divert]:
    """Return the diverts that can ever hold for a call from an entrance at a dwelling, the winner first.

    A divert for all dwellings passes over the dwelling that it leads to.
    """
    own = walk.diverts_for(dwelling)
    general = (d for d in walk.diverts_for(None) if d.to_desk is not None or d.to_dwelling != dwelling)
    return sorted((d for d in (*own, *general) if d.entrance in (None, entrance)), key=rank)


def desk_at(walk: Walk, ident: str | None) -> Unit | None:
    """Return the desk of this identifier, or None where there is none or it is no desk."""
    desk = walk.find(Unit, ident)
    return desk if desk is not None and desk.kind is UnitKind.SMU else None


def building_of_core(walk: Walk, core: str) -> str | None:
    """Return the building of a core, or None where the site does not have the core."""
    found = walk.find(Core, core)
    return found.building if found else None


def serves(walk: Walk, entrance: Entrance, dwelling: Dwelling) -> bool:
    """Say whether visitors can call a dwelling from an entrance."""
    return (
        dwelling.id in entrance.serves_dwellings
        or (dwelling.core in entrance.serves_cores)
        or building_of_core(walk, dwelling.core) in entrance.serves_buildings
    )


def covers(walk: Walk, right: ReleaseRight, dwelling: Dwelling) -> bool:
    """Say whether a release right names a dwelling, its core or its building."""
    return (
        dwelling.id in right.dwellings
        or dwelling.core in right.cores
        or building_of_core(walk, dwelling.core) in right.buildings
    )


class Follower:
    """Follows calls from one entrance. ``heard`` keeps how many receivers of a dwelling are registered."""

    def __init__(self, walk: Walk, entrance: Entrance, heard: dict[str, int]) -> None:
        self._walk = walk
        self._heard = heard
        self._entrance = entrance
        self._doors = tuple(sorted(walk.doors_of(entrance.id), key=lambda door: (natural_key(door.name), door.id)))
        timetables = sorted(walk.timetables_of(entrance.id), key=lambda t: (natural_key(t.name), t.id))
        self._of_purpose = {
            purpose: tuple(t for t in timetables if t.purpose is purpose) for purpose in TimetablePurpose
        }
        choices = walk.settings().choices
        self._ring_mode, self._ring_s = choices.ring_mode, choices.ring_s

    @property
    def doors(self) -> tuple[Door, ...]:
        """The doors of the entrance, by name."""
        return self._doors

    def timetables(self, purpose: TimetablePurpose) -> tuple[Timetable, ...]:
        """Return the timetables of the entrance for one purpose, by name."""
        return self._of_purpose[purpose]

    def behaviour(self, dwelling: Dwelling, inside: Inside) -> Behaviour:
        """Return what a call to a dwelling does, and who may free which door, inside these timetables."""
        call = self._call(dwelling, inside)
        frees = (Free(target, self._freed_by(target, dwelling, inside)) for target in call.answerers)
        return Behaviour(call, tuple(free for free in frees))

    def timetables_met(self, dwelling: Dwelling) -> frozenset[str]:
        """Return every timetable on which the behaviour of calls to a dwelling can hang."""
        met = {t.id for purpose in (TimetablePurpose.CALL, TimetablePurpose.DIVERT) for t in self._of_purpose[purpose]}
        met.update(r.timetable for door in self._doors for r in self._walk.rights_to(door.id) if r.timetable)
        seen, left = {dwelling.id}, [dwelling.id]
        while left:
            for divert in diverts_at(self._walk, self._entrance.id, left.pop()):
                if divert.timetable is not None:
                    met.add(divert.timetable)
                if divert.to_desk is None and divert.to_dwelling is not None and divert.to_dwelling not in seen:
                    seen.add(divert.to_dwelling)
                    left.append(divert.to_dwelling)
        return frozenset(met)

    def _call(self, dwelling: Dwelling, inside: Inside) -> Call:
        hours = self._of_purpose[TimetablePurpose.CALL]
        if hours and not any(t.id in inside for t in hours):
            return Call(End.SILENT)
        for timetable in self._of_purpose[TimetablePurpose.DIVERT]:
            if timetable.divert_to is not None and timetable.id in inside:
                return self._at_desk(timetable.divert_to)
        return self._at(dwelling, (dwelling.id,), inside)

    def _at(self, dwelling: Dwelling, way: tuple[str, ...], inside: Inside) -> Call:
        winner: dict[DivertCause, Divert] = {}
        for divert in diverts_at(self._walk, self._entrance.id, dwelling.id):
            if divert.timetable is None or divert.timetable in inside:
                winner.setdefault(divert.cause, divert)
        if DivertCause.ALWAYS in winner:
            return self._sent_on(winner[DivertCause.ALWAYS], way, inside)
        stages = tuple(self._stages(dwelling))
        causes = _AFTER_RINGING if stages else (DivertCause.NOT_REGISTERED,)
        after = {cause: self._sent_on(winner[cause], way, inside) for cause in causes if cause in winner}
        return Call(
            End.RINGS if stages else End.UNHEARD,
            _target(dwelling.id, way),
            stages,
            no_answer=after.get(DivertCause.NO_ANSWER),
            busy=after.get(DivertCause.BUSY),
            not_registered=after.get(DivertCause.NOT_REGISTERED),
        )

    def _stages(self, dwelling: Dwelling) -> Iterator[Stage]:
        ring_s = self._ring_s if dwelling.ring_s is None else dwelling.ring_s
        count = self._heard.get(dwelling.id)
        if count is None:
            count = self._heard[dwelling.id] = len(receivers(self._walk, dwelling.id))
        if (dwelling.ring_mode or self._ring_mode) is RingMode.IN_TURN:
            yield from (Stage(nth, ring_s) for nth in range(count))
        elif count:
            yield Stage(None, ring_s)

    def _sent_on(self, divert: Divert, way: tuple[str, ...], inside: Inside) -> Call:
        if divert.to_desk is not None:
            return self._at_desk(divert.to_desk)
        dwelling = self._walk.find(Dwelling, divert.to_dwelling)
        if dwelling is None:
            return Call(End.NOBODY)
        if dwelling.id in way:
            round_again = (*way[way.index(dwelling.id) :], dwelling.id)
            return Call(End.LOOP, chain=tuple(_target(ident, way) for ident in round_again))
        if len(way) > DIVERTS_MOST:
            return Call(End.TOO_OFTEN, chain=tuple(_target(ident, way) for ident in (*way, dwelling.id)))
        return self._at(dwelling, (*way, dwelling.id), inside)

    def _at_desk(self, ident: str) -> Call:
        desk = desk_at(self._walk, ident)
        if desk is None:
            return Call(End.NOBODY)
        target = Target(TargetKind.DESK, desk.id)
        if not is_registered(self._walk, desk):
            return Call(End.UNHEARD, target)
        return Call(End.RINGS, target, (Stage(None, self._ring_s),))

    def _freed_by(self, target: Target, called: Dwelling, inside: Inside) -> tuple[str, ...]:
        return tuple(door.id for door in self._doors if self._may_free(door, target, called, inside))

    def _may_free(self, door: Door, target: Target, called: Dwelling, inside: Inside) -> bool:
        rights = self._walk.rights_to(door.id)
        holding = [right for right in rights if right.timetable is None or right.timetable in inside]
        if target.kind is TargetKind.DESK:
            return any(target.id in right.desks for right in holding) if rights else self._entrance.calls_desk
        dwelling = called if target == CALLED else self._walk.get(Dwelling, target.id)
        if rights:
            return any(covers(self._walk, right, dwelling) for right in holding)
        return target == CALLED or serves(self._walk, self._entrance, dwelling)


def _target(ident: str, way: tuple[str, ...]) -> Target:
    """Return a dwelling as a target: the first of the way is the one that was called."""
    return CALLED if ident == way[0] else Target(TargetKind.DWELLING, ident)
