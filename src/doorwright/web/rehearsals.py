"""The last rehearsals of a book: kept by the server until it stops, or newer ones come."""

import secrets
import threading
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from doorwright.app.conditions import Conditions
from doorwright.app.rehearse_book import Rehearsed
from doorwright.app.tell_rehearsal import CallLine

KEPT_COUNT: Final = 3
"""So many are kept of one book; of a tall building each takes some tens of megabytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptRehearsal:
    """A rehearsal, who asked for it, when, and under what; ``calls`` are all that were played, in words."""

    by: str
    at: datetime
    conditions: Conditions
    made: Rehearsed = field(repr=False)
    calls: tuple[CallLine, ...] = field(repr=False)


class Rehearsals:
    """Those of one book. Threads may share it."""

    def __init__(self) -> None:
        self._kept: dict[str, KeptRehearsal] = {}
        self._lock = threading.Lock()

    def keep(self, rehearsal: KeptRehearsal) -> str:
        """Keep one and return its key."""
        key = secrets.token_urlsafe(9)
        with self._lock:
            self._kept[key] = rehearsal
            while len(self._kept) > KEPT_COUNT:
                del self._kept[next(iter(self._kept))]
        return key

    def find(self, key: str) -> KeptRehearsal | None:
        """Return one, or None where it is kept no more."""
        return self._kept.get(key)

    def all(self) -> tuple[tuple[str, KeptRehearsal], ...]:
        """Return those that are kept with their keys, the newest first."""
        with self._lock:
            return tuple(reversed(self._kept.items()))
