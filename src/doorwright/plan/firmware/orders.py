"""Six fixed orders of work: quick, good enough to begin from, and what remains where no solver helps.

Stations before the visits, between two halves of them, or after them; the stations one after the other or side by side.
"""

from collections.abc import Iterator

from doorwright.plan.firmware.jobs import Task, Timing
from doorwright.plan.firmware.schedule import Schedule, outcome

Job = tuple[str, int, Timing]
"""The station's identifier, or "" and the number of the group, and how long the job takes."""


def ordered_schedules(task: Task, slot_min: int) -> tuple[Schedule, ...]:
    """Return the schedule of each of the six orders, the best first."""
    stations = [(ident, -1, station.timing) for ident, station in task.stations.items()]
    visits = [
        ("", number, group.timing)
        for number, group in enumerate(task.groups)
        if group.timing is not None
        for _ in group.dwellings
    ]
    # half of each group, so that every entrance gets its half before and its half after
    first = [job for count, job in _counted(visits) if count % 2 == 0]
    second = [job for count, job in _counted(visits) if count % 2 == 1]
    made = [
        _placed(task, order, slot_min, one_by_one=one_by_one)
        for order in ([*stations, *visits], [*first, *stations, *second], [*visits, *stations])
        for one_by_one in (True, False)
    ]
    return tuple(sorted(made, key=lambda schedule: outcome(task, schedule).rank))


def _counted(visits: list[Job]) -> Iterator[tuple[int, Job]]:
    seen: dict[int, int] = {}
    for job in visits:
        seen[job[1]] = seen.get(job[1], -1) + 1
        yield seen[job[1]], job


def _placed(task: Task, jobs: list[Job], slot_min: int, *, one_by_one: bool) -> Schedule:
    """Start each job as soon as a technician is free for it, in the order given."""
    free = _Hands(task.technicians_count * slot_min)
    stations: dict[str, int] = {}
    groups: list[dict[int, int]] = [{} for _ in task.groups]
    last_end = 0
    for ident, number, timing in jobs:
        start = free.take(timing.usage(slot_min), last_end if ident and one_by_one else 0)
        if ident:
            stations[ident] = start
            last_end = max(last_end, start + timing.slots(slot_min))
        else:
            groups[number][start] = groups[number].get(start, 0) + 1
    return Schedule(slot_min=slot_min, stations=stations, groups=tuple(groups))


class _Hands:
    """The minutes of the technicians that are taken, slot by slot."""

    def __init__(self, room_min: int) -> None:
        self._room_min = room_min
        self._taken: list[int] = []
        self._first_free = 0

    def take(self, usage: tuple[int, ...], not_before: int) -> int:
        start = max(not_before, self._first_free)
        while not self._fits(usage, start):
            start += 1
        self._taken += [0] * (start + len(usage) - len(self._taken))
        for offset, minutes in enumerate(usage):
            self._taken[start + offset] += minutes
        while self._first_free < len(self._taken) and self._taken[self._first_free] >= self._room_min:
            self._first_free += 1
        return start

    def _fits(self, usage: tuple[int, ...], start: int) -> bool:
        room = self._taken[start : start + len(usage)]
        return all(taken + minutes <= self._room_min for taken, minutes in zip(room, usage, strict=False) if minutes)
