"""Positions that serve one caller each, in order of arrival, played for many days side by side."""

import numpy as np
from numpy.typing import NDArray

from doorwright.day.chance import Floats, Times


class Positions:
    """The positions of every day: when each is free again. All days move together, each on its own clock.

    Callers of a day must come in order of time. Then the caller's wait is known at once: until the first position is
    free (Kiefer and Wolfowitz, On the theory of queues with many servers, 1955; from memory). A caller who would have
    to wait longer than their patience leaves, and no position ever notices: so one loop serves loss (no patience),
    delay (endless patience) and everything between.
    """

    __slots__ = ("_free_s",)

    def __init__(self, days_count: int, positions_count: int) -> None:
        if positions_count < 1:
            raise ValueError(f"there must be a position, not {positions_count}")
        # one row a position: the search for the first free one then runs along whole rows
        self._free_s = np.zeros((positions_count, days_count))

    def admit(self, at_s: Times, hold_s: Times | Floats, patience_s: Times | Floats) -> tuple[Times, NDArray[np.bool_]]:
        """Let one caller come on every day; return how long each would wait, and who is served."""
        position = self._free_s.argmin(axis=0) if len(self._free_s) > 1 else 0
        return self._admit(position, np.arange(at_s.size), at_s, hold_s, patience_s)

    def admit_on(
        self, days: NDArray[np.intp], at_s: Times, hold_s: Times | Floats, patience_s: Times | Floats
    ) -> tuple[Times, NDArray[np.bool_]]:
        """Let one caller come on each of some days."""
        position = self._free_s[:, days].argmin(axis=0) if len(self._free_s) > 1 else 0
        return self._admit(position, days, at_s, hold_s, patience_s)

    def _admit(
        self,
        position: NDArray[np.intp] | int,
        days: NDArray[np.intp],
        at_s: Times,
        hold_s: Times | Floats,
        patience_s: Times | Floats,
    ) -> tuple[Times, NDArray[np.bool_]]:
        free_s = self._free_s[position, days]
        begin_s = np.maximum(free_s, at_s)
        wait_s = begin_s - at_s
        served = wait_s <= patience_s
        self._free_s[position, days] = np.where(served, begin_s + hold_s, free_s)
        return wait_s, served
