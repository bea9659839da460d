"""When each job starts, and what that means for the dwellings: counted slot by slot."""

from collections.abc import Mapping
from dataclasses import dataclass

from doorwright.plan.firmware.jobs import Group, Paths, Station, Task


@dataclass(frozen=True, slots=True, kw_only=True)
class Schedule:
    """The slot in which each station starts, and for each group how many visits start in which slot."""

    slot_min: int
    stations: Mapping[str, int]
    groups: tuple[Mapping[int, int], ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a schedule costs. ``unreached`` counts the dwellings that no entrance reaches, slot by slot.

    ``unreached_after`` counts those that nobody reaches when everything is done: the step has parted them.
    """

    unreached: tuple[int, ...]
    unreached_after: int

    @property
    def lost_slots(self) -> int:
        """Dwelling-slots without any entrance."""
        return sum(self.unreached)

    @property
    def end_slot(self) -> int:
        """The slot at whose start everything is done."""
        return len(self.unreached)

    @property
    def rank(self) -> tuple[int, int]:
        """Less is better: first the dwellings, then the time."""
        return self.lost_slots, self.end_slot


def outcome(task: Task, schedule: Schedule) -> Outcome:
    """Count the dwellings that cannot be reached in every slot until the last job is done."""
    slot_min = schedule.slot_min
    ends = [start + task.stations[ident].timing.slots(slot_min) for ident, start in schedule.stations.items()]
    for group, starts in zip(task.groups, schedule.groups, strict=True):
        if group.timing is not None:
            ends += [start + group.timing.slots(slot_min) for start in starts]
    end = max(ends, default=0)
    return Outcome(
        unreached=tuple(_unreached(task, schedule, slot) for slot in range(end)),
        unreached_after=_unreached(task, schedule, end),
    )


def _unreached(task: Task, schedule: Schedule, slot: int) -> int:
    speaking = {
        ident: _generation(station, schedule.stations[ident], slot, schedule.slot_min)
        for ident, station in task.stations.items()
    }
    lost = 0
    for group, starts in zip(task.groups, schedule.groups, strict=True):
        if group.paths:
            old, new, down = _split(group, starts, slot, schedule.slot_min)
            lost += down
            lost += 0 if _open(group.paths, group.before, speaking) else old
            lost += 0 if _open(group.paths, group.after, speaking) else new
    return lost


def _generation(station: Station, start: int, slot: int, slot_min: int) -> int | None:
    """Return the generation that a station speaks in a slot, None while it is down."""
    if slot < start:
        return station.step.generation_before
    return station.step.generation_after if slot >= start + station.timing.slots(slot_min) else None


def _split(group: Group, starts: Mapping[int, int], slot: int, slot_min: int) -> tuple[int, int, int]:
    """Return how many of a group's primaries are still as before, are done, are down in a slot."""
    total = len(group.dwellings)
    if group.timing is None or not group.primary_steps:
        return total, 0, 0
    slots = group.timing.slots(slot_min)
    started = sum(count for start, count in starts.items() if start <= slot)
    done = sum(count for start, count in starts.items() if start + slots <= slot)
    return total - started, done, started - done


def _open(paths: Paths, generation: int, speaking: Mapping[str, int | None]) -> bool:
    return any(
        path.still <= {generation} and all(speaking[ident] == generation for ident in path.moving) for path in paths
    )
