"""The clock of the event loop, as actors need a clock, and chance that nobody foresees."""

import asyncio
from collections.abc import Callable
from random import Random, SystemRandom


class LoopTime:
    """Real time, counted in seconds from the moment at which it was made."""

    def __init__(self) -> None:
        """Begin now."""
        self._loop = asyncio.get_running_loop()
        self._begun_s = self._loop.time()

    @property
    def now_s(self) -> float:
        """The moment."""
        return self._loop.time() - self._begun_s

    def at(self, when_s: float, act: Callable[[], None]) -> None:
        """Arrange that something happens; what lies in the past happens next."""
        self._loop.call_at(self._begun_s + when_s, act)

    def chance(self, component: str) -> Random:
        """Return the chance of one component.

        No seed: a real peer that still knows a Call-ID or branch of the last rehearsal would take the same one for a
        copy (RFC 3261 §8.1.1.4, §8.1.1.7).
        """
        del component
        return SystemRandom()
