"""Locks: the contact that switches one bears it, its coil is tamed, and a magnet can be left by a button.

Nothing here approves a lock on an escape route: answers are recorded, and a competent person decides.
"""

from typing import Final

from doorwright.calc.protection import CoilCaution
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.door import Door, LockKind
from doorwright.model.naming import named
from doorwright.model.unit import Unit
from doorwright.rules.doors import CAUTION, ESCAPE
from doorwright.rules.example import as_it_is, put, put_profile
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import answered
from doorwright.studies.contact_load import ContactLoad, contact_load, outputs_of

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
RATINGS: Final = Cite("practice", "ratings of the data sheet hold for a resistive load")


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(RATINGS,),
    finds=Example("The gate's motor starts with 9 A.", put(Door, "door-gate", lock_inrush_a=9.0)),
    passes=Example("It starts with 0.6 A.", put(Door, "door-gate", lock_inrush_a=0.6)),
)
def contact_overloaded_at_inrush(facts: Facts, door: Door) -> Said:
    """The inrush of a lock is above what the contact that switches it may close on.

    Why it matters: the contact welds at the instant of closing, and the door stays free or locked for good.
    What to do: put a relay between them, rated for the inrush, or use a lock module.
    """

    def wrong(load: ContactLoad) -> str | None:
        # a current that is too high for good is told by contact-overloaded
        if load.duty.closing_ratio <= 1.0 or load.duty.carried_ratio > 1.0:
            return None
        rating = f"{load.rated_closing_a:.2f} A" + ("" if load.inrush_named else " (its sheet names no inrush)")
        return f"{_named_with_contact(facts, door)} closes on {load.closing_a:.2f} A and is rated for {rating}"

    yield from answered(contact_load(facts.walk, door), wrong)


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(RATINGS,),
    finds=Example("The contacts of the rear unit are for 12 V.", put_profile("vcu-keypad", output_contact_v=12.0)),
    passes=Example("They are for 30 V.", put_profile("vcu-keypad", output_contact_v=30.0)),
)
def contact_of_lower_voltage(facts: Facts, door: Door) -> Said:
    """The supply of a lock has a higher voltage than the contact that switches it may open.

    Why it matters: the contact does not put out its spark when it opens, and burns.
    What to do: put a relay between them that is rated for the voltage, or choose another lock and supply.
    """

    def wrong(load: ContactLoad) -> str | None:
        if load.duty.voltage_ratio <= 1.0:
            return None
        return f"{_named_with_contact(facts, door)} opens {load.open_v:.1f} V and is rated for {load.rated_v:.1f} V"

    yield from answered(contact_load(facts.walk, door), wrong)


@rule(
    over=Door,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("practice", "a diode or varistor at the lock takes the spark of its coil"),),
    finds=Example(
        "The strike of the rear door has no diode or varistor.", put(Door, "door-rear", lock_suppressed=False)
    ),
    passes=Example("It has one.", put(Door, "door-rear", lock_suppressed=True)),
)
def coil_without_suppression(facts: Facts, door: Door) -> Said:
    """A coil without diode or varistor hangs on the contact of a unit.

    Why it matters: each time the contact opens, the coil drives its voltage up to hundreds of volts. The contact burns,
    and cameras and units nearby restart.
    What to do: fit a diode (direct current only, mind its polarity) or a varistor at the lock. A diode delays the
    release: on an escape door ask the lock's maker and a competent person first.
    """
    unit = facts.walk.find(Unit, door.freed_by)
    outputs = outputs_of(facts.walk, unit) if unit else None
    if not outputs:
        return  # told by door-freed-by-nothing and output-not-there
    if door.lock_suppressed is None:
        yield lacks(door, "suppressed")
    elif door.lock_suppressed:
        yield HOLDS
    else:
        yield Found(f"{_named_with_contact(facts, door)} switches a coil with {CoilCaution.BARE.value}")


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=ESCAPE,
    cites=(
        Cite("ibc", "1010.1.9.8 of the 2015 edition: a marked button beside the door"),
        Cite("nfpa101", "7.2.1.6.2"),
        Cite("practice", "whoever is inside gets out without a key"),
    ),
    finds=Example(
        "It is recorded that no button frees the magnet of the main door from the inside.",
        put(Door, "door-main", exit_button=False),
    ),
    passes=Example("It is recorded that there is one.", as_it_is),
)
def magnet_without_exit_button(facts: Facts, door: Door) -> Said:
    """It is recorded that no button frees a magnet from the inside.

    Why it matters: a magnet holds the leaf whatever handle is turned; who is inside does not get out.
    What to do: ask the person responsible for fire safety what frees the door from the inside, and record the answer. A
    button beside the door, marked, that breaks the magnet's current itself is commonly asked for.
    """
    if door.lock is not LockKind.MAGNET:
        return
    if door.exit_button is None:
        yield lacks(door, "exit button")
    elif door.exit_button:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)} is held by a magnet, and it is recorded that it has no exit button. {CAUTION}"
        )


def _named_with_contact(facts: Facts, door: Door) -> str:
    unit = facts.walk.find(Unit, door.freed_by)
    behind = f"output {door.output} of {named(facts.walk, unit)}" if unit else "its contact"
    return f"{named(facts.walk, door)}: {behind}"
