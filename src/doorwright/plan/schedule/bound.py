"""How soon the work can be finished at best: a bound that no course can beat, whoever finds it.

Heads and tails. The head of a job is the least time before it can begin: the longest chain of what it waits for, hands
and lags, and no less than the hands of all that must be done before it, shared by everybody. Its tail is the same after
its end. Head + hands + tail of any job is a bound.

Shared work. Take any set S of at least k jobs for k technicians in a course with finish C. Move jobs of S from those
who have several to those who have none, at the same time: nothing is later, nobody walks more; now each has one.
For each technician the time before the first job of S is at least that job's head, the time after the last at least its
tail, and in between lie the hands of their jobs and the walks between their spots; a detour through other jobs is no
shorter (the walks obey the triangle inequality). First jobs of different technicians are different jobs, so are last
ones: the heads sum to no less than the k least heads of S, the tails likewise. The walks of k technicians, laid on the
map, join the spots of S into at most k heaps: together they are no shorter than the least forest of k trees on those
spots, which is the least spanning tree without its k - 1 longest edges. So

    k C >= (k least heads) + (hands of S) + (least forest of k trees) + (looking again) + (k least tails).

Looking again. First arrivals at each spot are already such a forest: each comes from a spot arrived at sooner, or is a
beginning. Where two jobs of one spot have a lag between them that the other jobs of that spot cannot fill, somebody
waits there for the rest of the lag, or somebody comes again, which takes at least the walk from the nearest other spot.
The lesser of the two is added for each such spot, but for k of them, where coming again may be somebody's beginning.

The sets tried are those of jobs with head and tail above given levels.

Menus. What one menu takes is done one after the other: least head + hands + least tail of its jobs.
"""

from collections import defaultdict
from typing import Final

from doorwright.plan.schedule.course import Roads
from doorwright.plan.schedule.work import Job, Work

_LEVELS_COUNT: Final = 12
_SHARED_MOST: Final = 1_500
"""Above so many jobs, heads and tails count chains alone: who shares what before a job takes too long to add up."""


def heads_and_tails(work: Work, technicians: int) -> tuple[list[int], list[int]]:
    """Return, for each job, the least seconds before its start and after its end."""
    count = len(work.jobs)
    before: list[list[tuple[int, int]]] = [[(after.job, after.lag_s) for after in job.after] for job in work.jobs]
    behind: list[list[tuple[int, int]]] = [[] for _ in range(count)]
    for job in work.jobs:
        for after in job.after:
            behind[after.job].append((job.number, after.lag_s))
    hands_s = [job.hands_s for job in work.jobs]
    # the jobs are numbered so that each comes after those that it waits for
    heads = _chains(range(count), before, hands_s, technicians)
    tails = _chains(range(count - 1, -1, -1), behind, hands_s, technicians)
    return heads, tails


def _chains(order: range, links: list[list[tuple[int, int]]], hands_s: list[int], technicians: int) -> list[int]:
    least_s = [0] * len(hands_s)
    counts_shared = len(hands_s) <= _SHARED_MOST
    all_before = [0] * len(hands_s)
    """As sets of bits: everything that must be done before."""
    for number in order:
        for other, lag_s in links[number]:
            least_s[number] = max(least_s[number], least_s[other] + hands_s[other] + lag_s)
            if counts_shared:
                all_before[number] |= all_before[other] | 1 << other
        if all_before[number]:
            lag_s = min(lag_s for _, lag_s in links[number])
            shared_s = sum(hands_s[other] for other in _bits(all_before[number]))
            least_s[number] = max(least_s[number], -(-shared_s // technicians) + lag_s)
    return least_s


def _bits(mask: int) -> list[int]:
    digits = bin(mask)[:1:-1]
    return [i for i, digit in enumerate(digits) if digit == "1"]


def lower_bound_s(work: Work, technicians: int, heads_s: list[int], tails_s: list[int]) -> int:
    """Return the bound in seconds, from the heads and tails of ``heads_and_tails``."""
    jobs = work.jobs
    if not jobs:
        return 0
    best_s = max(heads_s[job.number] + job.hands_s + tails_s[job.number] for job in jobs)
    menus: dict[str, list[Job]] = defaultdict(list)
    for job in jobs:
        if job.menu:
            menus[job.menu].append(job)
    for group in menus.values():
        best_s = max(best_s, _shared_s(group, 1, heads_s, tails_s, 0))
    roads = Roads(work)
    for low_head_s in _levels(heads_s):
        for low_tail_s in _levels(tails_s):
            group = [job for job in jobs if heads_s[job.number] >= low_head_s and tails_s[job.number] >= low_tail_s]
            if len(group) < technicians:
                continue
            spots = sorted({roads.spot_of[job.number] for job in group})
            walked_s = _forest_s(roads, spots, technicians) + _again_s(roads, spots, group, technicians)
            best_s = max(best_s, _shared_s(group, technicians, heads_s, tails_s, walked_s))
    return best_s


def _shared_s(group: list[Job], technicians: int, heads_s: list[int], tails_s: list[int], walked_s: int) -> int:
    heads = sorted(heads_s[job.number] for job in group)[:technicians]
    tails = sorted(tails_s[job.number] for job in group)[:technicians]
    whole_s = sum(heads) + sum(job.hands_s for job in group) + walked_s + sum(tails)
    return -(-whole_s // technicians)


def _levels(values: list[int]) -> list[int]:
    """Return a few of the values, from the least upwards."""
    distinct = sorted(set(values))
    count = 3 if len(values) > _SHARED_MOST else _LEVELS_COUNT
    step = max(1, len(distinct) // count)
    return distinct[::step]


def _forest_s(roads: Roads, spots: list[int], trees: int) -> int:
    """Return the least length of a forest of so many trees on the spots: Prim's tree without its longest edges."""
    if len(spots) <= trees:
        return 0
    nearest = dict.fromkeys(spots[1:], 0)
    row = roads.row(spots[0])
    for spot in nearest:
        nearest[spot] = row[spot]
    edges: list[int] = []
    while nearest:
        spot = min(nearest, key=nearest.__getitem__)
        edges.append(nearest.pop(spot))
        row = roads.row(spot)
        for other, length_s in nearest.items():
            if row[other] < length_s:
                nearest[other] = row[other]
    edges.sort()
    return sum(edges[: len(edges) - (trees - 1)])


def _again_s(roads: Roads, spots: list[int], group: list[Job], technicians: int) -> int:
    """Return the least time that goes into waiting or coming again where a job waits for another of its spot."""
    hands_s: dict[int, int] = defaultdict(int)
    numbers = {job.number: job for job in group}
    for job in group:
        hands_s[roads.spot_of[job.number]] += job.hands_s
    idle_s: dict[int, int] = defaultdict(int)
    for job in group:
        spot = roads.spot_of[job.number]
        for after in job.after:
            first = numbers.get(after.job)
            if first is not None and roads.spot_of[first.number] == spot:
                fill_s = hands_s[spot] - job.hands_s - first.hands_s
                idle_s[spot] = max(idle_s[spot], after.lag_s - fill_s)
    if len(spots) < 2:
        return 0
    least_s = []
    for spot, waited_s in idle_s.items():
        row = roads.row(spot)
        least_s.append(min(waited_s, *(row[other] for other in spots if other != spot)))
    least_s.sort()
    return sum(least_s[: max(0, len(least_s) - technicians)])
