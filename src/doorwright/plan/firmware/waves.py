"""The order of work in waves: who starts together, when they are back, how many dwellings nobody reaches meanwhile."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from doorwright.model.walk import Walk
from doorwright.plan.firmware.jobs import Task
from doorwright.plan.firmware.orders import ordered_schedules
from doorwright.plan.firmware.schedule import Outcome, Schedule, outcome
from doorwright.plan.firmware.solve import LARGEST_COUNT, available, cells_count, solve
from doorwright.plan.firmware.steps import Step
from doorwright.plan.order import WalkingOrder

SLOTS_MIN: Final = (5, 10, 15, 20, 30, 60)
"""The slot lengths that a plan may be counted in, in minutes."""

SLOTS_MOST: Final = 120
"""How many slots a plan should at most have; longer work is counted in longer slots. Our choice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """One unit's turn: it is down from ``start_min`` to ``end_min`` after the work began."""

    step: Step
    start_min: int
    end_min: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Wave:
    """What starts together. ``unreached_most`` is the worst count of dwellings that no entrance reaches meanwhile."""

    number: int
    start_min: int
    end_min: int
    turns: tuple[Turn, ...]
    unreached_most: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Quality:
    """How the order was found, and how far from the best it may be. Bounds are None where no solver gave one."""

    how: str
    lost_bound_min: int | None
    end_bound_min: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class WavePlan:
    """The order of work. ``unreached`` counts, for each slot, the dwellings that no entrance reaches.

    ``unreached_after`` counts those that nobody reaches any more when all is done, because what they are paired with
    does not step.
    """

    slot_min: int
    waves: tuple[Wave, ...]
    unreached: tuple[int, ...]
    unreached_after: int
    quality: Quality
    work_min: int
    technicians_count: int

    @property
    def finish_min(self) -> int:
        """When everything is done, in minutes after the start."""
        return len(self.unreached) * self.slot_min

    @property
    def waiting_min(self) -> int:
        """Minutes in which the technicians, taken together, wait for units."""
        return self.finish_min * self.technicians_count - self.work_min

    @property
    def lost_dwelling_min(self) -> int:
        """Dwelling-minutes without any entrance, until the last job is done."""
        return sum(self.unreached) * self.slot_min

    @property
    def turns(self) -> Mapping[str, Turn]:
        """Each unit's turn, by its identifier."""
        return {turn.step.unit.id: turn for wave in self.waves for turn in wave.turns}

    @property
    def gap_ratio(self) -> float | None:
        """How much better the dwelling-minutes could at most be, 0 where they cannot; None without a bound."""
        bound = self.quality.lost_bound_min
        if bound is None:
            return None
        return (self.lost_dwelling_min - bound) / self.lost_dwelling_min if self.lost_dwelling_min else 0.0


def plan_waves(walk: Walk, task: Task, effort: float, patience: float | None = None) -> WavePlan:
    """Return the order of work that costs the fewest dwelling-minutes, then the least time, as far as effort allows.

    Args:
        walk: the way around the site.
        task: the jobs.
        effort: the solver's deterministic time, roughly seconds; 0 for the fixed orders alone.
        patience: how many seconds on the clock a second of effort may take; None for as long as it takes.
    """
    slot_min = _slot_length(task)
    schedules = ordered_schedules(task, slot_min)
    best = schedules[0]
    slots_count = max(outcome(task, schedule).end_slot for schedule in schedules)
    how = _why_not(task, slots_count, effort)
    lost_bound = end_bound = None
    by_clock = False
    if not how:
        solved = solve(task, best, slots_count, effort, patience)
        if solved is None:
            how = "the solver found nothing in the time it was given"
        else:
            best = min(solved.schedule, best, key=lambda schedule: outcome(task, schedule).rank)
            lost_bound, end_bound = solved.lost_bound * slot_min, solved.end_bound * slot_min
            by_clock = solved.by_clock
    return _told(walk, task, best, Quality(how=_how(how, by_clock), lost_bound_min=lost_bound, end_bound_min=end_bound))


def _how(why_not: str, by_clock: bool) -> str:
    if why_not:
        return f"the best of six fixed orders, because {why_not}"
    return "constraint solver" + (", stopped by the clock: another run may find another order" if by_clock else "")


def _why_not(task: Task, slots_count: int, effort: float) -> str:
    if not task.stations and not task.steps_in:
        return "nothing steps"
    if effort <= 0:
        return "no time was given to the solver"
    if cells_count(task, slots_count) > LARGEST_COUNT:
        return "the site is too big for the solver"
    return "" if available() else "the solver is not installed"


def _slot_length(task: Task) -> int:
    """Return the shortest slot in which the longest of the fixed orders is not too long to solve."""
    for slot_min in SLOTS_MIN[:-1]:
        if max(outcome(task, one).end_slot for one in ordered_schedules(task, slot_min)) <= SLOTS_MOST:
            return slot_min
    return SLOTS_MIN[-1]


def _told(walk: Walk, task: Task, schedule: Schedule, quality: Quality) -> WavePlan:
    """Give every group's starts to its dwellings, in walking order."""
    result = outcome(task, schedule)
    place = {step.unit.id: number for number, step in enumerate(_in_order(walk, task))}
    turns = sorted(_turns(task, schedule), key=lambda turn: (turn.start_min, place[turn.step.unit.id]))
    waves = []
    for number, (start_min, group) in enumerate(groupby(turns, key=lambda turn: turn.start_min), start=1):
        together = tuple(group)
        end_min = max(turn.end_min for turn in together)
        waves.append(
            Wave(
                number=number,
                start_min=start_min,
                end_min=end_min,
                turns=together,
                unreached_most=_worst(result, start_min // schedule.slot_min, end_min // schedule.slot_min),
            )
        )
    return WavePlan(
        slot_min=schedule.slot_min,
        waves=tuple(waves),
        unreached=result.unreached,
        unreached_after=result.unreached_after,
        quality=quality,
        work_min=task.work_min,
        technicians_count=task.technicians_count,
    )


def _worst(result: Outcome, start: int, end: int) -> int:
    return max(result.unreached[start:end], default=0)


def _in_order(walk: Walk, task: Task) -> list[Step]:
    steps = {station.step.unit.id: station.step for station in task.stations.values()}
    steps |= {step.unit.id: step for visit in task.steps_in.values() for step in visit}
    return [steps[unit.id] for unit in WalkingOrder(walk).units(step.unit for step in steps.values())]


def _turns(task: Task, schedule: Schedule) -> Iterator[Turn]:
    slot_min = schedule.slot_min
    for ident, start in schedule.stations.items():
        station = task.stations[ident]
        yield Turn(
            step=station.step,
            start_min=start * slot_min,
            end_min=(start + station.timing.slots(slot_min)) * slot_min,
        )
    for group, starts in zip(task.groups, schedule.groups, strict=True):
        if group.timing is None:
            continue
        waiting = iter(group.dwellings)
        for start, count in sorted(starts.items()):
            for _ in range(count):
                for step in task.steps_in[next(waiting)]:
                    yield Turn(
                        step=step,
                        start_min=start * slot_min,
                        end_min=(start + group.timing.slots(slot_min)) * slot_min,
                    )
