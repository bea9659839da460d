"""Settings tables that wait for somebody to say what their columns tell: kept for an hour, for whoever gave them."""

import secrets
import tempfile
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Final

KEPT_FOR: Final = timedelta(hours=1)
KEPT_COUNT: Final = 3
"""So many of one person are kept; a fourth takes the place of the oldest."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HeldTable:
    """A settings table as it was given: under which name its mapping is kept, from which switch it is, when seen."""

    id: str
    by: str
    file_name: str
    content: bytes
    mapping: str
    switch: str
    seen_at: datetime
    given_at: datetime


class Tables:
    """The held tables of one book."""

    def __init__(self, now: Callable[[], datetime]) -> None:
        self._now = now
        self._held: dict[str, HeldTable] = {}
        self._lock = threading.Lock()

    def hold(
        self, by: str, *, file_name: str, content: bytes, mapping: str, switch: str, seen_at: datetime | None
    ) -> HeldTable:
        """Hold a table; where nobody says when it was seen, it was seen now."""
        now = self._now()
        held = HeldTable(
            id=secrets.token_urlsafe(12),
            by=by,
            file_name=PurePosixPath(PureWindowsPath(file_name).name).name or "table.csv",
            content=content,
            mapping=mapping,
            switch=switch,
            seen_at=seen_at or now,
            given_at=now,
        )
        with self._lock:
            self._forget()
            own = [one for one in self._held.values() if one.by == by]
            for old in own[: max(0, len(own) - KEPT_COUNT + 1)]:
                del self._held[old.id]
            self._held[held.id] = held
        return held

    def find(self, ident: str, by: str) -> HeldTable | None:
        """Return what somebody gave, or None where it is no more, or another's."""
        with self._lock:
            self._forget()
            held = self._held.get(ident)
        return held if held is not None and held.by == by else None

    def drop(self, ident: str) -> None:
        """Throw one away."""
        with self._lock:
            self._held.pop(ident, None)

    def _forget(self) -> None:
        ended = self._now() - KEPT_FOR
        for ident in [ident for ident, one in self._held.items() if one.given_at < ended]:
            del self._held[ident]


@contextmanager
def as_file(held: HeldTable) -> Iterator[Path]:
    """Give a held table as a file, under the name it came with."""
    with tempfile.TemporaryDirectory(prefix="doorwright-") as made:
        path = Path(made) / held.file_name
        path.write_bytes(held.content)
        yield path
