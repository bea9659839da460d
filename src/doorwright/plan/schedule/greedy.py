"""Courses by list scheduling: whoever is free first takes the ready job that costs least.

The cost of a job is the walk to it, the wait at its place, and a leaning towards or against it. Several weighings of
walk and wait are tried, with leanings towards jobs that much comes after; then the leanings of single jobs and of
groups of jobs are altered a little, again and again, and kept where the course is no worse. No solver is needed.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import product
from random import Random
from typing import Final

from doorwright.plan.schedule.course import Course, Roads
from doorwright.plan.schedule.work import Work

_WEIGHINGS: Final = tuple(product((1.0, 0.5, 2.0), (1.0, 3.0), (0.0, 0.02, 0.05)))
"""What a second of walking, of waiting, and of a job's tail count for; none of it is more than a guess."""
_WEIGHING_S: Final = 2.0
"""So long may all weighings take at most; of large work, the first alone may take longer."""
_RUN_S: Final = 2e-5
_RUN_A_PAIR_S: Final = 6e-8
"""About what one run takes, in seconds, and more for each pair of jobs."""
_NUDGES_S: Final = (60.0, 300.0, 1500.0)
_SEED: Final = 20_620

Rank = tuple[int, int]
"""What a course is measured by, less is better: its finish, then the squares of everybody's ends (even is better)."""


@dataclass(frozen=True, slots=True)
class _Weighing:
    walk: float
    wait: float
    leanings: tuple[float, ...]


def greedy(work: Work, technicians: int, tails_s: list[int], effort_s: float, stop: Callable[[], bool]) -> Course:
    """Return the best course found; one is made before ``stop`` is asked.

    Args:
        work: the jobs.
        technicians: how many there are.
        tails_s: for each job, the least time from its end to the finish.
        effort_s: about how many seconds may go into altering leanings, counted in runs and not by a clock.
        stop: whether to be content with what was found.
    """
    listing = _Listing(work, technicians)
    best: tuple[Rank, Course, _Weighing] | None = None
    run_s = _RUN_S + _RUN_A_PAIR_S * len(work.jobs) ** 2
    for walk, wait, tail in _WEIGHINGS[: max(1, int(_WEIGHING_S / run_s))]:
        weighing = _Weighing(walk, wait, tuple(-tail * tail_s for tail_s in tails_s))
        rank, course = listing.course(weighing)
        if best is None or rank < best[0]:
            best = rank, course, weighing
        if stop():
            return best[1]
    assert best is not None  # noqa: S101  (there are weighings)
    chance = Random(_SEED)  # noqa: S311  (the same input is to give the same course)
    groups = _groups(work)
    for _ in range(int(effort_s / run_s) if len(work.jobs) > 1 else 0):
        weighing = _nudged(best[2], groups, chance)
        rank, course = listing.course(weighing)
        if rank <= best[0]:
            best = rank, course, weighing
        if stop():
            break
    return best[1]


def _groups(work: Work) -> list[list[int]]:
    """Return jobs that may lean together: those of one kind in one core, and those of one menu."""
    groups: dict[object, list[int]] = {}
    for job in work.jobs:
        groups.setdefault((job.stage, job.spot.building, job.spot.core, job.action.split()[0]), []).append(job.number)
        if job.menu:
            groups.setdefault(job.menu, []).append(job.number)
    return list(groups.values())


def _nudged(weighing: _Weighing, groups: list[list[int]], chance: Random) -> _Weighing:
    leanings = list(weighing.leanings)
    count = len(leanings)
    kind = chance.random()
    if kind < 0.3:
        chosen = chance.choice(groups)
    elif kind < 0.8:
        chosen = [chance.randrange(count) for _ in range(chance.choice((1, 1, 2, 4)))]
    else:
        first = chance.randrange(count)
        chosen = list(range(first, min(count, first + chance.choice((2, 4, 10)))))
    nudge_s = chance.gauss(0.0, chance.choice(_NUDGES_S))
    for job in chosen:
        leanings[job] += nudge_s
    if chance.random() < 0.1:
        return _Weighing(chance.choice((0.5, 1.0, 2.0, 3.0)), chance.choice((0.3, 1.0, 3.0)), tuple(leanings))
    return _Weighing(weighing.walk, weighing.wait, tuple(leanings))


class _Listing:
    """List scheduling of some work, run again and again: everything it looks up is laid out in lists of numbers."""

    def __init__(self, work: Work, technicians: int) -> None:
        self.technicians = technicians
        roads = Roads(work)
        self.spot_of = roads.spot_of
        self.rows = roads
        self.hands_s = [job.hands_s for job in work.jobs]
        menus = {menu: i for i, menu in enumerate(dict.fromkeys(job.menu for job in work.jobs if job.menu))}
        self.menus_count = len(menus)
        self.menu_of = [menus[job.menu] if job.menu else -1 for job in work.jobs]
        self.waits_for = [len(job.after) for job in work.jobs]
        self.followers: list[list[tuple[int, int]]] = [[] for _ in work.jobs]
        for job in work.jobs:
            for after in job.after:
                self.followers[after.job].append((job.number, after.lag_s))

    def course(self, weighing: _Weighing) -> tuple[Rank, Course]:
        """Place every job and return the course with its rank."""
        free_s = [0] * self.technicians
        rows: list[list[int] | None] = [None] * self.technicians
        menus_s = [0] * self.menus_count
        release_s = [0] * len(self.hands_s)
        waits_for = self.waits_for.copy()
        placed = [(0, 0)] * len(self.hands_s)
        ready = [job for job, count in enumerate(waits_for) if not count]
        while ready:
            now_s = min(free_s)
            technician = free_s.index(now_s)
            job, start_s = self._cheapest(ready, now_s, rows[technician], release_s, menus_s, weighing=weighing)
            placed[job] = (technician, start_s)
            end_s = start_s + self.hands_s[job]
            free_s[technician], rows[technician] = end_s, self.rows.row(self.spot_of[job])
            if self.menu_of[job] >= 0:
                menus_s[self.menu_of[job]] = end_s
            ready.remove(job)
            for follower, lag_s in self.followers[job]:
                release_s[follower] = max(release_s[follower], end_s + lag_s)
                waits_for[follower] -= 1
                if not waits_for[follower]:
                    ready.append(follower)
        return (max(free_s), sum(end_s * end_s for end_s in free_s)), tuple(placed)

    def _cheapest(
        self, ready: list[int], now_s: int, row: list[int] | None, release_s: list[int], menus_s: list[int],
        *, weighing: _Weighing,
    ) -> tuple[int, int]:  # fmt: skip
        """Return the job that costs least and when it would begin. This loop is where the time goes."""
        walk, wait, leanings = weighing.walk, weighing.wait, weighing.leanings
        spot_of, menu_of = self.spot_of, self.menu_of
        best, best_start_s, least = -1, 0, float("inf")
        for job in ready:
            walked_s = row[spot_of[job]] if row is not None else 0
            arrival_s = start_s = now_s + walked_s
            if release_s[job] > start_s:  # noqa: PLR1730  (max() takes three times as long)
                start_s = release_s[job]
            menu = menu_of[job]
            if menu >= 0 and menus_s[menu] > start_s:
                start_s = menus_s[menu]
            cost = walk * walked_s + wait * (start_s - arrival_s) + leanings[job]
            if cost < least:
                best, best_start_s, least = job, start_s, cost
        return best, best_start_s
