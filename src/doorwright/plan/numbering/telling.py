"""Conflicts and remedies in words."""

from collections.abc import Iterable, Iterator, Sequence

from doorwright.kernel.words import counted
from doorwright.model.naming import named
from doorwright.model.place import Dwelling
from doorwright.model.site import NumberScheme
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.numbering.conflicts import Cause, CauseKind, Conflict
from doorwright.plan.numbering.dialling import Keypad
from doorwright.plan.numbering.issuing import NumberPlan
from doorwright.plan.numbering.listing import LISTED_COUNT, listed
from doorwright.plan.numbering.remedies import Remedy


def problem(walk: Walk, plan: NumberPlan, conflict: Conflict) -> str:
    """Return a conflict in one sentence: who stays without a number, and every cause."""
    said = [*_between_dwellings(walk, plan, conflict), *_others(walk, plan, conflict)]
    tried = plan.refused.get(conflict.stuck[0].id, ())
    if tried:
        said.append(f"tried: {', '.join(tried)}")
    if not conflict.proven:
        said.append("perhaps fewer causes would do: the search was cut short")
    return f"no call number for {listed([named(walk, one) for one in conflict.stuck])}: {'; '.join(said)}"


def cause_words(walk: Walk, plan: NumberPlan, cause: Cause) -> str:
    """Return one cause in words."""
    match cause.kind:
        case CauseKind.WANTING:
            return f"{named(walk, walk.get(Dwelling, cause.ident))} is to have a number"
        case CauseKind.CARRIED:
            holder = walk.find(Dwelling, cause.ident) or walk.get(Unit, cause.ident)
            return f"{named(walk, holder)} carries {holder.call_number} already"
        case CauseKind.RESERVED:
            return f"{cause.ident} is reserved"
    keypad = _keypad(walk, plan, cause.ident)
    name = named(walk, keypad.vcu)
    if cause.kind is CauseKind.KEYPAD_DIGITS:
        return f"the keypad of {name} takes {counted(keypad.digits_max or 0, 'digit')}"
    return f"the keypad of {name} calls without an end key, so that no number may begin another"


def offer(remedies: Sequence[Remedy]) -> str:
    """Return remedies as a numbered list on one line."""
    return "; ".join(f"({number}) {remedy}" for number, remedy in enumerate(remedies, start=1)) + "."


def _between_dwellings(walk: Walk, plan: NumberPlan, conflict: Conflict) -> Iterator[str]:
    wanting = [walk.get(Dwelling, ident) for ident in conflict.of_kind(CauseKind.WANTING)]
    reads = {plan.numbering.digits(one) for one in wanting}
    others = [named(walk, one) for one in wanting if one not in conflict.stuck]
    names = [named(walk, one) for one in wanting]
    as_on_the_door = plan.numbering.choices.number_scheme is NumberScheme.DOOR
    if as_on_the_door and reads == {""}:
        yield "its door label has no digits"
    elif as_on_the_door and len(wanting) > 1 and len(reads) == 1:
        yield f"{listed(names)} {'both' if len(wanting) == 2 else 'all'} read {reads.pop()}"
    elif 1 < len(wanting) <= LISTED_COUNT:
        yield f"{listed(names)} want numbers that are in each other's way"
    elif others:
        yield f"{len(wanting)} dwellings want numbers of the same kind, {listed(others)} among them"


def _others(walk: Walk, plan: NumberPlan, conflict: Conflict) -> Iterable[str]:
    return (cause_words(walk, plan, cause) for cause in conflict.causes if cause.kind is not CauseKind.WANTING)


def _keypad(walk: Walk, plan: NumberPlan, vcu: str) -> Keypad:
    unit = walk.get(Unit, vcu)
    return next(keypad for keypad in plan.dialling.keypads_at(unit.entrance or "") if keypad.vcu.id == vcu)
