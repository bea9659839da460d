"""Release rights: each goes to somebody whom calls reach, and whoever answers may free the door."""

from collections.abc import Set
from dataclasses import dataclass
from typing import Any, Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.calling import Divert, Timetable, TimetablePurpose
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.naming import named
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths import week
from doorwright.paths.call import CALLED, Target, TargetKind
from doorwright.paths.follow import covers, desk_at, desks_called, serves
from doorwright.paths.proof import Group, prove_entrance
from doorwright.paths.telling import tell_spans, tell_target
from doorwright.rules.example import as_it_is, both, plus, put
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, some

PLANNING: Final = (Phase.PLANNING, Phase.OPERATION)
PRACTICE: Final = Cite("practice", "who speaks with a visitor can let them in")


def _right(door: str, **holders: Any) -> ReleaseRight:
    return ReleaseRight(id="right-1", door=door, **holders)


@rule(
    over=ReleaseRight,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(PRACTICE,),
    finds=Example(
        "A right to the rear door is given to a core that is not there.", plus(_right("door-rear", cores=("core-z",)))
    ),
    passes=Example("It is given to core A.", plus(_right("door-rear", cores=("core-a",)))),
)
def release_right_of_nobody(facts: Facts, right: ReleaseRight) -> Said:
    """A release right names something that the site does not have, or gives the right to nobody.

    Why it matters: as soon as a door has one right, only those named in its rights may free it; a wrong name shuts out.
    What to do: correct the door, the holder or the timetable that it names.
    """
    walk = facts.walk
    holders: tuple[tuple[type[Part], tuple[str, ...]], ...] = (
        (Building, right.buildings),
        (Core, right.cores),
        (Dwelling, right.dwellings),
        (Door, (right.door,)),
        (Timetable, (right.timetable,) if right.timetable is not None else ()),
    )
    faults = [
        f"its {kind.KIND} {one!r} is not of the site"
        for kind, ids in holders
        for one in ids
        if not walk.find(kind, one)
    ]
    faults += [f"its desk {one!r} is no desk of the site" for one in right.desks if desk_at(walk, one) is None]
    if not (right.buildings or right.cores or right.dwellings or right.desks):
        faults.append("it is given to nobody")
    yield from found_or_holds(Found(f"{_of_door(walk, right)}: {fault}") for fault in faults)


@rule(
    over=ReleaseRight,
    severity=Severity.WARNING,
    phases=(*PLANNING, Phase.HANDOVER),
    cites=(PRACTICE,),
    finds=Example(
        "101 may free the garden gate, whose entrance does not serve it.",
        both(
            put(Entrance, "entrance-gate", serves_dwellings=("flat-2",)),
            plus(_right("door-gate", dwellings=("flat-1", "flat-2"))),
        ),
    ),
    passes=Example(
        "101 may free the garden gate, from which it is called.", plus(_right("door-gate", dwellings=("flat-1",)))
    ),
)
def release_right_beyond_entrance(facts: Facts, right: ReleaseRight) -> Said:
    """Somebody may free a door of an entrance from which no call reaches them.

    Why it matters: the right is of no use, or the entrance was meant to serve them; units that free doors without a
    call let them open a door that is not theirs.
    What to do: let the entrance serve them, divert calls to them, or take the right away.
    """
    walk = facts.walk
    door = walk.find(Door, right.door)
    entrance = walk.find(Entrance, door.entrance) if door else None
    if entrance is None:
        return
    homes = {
        home.id: home
        for core in dict.fromkeys([*(c.id for b in right.buildings for c in walk.cores_of(b)), *right.cores])
        if not _serves_core(walk, entrance, core)
        for home in walk.dwellings_of_core(core)
    }
    homes |= {ident: home for ident in right.dwellings if (home := walk.find(Dwelling, ident)) is not None}
    strangers = [h for h in homes.values() if not serves(walk, entrance, h) and not walk.diverts_to(h.id)]
    told = []
    if strangers:
        told.append(f"dwelling {some(home.door_label for home in strangers)}")
    if not entrance.calls_desk:
        taking: set[str | None] = set(desks_called(walk, entrance))
        taking |= {t.divert_to for t in walk.timetables_of(entrance.id) if t.purpose is TimetablePurpose.DIVERT}
        desks = [desk for desk in (desk_at(walk, ident) for ident in right.desks) if desk is not None]
        told += [named(walk, desk) for desk in desks if desk.id not in taking and not walk.diverts_to(desk.id)]
    yield from found_or_holds(
        Found(f"{_of_door(walk, right)}: no call from {named(walk, entrance)} reaches {who}", (entrance,))
        for who in told
    )


def _serves_core(walk: Walk, entrance: Entrance, core: str) -> bool:
    found = walk.find(Core, core)
    return core in entrance.serves_cores or (found is not None and found.building in entrance.serves_buildings)


def _of_door(walk: Walk, right: ReleaseRight) -> str:
    door = walk.find(Door, right.door)
    return f"right to {named(walk, door)}" if door else "release right"


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=(*PLANNING, Phase.COMMISSIONING),
    cites=(PRACTICE,),
    finds=Example(
        "Only the desk may free the rear door, and no call from the rear reaches the desk.",
        plus(_right("door-rear", desks=("smu-desk",))),
    ),
    passes=Example("Core A may free the rear door.", plus(_right("door-rear", cores=("core-a",)))),
)
def door_nobody_may_free(facts: Facts, door: Door) -> Said:
    """Nobody who answers a call may free a door, at any hour.

    Why it matters: residents and desk speak with the visitor and cannot let them in.
    What to do: give the right to those whom the entrance calls. This is about calls only: how people get out is another
    matter, on which the fire strategy and the local code speak.
    """
    walk = facts.walk
    entrance = walk.find(Entrance, door.entrance)
    if entrance is None:
        return
    if not walk.rights_to(door.id):
        served = entrance.serves_buildings or entrance.serves_cores or entrance.serves_dwellings
        if not (served or desks_called(walk, entrance)):
            yield Found(f"{named(walk, door)}: its entrance calls nobody who could free it")
        else:
            yield HOLDS
    elif door.id in walk.once(_release, entrance).freed:
        yield HOLDS
    elif (unit := _to_come(walk, entrance, door)) is not None:
        yield lacks(unit, "registrar")
    else:
        yield Found(
            f"{named(walk, door)}: nobody whom calls from {named(walk, entrance)} reach may free it", (entrance,)
        )


def _to_come(walk: Walk, entrance: Entrance, door: Door) -> Unit | None:
    """Return a desk or receiver with the right, of which nobody has planned yet what it registers with."""
    rights = walk.rights_to(door.id)
    desks = (ident for ident in desks_called(walk, entrance) if any(ident in right.desks for right in rights))
    units = [desk for desk in (desk_at(walk, ident) for ident in desks) if desk is not None]
    for home in walk.dwellings_served(entrance):
        if any(covers(walk, right, home) for right in rights):
            units += walk.units_in(home.id)
    return next((unit for unit in units if unit.registrar is None), None)


@rule(
    over=Entrance,
    severity=Severity.WARNING,
    phases=(*PLANNING, Phase.COMMISSIONING),
    cites=(PRACTICE,),
    finds=Example(
        "The desk takes the calls of the main entrance by day, and has no right to the main door.",
        put(ReleaseRight, "right-main", desks=()),
    ),
    passes=Example("The desk has a right to the main door.", as_it_is),
)
def who_answers_cannot_free(facts: Facts, entrance: Entrance) -> Said:
    """Somebody who takes a call may free none of the entrance's doors at that moment.

    Why it matters: the desk answers at night, sees who it is, and cannot open.
    What to do: give whoever takes the calls a right to the door at these hours.
    """
    walk = facts.walk
    doors = walk.doors_of(entrance.id)
    if not doors:
        return
    takes = any(t.purpose is TimetablePurpose.DIVERT for t in walk.timetables_of(entrance.id))
    if not (takes or walk.all(Divert) or any(walk.rights_to(door.id) for door in doors)):
        yield HOLDS  # the dwellings called answer, and every one of them may free every door
        return
    release = walk.once(_release, entrance)
    yield from found_or_holds(
        Found(
            f"{_who(walk, target, release.homes)} may free no door of {named(walk, entrance)}"
            f" while taking its calls: {tell_spans(spans)}",
            _desks(walk, target),
        )
        for target, spans in release.shut_out
    )


@dataclass(frozen=True, slots=True)
class _Release:
    """Which doors calls from an entrance free, and who takes them at which hours without freeing any.

    ``homes`` are the dwellings called, where it is they who cannot.
    """

    freed: frozenset[str]
    shut_out: tuple[tuple[Target, week.Spans], ...]
    homes: frozenset[str]


def _release(walk: Walk, entrance: Entrance) -> _Release:
    freed: set[str] = set()
    shut_out: dict[Target, list[tuple[int, int]]] = {}
    homes: set[str] = set()
    for calls in prove_entrance(walk, entrance).calls:
        for behaviour in calls.behaviours:
            for free in behaviour.frees:
                freed.update(free.doors)
                if free.doors:
                    continue
                shut_out.setdefault(free.target, []).extend(calls.when([behaviour]))
                if free.target == CALLED and isinstance(calls, Group):
                    homes.update(calls.dwellings)
    spans_of = sorted((target, week.union(spans)) for target, spans in shut_out.items())
    return _Release(frozenset(freed), tuple(spans_of), frozenset(homes))


def _who(walk: Walk, target: Target, homes: Set[str]) -> str:
    called = (walk.get(Dwelling, ident).door_label for ident in homes)
    return f"dwelling {some(called)}" if target == CALLED else tell_target(walk, target)


def _desks(walk: Walk, target: Target) -> tuple[Part, ...]:
    return (walk.get(Unit, target.id),) if target.kind is TargetKind.DESK else ()
