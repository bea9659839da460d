"""Records: what must be written down so that the site can be handed over, and a unit rebuilt from its record."""

import re
from functools import lru_cache
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.calling import Timetable
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.power import Supply
from doorwright.model.site import Site
from doorwright.model.unit import KeyModule, Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, plus, put, put_site
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, rule
from doorwright.rules.saying import found_or_holds, others, some, speaks_for

FROM_INSTALLATION: Final = (Phase.INSTALLATION, Phase.COMMISSIONING, Phase.HANDOVER, Phase.OPERATION)
IDENTITY: Final = Cite("practice", "note serial number and MAC address before a unit is mounted")

MAC: Final = re.compile(r"[0-9A-F]{2}(?:[-:][0-9A-F]{2}){5}", re.IGNORECASE)
ZONE: Final = re.compile(r"UTC|[A-Z][A-Za-z0-9_+-]*(?:/[A-Za-z0-9_+-]+)+")
"""How a name in the IANA time zone database looks: an area and a location."""


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=FROM_INSTALLATION,
    cites=(IDENTITY, Cite("practice", "the registrar is told the serial number")),
    finds=Example("The serial number of the main VCU is not recorded.", put(Unit, "vcu-main", serial=None)),
    passes=Example("Every serial number is recorded.", as_it_is),
)
def unit_without_serial(facts: Facts, unit: Unit) -> Said:
    """The serial number of a unit is not recorded.

    Why it matters: it is entered at the registrar when the unit is paired; later it can be read only on its back.
    What to do: note it from the box or label before the unit is mounted.
    """
    if unit.serial:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, unit)}: its serial number is not recorded")


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=FROM_INSTALLATION,
    cites=(IDENTITY,),
    finds=Example("The MAC address of the main VCU is not recorded.", put(Unit, "vcu-main", mac=None)),
    passes=Example("Every MAC address is recorded.", as_it_is),
)
def unit_without_mac(facts: Facts, unit: Unit) -> Said:
    """The MAC address of a unit is not recorded.

    Why it matters: it tells which unit is behind which port, and which of two answers to one address.
    What to do: note it from the box or label before the unit is mounted.
    """
    if unit.mac:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, unit)}: its MAC address is not recorded")


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=FROM_INSTALLATION,
    cites=(Cite("practice", "the format of serial numbers is in the data sheet"),),
    finds=Example("The serial number of the main VCU lacks a digit.", put(Unit, "vcu-main", serial="A0000001")),
    passes=Example("It has a letter and eight digits.", put(Unit, "vcu-main", serial="B12345678")),
)
def serial_misread(facts: Facts, unit: Unit) -> Said:
    """A serial number is not of the form that its type has.

    Why it matters: it was misread or belongs to another type; the registrar will refuse it.
    What to do: read it again from the label or a photograph.
    """
    profile = facts.walk.profile(unit.profile)
    pattern = _pattern(profile.serial_pattern) if profile and profile.serial_pattern else None
    if not unit.serial or pattern is None:
        return
    if pattern.fullmatch(unit.serial):
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, unit)}: serial number {unit.serial!r} is not of its type's form {pattern.pattern!r}"
        )


@lru_cache(maxsize=256)
def _pattern(text: str) -> re.Pattern[str] | None:
    try:
        return re.compile(text)
    except re.error:
        return None


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=FROM_INSTALLATION,
    cites=(Cite("practice", "a serial number belongs to one unit"),),
    finds=Example("Two units have one serial number.", put(Unit, "uru-2", serial="A00000004")),
    passes=Example("Each has its own.", as_it_is),
)
def serial_used_twice(facts: Facts, unit: Unit) -> Said:
    """A serial number is recorded for two parts.

    Why it matters: one of the two is wrong, so a registrar will wait for a unit that is somewhere else.
    What to do: read both labels again.
    """
    if unit.serial:
        yield from _shared(facts.walk, unit, facts.walk.holders_of_serial(unit.serial), f"serial number {unit.serial}")


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=FROM_INSTALLATION,
    cites=(Cite("ieee802", "universal addresses are unique"), IDENTITY),
    finds=Example("Two units have one MAC address.", put(Unit, "uru-2", mac="00-00-5E-00-53-04")),
    passes=Example("Each has its own.", as_it_is),
)
def mac_used_twice(facts: Facts, unit: Unit) -> Said:
    """A MAC address is recorded for two parts.

    Why it matters: one of the two is wrong, so whoever looks for a unit by it finds another.
    What to do: read both labels again.
    """
    if unit.mac:
        yield from _shared(facts.walk, unit, facts.walk.holders_of_mac(unit.mac), f"MAC address {unit.mac}")


def _shared(walk: Walk, part: Part, holders: tuple[Part, ...], what: str) -> Said:
    if len(holders) == 1:
        yield HOLDS
    elif speaks_for(part, holders):
        rest = others(part, holders)
        yield Found(f"{named(walk, part)} has {what}, and so has {some(named(walk, one) for one in rest)}", rest)


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=FROM_INSTALLATION,
    cites=(Cite("rfc7042", "§2.1, the group bit"), Cite("ieee802")),
    finds=Example("The MAC address of the main VCU is a group's.", put(Unit, "vcu-main", mac="01-00-5E-90-10-01")),
    passes=Example("It is a single station's.", put(Unit, "vcu-main", mac="00-00-5E-00-53-F0")),
)
def mac_impossible(facts: Facts, unit: Unit) -> Said:
    """A MAC address is none that a unit can have.

    Why it matters: it was misread. The first octet of a station's address is even; six octets make an address.
    What to do: read it again from the label or from the switch.
    """
    if not unit.mac:
        return
    whose = f"{named(facts.walk, unit)}: {unit.mac!r}"
    if not MAC.fullmatch(unit.mac):
        yield Found(f"{whose} is no MAC address of six octets")
    elif int(unit.mac[:2], 16) & 1:
        yield Found(f"{whose} is the address of a group, not of a station")
    elif not unit.mac.strip("0-:"):
        yield Found(f"{whose} is the address of nobody")
    else:
        yield HOLDS


@rule(
    over=Switch,
    severity=Severity.WARNING,
    phases=FROM_INSTALLATION,
    cites=(IDENTITY,),
    finds=Example("Both switches have one serial number.", put(Switch, "switch-2", serial="S00000001")),
    passes=Example("Each has its own.", as_it_is),
)
def switch_identity_wrong(facts: Facts, switch: Switch) -> Said:
    """The serial number or MAC address of a switch is not recorded, or recorded for another part as well.

    Why it matters: whoever replaces the switch, or looks for it in a list, cannot tell which one it is.
    What to do: read its label again.
    """
    walk = facts.walk
    for what, value, holders in (
        ("serial number", switch.serial, walk.holders_of_serial(switch.serial) if switch.serial else ()),
        ("MAC address", switch.mac, walk.holders_of_mac(switch.mac) if switch.mac else ()),
    ):
        if not value:
            yield Found(f"{named(walk, switch)}: its {what} is not recorded")
        elif not any(isinstance(holder, Unit) for holder in holders):  # a clash with a unit is told with the unit
            yield from _shared(walk, switch, holders, f"{what} {value}")


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING, Phase.HANDOVER),
    cites=(Cite("practice", "a name is for one unit"),),
    finds=Example("Two units have one name.", put(Unit, "uru-2", name="URU 101")),
    passes=Example("The unit of dwelling 102 is renamed.", put(Unit, "uru-2", name="URU kitchen 102")),
)
def name_used_twice(facts: Facts, unit: Unit) -> Said:
    """Two units have one name.

    Why it matters: labels, cards and lists call units by name; with one name on two, settings go to the wrong one.
    What to do: rename the one whose label is not made yet.
    """
    yield from _shared(facts.walk, unit, facts.walk.units_named(unit.name), f"the name {unit.name!r}")


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "what a unit is able to do is in its data sheet"),),
    finds=Example(
        "The unit of dwelling 102 is of a type that nobody described.", put(Unit, "uru-2", profile="uru-other")
    ),
    passes=Example("It is of the audio type.", put(Unit, "uru-2", profile="uru-audio")),
)
def profile_not_in_site(facts: Facts, unit: Unit) -> Said:
    """The profile of a unit is not in the site, or is that of another kind of part.

    Why it matters: without its data sheet neither power, keys, secrets nor limits of the unit can be checked.
    What to do: add the profile to your profile files, or correct its key.
    """
    yield from _profiled(facts.walk, unit, unit.profile, unit.kind.value)


@rule(
    over=Site,
    severity=Severity.ERROR,
    phases=(Phase.PLANNING,),
    cites=(Cite("practice", "what a part is able to do is in its data sheet"),),
    finds=Example(
        "The riser's switch is of a type that nobody described.", put(Switch, "switch-1", profile="switch-x")
    ),
    passes=Example("It is of the type with 24 ports.", put(Switch, "switch-1", profile="switch-24")),
)
def equipment_profile_not_in_site(facts: Facts, _: Site) -> Said:
    """The profile of a switch, supply or module is not in the site.

    Why it matters: without its data sheet neither ports, budget nor load can be checked.
    What to do: add the profile to your profile files, or correct its key.
    """
    walk = facts.walk
    parts: tuple[Switch | Supply | KeyModule, ...] = (*walk.all(Switch), *walk.all(Supply), *walk.all(KeyModule))
    known = {profile.key for profile in walk.settings().profiles}
    if parts:
        yield from found_or_holds(
            Found(f"{named(walk, part)}: the site has no profile {part.profile!r}", (part,))
            for part in parts
            if part.profile not in known
        )


def _profiled(walk: Walk, part: Part, key: str, kind: str) -> Said:
    profile = walk.profile(key)
    if profile is None:
        yield Found(f"{named(walk, part)}: the site has no profile {key!r}")
    elif profile.kind.value != kind:
        yield Found(f"{named(walk, part)}: profile {key!r} is that of a {profile.kind.value}")
    else:
        yield HOLDS


@rule(
    over=Site,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING, Phase.COMMISSIONING),
    cites=(Cite("practice", "time zones by their IANA name"),),
    finds=Example("There are timetables and no time zone.", put_site(time_zone=None)),
    passes=Example("The site is in the zone Etc/UTC.", put_site(time_zone="Etc/UTC")),
)
def no_time_zone(facts: Facts, _: Site) -> Said:
    """There are timetables, but no time zone in which to read them.

    Why it matters: at the change to summer time, doors open and calls divert an hour off for half the year.
    What to do: record the zone by its name in the IANA database, an area and a city.
    """
    zone = facts.walk.settings().time_zone
    if not facts.walk.all(Timetable):
        return
    if not zone:
        yield Found("there are timetables, and the site has no time zone")
    elif ZONE.fullmatch(zone):
        yield HOLDS
    else:
        yield Found(f"time zone {zone!r} does not look like a name of the IANA database, such as Etc/UTC")


@rule(
    over=Site,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING, Phase.HANDOVER),
    cites=(Cite("iec62820-1-1", "grades, Annex C"), Cite("iec62820-3-2", "planning")),
    finds=Example("The owner's edition of IEC 62820-1-1 is not recorded.", put_site(standard_edition=None)),
    passes=Example("Edition and grade are recorded.", put_site(standard_edition="IEC 62820-1-1:2026", grade=2)),
)
def no_edition_or_grade(facts: Facts, _: Site) -> Said:
    """Nobody recorded to which edition and grade of IEC 62820-1-1 the system is to be built.

    Why it matters: functions, performance and tests differ by edition and grade; at handover nobody can say what was
    promised.
    What to do: ask the owner. Grade 1 is door entry without security relevance, grade 2 is for security use.
    """
    site = facts.walk.settings()
    faults = []
    if not site.standard_edition:
        faults.append("no edition of IEC 62820-1-1 is recorded")
    if site.grade is None:
        faults.append("no grade is recorded")
    elif site.grade not in {1, 2}:
        faults.append(f"grade {site.grade} is recorded; there are 1 and 2")
    yield from found_or_holds(map(Found, faults))


@rule(
    over=Site,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING, Phase.HANDOVER),
    cites=(Cite("iec62820-3-2", "handover"), Cite("practice", "keep the record with the site")),
    finds=Example("Nobody is named who keeps the records.", put_site(record_keeper=None)),
    passes=Example("The caretaker's office keeps the records.", put_site(record_keeper="Caretaker's office")),
)
def no_record_keeper(facts: Facts, _: Site) -> Said:
    """Nobody is named who keeps the records.

    Why it matters: without the record a unit cannot be rebuilt, and the sealed secrets have no owner.
    What to do: ask the owner who keeps the as-built record and the sealed sheet.
    """
    if facts.walk.settings().record_keeper:
        yield HOLDS
    else:
        yield Found("nobody is named who keeps the records of the site")


@rule(
    over=KeyModule,
    severity=Severity.NOTE,
    phases=FROM_INSTALLATION,
    cites=(IDENTITY,),
    finds=Example(
        "Two modules have one serial number.",
        plus(KeyModule(id="extra", unit="vcu-main", profile="key-module-6", ordinal=2, serial="M00000001")),
    ),
    passes=Example("Each has its own.", as_it_is),
)
def module_serial_used_twice(facts: Facts, module: KeyModule) -> Said:
    """Two key modules have one serial number.

    Why it matters: one was misread; the warranty and the spare-part list name the wrong one.
    What to do: read both labels again.
    """
    if module.serial:
        holders = facts.walk.holders_of_serial(module.serial)
        if all(isinstance(holder, KeyModule) for holder in holders):
            yield from _shared(facts.walk, module, holders, f"serial number {module.serial}")
