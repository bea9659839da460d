"""The one place that says what a call does: which divert holds, who rings, who may free which door.

docs/explain/call-paths.md tells the same in words. Times come in as the set of timetables inside whose windows the
moment lies, so nothing here knows of days or minutes.
"""

from dataclasses import dataclass
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


def diverts_at_desk(walk: Walk, entrance: str, desk: str) -> list[Divert]:
    """Return the diverts that can ever hold for a call from an entrance at a desk, the winner first.

    Those for all dwellings are not for desks.
    """
    return sorted((d for d in walk.diverts_for_desk(desk) if d.entrance in (None, entrance)), key=rank)


def desks_called(walk: Walk, entrance: Entrance) -> tuple[str, ...]:
    """Return what visitors at an entrance can call besides dwellings: desks, by name.

    That is what keys of its units ring, and every desk of the site where the entrance is said to call the desk. A key
    may name a desk that is not there.
    """
    units = sorted(walk.units_at(entrance.id), key=lambda unit: (natural_key(unit.name), unit.id))
    keyed = [key.desk for unit in units for key in walk.keys_of(unit.id) if key.desk is not None]
    listed = [desk.id for desk in walk.units_of_kind(UnitKind.SMU)] if entrance.calls_desk else []

    def by_name(ident: str) -> tuple[bool, object, str]:
        desk = walk.find(Unit, ident)
        return desk is None, natural_key(desk.name if desk else ident), ident

    return tuple(sorted({*keyed, *listed}, key=by_name))


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
        self._desks = desks_called(walk, entrance)

    @property
    def doors(self) -> tuple[Door, ...]:
        """The doors of the entrance, by name."""
        return self._doors

    @property
    def desks(self) -> tuple[str, ...]:
        """The desks that visitors can call from the entrance, by name."""
        return self._desks

    def timetables(self, purpose: TimetablePurpose) -> tuple[Timetable, ...]:
        """Return the timetables of the entrance for one purpose, by name."""
        return self._of_purpose[purpose]

    def behaviour(self, called: Target, inside: Inside) -> Behaviour:
        """Return what a call does, and who may free which door, inside these timetables.

        Args:
            called: the dwelling or desk that the visitor calls.
            inside: the timetables that hold.
        """
        call = self._call(called, inside)
        frees = (Free(target, self._freed_by(target, called, inside)) for target in call.answerers)
        return Behaviour(call, tuple(frees))

    def timetables_met(self, called: Target) -> frozenset[str]:
        """Return every timetable on which the behaviour of calls to a dwelling or desk can hang."""
        met = {t.id for purpose in (TimetablePurpose.CALL, TimetablePurpose.DIVERT) for t in self._of_purpose[purpose]}
        met.update(r.timetable for door in self._doors for r in self._walk.rights_to(door.id) if r.timetable)
        taking = (t.divert_to for t in self._of_purpose[TimetablePurpose.DIVERT] if t.divert_to is not None)
        left = [called, *(Target(TargetKind.DESK, ident) for ident in taking)]
        seen = set(left)
        while left:
            for divert in self._diverts(left.pop()):
                if divert.timetable is not None:
                    met.add(divert.timetable)
                target = target_of(divert)
                if target is not None and target not in seen:
                    seen.add(target)
                    left.append(target)
        return frozenset(met)

    def _call(self, called: Target, inside: Inside) -> Call:
        hours = self._of_purpose[TimetablePurpose.CALL]
        if hours and not any(t.id in inside for t in hours):
            return Call(End.SILENT)
        first = called
        for timetable in self._of_purpose[TimetablePurpose.DIVERT]:
            if timetable.divert_to is not None and timetable.id in inside:
                first = Target(TargetKind.DESK, timetable.divert_to)
                break
        return self._at(_Way(called, (first,)), inside)

    def _at(self, way: "_Way", inside: Inside) -> Call:
        """Return what a call does at the last target of its way."""
        at = way.targets[-1]
        stages = self._stages(at)
        if stages is None:
            return Call(End.NOBODY)
        winner: dict[DivertCause, Divert] = {}
        for divert in self._diverts(at):
            if divert.timetable is None or divert.timetable in inside:
                winner.setdefault(divert.cause, divert)
        if DivertCause.ALWAYS in winner:
            return self._sent_on(winner[DivertCause.ALWAYS], way, inside)
        causes = _AFTER_RINGING if stages else (DivertCause.NOT_REGISTERED,)
        after = {cause: self._sent_on(winner[cause], way, inside) for cause in causes if cause in winner}
        return Call(
            End.RINGS if stages else End.UNHEARD,
            way.said(at),
            stages,
            no_answer=after.get(DivertCause.NO_ANSWER),
            busy=after.get(DivertCause.BUSY),
            not_registered=after.get(DivertCause.NOT_REGISTERED),
        )

    def _diverts(self, at: Target) -> list[Divert]:
        if at.kind is TargetKind.DESK:
            return diverts_at_desk(self._walk, self._entrance.id, at.id)
        return diverts_at(self._walk, self._entrance.id, at.id)

    def _stages(self, at: Target) -> tuple[Stage, ...] | None:
        """Return how a target rings, nothing where it is not registered, or None where the site does not have it."""
        if at.kind is TargetKind.DESK:
            desk = desk_at(self._walk, at.id)
            if desk is None:
                return None
            return (Stage(None, self._ring_s),) if is_registered(self._walk, desk) else ()
        dwelling = self._walk.find(Dwelling, at.id)
        if dwelling is None:
            return None
        ring_s = self._ring_s if dwelling.ring_s is None else dwelling.ring_s
        count = self._heard.get(dwelling.id)
        if count is None:
            count = self._heard[dwelling.id] = len(receivers(self._walk, dwelling.id))
        if (dwelling.ring_mode or self._ring_mode) is RingMode.IN_TURN:
            return tuple(Stage(nth, ring_s) for nth in range(count))
        return (Stage(None, ring_s),) if count else ()

    def _sent_on(self, divert: Divert, way: "_Way", inside: Inside) -> Call:
        target = target_of(divert)
        if target is None:
            return Call(End.NOBODY)
        if target in way.targets:
            round_again = (*way.targets[way.targets.index(target) :], target)
            return Call(End.LOOP, chain=tuple(map(way.said, round_again)))
        if len(way.targets) > DIVERTS_MOST and self._stages(target) is not None:
            return Call(End.TOO_OFTEN, chain=tuple(map(way.said, (*way.targets, target))))
        return self._at(_Way(way.called, (*way.targets, target)), inside)

    def _freed_by(self, target: Target, called: Target, inside: Inside) -> tuple[str, ...]:
        return tuple(door.id for door in self._doors if self._may_free(door, target, called, inside))

    def _may_free(self, door: Door, target: Target, called: Target, inside: Inside) -> bool:
        rights = self._walk.rights_to(door.id)
        holding = [right for right in rights if right.timetable is None or right.timetable in inside]
        if target.kind is TargetKind.DESK:
            return any(target.id in right.desks for right in holding) if rights else target.id in self._desks
        dwelling = self._walk.get(Dwelling, called.id if target == CALLED else target.id)
        if rights:
            return any(covers(self._walk, right, dwelling) for right in holding)
        return target == CALLED or serves(self._walk, self._entrance, dwelling)


@dataclass(frozen=True, slots=True)
class _Way:
    """Where a call has been, and who was called."""

    called: Target
    targets: tuple[Target, ...]

    def said(self, target: Target) -> Target:
        """Return a target as the proof names it: the dwelling called has no name of its own."""
        return CALLED if target == self.called and target.kind is TargetKind.DWELLING else target


def target_of(divert: Divert) -> Target | None:
    """Return where a divert leads, or None where it does not say."""
    if divert.to_desk is not None:
        return Target(TargetKind.DESK, divert.to_desk)
    return None if divert.to_dwelling is None else Target(TargetKind.DWELLING, divert.to_dwelling)
