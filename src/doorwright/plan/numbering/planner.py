"""Call numbers for dwellings that have none, and for units that are called by a number of their own.

Numbers already issued stay. Where no number can be issued, none is, and the trouble names the fewest causes and what
would help.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.model.naming import named
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling
from doorwright.model.unit import UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.numbering.conflicts import Conflict, conflicts_of
from doorwright.plan.numbering.dialling import Dialling
from doorwright.plan.numbering.issuing import NumberPlan
from doorwright.plan.numbering.listing import listed
from doorwright.plan.numbering.remedies import Remedies, Remedy
from doorwright.plan.numbering.telling import cause_words, offer, problem
from doorwright.plan.order import WalkingOrder

_LEADING: Final = {UnitKind.SMU: "8", UnitKind.VCU: "7"}
"""First digit of the numbers given to units: far from emergency numbers and from most door labels. Our choice."""


@dataclass(frozen=True, slots=True)
class Explained:
    """A conflict in words: who stays without a number, each cause, each remedy as tried."""

    conflict: Conflict
    problem: str
    causes: tuple[str, ...]
    remedies: tuple[Remedy, ...]


def plan_numbers(walk: Walk) -> Draft:
    """Draft call numbers by the scheme and prefix that the site chooses."""
    draft = Draft(walk.site)
    order = WalkingOrder(walk)
    plan = NumberPlan(walk, order, walk.settings().choices, Dialling(walk))
    for dwelling in plan.numbering.dwellings:
        if dwelling.id in plan.issued:
            number, why = plan.issued[dwelling.id]
            draft.fill(dwelling, "call_number", number, what="call number", why=why)
    explained, untold = _explained(walk, order, plan)
    for one in explained:
        draft.trouble(one.conflict.stuck, one.problem, offer(one.remedies))
    if untold:
        tried = "; ".join(plan.refused[untold[0].id]) or "the scheme proposes none"
        names = listed([named(walk, dwelling) for dwelling in untold])
        draft.trouble(
            untold,
            f"no call number for {names}: {tried}",
            "Give them call numbers in the workbook, or choose another numbering scheme there.",
        )
    _number_units(walk, order, draft, plan)
    return draft


def explain_numbers(walk: Walk) -> tuple[Explained, ...]:
    """Return why the dwellings that stay without a number do so, and what would help."""
    order = WalkingOrder(walk)
    return _explained(walk, order, NumberPlan(walk, order, walk.settings().choices, Dialling(walk)))[0]


def _explained(walk: Walk, order: WalkingOrder, plan: NumberPlan) -> tuple[tuple[Explained, ...], tuple[Dwelling, ...]]:
    if not plan.stuck:
        return (), ()
    conflicts, untold = conflicts_of(walk, plan)
    remedies = Remedies(walk, order, plan)
    explained = tuple(
        Explained(
            conflict,
            problem(walk, plan, conflict),
            tuple(cause_words(walk, plan, cause) for cause in conflict.causes),
            remedies.for_conflict(conflict),
        )
        for conflict in conflicts
    )
    return explained, untold


def _number_units(walk: Walk, order: WalkingOrder, draft: Draft, plan: NumberPlan) -> None:
    taken = plan.taken.anywhere()
    kinds = [UnitKind.SMU, *([UnitKind.VCU] if walk.all(SipServer) else [])]
    width = max((len(number) for number in taken), default=2)
    for kind in kinds:
        numbers = _free_numbers(_LEADING[kind], width, taken, plan.dialling)
        for unit in order.units(walk.units_of_kind(kind)):
            if unit.call_number is None:
                number = next(numbers)
                taken.add(number)
                why = f"the first free number from {_LEADING[kind]} on, for a {kind.words}"
                draft.fill(unit, "call_number", number, what="call number", why=why)


def _free_numbers(leading: str, width: int, taken: set[str], dialling: Dialling) -> Iterator[str]:
    while True:
        for tail in range(10 ** (width - 1)):
            number = leading + (str(tail).zfill(width - 1) if width > 1 else "")
            if number not in taken and not dialling.is_reserved(number):
                yield number
        width += 1
