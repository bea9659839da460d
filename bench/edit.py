"""Claim: to check again after one edit takes at most 5 % of a full check; an edit of a hub may take longer."""

from collections.abc import Iterator, Sequence
from typing import Final

from bench.claim import Costs, Figure

NAME: Final = "one edit checked again, per cent of a full check"
STEPS: Final = ("change_call_number", "change_address", "change_hub")
GOAL_PERCENT: Final = 5.0
FAIR_FROM_COUNT: Final = 1_000
"""In a small site everything hangs together: no goal is set there."""


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:
    """Yield the time of each kind of edit as a percentage of the full check's."""
    for size in sizes:
        for step in STEPS:
            percent = 100 * costs[step, size].busy_s / costs["check", size].busy_s
            goal = GOAL_PERCENT if size >= FAIR_FROM_COUNT and step != "change_hub" else None
            yield Figure(NAME, f"{step.replace('_', ' ')}, {size} dwellings", percent, goal)
