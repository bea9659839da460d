"""The order of work by constraint programming (CP-SAT): first the fewest dwelling-minutes lost, then the shortest time.

Each group is one row of whole numbers: how many of its visits have started by each slot. Within the number of slots
given, the optimum of this model is the optimum of the problem as the package describes it. The solver counts its own
deterministic time, so that the same site gives the same plan on any machine.
"""

from dataclasses import dataclass
from importlib import import_module
from itertools import pairwise
from typing import Any, Final, TypeAlias

from doorwright.plan.firmware.jobs import Paths, Station, Task, Timing
from doorwright.plan.firmware.schedule import Outcome, Schedule, outcome

SEED: Final = 20_820
WORKERS_COUNT: Final = 2
LARGEST_COUNT: Final = 12_000
"""Cells (rows times slots) beyond which the model is not worth beginning; found by trying. Our choice."""

FIRST_SHARE: Final = 0.7
"""The share of the effort that goes to the dwellings; the rest goes to the time."""

_NOTHING: Final = 1e-6

Row: TypeAlias = list[Any]
"""For each slot, how many have started by then."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Solved:
    """The best schedule found, and how good any could be: lower bounds for dwelling-slots lost and for the end."""

    schedule: Schedule
    outcome: Outcome
    lost_bound: int
    end_bound: int


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


def solve(task: Task, hint: Schedule, slots_count: int, effort: float) -> Solved | None:
    """Return the best schedule found that is done within ``slots_count``, or None where none was found.

    Args:
        task: the jobs.
        hint: a schedule that is done in time; its slot length is used.
        slots_count: how many slots there are.
        effort: the solver's deterministic time, roughly seconds of one processor.
    """
    cp_model: Any = import_module("ortools.sat.python.cp_model")
    model = _Model(cp_model.CpModel(), task, hint, slots_count)
    lost = model.lost()
    model.cp.minimize(lost)
    first = _run(cp_model, model.cp, effort * FIRST_SHARE)
    if first is None:
        return None
    found = model.read(first)
    lost_bound = max(0, _up(first.best_objective_bound))
    model.cp.add(lost <= outcome(task, found).lost_slots)
    model.cp.clear_hints()
    model.suggest(found)
    model.cp.minimize(model.end())
    second = _run(cp_model, model.cp, effort * (1 - FIRST_SHARE))
    end_bound = 0
    if second is not None:
        found = min(found, model.read(second), key=lambda schedule: outcome(task, schedule).rank)
        end_bound = max(0, _up(second.best_objective_bound))
    return Solved(schedule=found, outcome=outcome(task, found), lost_bound=lost_bound, end_bound=end_bound)


def _up(bound: float) -> int:
    return -int(-(bound - _NOTHING) // 1)


def _run(cp_model: Any, model: Any, effort: float) -> Any:
    solver = cp_model.CpSolver()
    solver.parameters.max_deterministic_time = effort
    solver.parameters.random_seed = SEED
    solver.parameters.num_workers = WORKERS_COUNT
    solver.parameters.interleave_search = True  # else two workers race, and the winner depends on the machine
    status = solver.solve(model)
    return solver if status in {cp_model.OPTIMAL, cp_model.FEASIBLE} else None


class _Model:
    """The variables of one task."""

    def __init__(self, cp: Any, task: Task, hint: Schedule, slots_count: int) -> None:
        self.cp = cp
        self._task = task
        self._slot_min = hint.slot_min
        self._slots = range(slots_count)
        self._stations = {ident: self._row(1, station.timing) for ident, station in task.stations.items()}
        self._groups = [
            self._row(len(group.dwellings), group.timing) if group.timing is not None else None for group in task.groups
        ]
        self._doors: dict[tuple[Paths, int], Row] = {}
        self._share_hands()
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

    def lost(self) -> Any:
        """Return the dwelling-slots without any entrance."""
        terms: list[Any] = []
        for row, group in zip(self._groups, self._task.groups, strict=True):
            if not group.paths:
                continue
            total = len(group.dwellings)
            old_way, new_way = (self._way_in(group.paths, generation) for generation in (group.before, group.after))
            for slot in self._slots:
                if row is None or group.timing is None or not group.primary_steps:
                    terms.append(total * (1 - old_way[slot]))
                    continue
                done = _by(row, slot - group.timing.slots(self._slot_min))
                terms.append(row[slot] - done)
                terms.append(self._shut_out(total - row[slot], total, old_way[slot]))
                terms.append(self._shut_out(done, total, new_way[slot]))
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
        unfinished = [self.cp.new_bool_var("") for _ in self._slots]
        for row, timing, total in self._jobs():
            for slot, flag in enumerate(unfinished):
                self.cp.add(total - _by(row, slot - timing.slots(self._slot_min)) <= total * flag)
        return sum(unfinished)

    def suggest(self, schedule: Schedule) -> None:
        """Tell the solver of a schedule to begin from."""
        for ident, start in schedule.stations.items():
            for slot in self._slots:
                self.cp.add_hint(self._stations[ident][slot], int(slot >= start))
        for row, starts in zip(self._groups, schedule.groups, strict=True):
            if row is not None:
                for slot in self._slots:
                    self.cp.add_hint(row[slot], sum(count for start, count in starts.items() if start <= slot))

    def read(self, solver: Any) -> Schedule:
        """Return the schedule that the solver found."""
        stations = {
            ident: next(slot for slot in self._slots if solver.value(row[slot]))
            for ident, row in self._stations.items()
        }
        return Schedule(
            slot_min=self._slot_min,
            stations=stations,
            groups=tuple({} if row is None else self._starts(solver, row) for row in self._groups),
        )

    def _starts(self, solver: Any, row: Row) -> dict[int, int]:
        by = [0, *(solver.value(cell) for cell in row)]
        return {slot: by[slot + 1] - by[slot] for slot in self._slots if by[slot + 1] > by[slot]}


def _begun(row: Row, slot: int) -> Any:
    return row[slot] - row[slot - 1] if slot else row[0]


def _by(row: Row, slot: int) -> Any:
    return row[slot] if slot >= 0 else 0
