"""Locks: the contact that switches one bears it, its coil is tamed, it holds again in time, a button frees a magnet.

Nothing here approves a lock on an escape route: answers are recorded, and a competent person decides.
"""

from typing import Final

from doorwright.calc.protection import CoilCaution
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.door import Door, LockKind
from doorwright.model.naming import named
from doorwright.model.unit import Unit
from doorwright.rules.doors import CAUTION, ESCAPE, RELEASE_LEAST_S
from doorwright.rules.entrances import VCU_HEIGHT_MM
from doorwright.rules.example import as_it_is, put, put_profile
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import answered
from doorwright.studies.contact_load import ContactLoad, contact_load, outputs_of

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
CLOSING_LEAST_S: Final = 5.0
"""Shortest time in which a closer may bring a leaf from 90 to 12 degrees, so that whoever is slow gets through."""
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


@rule(
    over=Door,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING, Phase.COMMISSIONING),
    cites=(
        Cite("practice", "a door that was left unlocked lets in whoever comes next"),
        Cite("ada", "404.2.8.1: a closer takes at least 5 s from 90 to 12 degrees"),
    ),
    finds=Example("The gate takes 30 s to lock again.", put(Door, "door-gate", relock_s=30.0)),
    passes=Example("It takes 4 s.", put(Door, "door-gate", relock_s=4.0)),
)
def door_holds_again_late(facts: Facts, door: Door) -> Said:
    """A lock takes longer to hold again than the door was released for, and than a leaf needs to fall shut.

    Why it matters: the visitor is in, the leaf is shut, and the door still opens for whoever follows.
    What to do: shorten the lock's own delay; what those who are slow need belongs into the release time.
    """
    if door.relock_s is None:
        # a strike or magnet holds as soon as its current says so; the others have a way to go
        if door.lock is LockKind.MOTOR:
            yield lacks(door, "relock time")
        return
    if door.release_s is None:
        yield lacks(door, "release time")
    elif door.relock_s <= max(door.release_s, CLOSING_LEAST_S):
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)} is free for {door.release_s:g} s and takes {door.relock_s:g} s more to hold"
            f" again; a leaf commonly falls shut in {CLOSING_LEAST_S:g} s or little more"
        )


@rule(
    over=Door,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING, Phase.COMMISSIONING),
    cites=(
        Cite("practice", "five seconds to reach and pull the leaf"),
        Cite("ada", "404.2.8.1: a closer takes at least 5 s from 90 to 12 degrees"),
    ),
    finds=Example(
        "The motor of the gate throws its bolt 1 s after a release of 5 s.",
        put(Door, "door-gate", release_s=5.0, relock_s=1.0),
    ),
    passes=Example("The release lasts 9 s.", put(Door, "door-gate", release_s=9.0, relock_s=1.0)),
)
def bolt_thrown_before_leaf_is_home(facts: Facts, door: Door) -> Said:
    """A motor lock throws its bolt before a slow visitor's leaf has fallen shut.

    Why it matters: who walks slowly pulls the leaf late, and a closer as accessible practice wants it takes five
    seconds more. The bolt then stands out, meets the frame, and the door stays open until somebody notices.
    What to do: lengthen the release or the lock's delay, or use a lock that waits for its leaf; one that does needs no
    such time, which the plan does not know: accept it with a waiver.
    """
    if door.lock is not LockKind.MOTOR:
        return
    wanted_s = RELEASE_LEAST_S + CLOSING_LEAST_S
    times = {"release time": door.release_s, "relock time": door.relock_s}
    if door.release_s is None or door.relock_s is None:
        yield lacks(door, *(name for name, time_s in times.items() if time_s is None))
    elif door.release_s + door.relock_s >= wanted_s:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)}: its bolt is out {door.release_s + door.relock_s:g} s after the release began;"
            f" {RELEASE_LEAST_S:g} s to reach the leaf and {CLOSING_LEAST_S:g} s for it to fall shut are {wanted_s:g} s"
        )


@rule(
    over=Door,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING, Phase.COMMISSIONING),
    cites=(Cite("practice", "a magnet catches the leaf again while it is within a few millimetres"),),
    finds=Example(
        "The magnet of the main door is off for 2 s and holds again half a second later.",
        put(Door, "door-main", release_s=2.0, relock_s=0.5),
    ),
    passes=Example("It is off for 6 s.", put(Door, "door-main", release_s=6.0, relock_s=0.5)),
)
def magnet_catches_leaf_early(facts: Facts, door: Door) -> Said:
    """A magnet holds again before anybody has reached the leaf.

    Why it matters: a magnet gives no sign and leaves no latch drawn back: whoever comes a moment late pulls at a door
    that was free, and rings again.
    What to do: lengthen the release time to at least five seconds, and longer where the call unit stands away from the
    leaf.
    """
    if door.lock is not LockKind.MAGNET or door.relock_s is None:
        return  # the release time by itself is judged by release-too-short
    if door.release_s is None:
        yield lacks(door, "release time")
    elif door.release_s + door.relock_s >= RELEASE_LEAST_S:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)}: its magnet holds again after {door.release_s + door.relock_s:g} s, commonly"
            f" {RELEASE_LEAST_S:g} s at least are needed to reach the leaf"
        )


@rule(
    over=Door,
    severity=Severity.NOTE,
    phases=(Phase.PLANNING, Phase.INSTALLATION),
    cites=(Cite("ad-m", "volume 2, paragraph 4.30"), Cite("ada", "308.2.1, 308.3.1")),
    finds=Example(
        "The exit button of the main door is planned at 1400 mm.", put(Door, "door-main", exit_button_height_mm=1400)
    ),
    passes=Example("It is planned at 1000 mm.", put(Door, "door-main", exit_button_height_mm=1000)),
)
def exit_button_out_of_reach(facts: Facts, door: Door) -> Said:
    """An exit button is mounted out of reach.

    Why it matters: whoever sits in a wheelchair, is short, or cannot bend or stretch does not get out by themselves.
    What to do: mount it within the range; the local code decides, and for buttons on escape routes it may ask for more.
    A height that is not planned is told on the drawing of the entrance.
    """
    if not door.exit_button or door.exit_button_height_mm is None:
        return
    low_mm, high_mm = VCU_HEIGHT_MM
    if low_mm <= door.exit_button_height_mm <= high_mm:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)}: exit button at {door.exit_button_height_mm} mm, commonly {low_mm} to"
            f" {high_mm} mm; the local code decides"
        )


def _named_with_contact(facts: Facts, door: Door) -> str:
    unit = facts.walk.find(Unit, door.freed_by)
    behind = f"output {door.output} of {named(facts.walk, unit)}" if unit else "its contact"
    return f"{named(facts.walk, door)}: {behind}"
