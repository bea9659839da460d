"""How many requests one address may make: a bucket of them that fills again with time."""

from typing import Final

AT_ONCE: Final = 400
"""A page of drawings with its thumbnails, opened in several tabs."""
EACH_SECOND: Final = 40.0
_ADDRESSES_MOST: Final = 4096


class Flood:
    """Counts requests by address. Time is given, in seconds of any steady clock."""

    def __init__(self) -> None:
        self._left: dict[str, tuple[float, float]] = {}

    def lets_through(self, address: str, *, at_s: float) -> bool:
        """Take one request out of an address's bucket; say whether there was one."""
        left, seen_s = self._left.pop(address, (float(AT_ONCE), at_s))
        left = min(float(AT_ONCE), left + (at_s - seen_s) * EACH_SECOND)
        through = left >= 1.0
        self._left[address] = (left - 1.0 if through else left, at_s)
        if len(self._left) > _ADDRESSES_MOST:
            del self._left[next(iter(self._left))]
        return through
