"""Claim: time grows with the number of dwellings to a power of at most 1.1."""

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from bench.claim import ROUND_TRIP, Costs, Figure
from bench.whole import STEPS

NAME: Final = "growth of time with size, as an exponent"
GOAL_RATIO: Final = 1.1
FAIR_FROM_COUNT: Final = 1_000
"""Below this size, what a process does once anyway hides what grows; no goal is set there."""


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:
    """Yield the exponent between each size and the next: log of the ratio of times over log of the ratio of sizes."""
    for small, large in pairwise(sizes):
        for step in STEPS:
            ratio = costs[step, large].busy_s / costs[step, small].busy_s
            exponent = math.log(ratio) / math.log(large / small)
            goal = GOAL_RATIO if small >= FAIR_FROM_COUNT and step != ROUND_TRIP else None
            yield Figure(NAME, f"{step.strip('_').replace('_', ' ')}, {small} to {large}", exponent, goal)
