"""Claim: the touch list of one exchanged receiver takes at most 2 % of a full plan, from a walk that is warm."""

from collections.abc import Iterator, Sequence
from typing import Final

from bench.claim import Costs, Figure

NAME: Final = "touch list, per cent of a full plan"
STEPS: Final = ("touch_replacement",)
GOAL_PERCENT: Final = 2.0
GOAL_DWELLINGS_COUNT: Final = 10_000


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:
    """Yield the time of the touch list, with mending the walk, as a percentage of the full plan's."""
    for size in sizes:
        for step in STEPS:
            percent = 100 * costs[step, size].busy_s / costs["plan", size].busy_s
            goal = GOAL_PERCENT if size == GOAL_DWELLINGS_COUNT else None
            yield Figure(NAME, f"{step.replace('_', ' ')}, {size} dwellings", percent, goal)
