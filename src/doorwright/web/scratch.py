"""Papers that were made for download: kept in a folder of the server's own until it stops, or room is needed."""

import secrets
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Final

_FOLDERS_MOST: Final = 12
"""So many packs are kept; of a tall building each takes a few megabytes."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """Files made together from one revision of a book."""

    key: str
    book: str
    revision: int
    what: str
    folder: Path

    def files(self) -> tuple[tuple[str, int], ...]:
        """Return the name of each file below the folder, and its size in bytes."""
        found = sorted(path for path in self.folder.rglob("*") if path.is_file())
        return tuple((path.relative_to(self.folder).as_posix(), path.stat().st_size) for path in found)

    def file(self, name: str) -> Path | None:
        """Return where a file of that name is, or None: only what ``files`` tells is given out."""
        return self.folder / name if name in {known for known, _ in self.files()} else None


class Scratch:
    """Folders for papers. They go when the server stops."""

    def __init__(self) -> None:
        self._home = tempfile.TemporaryDirectory(prefix="doorwright-")
        self._made: dict[str, Made] = {}

    def new(self, book: str, revision: int, what: str) -> Made:
        """Return a new folder for what is made of a book's revision; the oldest goes where there are too many."""
        key = secrets.token_urlsafe(9)
        folder = Path(self._home.name) / key
        folder.mkdir()
        made = self._made[key] = Made(key=key, book=book, revision=revision, what=what, folder=folder)
        while len(self._made) > _FOLDERS_MOST:
            oldest = self._made.pop(next(iter(self._made)))
            shutil.rmtree(oldest.folder, ignore_errors=True)
        return made

    def find(self, book: str, key: str) -> Made | None:
        """Return what was made of a book under a key, or None."""
        made = self._made.get(key)
        return made if made is not None and made.book == book else None

    def of(self, book: str) -> tuple[Made, ...]:
        """Return all that was made of a book, the newest first."""
        return tuple(made for made in reversed(self._made.values()) if made.book == book)

    def close(self) -> None:
        """Remove everything."""
        self._home.cleanup()
