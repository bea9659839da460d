"""Where a group outgrows its primary: the split into groups that touches the fewest units.

A dwelling registers with one primary, and a visitor call unit calls only what registers where it does. So an entrance
that serves dwellings of two groups needs a call unit in each. Dwellings that the same entrances serve go together.
Over all ways to part these bundles, counted are the units that are touched: receivers and call units whose registrar
changes, and call units to be added. For few bundles every way is tried; beyond, bundles leave one after the other.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

BUNDLES_MAX: Final = 8
"""How many bundles are parted in every way: 4140 ways (the eighth Bell number). Our choice."""

Parts = tuple[frozenset[int], ...]
"""Bundles by index in groups; the first group keeps the primary."""


@dataclass(frozen=True, slots=True)
class Bundle:
    """Dwellings that the same entrances serve: how many primaries want to register, how many of them do already."""

    entrances: frozenset[str]
    wanting_count: int
    registered_count: int


@dataclass(frozen=True, slots=True)
class Station:
    """A visitor call unit of the group: where it stands, what it would take as a primary, whether it registers yet."""

    unit: str
    entrance: str
    registrations_max: int | None
    secondaries_max: int | None
    registered: bool


@dataclass(frozen=True, slots=True)
class Group:
    """One group of a split. ``primary`` is a unit, or None where the unit must be added at ``primary_at``."""

    bundles: frozenset[int]
    primary: str | None
    primary_at: str
    moved: tuple[str, ...]
    added_at: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Split:
    """A way to part a group; the first of its groups keeps the primary. ``exact`` says that every way was tried."""

    groups: tuple[Group, ...]
    touched_count: int
    exact: bool


def least_split(
    bundles: Sequence[Bundle], stations: Sequence[Station], primary: str, others_count: int = 0
) -> Split | None:
    """Return the split that touches the fewest units and in which every group fits its primary, or None.

    Args:
        bundles: the dwellings of the group.
        stations: its visitor call units.
        primary: which of them is the primary; it stays one.
        others_count: units besides that stay registered with it: desks.
    """
    problem = _Problem(bundles, stations, primary, others_count)
    exact = len(bundles) <= BUNDLES_MAX
    ways = _partitions(len(bundles)) if exact else problem.one_by_one()
    best: Split | None = None
    for way in ways:
        for kept in range(len(way)):
            found = problem.split((way[kept], *way[:kept], *way[kept + 1 :]), exact=exact)
            if found is not None and (best is None or _cost(found) < _cost(best)):
                best = found
        if best is not None and not exact:
            break
    return best


def _cost(split: Split) -> tuple[int, int, int]:
    apart = sum(len(group.bundles) for group in split.groups[1:])
    return split.touched_count, len(split.groups), apart


class _Problem:
    def __init__(self, bundles: Sequence[Bundle], stations: Sequence[Station], primary: str, others_count: int) -> None:
        self._bundles = bundles
        self._stations = stations
        self._primary = next(station for station in stations if station.unit == primary)
        self._others_count = others_count
        self._at: dict[str, list[Station]] = {}
        for station in stations:
            self._at.setdefault(station.entrance, []).append(station)

    def split(self, parts: Parts, *, exact: bool) -> Split | None:
        """Return what parting like this means, or None where a group would not fit."""
        touches = {entrance: self._groups_of(entrance, parts) for entrance in self._at}
        if len(parts) < 2 or 0 not in touches[self._primary.entrance]:
            return None
        members: list[list[Station]] = [[] for _ in parts]
        added: list[list[Station]] = [[] for _ in parts]
        for entrance, groups in touches.items():
            for number, station in enumerate(self._at[entrance]):
                # the first unit stays with the primary where it can, further ones take the further groups
                home = groups[min(number, len(groups) - 1)] if groups else 0
                members[0 if station is self._primary else home].append(station)
            for group in groups:
                if not any(station.entrance == entrance for station in members[group]):
                    added[group].append(self._at[entrance][0])  # one more of the same type
        made = [self._group(index, part, members[index], added[index]) for index, part in enumerate(parts)]
        groups_made = tuple(group for group in made if group is not None)
        if len(groups_made) < len(parts):
            return None
        touched_count = sum(self._bundles[index].registered_count for part in parts[1:] for index in part)
        touched_count += sum(1 for apart in members[1:] for station in apart if station.registered)
        touched_count += sum(len(new) for new in added)
        return Split(groups_made, touched_count, exact)

    def one_by_one(self) -> Iterator[Parts]:
        """Yield ways in which more and more bundles, the cheapest to move first, leave for a second group."""
        order = sorted(range(len(self._bundles)), key=self._price)
        for count in range(1, len(order)):
            yield frozenset(order[count:]), frozenset(order[:count])
        for first in range(1, len(order) - 1):  # and for a third, should two not do
            for second in range(first + 1, len(order)):
                yield frozenset(order[second:]), frozenset(order[:first]), frozenset(order[first:second])

    def _price(self, index: int) -> tuple[int, int]:
        bundle = self._bundles[index]
        shared = sum(1 for entrance in bundle.entrances for other in self._bundles if entrance in other.entrances)
        return bundle.registered_count, shared

    def _groups_of(self, entrance: str, parts: Parts) -> list[int]:
        return [
            index
            for index, part in enumerate(parts)
            if any(entrance in self._bundles[bundle].entrances for bundle in part)
        ]

    def _group(self, index: int, part: frozenset[int], members: list[Station], added: list[Station]) -> Group | None:
        """Return a group with the primary that takes most, or None where none takes all."""
        wanting = sum(self._bundles[bundle].wanting_count for bundle in part)
        units_count = len(members) + len(added)
        if not units_count:
            return None
        candidates = [self._primary] if index == 0 else sorted([*members, *added], key=_room, reverse=True)
        head = candidates[0]
        secondaries = units_count - 1
        registrations = wanting + secondaries + (self._others_count if index == 0 else 0)
        if head.registrations_max is not None and registrations > head.registrations_max:
            return None
        if head.secondaries_max is not None and secondaries > head.secondaries_max:
            return None
        moved = tuple(station.unit for station in members) if index else ()
        new_head = index > 0 and head not in members
        return Group(
            part, None if new_head else head.unit, head.entrance, moved, tuple(station.entrance for station in added)
        )


def _room(station: Station) -> tuple[float, float]:
    return (
        float("inf") if station.registrations_max is None else station.registrations_max,
        float("inf") if station.secondaries_max is None else station.secondaries_max,
    )


def _partitions(count: int) -> Iterator[Parts]:
    """Yield every way to part the numbers below ``count`` into groups."""

    def grow(index: int, parts: list[set[int]]) -> Iterator[Parts]:
        if index == count:
            yield tuple(frozenset(part) for part in parts)
            return
        for part in parts:
            part.add(index)
            yield from grow(index + 1, parts)
            part.remove(index)
        yield from grow(index + 1, [*parts, {index}])

    return grow(0, [])


def bundled(served: Mapping[str, Iterable[str]], dwellings: Iterable[str]) -> dict[frozenset[str], list[str]]:
    """Return dwellings by the set of entrances that serve them, in the order given.

    Args:
        served: the dwellings of each entrance.
        dwellings: those to sort into bundles.
    """
    entrances_of: dict[str, set[str]] = {}
    for entrance, homes in served.items():
        for home in homes:
            entrances_of.setdefault(home, set()).add(entrance)
    bundles: dict[frozenset[str], list[str]] = {}
    for dwelling in dwellings:
        bundles.setdefault(frozenset(entrances_of.get(dwelling, ())), []).append(dwelling)
    return bundles
