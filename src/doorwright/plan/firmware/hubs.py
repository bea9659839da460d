"""Lower bounds that the constraint solver finds hard to see: what the start of a hub alone already costs.

A *hub* is a station that every way to ring some dwellings passes: their registrar, mostly. Once its start is given,
what a visit costs depends on nothing but its own start, and the visits compete for hands alone. A linear programme says
what the hands are worth, slot by slot. From those prices the bound is worked out in whole numbers (Lagrangian
relaxation): it holds for any prices that are not negative, so no rounding inside the solver can make it too high.
"""

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from importlib import import_module
from typing import Any, Final

from doorwright.plan.firmware.jobs import Group, Task, Timing

HUBS_MOST: Final = 8
"""How many hubs are looked at, those of most dwellings first; each takes one small programme a slot. Our choice."""

_PARTS: Final = 1_000
"""Prices are rounded to this part of a dwelling-slot."""


@dataclass(frozen=True, slots=True)
class Hub:
    """A station that all ways to the dwellings of some groups pass; ``groups`` are their numbers in the task."""

    ident: str
    groups: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class _Job:
    """``count`` jobs that are alike, and what one of them costs, in dwelling-slots, by the slot in which it starts."""

    count: int
    usage: tuple[int, ...]
    costs: tuple[int, ...]

    def price(self, start: int, prices: list[int]) -> int:
        """Return what one job that starts in this slot costs together with its hands, in parts."""
        hands = sum(minutes * prices[start + offset] for offset, minutes in enumerate(self.usage) if minutes)
        return self.costs[start] * _PARTS + hands


def hubs_of(task: Task) -> tuple[Hub, ...]:
    """Return the hubs, those of most dwellings first; no group belongs to two."""
    sizes: Counter[str] = Counter()
    for group in task.groups:
        sizes.update(dict.fromkeys(_on_every_way(group), len(group.dwellings)))
    taken: set[int] = set()
    hubs = []
    for ident in sorted(sizes, key=lambda ident: (-sizes[ident], ident)):
        of_it = tuple(
            number for number, group in enumerate(task.groups) if number not in taken and ident in _on_every_way(group)
        )
        if of_it:
            taken.update(of_it)
            hubs.append(Hub(ident, of_it))
    return tuple(hubs[:HUBS_MOST])


def _on_every_way(group: Group) -> frozenset[str]:
    return frozenset.intersection(*(path.moving for path in group.paths)) if group.paths else frozenset()


def bounds_by_start(task: Task, hub: Hub, slot_min: int, slots_count: int) -> tuple[int, ...]:
    """Return, for each slot in which the hub may start, how many dwelling-slots its groups lose at least.

    Losses are added up over all ``slots_count`` slots.
    """
    pywraplp: Any = import_module("ortools.linear_solver.pywraplp")
    timing = task.stations[hub.ident].timing
    room_min = task.technicians_count * slot_min
    bounds = []
    for start in range(slots_count - timing.slots(slot_min) + 1):
        rooms = [room_min] * slots_count
        for offset, minutes in enumerate(timing.usage(slot_min)):
            rooms[start + offset] -= minutes
        fixed, jobs = _costs(task, hub, start, slot_min, slots_count)
        prices = _prices(pywraplp, jobs, rooms)
        in_parts = sum(job.count * min(job.price(at, prices) for at in range(len(job.costs))) for job in jobs)
        in_parts -= sum(price * room for price, room in zip(prices, rooms, strict=True))
        bounds.append(fixed + max(0, -(-in_parts // _PARTS)))
    return tuple(bounds)


def _costs(task: Task, hub: Hub, start: int, slot_min: int, slots_count: int) -> tuple[int, list[_Job]]:
    """Return what is lost whatever is done, and the jobs besides the hub's, where the hub starts in a slot."""
    closed = _closed(task, hub, start, slot_min, slots_count)
    fixed = 0
    counts: Counter[tuple[Timing, tuple[int, ...]]] = Counter()
    for number, group in enumerate(task.groups):
        size = len(group.dwellings)
        costs: tuple[int, ...] = ()
        if number in hub.groups:
            if group.timing is None or not group.primary_steps:
                fixed += size * sum(closed(group, group.before))
            else:
                costs = tuple(_cost_of_visit(group, group.timing.slots(slot_min), closed))
        if group.timing is not None:
            counts[group.timing, costs] += size
    counts.update((station.timing, ()) for ident, station in task.stations.items() if ident != hub.ident)
    return fixed, [
        _Job(count, timing.usage(slot_min), costs or (0,) * (slots_count - timing.slots(slot_min) + 1))
        for (timing, costs), count in counts.items()
    ]


def _closed(
    task: Task, hub: Hub, start: int, slot_min: int, slots_count: int
) -> Callable[[Group, int], tuple[bool, ...]]:
    """Return the function that says in which slots the hub keeps a primary of a generation from being rung."""
    station = task.stations[hub.ident]
    back = start + station.timing.slots(slot_min)
    speaks = [
        station.step.generation_before if slot < start else station.step.generation_after if slot >= back else None
        for slot in range(slots_count)
    ]
    by_generation: Mapping[int | None, tuple[bool, ...]] = {
        generation: tuple(spoken != generation for spoken in speaks) for generation in set(speaks)
    }

    def closed(group: Group, generation: int) -> tuple[bool, ...]:
        way = any(path.still <= {generation} for path in group.paths)
        return by_generation.get(generation, (True,) * slots_count) if way else (True,) * slots_count

    return closed


def _cost_of_visit(group: Group, slots: int, closed: Callable[[Group, int], tuple[bool, ...]]) -> Iterator[int]:
    """Yield what one visit costs, by its start: closed before, down, closed after."""
    before, after = closed(group, group.before), closed(group, group.after)
    lost = slots + sum(after[slots:])
    yield lost
    for start in range(1, len(before) - slots + 1):
        lost += before[start - 1] - after[start + slots - 1]
        yield lost


def _prices(pywraplp: Any, jobs: list[_Job], rooms: list[int]) -> list[int]:
    """Return what a minute of a technician is worth in each slot, in parts; 0 where the programme says nothing."""
    solver = pywraplp.Solver.CreateSolver("GLOP")
    limits = [solver.Constraint(-solver.infinity(), room) for room in rooms]
    objective = solver.Objective()
    objective.SetMinimization()
    for job in jobs:
        every = solver.Constraint(job.count, job.count)
        for start, cost in enumerate(job.costs):
            begun = solver.NumVar(0, solver.infinity(), "")
            every.SetCoefficient(begun, 1)
            objective.SetCoefficient(begun, cost)
            for offset, minutes in enumerate(job.usage):
                if minutes:
                    limits[start + offset].SetCoefficient(begun, minutes)
    if solver.Solve() != pywraplp.Solver.OPTIMAL:
        return [0] * len(rooms)
    return [max(0, round(-limit.dual_value() * _PARTS)) for limit in limits]
