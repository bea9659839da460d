"""Who comes next to each entrance: first tries in order of time, and those who come back."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from doorwright.day.chance import Times

Index = NDArray[np.intp]

_ROOM_AT_FIRST: Final = 2


class Lines:
    """The line before every entrance of every day.

    First tries are known beforehand and lie sorted; a pointer runs along them. Who comes back stands in a few places
    beside, which are doubled when they do not suffice. ``key`` is the number of the entrance within its day, plus the
    day times the number of entrances.
    """

    __slots__ = ("_again_s", "_again_try", "_at_s", "_first_s", "_soonest_s", "_spot", "_try")

    def __init__(self, at_s: Times, entrance: NDArray[np.int32], entrances_count: int) -> None:
        """Sort the visitors into lines.

        Args:
            at_s: when each comes, infinite for nobody; visitors of a day in order of time. Shape: (visitors, days).
            entrance: where. Same shape.
            entrances_count: entrances.
        """
        days = at_s.shape[1]
        keys = days * entrances_count
        come = np.flatnonzero(at_s.ravel() < np.inf)
        key = (entrance + np.arange(days, dtype=np.int32) * entrances_count).ravel()[come]
        # the stable sort leaves each line in order of time
        order = np.argsort(key.astype(np.uint16) if keys <= 1 << 16 else key, kind="stable")
        counts = np.bincount(key, minlength=keys)
        # after each line stands one who never comes
        self._spot = np.cumsum(counts) - counts + np.arange(keys)
        place = np.arange(come.size) + key[order]
        self._at_s = np.full(come.size + keys, np.inf)
        self._try = np.zeros(come.size + keys, dtype=np.intp)
        self._try[place] = come[order]
        self._at_s[place] = at_s.ravel()[come[order]]
        self._first_s = self._at_s[self._spot]
        self._again_s = np.full((keys, _ROOM_AT_FIRST), np.inf)
        self._again_try = np.zeros((keys, _ROOM_AT_FIRST), dtype=np.intp)
        self._soonest_s = np.full(keys, np.inf)

    def next_s(self, key: Index) -> Times:
        """Return when the next visitor comes or has come to each line; infinite where nobody does."""
        soonest: Times = np.minimum(self._first_s[key], self._soonest_s[key])
        return soonest

    def take(self, key: Index) -> tuple[Index, Times]:
        """Take the first visitor from each line; return the tries and when they came."""
        spot = self._spot[key]
        first_s, again_s = self._first_s[key], self._soonest_s[key]
        tries = self._try[spot]
        comes_back = again_s < first_s
        spot += ~comes_back
        self._spot[key] = spot
        self._first_s[key] = self._at_s[spot]
        some = np.flatnonzero(comes_back)
        if some.size:
            of = key[some]
            place = self._again_s[of].argmin(axis=1)
            tries[some] = self._again_try[of, place]
            self._again_s[of, place] = np.inf
            self._soonest_s[of] = self._again_s[of].min(axis=1)
        return tries, np.minimum(first_s, again_s)

    def put_back(self, key: Index, at_s: Times, tries: Index) -> None:
        """Let visitors come back to their lines, one a line at most."""
        place = self._again_s[key].argmax(axis=1)  # an empty place is infinite
        if (self._again_s[key, place] < np.inf).any():
            self._again_s = np.concatenate([self._again_s, np.full_like(self._again_s, np.inf)], axis=1)
            self._again_try = np.concatenate([self._again_try, np.zeros_like(self._again_try)], axis=1)
            place = self._again_s[key].argmax(axis=1)
        self._again_s[key, place] = at_s
        self._again_try[key, place] = tries
        self._soonest_s[key] = np.minimum(self._soonest_s[key], at_s)
