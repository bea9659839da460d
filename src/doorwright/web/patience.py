"""How long somebody who guesses wrong has to wait: longer with every wrong guess, and forgotten after a while."""

from dataclasses import dataclass
from typing import Final

FREE_COUNT: Final = 5
"""So many wrong guesses cost nothing: fingers slip."""
FIRST_WAIT_S: Final = 2.0
MOST_WAIT_S: Final = 900.0
FORGOTTEN_AFTER_S: Final = 3600.0
KEYS_MOST: Final = 10_000
"""So many names and addresses are remembered; the one silent longest is forgotten first."""


@dataclass(frozen=True, slots=True)
class _Tried:
    wrong_count: int
    last_s: float


class Patience:
    """Counts wrong guesses by key: a name, an address. Time is given, in seconds of any steady clock."""

    def __init__(self) -> None:
        self._tried: dict[str, _Tried] = {}

    def wait_s(self, key: str, *, at_s: float) -> float:
        """Return how long to wait before the next guess counts; 0 where it may be made now."""
        tried = self._tried.get(key)
        if tried is None or at_s - tried.last_s >= FORGOTTEN_AFTER_S:
            return 0.0
        excess = tried.wrong_count - FREE_COUNT
        if excess < 0:
            return 0.0
        doubled = FIRST_WAIT_S * 2.0 ** min(excess, 30)
        return max(0.0, tried.last_s + min(doubled, MOST_WAIT_S) - at_s)

    def wrong(self, key: str, *, at_s: float) -> None:
        """Note a wrong guess."""
        tried = self._tried.pop(key, None)
        fresh = tried is None or at_s - tried.last_s >= FORGOTTEN_AFTER_S
        self._tried[key] = _Tried(1 if fresh or tried is None else tried.wrong_count + 1, at_s)
        if len(self._tried) > KEYS_MOST:
            del self._tried[next(iter(self._tried))]

    def right(self, key: str) -> None:
        """Forget what was guessed wrong: the right one came."""
        self._tried.pop(key, None)
