"""A course of the work: who does each job and when. Puts jobs one after the other, each as early as it can be."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

from doorwright.plan.schedule.places import Spot, walk_s
from doorwright.plan.schedule.work import Work

Course: TypeAlias = tuple[tuple[int, int], ...]
"""For each job, by its number: the technician, counted from 0, and the second at which the job begins."""


def finish_s(work: Work, course: Course) -> int:
    """Return the second at which the last job of a course ends."""
    return max((start_s + work.jobs[job].hands_s for job, (_, start_s) in enumerate(course)), default=0)


@dataclass(slots=True)
class Technician:
    """Where a technician is during the building of a course, and from when free; nowhere before the first job."""

    spot: Spot | None = None
    free_s: int = 0


class Roads:
    """The walks between all spots of some work, worked out once."""

    def __init__(self, work: Work) -> None:
        spots = list(dict.fromkeys(job.spot for job in work.jobs))
        self.spot_of = [0] * len(work.jobs)
        at = {spot: i for i, spot in enumerate(spots)}
        for job in work.jobs:
            self.spot_of[job.number] = at[job.spot]
        self.spots = tuple(spots)
        self._pace = work.pace
        self._rows: dict[int, list[int]] = {}

    def row(self, spot: int) -> list[int]:
        """Return the seconds from one spot to every other, by their numbers."""
        if spot not in self._rows:
            start = self.spots[spot]
            self._rows[spot] = [walk_s(self._pace, start, end) for end in self.spots]
        return self._rows[spot]

    def between(self, job: int, other: int) -> int:
        """Return the seconds from the spot of one job to that of another."""
        return self.row(self.spot_of[job])[self.spot_of[other]]


def laid(work: Work, who: Iterable[tuple[int, int]], technicians: int) -> Course:
    """Put jobs one after the other, each as early as its technician, what it waits for and its menu allow.

    Args:
        work: the jobs.
        who: pairs of a job and its technician; each job after those that it waits for.
        technicians: how many there are.
    """
    crew = [Technician() for _ in range(technicians)]
    menus: dict[str, int] = {}
    starts: dict[int, tuple[int, int]] = {}
    for number, technician in who:
        job, one = work.jobs[number], crew[technician]
        walked_s = walk_s(work.pace, one.spot, job.spot) if one.spot is not None else 0
        start_s = max(
            one.free_s + walked_s,
            menus.get(job.menu, 0) if job.menu else 0,
            *(starts[after.job][1] + work.jobs[after.job].hands_s + after.lag_s for after in job.after),
            0,
        )
        one.spot, one.free_s = job.spot, start_s + job.hands_s
        if job.menu:
            menus[job.menu] = one.free_s
        starts[number] = (technician, start_s)
    return tuple(starts[number] for number in range(len(work.jobs)))


def in_list_order(work: Work) -> Course:
    """Return the course of one technician who takes the run sheet from top to bottom."""
    return laid(work, ((job.number, 0) for job in work.jobs), 1)


def ordered(work: Work, course: Course) -> Sequence[tuple[int, int]]:
    """Return pairs of a job and its technician by the start of the job.

    Of jobs that share a start, one without duration stands before one that takes time, and of those without duration
    the lower number, for which others wait.
    """
    jobs = sorted(range(len(course)), key=lambda job: (course[job][1], work.jobs[job].hands_s > 0, job))
    return [(job, course[job][0]) for job in jobs]
