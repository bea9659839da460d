"""One clock for all that happens in the rehearsed building, and chance for each component out of one seed."""

from collections.abc import Callable
from hashlib import sha256
from heapq import heappop, heappush
from itertools import count
from random import Random
from typing import Protocol, TypeAlias

Act: TypeAlias = Callable[[], None]


class Time(Protocol):
    """What an actor needs of a world: the moment, being called at another, and chance."""

    @property
    def now_s(self) -> float:
        """The moment, on a clock that never goes back."""

    def at(self, when_s: float, act: Act) -> None:
        """Arrange that something happens; what lies in the past happens next."""

    def chance(self, component: str) -> Random:
        """Return the chance of one component."""


class World:
    """Virtual time: what is due happens in order, at once, and nobody waits for it.

    Of things due at the same moment that which was arranged first happens first, so a rehearsal is the same each time.
    """

    def __init__(self, *, seed: int = 0) -> None:
        """Begin at second 0; ``seed`` is where all chance comes from."""
        self.now_s = 0.0
        self._seed = seed
        self._due: list[tuple[float, int, Act]] = []
        self._ordinals = count()

    def chance(self, component: str) -> Random:
        """Return the chance of one component: the same for the same seed, whatever others draw."""
        return Random(sha256(f"{self._seed}/{component}".encode()).digest())  # noqa: S311  (a rehearsal, no secret)

    def at(self, when_s: float, act: Act) -> None:
        """Arrange that something happens; what lies in the past happens next."""
        heappush(self._due, (max(when_s, self.now_s), next(self._ordinals), act))

    def run_until(self, until_s: float, *, done: Callable[[], bool] = lambda: False) -> bool:
        """Let happen what is due until a moment, or until ``done``; return whether that was so.

        The clock then shows the moment, or when it was done.
        """
        while not done():
            if not self._due or self._due[0][0] > until_s:
                self.now_s = max(self.now_s, until_s)
                return False
            self.now_s, _, act = heappop(self._due)
            act()
        return True
