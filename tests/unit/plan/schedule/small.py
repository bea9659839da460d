"""Small invented work for the tests, and the best finish found by trying every course there is."""

from collections.abc import Iterator, Sequence
from itertools import permutations, product

from doorwright.plan.schedule import After, Job, Pace, Spot, Work
from tests.unit.plan.schedule.checker import way_s

PACE = Pace(door_s=20, level_s=30, core_s=120, building_s=300)


def job(number: int, hands_s: int, *, at: str = "x", storey: int = 0, after: Sequence[After] = (), **more: str) -> Job:
    """Return a job at a spot of core A of house 1; ``menu`` and ``core`` may be given."""
    spot = Spot("house 1", more.get("core", "A"), storey, at)
    return Job(number, "dwellings", "", f"job {number}", (), spot, hands_s, tuple(after), more.get("menu"))


def work(*jobs: Job, pace: Pace = PACE) -> Work:
    return Work(jobs, pace)


def best_finish_s(some: Work, technicians: int) -> int:
    """Try every order and every way to share: whatever is laid as early as can be in the best of them is best."""
    return min(_finishes(some, technicians))


def _finishes(some: Work, technicians: int) -> Iterator[int]:
    numbers = range(len(some.jobs))
    for order in permutations(numbers):
        place = {number: i for i, number in enumerate(order)}
        if any(place[one.job] > place[job.number] for job in some.jobs for one in job.after):
            continue
        for shared in product(range(technicians), repeat=len(some.jobs)):
            yield _finish_s(some, order, shared)


def _finish_s(some: Work, order: Sequence[int], shared: Sequence[int]) -> int:
    ends: dict[int, int] = {}
    last: dict[int, Job] = {}
    menus: dict[str, int] = {}
    for number in order:
        job = some.jobs[number]
        start_s = 0
        if shared[number] in last:
            before = last[shared[number]]
            start_s = ends[before.number] + way_s(some.pace, before.spot, job.spot)
        for one in job.after:
            start_s = max(start_s, ends[one.job] + one.lag_s)
        if job.menu:
            start_s = max(start_s, menus.get(job.menu, 0))
            menus[job.menu] = start_s + job.hands_s
        ends[number] = start_s + job.hands_s
        last[shared[number]] = job
    return max(ends.values())
