"""The order of work by constraint programming (CP-SAT): first the fewest dwelling-minutes lost, then the shortest time.

Each group is one row of whole numbers: how many of its visits have started by each slot. Within the number of slots
given, every order of work has the cost in this model that ``outcome`` counts, so the solver's bound is a bound of that.
Two things help the solver and change nothing else: what each start of a hub costs at least (``hubs``), and that
stations which may change places start in the order in which they are listed. Where there is a hub, the solver first
looks for an order in which the largest starts at a slot of the least bound, which is quick, and begins from it. It
counts its own deterministic time, so that the same site gives the same plan on any machine, unless the clock stops it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from importlib import import_module
from itertools import pairwise
from typing import Any, Final, TypeAlias

from doorwright.plan.firmware.hubs import Hub, bounds_by_start, hubs_of
from doorwright.plan.firmware.jobs import Path, Paths, Station, Task, Timing
from doorwright.plan.firmware.schedule import Outcome, Schedule, outcome

SEED: Final = 20_820
WORKERS_COUNT: Final = 2
LARGEST_COUNT: Final = 12_000
"""Cells (rows times slots) beyond which the model is not worth beginning; found by trying. Our choice."""

FIRST_SHARE: Final = 0.2
"""The share of the effort that goes to the dwellings while the largest hub has a fixed start, where there is a hub."""

SECOND_SHARE: Final = 0.5
"""The share of the effort that then goes to the dwellings; the rest goes to the time."""

_NOTHING: Final = 1e-6

Row: TypeAlias = list[Any]
"""For each slot, how many have started by then."""

Bounds: TypeAlias = Mapping[Hub, tuple[int, ...]]
"""What the start of each hub costs at least, the largest hub first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """The best schedule found, and how good any could be: lower bounds for dwelling-slots lost and for the end.

    ``by_clock`` says that the clock stopped the search: at another time it may find another schedule.
    """

    schedule: Schedule
    outcome: Outcome
    lost_bound: int
    end_bound: int
    by_clock: bool


def available() -> bool:
    """Say whether the solver is installed."""
    try:
        import_module("ortools.sat.python.cp_model")
    except ImportError:
        return False
    return True


def cells_count(task: Task, slots_count: int) -> int:
    """Return how large the model is: rows times slots."""
    return (len(task.stations) + sum(group.timing is not None for group in task.groups)) * slots_count


def solve(task: Task, hint: Schedule, slots_count: int, effort: float, patience: float | None = None) -> Solved | None:
    """Return the best schedule found that is done within ``slots_count``, or None where none was found.

    Args:
        task: the jobs.
        hint: a schedule that is done in time; its slot length is used.
        slots_count: how many slots there are.
        effort: the solver's deterministic time, roughly seconds of one processor.
        patience: how many seconds on the clock a second of effort may take; None for as long as it takes.
    """
    cp_model: Any = import_module("ortools.sat.python.cp_model")
    bounds = {hub: bounds_by_start(task, hub, hint.slot_min, slots_count) for hub in hubs_of(task)}
    begun, hub_by_clock = _with_hub_fixed(
        cp_model, task, hint, bounds, slots_count=slots_count, effort=effort * FIRST_SHARE, patience=patience
    )
    model = _Model(cp_model.CpModel(), task, begun, slots_count)
    lost = model.lost(bounds)
    model.cp.minimize(lost)
    share = SECOND_SHARE if bounds else FIRST_SHARE + SECOND_SHARE
    first, by_clock = _run(cp_model, model.cp, effort * share, patience)
    if first is None:
        return None
    found = model.read(first)
    lost_bound = max(0, _up(first.best_objective_bound))
    model.cp.add(lost <= outcome(task, found).lost_slots)
    model.cp.clear_hints()
    model.suggest(found)
    model.cp.minimize(model.end())
    second, again_by_clock = _run(cp_model, model.cp, effort * (1 - FIRST_SHARE - SECOND_SHARE), patience)
    end_bound = 0
    if second is not None:
        found = min(found, model.read(second), key=lambda schedule: outcome(task, schedule).rank)
        end_bound = max(0, _up(second.best_objective_bound))
    return Solved(
        schedule=found,
        outcome=outcome(task, found),
        lost_bound=lost_bound,
        end_bound=end_bound,
        by_clock=hub_by_clock or by_clock or again_by_clock,
    )


def _with_hub_fixed(
    cp_model: Any,
    task: Task,
    hint: Schedule,
    bounds: Bounds,
    *,
    slots_count: int,
    effort: float,
    patience: float | None,
) -> tuple[Schedule, bool]:
    """Return the better of the hint and of an order whose largest hub starts where its bound is least."""
    if not bounds:
        return hint, False
    hub, by_start = next(iter(bounds.items()))
    least = [start for start, bound in enumerate(by_start) if bound == min(by_start)]
    model = _Model(cp_model.CpModel(), task, hint, slots_count)
    model.fix(hub.ident, least[len(least) // 2])
    model.cp.minimize(model.lost(bounds))
    solver, by_clock = _run(cp_model, model.cp, effort, patience)
    found = [hint] if solver is None else [hint, model.read(solver)]
    return min(found, key=lambda schedule: outcome(task, schedule).rank), by_clock


def _up(bound: float) -> int:
    return -int(-(bound - _NOTHING) // 1)


def _run(cp_model: Any, model: Any, effort: float, patience: float | None) -> tuple[Any, bool]:
    """Return the solver, or None where it found nothing, and whether the clock stopped it."""
    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = effort
    solver.parameters.random_seed = SEED
    solver.parameters.num_workers = WORKERS_COUNT
    solver.parameters.interleave_search = True  # else two workers race, and the winner depends on the machine
    if patience is not None:
        solver.parameters.max_time_in_seconds = effort * patience
    status = solver.solve(model)
    by_clock = (
        status != cp_model.OPTIMAL and patience is not None and bool(solver.wall_time >= effort * patience - _NOTHING)
    )
    return (solver if status in {cp_model.OPTIMAL, cp_model.FEASIBLE} else None), by_clock


class _Model:
    """The variables of one task."""

    def __init__(self, cp: Any, task: Task, hint: Schedule, slots_count: int) -> None:
        """Make the model of a task of which at least one unit steps."""
        self.cp = cp
        self._task = task
        self._slot_min = hint.slot_min
        self._slots = range(slots_count)
        self._stations = {ident: self._row(1, station.timing) for ident, station in task.stations.items()}
        self._groups = [
            self._row(len(group.dwellings), group.timing) if group.timing is not None else None for group in task.groups
        ]
        self._doors: dict[tuple[Paths, int], Row] = {}
        self._alike = alike_stations(task)
        self._parted_count = outcome(task, hint).unreached_after  # the same for every order
        self._unfinished: Row = []
        self._share_hands()
        self._keep_listed_order()
        self.suggest(hint)

    def _row(self, total: int, timing: Timing) -> Row:
        last_start = len(self._slots) - timing.slots(self._slot_min)
        row = [self.cp.new_int_var(total if slot >= last_start else 0, total, "") for slot in self._slots]
        for earlier, later in pairwise(row):
            self.cp.add(earlier <= later)
        return row

    def _jobs(self) -> list[tuple[Row, Timing, int]]:
        jobs = [(self._stations[ident], station.timing, 1) for ident, station in self._task.stations.items()]
        for row, group in zip(self._groups, self._task.groups, strict=True):
            if row is not None and group.timing is not None:
                jobs.append((row, group.timing, len(group.dwellings)))
        return jobs

    def _share_hands(self) -> None:
        """Let the technicians be in as many places at once as there are technicians."""
        room_min = self._task.technicians_count * self._slot_min
        busy: list[list[Any]] = [[] for _ in self._slots]
        for row, timing, _ in self._jobs():
            for offset, minutes in enumerate(timing.usage(self._slot_min)):
                if minutes:
                    for slot in range(len(self._slots) - offset):
                        busy[slot + offset].append(minutes * _begun(row, slot))
        for terms in busy:
            if terms:
                self.cp.add(sum(terms) <= room_min)

    def _keep_listed_order(self) -> None:
        for idents in self._alike:
            for earlier, later in pairwise(idents):
                for slot in self._slots:
                    self.cp.add(self._stations[earlier][slot] >= self._stations[later][slot])

    def _speaks(self, ident: str, generation: int, slot: int) -> Any:
        """Return 1 where a station is up and speaks this generation, as an expression."""
        station: Station = self._task.stations[ident]
        row = self._stations[ident]
        done = _by(row, slot - station.timing.slots(self._slot_min))
        as_before = station.step.generation_before == generation
        as_after = station.step.generation_after == generation
        return (1 - row[slot] if as_before else 0) + (done if as_after else 0)

    def _way_in(self, paths: Paths, generation: int) -> Row:
        """Return for each slot whether some way to ring is up and of this generation; it may say no too often."""
        if (paths, generation) not in self._doors:
            fitting = [path for path in paths if path.still <= {generation}]
            always = any(not path.moving for path in fitting)
            self._doors[paths, generation] = [
                1 if always else self._some_way([path.moving for path in fitting], generation, slot)
                for slot in self._slots
            ]
        return self._doors[paths, generation]

    def _some_way(self, ways: list[frozenset[str]], generation: int, slot: int) -> Any:
        usable = []
        for moving in ways:
            way = self.cp.new_bool_var("")
            for ident in sorted(moving):
                self.cp.add(way <= self._speaks(ident, generation, slot))
            usable.append(way)
        if len(usable) < 2:
            return usable[0] if usable else 0
        some = self.cp.new_bool_var("")
        self.cp.add(some <= sum(usable))
        return some

    def fix(self, ident: str, start: int) -> None:
        """Let a station start in this slot."""
        for slot in self._slots:
            self.cp.add(self._stations[ident][slot] == int(slot >= start))

    def lost(self, bounds: Bounds) -> Any:
        """Return the dwelling-slots without any entrance, until the last job is done."""
        by_group = [self._lost_of(number) for number in range(len(self._groups))]
        for hub, by_start in bounds.items():
            row = self._stations[hub.ident]
            least = sum(bound * _begun(row, start) for start, bound in enumerate(by_start))
            self.cp.add(sum(by_group[number] for number in hub.groups) >= least)
        # the rows go on to the last slot; who is parted for good is counted until the work is done
        idle = len(self._slots) - self.end() if self._parted_count else 0
        return sum(by_group) - self._parted_count * idle

    def _lost_of(self, number: int) -> Any:
        """Return the dwelling-slots that one group loses over all slots."""
        row, group = self._groups[number], self._task.groups[number]
        if not group.paths:
            return 0
        total = len(group.dwellings)
        old_way, new_way = (self._way_in(group.paths, generation) for generation in (group.before, group.after))
        if row is None or group.timing is None or not group.primary_steps:
            return sum(total * (1 - old_way[slot]) for slot in self._slots)
        terms: list[Any] = []
        for slot in self._slots:
            done = _by(row, slot - group.timing.slots(self._slot_min))
            old = self._shut_out(total - row[slot], total, old_way[slot])
            new = self._shut_out(done, total, new_way[slot])
            lost = old + row[slot] - done + new
            # says nothing new of whole numbers, but much of fractions: with no way in, all are lost
            self.cp.add(lost >= total * (1 - old_way[slot] - new_way[slot]))
            terms.append(lost)
        return sum(terms)

    def _shut_out(self, waiting: Any, total: int, way: Any) -> Any:
        """Return ``waiting`` where there is no way in, else 0."""
        if isinstance(way, int):
            return 0 if way else waiting
        lost = self.cp.new_int_var(0, total, "")
        self.cp.add(lost >= waiting - total * way)
        return lost

    def end(self) -> Any:
        """Return the slot at whose start everything is done."""
        if not self._unfinished:
            self._unfinished = [self.cp.new_bool_var("") for _ in self._slots]
            for row, timing, total in self._jobs():
                for slot, flag in enumerate(self._unfinished):
                    self.cp.add(total - _by(row, slot - timing.slots(self._slot_min)) <= total * flag)
        return sum(self._unfinished)

    def suggest(self, schedule: Schedule) -> None:
        """Tell the solver of a schedule to begin from."""
        for idents in self._alike:
            starts_in_order = sorted(schedule.stations[ident] for ident in idents)
            for ident, start in zip(idents, starts_in_order, strict=True):
                for slot in self._slots:
                    self.cp.add_hint(self._stations[ident][slot], int(slot >= start))
        for row, starts in zip(self._groups, schedule.groups, strict=True):
            if row is not None:
                for slot in self._slots:
                    self.cp.add_hint(row[slot], sum(count for start, count in starts.items() if start <= slot))

    def read(self, solver: Any) -> Schedule:
        """Return the schedule that the solver found, begun at once: to begin later is never better."""
        stations = {
            ident: next(slot for slot in self._slots if solver.value(row[slot]))
            for ident, row in self._stations.items()
        }
        groups = tuple({} if row is None else self._starts(solver, row) for row in self._groups)
        idle = min((*stations.values(), *(start for starts in groups for start in starts)), default=0)
        return Schedule(
            slot_min=self._slot_min,
            stations={ident: start - idle for ident, start in stations.items()},
            groups=tuple({start - idle: count for start, count in starts.items()} for starts in groups),
        )

    def _starts(self, solver: Any, row: Row) -> dict[int, int]:
        by = [0, *(solver.value(cell) for cell in row)]
        return {slot: by[slot + 1] - by[slot] for slot in self._slots if by[slot + 1] > by[slot]}


def alike_stations(task: Task) -> tuple[tuple[str, ...], ...]:
    """Return the stations in sets whose members may change places in any order of work without changing its cost."""
    sets: list[list[str]] = []
    for ident in task.stations:
        for alike in sets:
            if _may_change_places(task, alike[0], ident):
                alike.append(ident)
                break
        else:
            sets.append([ident])
    return tuple(tuple(alike) for alike in sets)


def _may_change_places(task: Task, one: str, other: str) -> bool:
    here, there = task.stations[one], task.stations[other]
    if (here.timing, here.step.generation_before, here.step.generation_after) != (
        there.timing, there.step.generation_before, there.step.generation_after,
    ):  # fmt: skip
        return False
    places = {one: other, other: one}
    return all(
        group.paths
        == {Path(frozenset(places.get(ident, ident) for ident in path.moving), path.still) for path in group.paths}
        for group in task.groups
    )


def _begun(row: Row, slot: int) -> Any:
    return row[slot] - row[slot - 1] if slot else row[0]


def _by(row: Row, slot: int) -> Any:
    return row[slot] if slot >= 0 else 0
