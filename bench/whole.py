"""Claim: to plan and check a site of 10 000 dwellings takes no longer than 20 round trips of its document."""

from collections.abc import Iterator, Sequence
from typing import Final

from bench.claim import ROUND_TRIP, Costs, Figure

NAME: Final = "whole site, in round trips of its document"
STEPS: Final = ("import_", "plan", "check", "save", ROUND_TRIP)
GOAL_RATIO: Final = 20.0
GOAL_DWELLINGS_COUNT: Final = 10_000


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:
    """Yield each step as a multiple of one round trip, and plan and check together against the goal."""
    for size in sizes:
        yardstick_s = costs[ROUND_TRIP, size].busy_s
        for step in STEPS[:-1]:
            yield Figure(NAME, f"{step.strip('_')}, {size} dwellings", costs[step, size].busy_s / yardstick_s)
        both_s = costs["plan", size].busy_s + costs["check", size].busy_s
        goal = GOAL_RATIO if size == GOAL_DWELLINGS_COUNT else None
        yield Figure(NAME, f"plan + check, {size} dwellings", both_s / yardstick_s, goal)
