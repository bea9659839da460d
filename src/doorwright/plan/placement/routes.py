"""How long a cable is: from a unit to the riser of its core, up or down, across where cables may pass, and out again.

Across, cables follow the building: the distance of two risers is counted along its two directions, not straight.
Lengths are worked out in whole centimetres, so that sums are exact and the same on any machine.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import combinations, pairwise
from typing import Final, TypeAlias

_Node: TypeAlias = tuple[str, int]
"""A core and a height in centimetres."""

CM: Final = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Spot:
    """A point that cable reaches: on a level of a core, ``run_m`` from the riser."""

    core: str
    level: str
    run_m: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """A level on which cables may pass between cores; no ``cores`` means between all of them."""

    level: str
    cores: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True, kw_only=True)
class Routes:
    """The ways for cable.

    ``heights_m`` of each level's trays above a common datum, ``risers_m`` where each core's riser stands in plan.
    ``slack_m`` is added to every run, both ends together. ``link_max_m`` is the most for a copper link: 90 m in
    practice (permanent link). ``units_cross`` says whether units may be fed from another core's cupboard.
    """

    heights_m: Mapping[str, float]
    risers_m: Mapping[str, tuple[float, float]]
    crossings: tuple[Crossing, ...] = ()
    slack_m: float = 0.0
    link_max_m: float = 90.0
    units_cross: bool = True


def centimetres(length_m: float) -> int:
    """Return metres as whole centimetres."""
    return round(length_m * CM)


class Measure:
    """Lengths along the routes, each way looked for once."""

    def __init__(self, routes: Routes) -> None:
        self._routes = routes
        self.limit_cm = centimetres(routes.link_max_m)
        self.slack_cm = centimetres(routes.slack_m)
        self._heights_cm = {level: centimetres(height_m) for level, height_m in routes.heights_m.items()}
        self._ways: dict[_Node, list[tuple[_Node, int]]] = defaultdict(list)
        self._found: dict[_Node, dict[_Node, int]] = {}
        self._lay()

    def _lay(self) -> None:
        heights = sorted(set(self._heights_cm.values()))
        cores = self._routes.risers_m
        for core in cores:
            for low, high in pairwise(heights):
                self._join((core, low), (core, high), high - low)
        for crossing in self._routes.crossings:
            height = self._heights_cm[crossing.level]
            for one, other in combinations(sorted(crossing.cores or cores), 2):
                apart_cm = sum(
                    abs(centimetres(a) - centimetres(b)) for a, b in zip(cores[one], cores[other], strict=True)
                )
                self._join((one, height), (other, height), apart_cm)

    def _join(self, one: _Node, other: _Node, length_cm: int) -> None:
        self._ways[one].append((other, length_cm))
        self._ways[other].append((one, length_cm))

    def risers_cm(self, start: Spot, end: Spot) -> int | None:
        """Return the length from riser to riser, without the runs at the ends and without slack; None for no way."""
        begin = (start.core, self._heights_cm[start.level])
        if begin not in self._found:
            self._found[begin] = self._search(begin)
        return self._found[begin].get((end.core, self._heights_cm[end.level]))

    def run_cm(self, start: Spot, end: Spot) -> int | None:
        """Return the length of a cable between two points, slack included; None where there is no way."""
        between = self.risers_cm(start, end)
        if between is None:
            return None
        return between + centimetres(start.run_m) + centimetres(end.run_m) + self.slack_cm

    def _search(self, begin: _Node) -> dict[_Node, int]:
        """Dijkstra's shortest ways from one point of a riser."""
        lengths: dict[_Node, int] = {}
        heap: list[tuple[int, _Node]] = [(0, begin)]
        while heap:
            length_cm, node = heappop(heap)
            if node in lengths:
                continue
            lengths[node] = length_cm
            for other, step_cm in self._ways[node]:
                if other not in lengths:
                    heappush(heap, (length_cm + step_cm, other))
        return lengths
