"""A group of entrances that outgrew its primary, and the proposal to split it, in words."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TypeAlias

from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.naming import named
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.split import Bundle, Group, Split, Station, bundled, least_split

NAMED_COUNT = 4
"""How many dwellings a proposal names. Our choice."""


Homes: TypeAlias = Sequence[tuple[frozenset[str], Sequence[Dwelling]]]
"""Dwellings that go together, with the entrances that serve them."""


@dataclass(frozen=True, slots=True)
class Outgrown:
    """A primary, the entrances of its group, and the registrars that a draft has given so far, by unit."""

    primary: Unit
    entrances: tuple[Entrance, ...]
    given: Mapping[str, str]


def proposal(walk: Walk, outgrown: Outgrown) -> str | None:
    """Return the split that touches the fewest units, in words; None where no split fits."""
    homes = _homes(walk, outgrown)
    split = split_of(walk, outgrown, homes)
    if split is None:  # dwellings that go together are too many for any primary: they go apart
        homes = _pieces(walk, outgrown, homes)
        split = split_of(walk, outgrown, homes)
        split = split and replace(split, exact=False)
    if split is None:
        return None
    said = [_told(walk, group, homes) for group in split.groups[1:]]
    fewest = "the fewest: every way to split was tried" if split.exact else "not every way to split was tried"
    kept = ", ".join(entrance.name for entrance in outgrown.entrances if _touches(split.groups[0], homes, entrance))
    return (
        f"Split the group: {outgrown.primary.name} stays the primary for {kept}; {'; '.join(said)}."
        f" That touches {counted(split.touched_count, 'unit')} ({fewest})."
    )


def split_of(walk: Walk, outgrown: Outgrown, homes: Homes) -> Split | None:
    """Return the split of an outgrown group, its bundles in the order of ``homes``."""
    bundles = [
        Bundle(entrances, len(dwellings), sum(1 for one in dwellings if _is_registered(walk, outgrown, one)))
        for entrances, dwellings in homes
    ]
    return least_split(bundles, _stations(walk, outgrown), outgrown.primary.id, _desks_count(walk, outgrown))


def _registers(outgrown: Outgrown, unit: Unit) -> bool:
    return outgrown.given.get(unit.id, unit.registrar) == outgrown.primary.id


def _is_registered(walk: Walk, outgrown: Outgrown, dwelling: Dwelling) -> bool:
    return any(_registers(outgrown, unit) for unit in walk.units_in(dwelling.id))


def _stations(walk: Walk, outgrown: Outgrown) -> list[Station]:
    stations = []
    for entrance in outgrown.entrances:
        for vcu in sorted(walk.units_at(entrance.id), key=lambda unit: natural_key(unit.name)):
            profile = walk.profile(vcu.profile)
            registrations = profile.registrations_max_count if profile else None
            secondaries = profile.secondaries_max_count if profile else None
            stations.append(Station(vcu.id, entrance.id, registrations, secondaries, _registers(outgrown, vcu)))
    return stations


def _desks_count(walk: Walk, outgrown: Outgrown) -> int:
    return sum(1 for desk in walk.units_of_kind(UnitKind.SMU) if _registers(outgrown, desk))


def _homes(walk: Walk, outgrown: Outgrown) -> Homes:
    """Return the dwellings whose receivers register with the primary, or want to, by the entrances that serve them."""
    dwellings = {one.id: one for entrance in outgrown.entrances for one in walk.dwellings_served(entrance)}
    wanting = [one for one in dwellings.values() if _wants(walk, outgrown, one)]
    served = {
        entrance.id: [dwelling.id for dwelling in walk.dwellings_served(entrance)]
        for entrance in outgrown.entrances
        if walk.units_at(entrance.id)
    }
    ordered = sorted(wanting, key=lambda one: natural_key(one.door_label))
    bundles = bundled(served, (one.id for one in ordered))
    return [(entrances, [dwellings[ident] for ident in idents]) for entrances, idents in bundles.items()]


def _pieces(walk: Walk, outgrown: Outgrown, homes: Homes) -> Homes:
    """Return the same dwellings in bundles no larger than each primary takes beside all call units and desks.

    Those that register already stay together as long as there is room.
    """
    stations = _stations(walk, outgrown)
    limits = [station.registrations_max for station in stations if station.registrations_max is not None]
    room = min(limits, default=0) - (len(stations) - 1) - _desks_count(walk, outgrown)
    if room < 1:
        return homes
    pieces = []
    for entrances, dwellings in homes:
        ordered = sorted(dwellings, key=lambda one: not _is_registered(walk, outgrown, one))
        pieces += [(entrances, ordered[start : start + room]) for start in range(0, len(ordered), room)]
    return pieces


def _wants(walk: Walk, outgrown: Outgrown, dwelling: Dwelling) -> bool:
    registrars = {outgrown.given.get(uru.id, uru.registrar) for uru in walk.units_in(dwelling.id)}
    return bool(registrars & {outgrown.primary.id, None})


def _touches(group: Group, homes: Homes, entrance: Entrance) -> bool:
    return any(entrance.id in homes[index][0] for index in group.bundles)


def _told(walk: Walk, group: Group, bundles: Homes) -> str:
    dwellings = [one for index in sorted(group.bundles) for one in bundles[index][1]]
    labels = ", ".join(one.door_label for one in dwellings[:NAMED_COUNT])
    more = f" and {len(dwellings) - NAMED_COUNT} more" if len(dwellings) > NAMED_COUNT else ""
    at = walk.get(Entrance, group.primary_at)
    head = named(walk, walk.get(Unit, group.primary)) if group.primary else f"a further visitor call unit at {at.name}"
    homes = f"{counted(len(dwellings), 'dwelling')} ({labels}{more})"
    parts = [f"{head} becomes a primary, with which the receivers of {homes} register"]
    others = [walk.get(Unit, ident).name for ident in group.moved if ident != group.primary]
    if others:
        parts.append(f"{', '.join(others)} become its secondaries")
    further = [ident for ident in group.added_at if group.primary or ident != group.primary_at]
    places = [walk.get(Entrance, ident).name for ident in further]
    if places:
        parts.append(f"a visitor call unit is added for it at {', '.join(places)}, which serves both groups")
    return ", ".join(parts)
