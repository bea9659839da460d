"""Betters a course by small moves: jobs go elsewhere in the day, or two technicians exchange the rest of theirs.

Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983; the form is told from memory): a move that makes the course
worse is taken now and then, by how much worse it is, ever more seldom as the search goes on. The course is kept as one
list of jobs by start, each with its technician; from it, every job is laid as early as it can be. A job moves only
between what it waits for and what waits for it, so every course met can be carried out.
"""

from collections.abc import Callable
from math import exp
from random import Random
from typing import Final

from doorwright.plan.schedule.course import Course, Roads, ordered
from doorwright.plan.schedule.work import Work

_MOVE_S: Final = 8e-6
_MOVE_A_JOB_S: Final = 2.5e-7
"""About what one move takes, in seconds, and more for each job."""
_HOT_S: Final = 120.0
_COLD_S: Final = 2.0
"""By how many seconds a course may be worse to be taken about every third time, in the beginning and at the end."""
_ASK_EVERY: Final = 64
_SEED: Final = 20_620

_Order = list[tuple[int, int]]


def moved(
    work: Work, course: Course, *, technicians: int, bound_s: int, effort_s: float, stop: Callable[[], bool]
) -> Course:
    """Return a course that is no later than the one given.

    Args:
        work: the jobs.
        course: where to begin.
        technicians: how many share the work.
        bound_s: no course can be sooner.
        effort_s: about how many seconds the search may take, counted in moves and not by a clock.
        stop: asked now and then whether to be content.
    """
    rounds = int(effort_s / (_MOVE_S + _MOVE_A_JOB_S * len(work.jobs)))
    if len(work.jobs) < 2 or not rounds:
        return course
    laying = _Laying(work, technicians)
    chance = Random(_SEED)  # noqa: S311  (the same input is to give the same course)
    order = list(ordered(work, course))
    starts, cost, finish = laying.of(order)
    best, best_finish = course, finish
    cooling = (_COLD_S / _HOT_S) ** (1 / rounds)
    heat_s = _HOT_S
    for number in range(rounds):
        if best_finish <= bound_s or (number % _ASK_EVERY == 0 and stop()):
            break
        heat_s *= cooling
        tried = laying.moved(order, chance)
        if tried is None:
            continue
        starts, tried_cost, finish = laying.of(tried)
        worse_s = tried_cost - cost
        if worse_s <= 0 or chance.random() < exp(-worse_s / heat_s):
            tried.sort(key=lambda pair: (starts[pair[0]], pair[0]))
            order, cost = tried, tried_cost
            if finish < best_finish:
                best_finish = finish
                who = dict(tried)
                best = tuple((who[job], starts[job]) for job in range(len(starts)))
    return best


class _Laying:
    """Lays jobs one after the other, and moves them: everything it looks up is laid out in lists of numbers."""

    def __init__(self, work: Work, technicians: int) -> None:
        self.technicians = technicians
        roads = Roads(work)
        self.spot_of = roads.spot_of
        self.rows = [roads.row(spot) for spot in range(len(roads.spots))]
        self.nowhere = [0] * len(roads.spots)
        self.hands_s = [job.hands_s for job in work.jobs]
        menus = {menu: i for i, menu in enumerate(dict.fromkeys(job.menu for job in work.jobs if job.menu))}
        self.menus_count = len(menus)
        self.menu_of = [menus[job.menu] if job.menu else -1 for job in work.jobs]
        self.waits_for = [
            tuple((after.job, after.lag_s + work.jobs[after.job].hands_s) for after in job.after) for job in work.jobs
        ]
        self.before = [{after.job for after in job.after} for job in work.jobs]
        self.behind: list[set[int]] = [set() for _ in work.jobs]
        for job in work.jobs:
            for after in job.after:
                self.behind[after.job].add(job.number)

    def of(self, order: _Order) -> tuple[list[int], float, int]:
        """Return each job's start, the cost (the finish, and the mean end of a day), and the finish."""
        free_s = [0] * self.technicians
        rows = [self.nowhere] * self.technicians
        menus_s = [0] * self.menus_count
        starts = [0] * len(order)
        spot_of, hands_s, menu_of, waits_for, all_rows = (
            self.spot_of, self.hands_s, self.menu_of, self.waits_for, self.rows
        )  # fmt: skip
        for job, technician in order:
            spot = spot_of[job]
            start_s = free_s[technician] + rows[technician][spot]
            for other, after_s in waits_for[job]:
                if starts[other] + after_s > start_s:  # noqa: PLR1730  (max() takes three times as long)
                    start_s = starts[other] + after_s
            menu = menu_of[job]
            if menu >= 0:
                start_s = max(start_s, menus_s[menu])
                menus_s[menu] = start_s + hands_s[job]
            starts[job] = start_s
            free_s[technician] = start_s + hands_s[job]
            rows[technician] = all_rows[spot]
        finish = max(free_s)
        return starts, finish + sum(free_s) / self.technicians, finish

    def moved(self, order: _Order, chance: Random) -> _Order | None:
        """Return the order with one move made, or None where the move drawn cannot be."""
        kind = chance.random()
        at = chance.randrange(len(order))
        if kind < 0.1 and self.technicians > 1:
            return self._exchanged(order, at, chance)
        if kind < 0.4:
            return self._taken_over(order, at, chance)
        return self._shifted(order, at, chance)

    def _exchanged(self, order: _Order, at: int, chance: Random) -> _Order:
        """Two technicians exchange the rest of their days."""
        one, other = chance.sample(range(self.technicians), 2)
        swap = {one: other, other: one}
        return order[:at] + [(job, swap.get(technician, technician)) for job, technician in order[at:]]

    def _taken_over(self, order: _Order, at: int, chance: Random) -> _Order | None:
        """Somebody takes over a few jobs in a row from somebody else."""
        giver, taker = order[at][1], chance.randrange(self.technicians)
        if giver == taker:
            return None
        left = chance.choice((1, 1, 2, 3))
        tried = order.copy()
        for i in range(at, len(order)):
            if order[i][1] == giver:
                tried[i] = (order[i][0], taker)
                left -= 1
                if not left:
                    break
        return tried

    def _shifted(self, order: _Order, at: int, chance: Random) -> _Order | None:
        """A job goes sooner or later, between what it waits for and what waits for it, perhaps to somebody else."""
        job, technician = order[at]
        reach = chance.choice((4, 12, 40))
        to = at + chance.randint(-reach, reach)
        to = max(0, min(len(order) - 1, to))
        if to < at:
            before = self.before[job]
            for i in range(at - 1, to - 1, -1):
                if order[i][0] in before:
                    to = i + 1
                    break
        else:
            behind = self.behind[job]
            for i in range(at + 1, to + 1):
                if order[i][0] in behind:
                    to = i - 1
                    break
        if to == at:
            return None
        if chance.random() < 0.3:
            technician = chance.randrange(self.technicians)
        tried = order.copy()
        del tried[at]
        tried.insert(to, (job, technician))
        return tried
