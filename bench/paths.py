"""Claim: proving the call paths of 10 000 dwellings at 40 entrances takes at most 10 round trips of the document."""

from collections.abc import Iterator, Sequence
from typing import Final

from bench.claim import ROUND_TRIP, Costs, Figure

NAME: Final = "proof of the call paths, in round trips of the document"
STEPS: Final = ("prove_paths",)
GOAL_RATIO: Final = 10.0
GOAL_DWELLINGS_COUNT: Final = 10_000


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:
    """Yield the proof as a multiple of one round trip."""
    for size in sizes:
        ratio = costs["prove_paths", size].busy_s / costs[ROUND_TRIP, size].busy_s
        goal = GOAL_RATIO if size == GOAL_DWELLINGS_COUNT else None
        yield Figure(NAME, f"prove, {size} dwellings at 40 entrances", ratio, goal)
