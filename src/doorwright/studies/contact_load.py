"""Does the contact that frees a door bear its lock: the voltage, the current, the inrush, the spark of the coil?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.protection import CoilCaution, ContactDuty, coil_caution, contact_duty
from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door, LockKind
from doorwright.model.network import CableRun
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.dc_branch import branch_to, missing_output_v
from doorwright.studies.study import Study, Trail

TITLE: Final = "Contact that frees the door"


@dataclass(frozen=True, slots=True, kw_only=True)
class ContactLoad:
    """What a lock asks of the contact that switches it, and the contact's ratings.

    ``inrush_named`` is false where the contact's data sheet names no inrush: then its rated current counts.
    """

    open_v: float
    carried_a: float
    closing_a: float
    rated_v: float
    rated_a: float
    rated_closing_a: float
    inrush_named: bool
    duty: ContactDuty
    coil: CoilCaution


def outputs_of(walk: Walk, unit: Unit) -> tuple[Profile, ...] | None:
    """Return the profile behind each output of a unit, then of its lock modules; None where its own is missing."""
    own = walk.profile(unit.profile)
    if own is None:
        return None
    outputs = [own] * own.outputs_count
    for module in sorted(walk.modules_of(unit.id), key=lambda module: (module.ordinal, module.id)):
        profile = walk.profile(module.profile)
        if profile is not None and profile.kind is ProfileKind.LOCK_MODULE:
            outputs += [profile] * profile.outputs_count
    return tuple(outputs)


def contact_load(walk: Walk, door: Door) -> Study[ContactLoad]:
    """Study the contact of a unit's output against the lock that it switches.

    The question does not arise for a door that no output frees. A motor's inrush must be known; another lock without
    one starts with its operating current.
    """
    unit = walk.find(Unit, door.freed_by)
    outputs = outputs_of(walk, unit) if unit else None
    if outputs is None or door.output is None or not 1 <= door.output <= len(outputs):
        return Study(door.subject, TITLE)
    contact = outputs[door.output - 1]
    branch = branch_to(walk, door.id)
    missing: list[Missing] = []
    if door.lock_operate_a is None:
        missing.append(Missing(Door.KIND, "lock operating current"))
    if door.lock is LockKind.MOTOR and door.lock_inrush_a is None:
        missing.append(Missing(Door.KIND, "inrush current"))
    if not contact.output_contact_a:
        missing.append(Missing("profile", "contact rating"))
    if not contact.output_contact_v:
        missing.append(Missing("profile", "contact voltage"))
    if branch is None:
        missing.append(Missing(CableRun.KIND, "run to the door"))
    else:
        missing += missing_output_v(walk, branch.supply)
    profile = walk.profile(branch.supply.profile) if branch else None
    if (
        missing
        or profile is None
        or not profile.output_v
        or door.lock_operate_a is None
        or not contact.output_contact_a
        or not contact.output_contact_v
    ):
        return Study(door.subject, TITLE, missing=tuple(missing))
    closing_a = max(door.lock_operate_a, door.lock_inrush_a or 0.0)
    trail = Trail()
    rated_closing_a = contact.output_contact_inrush_a or contact.output_contact_a
    duty = trail.run(
        contact_duty,
        open_v=profile.output_v,
        carried_a=door.lock_operate_a,
        closing_a=closing_a,
        rated_v=contact.output_contact_v,
        rated_a=contact.output_contact_a,
        rated_closing_a=rated_closing_a,
    )
    value = ContactLoad(
        open_v=profile.output_v,
        carried_a=door.lock_operate_a,
        closing_a=closing_a,
        rated_v=contact.output_contact_v,
        rated_a=contact.output_contact_a,
        rated_closing_a=rated_closing_a,
        inrush_named=contact.output_contact_inrush_a is not None,
        duty=duty,
        coil=coil_caution(suppressed=door.lock_suppressed),
    )
    return Study(door.subject, TITLE, value, steps=trail.steps)
