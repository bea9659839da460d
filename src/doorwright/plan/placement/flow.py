"""Units that together reach too little: a largest flow from groups to cupboards, and the cut that bounds it.

By the theorem of Ford and Fulkerson the groups on the near side of a least cut reach only cupboards that hold less than
those groups want. Groups are then left out one by one as long as the rest still wants too much, so that few are named.
"""

from collections import deque
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from doorwright.plan.placement.figures import Group
from doorwright.plan.placement.program import Program


@dataclass(frozen=True, slots=True)
class Shortage:
    """Groups by index that want more than the only cupboards they reach hold."""

    groups: tuple[int, ...]
    cupboards: tuple[str, ...]
    wanted: int
    held: int


def shortage(
    program: Program, weigh: Callable[[Group], int], sizes: Mapping[str, int], left: Callable[[str], int]
) -> Shortage | None:
    """Return a least shortage of ports or power, or None where each alone suffices.

    Args:
        program: whose groups and cupboards.
        weigh: what one unit of a group takes.
        sizes: what a new switch of each type gives.
        left: what an existing switch has left.
    """
    figures = program.figures
    held = {}
    for cupboard in figures.cupboards:
        most = max((sizes[kind] for kind in program.types_in(cupboard)), default=0)
        held[cupboard] = most * figures.new_room(cupboard) + sum(
            left(key) for key, switch in figures.existing.items() if switch.cupboard == cupboard
        )
    wanted = [weigh(group) * group.size for group in figures.groups]
    near = _near_side(figures.groups, wanted, held)
    if not near:
        return None

    def lacks(groups: Sequence[int]) -> bool:
        places = {place for index in groups for place in figures.groups[index].reach}
        return sum(wanted[index] for index in groups) > sum(held[place] for place in places)

    for index in list(near):
        fewer = [one for one in near if one != index]
        if fewer and lacks(fewer):
            near = fewer
    places = tuple(key for key in figures.cupboards if any(key in figures.groups[index].reach for index in near))
    return Shortage(tuple(near), places, sum(wanted[index] for index in near), sum(held[key] for key in places))


def _near_side(groups: Sequence[Group], wanted: Sequence[int], held: Mapping[str, int]) -> list[int]:
    """Return the groups that a least cut leaves unfed, by shortest augmenting ways (Edmonds and Karp)."""
    fed: dict[str, dict[int, int]] = {key: {} for key in held}
    free = dict(held)
    near: set[int] = set()
    for index in range(len(groups)):
        rest = wanted[index]
        while rest:
            came = _way(groups, fed, free, index)
            end = next((key for key in came if free[key]), None)
            if end is None:
                near |= {index, *(other for key in came for other in fed[key])}
                break
            steps: list[tuple[str, int, str | None]] = []
            at: str | None = end
            while at is not None:
                by, before = came[at]
                steps.append((at, by, before))
                at = before
            amount = min(rest, free[end], *(fed[before][by] for _, by, before in steps if before is not None))
            free[end] -= amount
            rest -= amount
            for place, by, before in steps:
                fed[place][by] = fed[place].get(by, 0) + amount
                if before is not None:
                    fed[before][by] -= amount
                    if not fed[before][by]:
                        del fed[before][by]
    return sorted(near)


def _way(
    groups: Sequence[Group], fed: Mapping[str, Mapping[int, int]], free: Mapping[str, int], start: int
) -> dict[str, tuple[int, str | None]]:
    """Return each cupboard that can be reached: which group comes there, and from which cupboard it is moved."""
    came: dict[str, tuple[int, str | None]] = dict.fromkeys(groups[start].reach, (start, None))
    waiting = deque(came)
    while waiting:
        place = waiting.popleft()
        if free[place]:
            return {**came}
        for index in fed[place]:
            for other in groups[index].reach:
                if other not in came:
                    came[other] = (index, place)
                    waiting.append(other)
    return came
