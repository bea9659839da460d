"""Which pairs stop talking during the work, and for how long: both ends up and of one generation, or silence."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TypeAlias

from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.firmware.steps import generation_now
from doorwright.plan.firmware.waves import Turn, WavePlan
from doorwright.plan.groups import entrance_groups
from doorwright.plan.order import WalkingOrder

_End: TypeAlias = tuple[Turn | None, int | None]
"""A unit's turn, if it has one, and the generation that it speaks before."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Silence:
    """Two units that do not talk for a while.

    ``silent_min`` counts from the start of the work to its end; ``apart_min`` is the part of it in which both are up
    and of different generations. ``for_good`` says that they are still apart when the work is done.
    """

    unit: Unit
    other: Unit
    what: str
    silent_min: int
    apart_min: int
    for_good: bool


def silences(walk: Walk, plan: WavePlan) -> tuple[Silence, ...]:
    """Return every pair whose generations differ at some moment of the plan, in walking order.

    Pairs with an end of unknown generation are left out: what they do cannot be told.
    """
    turns = plan.turns
    found = []
    for unit, other, what in pairs(walk):
        generations = generation_now(walk, unit), generation_now(walk, other)
        ends = (turns.get(unit.id), generations[0]), (turns.get(other.id), generations[1])
        if None in generations or ends[0][0] is ends[1][0] is None:
            continue
        silent_min, apart_min = _silent(ends, plan)
        for_good = _speaks(ends[0], plan.finish_min) != _speaks(ends[1], plan.finish_min)
        if apart_min or for_good:
            found.append(
                Silence(
                    unit=unit, other=other, what=what, silent_min=silent_min, apart_min=apart_min, for_good=for_good
                )
            )
    return tuple(found)


def pairs(walk: Walk) -> Iterator[tuple[Unit, Unit, str]]:
    """Yield each unit with its registrar where that is a unit, and with the primary of its own group, once."""
    primaries = _primaries(walk)
    for unit in WalkingOrder(walk).units(walk.all(Unit)):
        registrar, primary = walk.find(Unit, unit.registrar), primaries.get(unit.id)
        if registrar is not None and (primary is None or registrar.id != primary.id):
            yield unit, registrar, "unit and its registrar"
        if primary is not None:
            yield unit, primary, "secondary and primary of one " + ("dwelling" if unit.dwelling else "entrance group")


def _primaries(walk: Walk) -> Mapping[str, Unit]:
    """Return the primary of the group that each secondary belongs to."""
    groups = [
        [unit for entrance in entrances for unit in walk.units_at(entrance.id) if unit.kind is UnitKind.VCU]
        for entrances in entrance_groups(walk)
    ]
    dwellings = {unit.dwelling for unit in walk.units_of_kind(UnitKind.URU) if unit.dwelling}
    groups += [list(walk.units_in(ident)) for ident in sorted(dwellings)]
    found: dict[str, Unit] = {}
    for group in groups:
        primary = next((unit for unit in group if unit.position == 0), None)
        if primary is not None:
            found |= {unit.id: primary for unit in group if unit.position != 0}
    return found


def _silent(ends: tuple[_End, _End], plan: WavePlan) -> tuple[int, int]:
    """Return for how many minutes two ends do not talk, and in how many of them both are up."""
    silent_min = apart_min = 0
    for minute in range(0, plan.finish_min, plan.slot_min):
        here, there = (_speaks(end, minute) for end in ends)
        if here is None or here != there:
            silent_min += plan.slot_min
            apart_min += plan.slot_min if here is not None and there is not None else 0
    return silent_min, apart_min


def _speaks(end: _End, minute: int) -> int | None:
    """Return the generation that a unit speaks at a minute, None while it is down."""
    turn, generation_before = end
    if turn is None or minute < turn.start_min:
        return generation_before
    return turn.step.generation_after if minute >= turn.end_min else None
