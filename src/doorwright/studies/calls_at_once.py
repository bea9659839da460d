"""The heaviest calls that call units can make at once."""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class AlikeCalled:
    """Dwellings or desks that the same call units can call, how many there are, and what a call to one weighs."""

    callers: tuple[str, ...]
    count: int
    weight: int


def heaviest_calls(called: Iterable[AlikeCalled]) -> list[int]:
    """Return the weights of the calls in the heaviest set in which each caller calls one, and each called has one.

    Sets of dwellings that can all be called at once form a matroid, so taking the heaviest first is best; whether one
    more can be called is a search for an augmenting path (Kuhn 1955, from memory). Where one of those alike cannot be
    called beside the calls so far, none of the rest can.
    """
    called = sorted(called, key=lambda alike: -alike.weight)
    callers_count = len({caller for alike in called for caller in alike.callers})
    busy: dict[str, AlikeCalled] = {}

    def place(one: AlikeCalled, tried: set[str]) -> bool:
        for caller in one.callers:
            if caller in tried:
                continue
            tried.add(caller)
            if caller not in busy or place(busy[caller], tried):
                busy[caller] = one
                return True
        return False

    weights: list[int] = []
    for alike in called:
        for _ in range(alike.count):
            if len(weights) == callers_count or not place(alike, set()):
                break
            weights.append(alike.weight)
    return weights
