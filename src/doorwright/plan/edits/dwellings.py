"""Dwellings that are added, merged and given up."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence

from doorwright.kernel.errors import Refused
from doorwright.model.door import ReleaseRight
from doorwright.model.naming import named
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import called, profile_called
from doorwright.plan.edits.edit import Edit, Rework
from doorwright.plan.edits.replacing import read_identity, tell_of_serial
from doorwright.plan.order import WalkingOrder


def add_dwelling(
    walk: Walk,
    label: str,
    *,
    core: str,
    level: str,
    profile: str | None = None,
    serial: str | None = None,
    mac: str | None = None,
    profiles: Mapping[str, Profile],
    new_id: Callable[[], str],
) -> Edit:
    """Add a dwelling with a receiver.

    Args:
        walk: the way around the site.
        label: what stands on its door.
        core: what its core is called.
        level: what its level is called.
        profile: the type of its receiver; where it is not given, the type that most receivers of the core have.
        serial: the receiver's serial number, if the box is at hand.
        mac: the receiver's MAC address.
        profiles: the types to choose from, by key.
        new_id: makes identifiers.

    Raises:
        Refused: there is no such core or level, the label or the box is another's, or the type does not fit.
    """
    label = label.strip()
    in_core: Core = called(walk, core, Core)
    on_level = _level_of(walk, in_core, level)
    if not label:
        raise Refused("the dwelling has no label", remedy="Give what visitors read on its door.")
    if any(other.core == in_core.id for other in walk.dwellings_labelled(label)):
        raise Refused(
            f"{in_core.name} has a dwelling {label} already", remedy="Give what visitors read on the new door."
        )
    identity = read_identity(walk, serial=serial, mac=mac)
    rework = Rework(walk)
    dwelling = Dwelling(id=new_id(), door_label=label, core=in_core.id, level=on_level.id)
    rework.add(dwelling)
    key = profile or _usual_type(walk, in_core)
    if key is None:
        if serial is not None or mac is not None:
            raise Refused("the receiver has no type", remedy="Give its type with --type.")
        rework.trouble((dwelling,), f"dwelling {label} has no receiver", "Give the type of its receiver with --type.")
    else:
        chosen = profile_called(profiles, key, [UnitKind.URU.value])
        rework.take_profile(chosen)
        name = _free_name(walk, f"URU {label}", in_core.name)
        uru = Unit(
            id=new_id(), name=name, kind=UnitKind.URU, profile=chosen.key, dwelling=dwelling.id,
            serial=identity["serial"], mac=identity["mac"],
        )  # fmt: skip
        rework.add(uru)
        tell_of_serial(rework, uru, chosen, uru.serial)
        rework.trouble(
            (uru,),
            f"{name} has no cable run: which switch feeds it, and over how many metres, is not known",
            "Enter its cable on the sheet Cables and import it; the port is issued then.",
        )
        if profile is None:
            rework.tell(f"{name} is of the type that most receivers of {in_core.name} are of: {chosen.title}")
    return rework.done(f"add dwelling {label} on level {on_level.name} of {in_core.name}")


def remove_dwelling(walk: Walk, name: str) -> Edit:
    """Give a dwelling up, with its receivers, keys, number, diverts and rights.

    Raises:
        Refused: there is no such dwelling, or several are called that.
    """
    dwelling: Dwelling = called(walk, name, Dwelling)
    rework = Rework(walk)
    urus = WalkingOrder(walk).units(walk.units_in(dwelling.id))
    for uru in urus:
        rework.drop_with_belongings(uru)
    if urus:
        rework.tell(f"Given up with it: {', '.join(uru.name for uru in urus)}")
    _drop_dwelling(rework, dwelling, instead=None)
    return rework.done(f"remove dwelling {dwelling.door_label}")


def merge_dwellings(walk: Walk, keep: str, others: Sequence[str]) -> Edit:
    """Make one dwelling of several: the kept one takes over the receivers of the others, as secondaries.

    The keys and numbers of the others are freed. Receivers beyond the limit of the kept dwelling's primary stay in
    the plan without a dwelling, and are told as a trouble.

    Raises:
        Refused: there is no such dwelling, several are called that, or a dwelling is named twice.
    """
    kept: Dwelling = called(walk, keep, Dwelling)
    merged: list[Dwelling] = [called(walk, other, Dwelling) for other in others]
    if not merged:
        raise Refused("nothing to merge", remedy="Name the dwelling to keep, then those that become part of it.")
    idents = [kept.id, *(dwelling.id for dwelling in merged)]
    twice = sorted({walk.get(Dwelling, ident).door_label for ident in idents if idents.count(ident) > 1})
    if twice:
        raise Refused(f"dwelling {', '.join(twice)} is named twice", remedy="Name each dwelling once.")
    rework = Rework(walk)
    order = WalkingOrder(walk)
    there = order.units(walk.units_in(kept.id))
    coming = [uru for dwelling in merged for uru in order.units(walk.units_in(dwelling.id))]
    primary = next((uru for uru in there if uru.position == 0), next(iter([*there, *coming]), None))
    room = (
        _secondaries_max(walk, primary) - (len(there) - 1) if primary in there else _secondaries_max(walk, primary) + 1
    )
    for number, uru in enumerate(coming):
        fits = number < room
        rework.put(uru, dwelling=kept.id if fits else None, position=None, registrar=None)
    taken, left = coming[: max(0, room)], coming[max(0, room) :]
    if taken:
        rework.tell(f"{', '.join(uru.name for uru in taken)} now {_ring(taken)} for {kept.door_label}")
    if left and primary is not None:
        names = ", ".join(uru.name for uru in left)
        rework.trouble(
            (kept, *left),
            f"{primary.name} takes {_secondaries_max(walk, primary)} secondaries: {names} {_has(left)} no dwelling now",
            "Take these receivers down, or give the dwelling a primary that takes more secondaries.",
        )
    for dwelling in merged:
        _drop_dwelling(rework, dwelling, instead=kept)
    labels = ", ".join(dwelling.door_label for dwelling in merged)
    return rework.done(f"merge dwelling {labels} into {kept.door_label}")


def _drop_dwelling(rework: Rework, dwelling: Dwelling, *, instead: Dwelling | None) -> None:
    """Take a dwelling away and everything that names it; ``instead`` takes its place where people come in and out."""
    walk = rework.walk
    keys = walk.keys_ringing(dwelling.id)
    for key in keys:
        rework.drop(key)
    freed = [f"call number {dwelling.call_number}"] if dwelling.call_number else []
    freed += [f"{key.label} of {walk.get(Unit, key.unit).name}" for key in keys if walk.find(Unit, key.unit)]
    if freed:
        rework.tell(f"Freed: {', '.join(freed)}")
    for entrance in walk.entrances_naming(dwelling.id):
        serves = _without(rework.now(entrance).serves_dwellings, dwelling, instead, _served(walk, entrance))
        rework.put(entrance, serves_dwellings=serves)
        if not (entrance.serves_buildings or entrance.serves_cores or serves):
            rework.trouble((entrance,), f"{entrance.name} serves nobody now", "Say whom it serves, or remove it.")
    for divert in (*walk.diverts_for(dwelling.id), *walk.diverts_to(dwelling.id)):
        rework.drop(divert)
        rework.tell(f"Given up with it: the {divert.label} {_ends(walk, divert.dwelling, divert.to_dwelling)}".strip())
    for right in walk.all(ReleaseRight):
        if dwelling.id in right.dwellings:
            # a right that names nobody any more stays: without it the door would fall to all whom its entrance serves
            rework.put(right, dwellings=_without(rework.now(right).dwellings, dwelling, instead, ()))
    rework.drop(dwelling)


def _without(
    idents: Iterable[str], dwelling: Dwelling, instead: Dwelling | None, served: Iterable[str]
) -> tuple[str, ...]:
    """Return identifiers without a dwelling's; ``instead`` comes in for it where it is not served anyway."""
    left = [ident for ident in idents if ident != dwelling.id]
    if instead is not None and instead.id not in left and instead.id not in served:
        left.append(instead.id)
    return tuple(left)


def _served(walk: Walk, entrance: Entrance) -> tuple[str, ...]:
    return tuple(dwelling.id for dwelling in walk.dwellings_served(entrance))


def _ends(walk: Walk, of: str | None, to: str | None) -> str:
    labels = [(word, walk.find(Dwelling, ident)) for word, ident in (("of", of), ("to", to))]
    return " ".join(f"{word} {dwelling.door_label}" for word, dwelling in labels if dwelling)


def _secondaries_max(walk: Walk, primary: Unit | None) -> int:
    """Return how many secondaries a primary takes: the limit of secondaries, or of registrations where it is lower."""
    profile = walk.profile(primary.profile) if primary else None
    return min(profile.secondaries_max_count, profile.registrations_max_count) if profile else 0


def _level_of(walk: Walk, core: Core, name: str) -> Level:
    """Return the level of a core's building by name, alone or behind its building."""
    building = walk.find(Building, core.building)
    owner = f"{building.name}/".casefold() if building else ""
    wanted = name.strip().casefold().removeprefix(owner)
    levels = [level for level in walk.all(Level) if level.building == core.building]
    for level in levels:
        if level.name.casefold() == wanted:
            return level
    names = ", ".join(level.name for level in sorted(levels, key=lambda level: level.order))
    raise Refused(f"{core.name} has no level {name!r}", remedy=f"Its levels: {names or 'none'}")


def _usual_type(walk: Walk, core: Core) -> str | None:
    """Return the profile that most receivers of a core have, else most of the site; the first by name of several."""
    urus = [uru for dwelling in walk.dwellings_of_core(core.id) for uru in walk.units_in(dwelling.id)]
    count = Counter(uru.profile for uru in urus or walk.units_of_kind(UnitKind.URU))
    return min(count, key=lambda key: (-count[key], key), default=None)


def _free_name(walk: Walk, name: str, core: str) -> str:
    for wanted in (name, f"{name} {core}"):
        if not walk.units_named(wanted):
            return wanted
    other: Part = walk.units_named(name)[0]
    raise Refused(f"{named(walk, other)} is called that already", remedy="Rename it first.")


def _ring(units: Sequence[Unit]) -> str:
    return "rings" if len(units) == 1 else "ring"


def _has(units: Sequence[Unit]) -> str:
    return "has" if len(units) == 1 else "have"
