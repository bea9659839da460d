"""The schedule: each technician's visits with their times, the finish, and how near it is to the best there can be."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from doorwright.plan.schedule.bound import heads_and_tails, lower_bound_s
from doorwright.plan.schedule.course import Course, finish_s, in_list_order, laid, ordered
from doorwright.plan.schedule.greedy import greedy
from doorwright.plan.schedule.moves import moved
from doorwright.plan.schedule.places import walk_s
from doorwright.plan.schedule.search import Found, improved
from doorwright.plan.schedule.work import Job, Work

LIST_ALONE: Final = "list scheduling alone"
_MOVED: Final = "list scheduling and moves"
_LISTING_PART: Final = 0.1
_MOVING_PART: Final = 0.7
"""The parts of the effort that go into list scheduling and into moves; the rest is the solver's."""


@dataclass(frozen=True, slots=True)
class Visit:
    """One job in a technician's day: the walk to it, the wait at its place, and when it begins, in seconds."""

    job: Job
    technician: int
    walk_s: int
    wait_s: int
    start_s: int

    @property
    def end_s(self) -> int:
        """When it is done."""
        return self.start_s + self.job.hands_s


@dataclass(frozen=True, slots=True)
class Schedule:
    """The work shared among technicians, who are counted from 0.

    ``visits`` are ordered by technician and start. ``bound_s`` is what no schedule can beat, ``in_list_order_s`` the
    finish of one technician who takes the run sheet from top to bottom. ``made_by`` says how the schedule was found.
    """

    work: Work
    technicians: int
    visits: tuple[Visit, ...]
    bound_s: int
    in_list_order_s: int
    made_by: str

    @property
    def finish_s(self) -> int:
        """When the last job is done."""
        return max((visit.end_s for visit in self.visits), default=0)

    @property
    def gap_ratio(self) -> float:
        """By how much the finish exceeds the bound, as a part of the bound."""
        return (self.finish_s - self.bound_s) / self.bound_s if self.bound_s else 0.0

    def of(self, technician: int) -> tuple[Visit, ...]:
        """Return the visits of one technician in order."""
        return tuple(visit for visit in self.visits if visit.technician == technician)


def _never() -> bool:
    return False


def make_schedule(work: Work, *, technicians: int, effort_s: float, stop: Callable[[], bool] = _never) -> Schedule:
    """Return the best schedule found.

    The same input gives the same schedule as long as ``stop`` does not cut the search short.

    Args:
        work: the jobs.
        technicians: how many share them, 1 or more.
        effort_s: how much the solver may work, in its own count, about seconds; 0 for list scheduling alone.
        stop: asked now and then; true ends the search with the best found so far.
    """
    heads_s, tails_s = heads_and_tails(work, technicians)
    bound_s = lower_bound_s(work, technicians, heads_s, tails_s)
    course = greedy(work, technicians, tails_s, _LISTING_PART * effort_s, stop)
    made_by = LIST_ALONE
    if finish_s(work, course) == bound_s:
        made_by = "list scheduling; nothing can be sooner"
    elif effort_s > 0:
        course = moved(
            work, course, technicians=technicians, bound_s=bound_s, effort_s=_MOVING_PART * effort_s, stop=stop
        )
        found = improved(
            work,
            course,
            technicians=technicians,
            bound_s=bound_s,
            effort_s=(1 - _LISTING_PART - _MOVING_PART) * effort_s,
            stop=stop,
        )
        course, made_by = found.course, _said(found)
    listed = finish_s(work, in_list_order(work))
    return Schedule(work, technicians, _visits(work, course, technicians), bound_s, listed, made_by)


def _said(found: Found) -> str:
    if found.is_missing:
        return f"{_MOVED} alone: the solver (ortools) is not installed"
    if found.is_best:
        return f"{_MOVED} and the solver; nothing can be sooner"
    if not found.rounds_bettered:
        return f"{_MOVED} alone: the solver found nothing better in its time"
    return f"{_MOVED}, bettered by the solver"


def _visits(work: Work, course: Course, technicians: int) -> tuple[Visit, ...]:
    course = laid(work, ordered(work, course), technicians)
    visits = []
    for technician in range(technicians):
        here, free_s = None, 0
        for number, who in ordered(work, course):
            if who != technician:
                continue
            job, start_s = work.jobs[number], course[number][1]
            walked_s = walk_s(work.pace, here, job.spot) if here is not None else 0
            visits.append(Visit(job, technician, walked_s, start_s - free_s - walked_s, start_s))
            here, free_s = job.spot, start_s + job.hands_s
    return tuple(visits)
