"""What is tested again after work at some units: calls from entrances to dwellings and desks, and doors freed."""

from collections.abc import Iterable
from dataclasses import dataclass

from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk


@dataclass(frozen=True, slots=True, kw_only=True)
class Retest:
    """Calls from one entrance to dwellings and desks, each with speech, picture and the release of the doors."""

    entrance: str
    called: tuple[str, ...]
    doors: tuple[str, ...]


def retests(
    walk: Walk, *, units: Iterable[Unit] = (), dwellings: Iterable[Dwelling] = (), only_from: Unit | None = None
) -> tuple[Retest, ...]:
    """Return the calls that units and dwellings take part in, by entrance.

    ``only_from`` leaves out the calls from the entrances of other VCUs than that one.
    """
    called: dict[str, dict[str, str]] = {}
    for unit in units:
        dwelling = walk.find(Dwelling, unit.dwelling)
        entrance = walk.find(Entrance, unit.entrance)
        if unit.kind is UnitKind.VCU and entrance is not None:
            called.setdefault(entrance.id, {}).update(
                {served.id: served.door_label for served in walk.dwellings_served(entrance)}
            )
        elif unit.kind is UnitKind.SMU:
            for calling in walk.all(Entrance):
                if calling.calls_desk:
                    called.setdefault(calling.id, {})[unit.id] = unit.name
        elif dwelling is not None:
            dwellings = (*dwellings, dwelling)
    for dwelling in dwellings:
        for entrance in walk.entrances_serving(dwelling):
            called.setdefault(entrance.id, {})[dwelling.id] = dwelling.door_label
    if only_from is not None and only_from.kind is UnitKind.VCU and only_from.entrance is not None:
        called = {ident: labels for ident, labels in called.items() if ident == only_from.entrance}
    found = [
        Retest(
            entrance=walk.get(Entrance, ident).name,
            called=tuple(sorted(labels.values(), key=natural_key)),
            doors=tuple(sorted((door.name for door in walk.doors_of(ident)), key=natural_key)),
        )
        for ident, labels in called.items()
    ]
    return tuple(sorted(found, key=lambda one: natural_key(one.entrance)))


def together(groups: Iterable[tuple[Retest, ...]]) -> tuple[Retest, ...]:
    """Return the tests of several visits as one list, each call once."""
    called: dict[str, dict[str, None]] = {}
    doors: dict[str, dict[str, None]] = {}
    for one in (one for group in groups for one in group):
        called.setdefault(one.entrance, {}).update(dict.fromkeys(one.called))
        doors.setdefault(one.entrance, {}).update(dict.fromkeys(one.doors))
    return tuple(
        Retest(
            entrance=entrance,
            called=tuple(sorted(labels, key=natural_key)),
            doors=tuple(sorted(doors[entrance], key=natural_key)),
        )
        for entrance, labels in sorted(called.items(), key=lambda item: natural_key(item[0]))
    )
