"""Firmware: units run their type's baseline, and both ends of a pairing stand on one side of its steps."""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.naming import named
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.version import version_key
from doorwright.model.walk import Walk
from doorwright.rules.example import put, put_profile
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule

FROM_INSTALLATION: Final = (Phase.INSTALLATION, Phase.COMMISSIONING, Phase.OPERATION)


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=FROM_INSTALLATION,
    cites=(Cite("en303645", "5.3"), Cite("practice", "one firmware baseline for a unit type")),
    finds=Example("The main VCU still has firmware 3.0; the baseline is 3.2.", put(Unit, "vcu-main", firmware="3.0")),
    passes=Example("It has firmware 3.10.", put(Unit, "vcu-main", firmware="3.10")),
)
def firmware_below_baseline(facts: Facts, unit: Unit) -> Said:
    """A unit has older firmware than the baseline of its type.

    Why it matters: units of one type behave differently, and faults that were mended are looked for again.
    What to do: load the baseline on the bench, before pairing: a step may clear the settings. Where no way leads back,
    step one unit first, and try it in full before the others.
    """
    profile = facts.walk.profile(unit.profile)
    if profile is None or profile.firmware_baseline is None:
        return
    if unit.firmware is None:
        yield lacks(unit, "firmware")
    elif version_key(unit.firmware) < version_key(profile.firmware_baseline):
        one_way = _one_way(profile, unit.firmware, profile.firmware_baseline)
        further = f"; no way leads back from {', '.join(one_way)}: step one unit first" if one_way else ""
        has = f"{named(facts.walk, unit)} has firmware {unit.firmware}"
        yield Found(f"{has}, the baseline is {profile.firmware_baseline}{further}")
    else:
        yield HOLDS


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=FROM_INSTALLATION,
    cites=(Cite("practice", "one firmware baseline for a unit type"),),
    finds=Example(
        "The baseline is 2.6, the main VCU has 3.2, and no way leads back from 3.0.",
        put_profile("vcu-direct", firmware_baseline="2.6"),
    ),
    passes=Example(
        "The baseline is 3.0, the main VCU has 3.2, and may go back.",
        put_profile("vcu-direct", firmware_baseline="3.0"),
    ),
)
def firmware_cannot_go_back(facts: Facts, unit: Unit) -> Said:
    """A unit has newer firmware than the baseline of its type, and no way leads back to it.

    Why it matters: the unit can never be made like the others; a later step must bring the others to it.
    What to do: make its firmware the baseline and plan the step of the others, or have the maker exchange the unit.
    """
    profile = facts.walk.profile(unit.profile)
    if profile is None or profile.firmware_baseline is None:
        return
    if unit.firmware is None:
        yield lacks(unit, "firmware")
    elif one_way := _one_way(profile, profile.firmware_baseline, unit.firmware):
        yield Found(
            f"{named(facts.walk, unit)} has firmware {unit.firmware}, the baseline is {profile.firmware_baseline},"
            f" and no way leads back from {', '.join(one_way)}"
        )
    else:
        yield HOLDS


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=FROM_INSTALLATION,
    cites=(Cite("practice", "units on either side of a pairing step do not talk to each other"),),
    finds=Example(
        "The main VCU still has firmware 2.6, from before the pairing step.", put(Unit, "vcu-main", firmware="2.6")
    ),
    passes=Example("It has firmware 3.0, of the same pairing generation.", put(Unit, "vcu-main", firmware="3.0")),
)
def pairing_generation_differs(facts: Facts, unit: Unit) -> Said:
    """A unit and its registrar are on different sides of a firmware step that changed pairing.

    Why it matters: the unit never registers, though everything entered at both ends agrees.
    What to do: bring both to the baseline, knowing that the step may clear their settings: take the record first.
    """
    walk = facts.walk
    registrar = walk.find(Unit, unit.registrar)
    if registrar is None:
        return
    unknown = next((one for one in (unit, registrar) if one.firmware is None), None)
    if unknown is not None:
        yield lacks(unknown, "firmware")
        return
    here, there = _generation(walk, unit), _generation(walk, registrar)
    if here is None or there is None:
        yield lacks(registrar if there is None else unit, "firmware line in its profile")
    elif here == there:
        yield HOLDS
    else:
        yield Found(
            f"{named(walk, unit)} has firmware {unit.firmware} (pairing generation {here}),"
            f" {named(walk, registrar)} has {registrar.firmware} (generation {there})",
            (registrar,),
        )


def _one_way(profile: Profile, older: str, newer: str) -> list[str]:
    """Return the versions above the older, up to the newer, that a unit which has them keeps for good."""
    low, high = version_key(older), version_key(newer)
    return [
        line.version
        for line in profile.firmware
        if line.may_go_back is False and low < version_key(line.version) <= high
    ]


def _generation(walk: Walk, unit: Unit) -> int | None:
    profile = walk.profile(unit.profile)
    lines = profile.firmware if profile else ()
    return next((line.pairing_generation for line in lines if line.version == unit.firmware), None)
