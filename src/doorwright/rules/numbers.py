"""Call numbers: each dwelling has one, it is its own, and visitors can dial it."""

import re
from collections.abc import Iterator
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.naming import named
from doorwright.model.part import Part
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.profile import Profile
from doorwright.model.reserved import reserved_of, unreadable
from doorwright.model.site import Choices, NumberScheme, Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.rules.example import Edit, as_it_is, both, put, put_profile, put_site
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, others, some, speaks_for

PLANNING: Final = (Phase.PLANNING, Phase.OPERATION)
DIALLED: Final = re.compile(r"[0-9]+")
"""What a visitor can dial: digits (RFC 4733 events 0 to 9; * and # steer the unit itself, by common practice)."""


def _reserving(*texts: str) -> Edit:
    return put_site(choices=Choices(reserved_numbers=texts))


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-1", "addressed calling"), Cite("rfc3261", "§19.1.1, user part")),
    finds=Example("Dwelling 101 loses its call number.", put(Dwelling, "flat-1", call_number=None)),
    passes=Example("Every dwelling has a call number.", as_it_is),
)
def dwelling_without_call_number(facts: Facts, dwelling: Dwelling) -> Said:
    """A dwelling has no call number.

    Why it matters: the call number is what keys name and what visitors dial. Without it nobody can call the dwelling,
    and its units cannot register.
    What to do: let the number planner issue one, or enter the number that residents already know.
    """
    if dwelling.call_number:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, dwelling)} has no call number")


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc3261", "§10, an address-of-record names one user"), Cite("practice")),
    finds=Example("Dwelling 102 gets the number of dwelling 101.", put(Dwelling, "flat-2", call_number="101")),
    passes=Example(
        "Dwellings 101 and 102 exchange their numbers.",
        both(put(Dwelling, "flat-1", call_number="102"), put(Dwelling, "flat-2", call_number="101")),
    ),
)
def call_number_used_twice(facts: Facts, dwelling: Dwelling) -> Said:
    """A call number reaches two dwellings, or a dwelling and a desk.

    Why it matters: a visitor calls one home and another answers, or both ring. Whoever answers may open the door to a
    stranger. Numbers may repeat only where no entrance and no registrar is shared.
    What to do: keep the number of the dwelling whose label and units already carry it and give the other a new one.
    """
    if not dwelling.call_number:
        return
    walk = facts.walk
    dwellings = walk.dwellings_numbered(dwelling.call_number)
    desks = walk.units_numbered(dwelling.call_number)
    if len(dwellings) + len(desks) == 1:
        yield HOLDS
    elif speaks_for(dwelling, dwellings):
        clashing = _clashing(walk, dwellings, desks)
        if clashing:
            speaker, *rest = sorted(clashing, key=lambda part: (part.KIND, part.id))
            names = some((named(walk, part) for part in clashing), at_most_count=4)
            yield Found(f"call number {dwelling.call_number} is used {len(clashing)} times: {names}", (speaker, *rest))
        else:
            yield HOLDS


def _clashing(walk: Walk, dwellings: tuple[Dwelling, ...], desks: tuple[Unit, ...]) -> tuple[Part, ...]:
    """Return the holders of one number that some entrance or registrar cannot tell apart.

    A desk, or a dwelling of which neither entrance nor registrar is known yet, cannot be told from anybody.
    """
    if desks:
        return (*dwellings, *desks)
    holders: dict[str, dict[str, Dwelling]] = {}
    for dwelling in dwellings:
        systems = [entrance.id for entrance in walk.entrances_serving(dwelling)]
        systems += [uru.registrar for uru in walk.units_in(dwelling.id) if uru.position == 0 and uru.registrar]
        if not systems:
            return dwellings
        for system in systems:
            holders.setdefault(system, {})[dwelling.id] = dwelling
    return tuple({ident: one for group in holders.values() if len(group) > 1 for ident, one in group.items()}.values())


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc3261", "§10, an address-of-record names one user"), Cite("practice")),
    finds=Example("The desk loses its call number.", put(Unit, "smu-desk", call_number=None)),
    passes=Example("The desk has a number of its own.", as_it_is),
)
def desk_number_missing_or_shared(facts: Facts, unit: Unit) -> Said:
    """A desk has no call number, or two desks have the same.

    Why it matters: entrances call the desk, and calls divert to it, by its number. Without one it cannot be called;
    with one that two desks share, either may answer.
    What to do: give every desk a call number of its own.
    """
    if unit.kind is not UnitKind.SMU:
        return
    if not unit.call_number:
        yield Found(f"{named(facts.walk, unit)} has no call number")
        return
    holders = facts.walk.units_numbered(unit.call_number)
    if len(holders) == 1:
        yield HOLDS
    elif speaks_for(unit, holders):
        rest = others(unit, holders)
        names = some(named(facts.walk, part) for part in rest)
        yield Found(f"{named(facts.walk, unit)} has call number {unit.call_number}, and so has {names}", rest)


@rule(
    over=Dwelling,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "number dwellings so that what a visitor reads on the door is what they dial"),),
    finds=Example(
        "Dwelling 101 gets call number 7301 though numbers are to be as on the door.",
        put(Dwelling, "flat-1", call_number="7301"),
    ),
    passes=Example(
        "Dwelling 101 is labelled Flat 101: the digits agree.", put(Dwelling, "flat-1", door_label="Flat 101")
    ),
)
def number_differs_from_door(facts: Facts, dwelling: Dwelling) -> Said:
    """A call number is not the number on the door.

    Why it matters: a visitor who reads 12 on the door dials 12. Numbers that differ need a directory or an explanation
    at every entrance.
    What to do: renumber before labels are made, or accept the difference with a waiver that says why.
    """
    if facts.walk.settings().choices.number_scheme is not NumberScheme.DOOR or not dwelling.call_number:
        return
    on_door = "".join(re.findall(r"[0-9]", dwelling.door_label)).lstrip("0")
    if not on_door:
        return
    dialled = dwelling.call_number.lstrip("0")
    # 12A can be dialled only as something that begins with 12
    suffixed = re.search(r"[0-9]\s*[A-Za-z]", dwelling.door_label) is not None
    if dialled == on_door or (suffixed and dialled.startswith(on_door)):
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, dwelling)} is called by {dwelling.call_number}, not by what its door says")


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a keypad takes the digits that its data sheet says"),),
    finds=Example("Dwelling 101 gets a call number of nine digits.", put(Dwelling, "flat-1", call_number="101000001")),
    passes=Example("Dwelling 101 gets one of six digits.", put(Dwelling, "flat-1", call_number="101000")),
)
def number_too_long_for_keypad(facts: Facts, entrance: Entrance) -> Said:
    """A call number has more digits than a keypad that serves its dwelling takes.

    Why it matters: the keypad stops or dials too early, so the dwelling cannot be called from this entrance.
    What to do: choose shorter numbers, or another visitor call unit at this entrance.
    """
    keypads = list(_keypads(facts.walk, entrance))
    if keypads:
        yield from found_or_holds(_too_long(facts.walk, entrance, keypads))


def _too_long(walk: Walk, entrance: Entrance, keypads: list[tuple[Unit, Profile]]) -> Iterator[Found]:
    for dwelling in walk.dwellings_served(entrance):
        for vcu, profile in keypads:
            digits_count = len(dwelling.call_number or "")
            if digits_count > profile.keypad_digits_max_count:
                yield Found(
                    f"{named(walk, vcu)}: call number {dwelling.call_number} of {named(walk, dwelling)} has"
                    f" {digits_count} digits, the keypad takes {profile.keypad_digits_max_count}",
                    (vcu, dwelling),
                )


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "keypads have ten digits"), Cite("itu-e164", "numbers consist of the digits 0 to 9")),
    finds=Example("Dwelling 101 gets call number 1A1.", put(Dwelling, "flat-1", call_number="1A1")),
    passes=Example("Dwelling 101 gets call number 111.", put(Dwelling, "flat-1", call_number="111")),
)
def number_cannot_be_dialled(facts: Facts, entrance: Entrance) -> Said:
    """A call number has characters that a keypad cannot send.

    Why it matters: visitors at a keypad can enter digits only, so the dwelling cannot be called from this entrance.
    What to do: give the dwelling a call number of digits; keep letters for its door label and legend.
    """
    if not list(_keypads(facts.walk, entrance)):
        return
    yield from found_or_holds(
        Found(
            f"{named(facts.walk, entrance)}: call number {dwelling.call_number!r} of {named(facts.walk, dwelling)}"
            " cannot be dialled on a keypad, which has digits only",
            (dwelling,),
        )
        for dwelling in facts.walk.dwellings_served(entrance)
        if dwelling.call_number and not DIALLED.fullmatch(dwelling.call_number)
    )


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "numbers that people keep for other ends, such as emergency numbers, are not issued"),),
    finds=Example("100 and 101 are reserved; dwelling 101 is called by 101.", _reserving("100-101")),
    passes=Example("900 to 999 are reserved, and nobody has such a number.", _reserving("900-999")),
)
def reserved_number_in_use(facts: Facts, dwelling: Dwelling) -> Said:
    """A dwelling has a call number that is reserved.

    Why it matters: somebody keeps the number for another end, such as an emergency or the desk. A call to it rings a
    home instead, or never leaves the house.
    What to do: give the dwelling another number, or reserve this one no longer.
    """
    yield from _in_reserve(facts, dwelling)


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "numbers that people keep for other ends, such as emergency numbers, are not issued"),),
    finds=Example("8000 to 8999 are reserved; the desk is called by 8001.", _reserving("8000-8999")),
    passes=Example("800 to 899 are reserved: 8001 is not among them.", _reserving("800-899")),
)
def unit_number_reserved(facts: Facts, unit: Unit) -> Said:
    """A unit has a call number that is reserved.

    Why it matters: somebody keeps the number for another end. A call to it reaches this unit instead.
    What to do: give the unit another number, or reserve this one no longer, if it was reserved for this very unit.
    """
    yield from _in_reserve(facts, unit)


def _in_reserve(facts: Facts, holder: Dwelling | Unit) -> Said:
    reserved = reserved_of(facts.walk.settings().choices.reserved_numbers)
    if not reserved or not holder.call_number:
        return
    found = next((one for one in reserved if one.holds(holder.call_number)), None)
    if found is None:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, holder)} has call number {holder.call_number}; {found.text} is reserved")


@rule(
    over=Site,
    severity=Severity.ERROR,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "a reservation is a number or a range of numbers"),),
    finds=Example("The reservation 999-900 runs backwards.", _reserving("999-900")),
    passes=Example("The reservation is 900-999.", _reserving("900-999")),
)
def reservation_unreadable(facts: Facts, _site: Site) -> Said:
    """A reserved number is neither a number nor a range of numbers.

    Why it matters: it cannot be kept free, so somebody may be given the number.
    What to do: write a number, 112, or a range from the lower to the higher, 900-999.
    """
    texts = facts.walk.settings().choices.reserved_numbers
    if texts:
        yield from found_or_holds(Found(f"reserved number {text!r} cannot be read") for text in unreadable(texts))


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a keypad without end key calls as soon as the digits are a number"),),
    finds=Example(
        "The keypad at the rear dials at once; dwelling 101 gets call number 10, with which 102 begins.",
        both(put_profile("vcu-keypad", keypad_dials_at_once=True), put(Dwelling, "flat-1", call_number="10")),
    ),
    passes=Example(
        "It dials at once; all numbers have three digits.", put_profile("vcu-keypad", keypad_dials_at_once=True)
    ),
)
def number_hidden_behind_another(facts: Facts, entrance: Entrance) -> Said:
    """A call number begins with another, at a keypad that dials without an end key.

    Why it matters: the keypad calls the shorter number before the visitor has entered the longer one. The dwelling with
    the longer number can never be called from here.
    What to do: use numbers of one length, or a visitor call unit that dials on an end key.
    """
    at_once = [vcu for vcu, profile in _keypads(facts.walk, entrance) if profile.keypad_dials_at_once]
    if at_once:
        pairs = _beginnings(facts.walk, entrance)
        names = some(named(facts.walk, vcu) for vcu in at_once)
        yield Found(f"{names}: {some(pairs)}", tuple(at_once)) if pairs else HOLDS


@rule(
    over=Entrance,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "overlapping numbers need an end key or a pause"),),
    finds=Example(
        "Dwelling 101 gets call number 10, with which 102 begins.", put(Dwelling, "flat-1", call_number="10")
    ),
    passes=Example("Dwelling 101 gets call number 30.", put(Dwelling, "flat-1", call_number="30")),
)
def number_begins_another(facts: Facts, entrance: Entrance) -> Said:
    """A call number is how another begins.

    Why it matters: a keypad that dials without an end key calls the shorter number before the visitor has entered the
    longer one, or waits for a pause that visitors do not know of.
    What to do: use numbers of one length, or a visitor call unit that dials on an end key, and write that on its sign.
    """
    if not any(not profile.keypad_dials_at_once for _, profile in _keypads(facts.walk, entrance)):
        return
    pairs = _beginnings(facts.walk, entrance)
    if pairs:
        yield Found(f"{named(facts.walk, entrance)}: {some(pairs)}")
    else:
        yield HOLDS


def _beginnings(walk: Walk, entrance: Entrance) -> list[str]:
    numbers = {dwelling.call_number for dwelling in walk.dwellings_served(entrance) if dwelling.call_number}
    return [
        f"{number[:digits]} begins {number}"
        for number in numbers
        for digits in range(1, len(number))
        if number[:digits] in numbers
    ]


def _keypads(walk: Walk, entrance: Entrance) -> Iterator[tuple[Unit, Profile]]:
    for vcu in walk.units_at(entrance.id):
        profile = walk.profile(vcu.profile)
        if profile is not None and profile.keypad:
            yield vcu, profile


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a directory holds the entries that its data sheet says"),),
    finds=Example(
        "The keypad unit at the rear holds three entries; it serves four dwellings.",
        put_profile("vcu-keypad", directory_max_count=3),
    ),
    passes=Example("It holds four.", put_profile("vcu-keypad", directory_max_count=4)),
)
def directory_too_small(facts: Facts, entrance: Entrance) -> Said:
    """An entrance serves more dwellings than the directory of its visitor call unit holds.

    Why it matters: the last dwellings entered cannot be found or called there.
    What to do: choose a visitor call unit with a larger directory, or let the entrance serve fewer dwellings.
    """
    for vcu in facts.walk.units_at(entrance.id):
        profile = facts.walk.profile(vcu.profile)
        if profile is None:
            yield lacks(vcu, "profile")
        elif profile.directory_max_count:
            served_count = len(facts.walk.dwellings_served(entrance))
            if served_count > profile.directory_max_count:
                yield Found(
                    f"{named(facts.walk, vcu)}: {served_count} dwellings are served,"
                    f" its directory holds {profile.directory_max_count}",
                    (vcu,),
                )
            else:
                yield HOLDS
