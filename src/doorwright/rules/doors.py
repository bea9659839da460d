"""Doors: each is freed by something that can free it, and the questions that its fire strategy asks are answered.

Nothing here approves a lock on an escape route. The rules record what was answered, ask what was not, and point at
answers that do not go together.
"""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.door import Door, FailMode, LockKind
from doorwright.model.naming import named
from doorwright.model.place import Entrance
from doorwright.model.unit import KeyModule, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, both, plus, put, put_profile
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.studies.contact_load import outputs_of

PLANNING: Final = (Phase.PLANNING, Phase.OPERATION)
ESCAPE: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.HANDOVER, Phase.OPERATION)
CAUTION: Final = "A competent person decides; Doorwright only records and asks."
RELEASE: Final = Cite("practice", "release times are agreed with those who use the door")

RELEASE_LEAST_S: Final = 5.0
"""Shortest release in which a person with a frame or wheelchair can reach and pull the door. Common practice."""


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-1", "electric unlocking"), Cite("practice")),
    finds=Example("Nothing frees the rear door.", put(Door, "door-rear", freed_by=None, output=None)),
    passes=Example("An output of the rear VCU frees it.", as_it_is),
)
def door_freed_by_nothing(facts: Facts, door: Door) -> Said:
    """No unit frees a door.

    Why it matters: residents answer the visitor and cannot let them in.
    What to do: say which unit's output frees it; take the door out of the plan if it has no electric lock.
    """
    walk = facts.walk
    if not door.freed_by:
        yield Found(f"{named(walk, door)} is freed by no unit")
    elif walk.find(Unit, door.freed_by) is None:
        yield Found(f"{named(walk, door)} is freed by {door.freed_by!r}, which is no unit of the site")
    else:
        yield HOLDS


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a door belongs to a way in"),),
    finds=Example(
        "The rear door belongs to an entrance that is not there.", put(Door, "door-rear", entrance="entrance-99")
    ),
    passes=Example("It belongs to the rear entrance.", as_it_is),
)
def door_at_no_entrance(facts: Facts, door: Door) -> Said:
    """A door belongs to no entrance of the site.

    Why it matters: nobody can say which visitors and residents it concerns, and it is left out of the tests.
    What to do: correct the door's entrance.
    """
    if facts.walk.find(Entrance, door.entrance) is None:
        yield Found(f"{named(facts.walk, door)} belongs to {door.entrance!r}, which is no entrance of the site")
    else:
        yield HOLDS


@rule(
    over=Door,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("practice", "a call unit frees the door at which it stands"),),
    finds=Example("The rear door is freed by the gate's unit.", put(Door, "door-rear", freed_by="vcu-gate", output=2)),
    passes=Example("Output 2 of the rear unit frees the rear door.", put(Door, "door-rear", output=2)),
)
def door_freed_from_elsewhere(facts: Facts, door: Door) -> Said:
    """The visitor call unit that frees a door stands at another entrance.

    Why it matters: the door opens for a visitor who stands elsewhere, and the one before it stays out.
    What to do: check the wiring plan; where it is meant so, accept it with a waiver.
    """
    unit = facts.walk.find(Unit, door.freed_by)
    if unit is None or unit.kind is not UnitKind.VCU:
        return
    if unit.entrance == door.entrance:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, door)} is freed by {named(facts.walk, unit)}, at another entrance", (unit,))


def _outputs(walk: Walk, unit: Unit) -> list[float | None] | None:
    """Return the contact rating of each output of a unit, then of its lock modules; None where profiles are missing."""
    outputs = outputs_of(walk, unit)
    return None if outputs is None else [profile.output_contact_a for profile in outputs]


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "the data sheet of the unit says how many outputs it has"),),
    finds=Example("The rear door is on output 3 of a unit with two.", put(Door, "door-rear", output=3)),
    passes=Example(
        "It is on output 3; a lock module carries that.",
        both(
            put(Door, "door-rear", output=3),
            plus(KeyModule(id="lock-module", unit="vcu-rear", profile="lock-module", ordinal=1)),
        ),
    ),
)
def output_not_there(facts: Facts, door: Door) -> Said:
    """A door is on an output that its unit does not have.

    Why it matters: there is nothing to wire the lock to.
    What to do: choose another output, or add a lock module. Outputs of lock modules are counted after the unit's own.
    """
    walk = facts.walk
    unit = walk.find(Unit, door.freed_by)
    if unit is None:
        return  # told by door-freed-by-nothing
    if door.output is None:
        yield lacks(door, "output")
        return
    outputs = _outputs(walk, unit)
    if outputs is None:
        yield lacks(unit, "profile")
    elif 1 <= door.output <= len(outputs):
        yield HOLDS
    else:
        yield Found(
            f"{named(walk, door)} is on output {door.output} of {named(walk, unit)}, which has {len(outputs)}", (unit,)
        )


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("practice", "one output, one door"),),
    finds=Example(
        "The rear door is on the main unit's first output, with the main door.",
        put(Door, "door-rear", freed_by="vcu-main", output=1),
    ),
    passes=Example(
        "The rear door is on the main unit's second output.", put(Door, "door-rear", freed_by="vcu-main", output=2)
    ),
)
def doors_on_one_output(facts: Facts, unit: Unit) -> Said:
    """One output frees two doors.

    Why it matters: whoever is let in at one door opens the other as well.
    What to do: give each door an output of its own; for two leaves of one opening accept it with a waiver.
    """
    doors = facts.walk.doors_freed_by(unit.id)
    if not doors:
        return
    doors_at: dict[int, list[Door]] = {}
    for door in doors:
        if door.output is not None:
            doors_at.setdefault(door.output, []).append(door)
    shared = [sorted(group, key=lambda door: door.id) for group in doors_at.values() if len(group) > 1]
    for group in shared:
        labels = " and ".join(door.label for door in group)
        yield Found(f"{named(facts.walk, unit)}: output {group[0].output} frees {labels}", tuple(group))
    if not shared:
        yield HOLDS


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "the contact carries the lock's current"),),
    finds=Example("The contacts of the rear unit carry 0.1 A.", put_profile("vcu-keypad", output_contact_a=0.1)),
    passes=Example("They carry 0.5 A.", put_profile("vcu-keypad", output_contact_a=0.5)),
)
def contact_overloaded(facts: Facts, door: Door) -> Said:
    """A lock takes more current than the contact that frees it carries.

    Why it matters: the contact welds and the door stays free or locked for good, without anybody being told.
    What to do: put a relay between them, rated for the lock's inrush, or use a lock module.
    """
    walk = facts.walk
    unit = walk.find(Unit, door.freed_by)
    outputs = _outputs(walk, unit) if unit else None
    if unit is None or outputs is None or door.output is None or not 1 <= door.output <= len(outputs):
        return  # told by door-freed-by-nothing and output-not-there
    rating_a = outputs[door.output - 1]
    if rating_a is None:
        yield lacks(unit, "contact rating in its profile")
    elif door.lock_operate_a is None:
        yield lacks(door, "lock operating current")
    elif door.lock_operate_a <= rating_a:
        yield HOLDS
    else:
        yield Found(
            f"{named(walk, door)}: the lock takes {door.lock_operate_a:.2f} A, output {door.output} of"
            f" {named(walk, unit)} carries {rating_a:.2f} A",
            (unit,),
        )


@rule(
    over=Door,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING, Phase.COMMISSIONING),
    cites=(RELEASE,),
    finds=Example("The rear door is free for one second.", put(Door, "door-rear", release_s=1.0)),
    passes=Example("It is free for ten seconds.", put(Door, "door-rear", release_s=10.0)),
)
def release_too_short(facts: Facts, door: Door) -> Said:
    """A door is free for too short a time.

    Why it matters: visitors who walk slowly, carry something or sit in a wheelchair reach it when it is locked again.
    What to do: agree a longer time with those who use the door.
    """
    if door.release_s is None:
        yield lacks(door, "release time")
    elif door.release_s >= RELEASE_LEAST_S:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)} is free for {door.release_s:g} s, commonly at least {RELEASE_LEAST_S:g} s"
        )


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=ESCAPE,
    cites=(
        Cite("bs7273-4", "actuation of release mechanisms"),
        Cite("en179"),
        Cite("en1125"),
        Cite("nfpa101", "means of egress"),
        Cite("ibc", "chapter 10"),
    ),
    finds=Example(
        "The rear door, fail-secure, is on an escape route, and no emergency release is recorded.",
        put(Door, "door-rear", escape_route=True, emergency_release=False),
    ),
    passes=Example(
        "The rear door is on an escape route, and an emergency release is recorded.",
        put(Door, "door-rear", escape_route=True, emergency_release=True),
    ),
)
def locked_on_escape_route(facts: Facts, door: Door) -> Said:
    """A lock on an escape route stays locked without power, and no emergency release is recorded.

    Why it matters: people who flee must be able to open the door without a key, also when power and system have failed.
    What to do: ask the person responsible for fire safety before anything is ordered or mounted, and record the answer:
    what frees the door from the inside, on fire alarm, and on loss of power.
    """
    if door.escape_route is None:
        yield lacks(door, "escape route")
    elif not door.escape_route:
        return
    elif door.fail_mode is None:
        yield lacks(door, "fail mode")
    elif door.fail_mode is FailMode.SAFE:
        yield HOLDS
    elif door.emergency_release is None:
        yield lacks(door, "emergency release")
    elif door.emergency_release:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)} is on an escape route and fail-secure, and it is recorded that it has no"
            f" emergency release. {CAUTION}"
        )


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=ESCAPE,
    cites=(
        Cite("bs7273-4", "categories of actuation"),
        Cite("ibc", "1010.1.9.8 of the 2015 edition"),
        Cite("nfpa101", "7.2.1.6.2"),
    ),
    finds=Example(
        "The magnet of the main door is recorded as not freed by the fire alarm.",
        put(Door, "door-main", fire_release=False),
    ),
    passes=Example("It is recorded as freed by the fire alarm.", as_it_is),
)
def magnet_without_fire_release(facts: Facts, door: Door) -> Said:
    """A magnet on an escape route is not freed by the fire alarm, or has no emergency release.

    Why it matters: a magnet holds the leaf whatever handle is turned. Codes commonly ask that it lets go on fire alarm,
    on loss of power, and at a marked button beside the door.
    What to do: ask the person responsible for fire safety, and record what frees the magnet.
    """
    if door.lock is None:
        yield lacks(door, "lock")
    elif door.lock is not LockKind.MAGNET:
        return
    elif door.escape_route is None:
        yield lacks(door, "escape route")
    elif not door.escape_route:
        return
    else:
        yield from _magnet(facts.walk, door)


def _magnet(walk: Walk, door: Door) -> Said:
    questions = {"fire release": door.fire_release, "emergency release": door.emergency_release}
    unanswered = [name for name, answer in questions.items() if answer is None]
    refused = [name for name, answer in questions.items() if answer is False]
    if unanswered:
        yield lacks(door, *unanswered)
    if refused:
        yield Found(
            f"{named(walk, door)} is held by a magnet on an escape route, and it is recorded that it has no"
            f" {' and no '.join(refused)}. {CAUTION}"
        )
    elif not unanswered:
        yield HOLDS


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=ESCAPE,
    cites=(Cite("nfpa80", "practice for electric strikes on fire doors"), Cite("bs7273-4")),
    finds=Example(
        "The strike of the rear door, a fire door, is fail-safe.", put(Door, "door-rear", fail_mode=FailMode.SAFE)
    ),
    passes=Example("It is fail-secure.", as_it_is),
)
def fire_door_unlatched(facts: Facts, door: Door) -> Said:
    """A strike on a fire door is fail-safe.

    Why it matters: without power the keeper gives way, the door is no longer latched, and fire pushes it open.
    What to do: ask the person responsible for fire safety. Fire doors commonly take a fail-secure strike and free the
    inside by a handle.
    """
    if door.fire_door is None:
        yield lacks(door, "fire door")
    elif not door.fire_door or door.lock is not LockKind.STRIKE:
        return
    elif door.fail_mode is None:
        yield lacks(door, "fail mode")
    elif door.fail_mode is FailMode.SECURE:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, door)} is a fire door with a fail-safe strike: without power it does not latch."
            f" {CAUTION}"
        )


@rule(
    over=Door,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a magnet holds by its current"),),
    finds=Example(
        "The magnet of the main door is said to be fail-secure.", put(Door, "door-main", fail_mode=FailMode.SECURE)
    ),
    passes=Example("It is fail-safe.", as_it_is),
)
def magnet_said_to_be_fail_secure(facts: Facts, door: Door) -> Said:
    """A magnet is recorded as fail-secure.

    Why it matters: a magnet lets go without current, whatever the record says. Whoever trusts the record expects a
    locked door in a power cut, and the answers on escape were given for another lock.
    What to do: correct the kind of lock or its fail mode, then answer the questions on escape and fire again.
    """
    if door.lock is not LockKind.MAGNET:
        return
    if door.fail_mode is None:
        yield lacks(door, "fail mode")
    elif door.fail_mode is FailMode.SAFE:
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, door)} is held by a magnet and recorded as fail-secure. {CAUTION}")
