"""Call numbers that must not be issued: single numbers and ranges, as the user wrote them."""

import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

_WRITTEN: Final = re.compile(r"\s*([0-9]+)\s*(?:[-–]\s*([0-9]+)\s*)?", re.ASCII)


@dataclass(frozen=True, slots=True)
class Reserved:
    """One reserved number, or all from ``low`` to ``high``. ``text`` is how the user wrote it.

    Digits count as written: ``900-999`` holds 900 and 999, and neither 0900 nor 9000; ``8-12`` holds 8 and 12, and 08.
    """

    text: str
    low: str
    high: str

    def holds(self, number: str) -> bool:
        """Say whether a call number is reserved by this."""
        if not (number.isascii() and number.isdecimal() and len(self.low) <= len(number) <= len(self.high)):
            return False
        return int(self.low) <= int(number) <= int(self.high)


@lru_cache(maxsize=64)
def reserved_of(texts: tuple[str, ...]) -> tuple[Reserved, ...]:
    """Return what the texts reserve; those that cannot be read are left out (``unreadable`` names them)."""
    return tuple(one for text in texts if (one := _read(text)) is not None)


def unreadable(texts: tuple[str, ...]) -> tuple[str, ...]:
    """Return the texts that are neither a number nor a range from a lower number to a higher."""
    return tuple(text for text in texts if _read(text) is None)


def _read(text: str) -> Reserved | None:
    found = _WRITTEN.fullmatch(text)
    if found is None:
        return None
    low, high = found[1], found[2] or found[1]
    return Reserved(text.strip(), low, high) if int(low) <= int(high) and len(low) <= len(high) else None
