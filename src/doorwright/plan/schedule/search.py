"""Betters a course with a constraint solver: frees a few jobs, keeps the order of the rest, solves, and goes on.

Small work is freed as a whole, so that the solver can also prove that nothing is sooner. The solver runs in one thread
with a fixed seed and counts its own work, not the time on a clock, so the same input gives the same course.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import count, pairwise
from typing import Any, Final

from doorwright.plan.schedule.course import Course, Roads, finish_s, laid, ordered
from doorwright.plan.schedule.work import Work

_WHOLE_JOBS: Final = 30
"""Work of so many jobs at most is solved as a whole."""
_FREED_JOBS: Final = (10, 16, 22)
"""How many jobs are freed at a time."""
_ROUND_S: Final = 1.0
_OVERHEAD_S: Final = 0.2
"""What a round costs beside the solver's own count: building the model."""
_MARGIN_S: Final = 1_800
"""A freed job may move so far before and after the span of those freed with it."""
_SEED: Final = 20_620

_DEPOT: Final = 0


@dataclass(frozen=True, slots=True)
class Found:
    """The course in hand, in how many rounds it was bettered, whether nothing can be sooner, or the solver missing."""

    course: Course
    rounds_bettered: int = 0
    is_best: bool = False
    is_missing: bool = False


def improved(
    work: Work, course: Course, *, technicians: int, bound_s: int, effort_s: float, stop: Callable[[], bool]
) -> Found:
    """Return a course that is no later than the one given.

    Args:
        work: the jobs.
        course: where to begin.
        technicians: how many share the work.
        bound_s: no course can be sooner.
        effort_s: what the solver may work, in its own count.
        stop: asked before each round.
    """
    try:
        from ortools.sat.python import cp_model  # noqa: PLC0415  (large; a schedule can be made without it)
    except ImportError:
        return Found(course, is_missing=True)
    found = Found(course)
    roads = Roads(work)
    spent_s = 0.0
    idle_rounds = 0
    for number in count():
        if spent_s >= effort_s or stop() or finish_s(work, found.course) <= bound_s:
            break
        whole = len(work.jobs) <= _WHOLE_JOBS
        freed = set(range(len(work.jobs))) if whole else _window(work, found.course, number)
        round_s = min(effort_s - spent_s, effort_s if whole else _ROUND_S)
        model = _Round(cp_model, work, found.course, freed, technicians=technicians, roads=roads)
        better, is_best, worked_s = model.solve(round_s)
        spent_s += worked_s + _OVERHEAD_S
        idle_rounds += 1
        if better is not None and _rank(work, technicians, better) < _rank(work, technicians, found.course):
            found = Found(better, found.rounds_bettered + 1)
            idle_rounds = 0
        if whole:
            found = replace(found, is_best=is_best)
            break
        if idle_rounds > 3 * len(_FREED_JOBS) * len(work.jobs):
            break  # every window of every size was tried in vain
    return replace(found, is_best=found.is_best or finish_s(work, found.course) <= bound_s)


def _rank(work: Work, technicians: int, course: Course) -> tuple[int, int]:
    """What a course is measured by: its finish, then the sum of what each technician's day ends with."""
    ends = [0] * technicians
    for job, (technician, start_s) in enumerate(course):
        ends[technician] = max(ends[technician], start_s + work.jobs[job].hands_s)
    return max(ends), sum(ends)


def _window(work: Work, course: Course, number: int) -> set[int]:
    """Return the jobs to be freed in a round: neighbours in time, from the end of the work to its beginning."""
    jobs = [job for job, _ in ordered(work, course)]
    size = _FREED_JOBS[number % len(_FREED_JOBS)]
    step = max(1, size // 2)
    places = max(1, -(-(len(jobs) - size) // step) + 1)
    end = len(jobs) - (number // len(_FREED_JOBS) % places) * step
    return set(jobs[max(0, end - size) : max(size, end)])


class _Round:
    """The model of one round.

    Each technician's day is a circuit through a depot and the jobs done. A job that is not freed stays with its
    technician and keeps its order among those that stay; freed jobs go between any two of them that are near in time.
    """

    def __init__(
        self, cp_model: Any, work: Work, course: Course, freed: set[int], *, technicians: int, roads: Roads
    ) -> None:
        self.cp_model = cp_model
        self.work = work
        self.technicians = technicians
        self.course = course
        self.freed = freed
        self.roads = roads
        self.now_s = finish_s(work, course)
        self.model = cp_model.CpModel()
        self.starts = [self.model.new_int_var(0, self.now_s - job.hands_s, "") for job in work.jobs]
        self.present = {
            (job, technician): self.model.new_bool_var("") for job in sorted(freed) for technician in range(technicians)
        }

    def solve(self, round_s: float) -> tuple[Course | None, bool, float]:
        """Return the course found, whether it is the best for what was freed, and what the solver worked."""
        cp_model = self.cp_model
        self._order()
        finish = self.model.new_int_var(0, self.now_s, "")
        days = []
        for technician in range(self.technicians):
            day = self.model.new_int_var(0, self.now_s, "")
            self.model.add(day <= finish)
            self._circuit(technician, day)
            days.append(day)
        for job in self.work.jobs:
            self.model.add(finish >= self.starts[job.number] + job.hands_s)
        # the finish first; days that end sooner make room for the next rounds
        self.model.minimize(finish * (self.technicians + 1) + sum(days))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 1
        solver.parameters.random_seed = _SEED
        solver.parameters.max_deterministic_time = round_s
        status = solver.solve(self.model)
        worked_s = float(solver.response_proto.deterministic_time)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None, False, worked_s
        return self._course(solver), status == cp_model.OPTIMAL, worked_s

    def _order(self) -> None:
        model, starts = self.model, self.starts
        for job in self.work.jobs:
            model.add_hint(starts[job.number], self.course[job.number][1])
            for after in job.after:
                first = self.work.jobs[after.job]
                model.add(starts[job.number] >= starts[after.job] + first.hands_s + after.lag_s)
        for number in self.freed:
            model.add_exactly_one(self.present[number, technician] for technician in range(self.technicians))
        menus: dict[str, list[int]] = {}
        for job in self.work.jobs:
            if job.menu:
                menus.setdefault(job.menu, []).append(job.number)
        for group in menus.values():
            model.add_no_overlap(
                model.new_fixed_size_interval_var(starts[number], self.work.jobs[number].hands_s, "")
                for number in group
            )

    def _circuit(self, technician: int, day: Any) -> None:
        model = self.model
        now = [job for job, who in ordered(self.work, self.course) if who == technician]
        steps = set(pairwise([_DEPOT, *(job + 1 for job in now), _DEPOT])) if now else {(_DEPOT, _DEPOT)}
        arcs = []
        for node, following in self._arcs(now):
            taken = model.new_bool_var("")
            model.add_hint(taken, (node, following) in steps)
            arcs.append((node, following, taken))
            if node == _DEPOT:
                continue
            end = self.starts[node - 1] + self.work.jobs[node - 1].hands_s
            if following == _DEPOT:
                model.add(day >= end).only_enforce_if(taken)
            else:
                walked_s = self.roads.between(node - 1, following - 1)
                model.add(self.starts[following - 1] >= end + walked_s).only_enforce_if(taken)
        for number in sorted(self.freed):
            present = self.present[number, technician]
            model.add_hint(present, self.course[number][0] == technician)
            arcs.append((number + 1, number + 1, present.negated()))
        model.add_circuit(arcs)

    def _arcs(self, now: list[int]) -> Iterator[tuple[int, int]]:
        """Yield the steps that a technician's day may take; nodes are jobs counted from 1, and the depot."""
        staying = [job for job in now if job not in self.freed]
        freed = sorted(self.freed)
        ends_s = [self.course[job][1] + self.work.jobs[job].hands_s for job in freed]
        begin_s = min(self.course[job][1] for job in freed) - _MARGIN_S
        last_s = max(ends_s) + _MARGIN_S
        chain = [_DEPOT, *(job + 1 for job in staying), _DEPOT]
        for i, (node, following) in enumerate(pairwise(chain)):
            yield node, following
            gap_begin_s = self._end_s(node) if i else 0
            gap_end_s = self.course[following - 1][1] if following != _DEPOT else self.now_s
            if gap_begin_s <= last_s and gap_end_s >= begin_s:
                for job in freed:
                    yield node, job + 1
                    yield job + 1, following
        for job in freed:
            for other in freed:
                if other != job:
                    yield job + 1, other + 1

    def _end_s(self, node: int) -> int:
        return self.course[node - 1][1] + self.work.jobs[node - 1].hands_s

    def _course(self, solver: Any) -> Course:
        found = [
            (
                next((t for t in range(self.technicians) if self._does(solver, number, t)), who),
                int(solver.value(self.starts[number])),
            )
            for number, (who, _) in enumerate(self.course)
        ]
        return laid(self.work, ordered(self.work, tuple(found)), self.technicians)

    def _does(self, solver: Any, number: int, technician: int) -> bool:
        return number in self.freed and bool(solver.value(self.present[number, technician]))
