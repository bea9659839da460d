"""The books that a server shows: one, or all of a folder."""

import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.model.label import natural_key
from doorwright.web.bulletin import Bulletin
from doorwright.web.opened import OpenBook

SUFFIX: Final = ".book"
_NAME_MOST: Final = 80
_NEVER: Final = frozenset('<>:"/\\|?*')
"""Characters that a file name cannot have on one system or another."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """A book on the shelf: its name there, and its file."""

    name: str
    path: Path


class Shelf:
    """The books of one folder, or a single one of them; each is opened when it is first asked for."""

    def __init__(self, place: Path, means: Means, bulletin: Bulletin) -> None:
        """Make the shelf of a folder, or of one book in it: then only that one and those made here are shown.

        Raises:
            Refused: there is neither a folder nor a book at ``place``.
        """
        if not place.exists():
            raise Refused(f"{place} is not there", remedy="Name a book, or a folder for books.")
        self.folder = (place if place.is_dir() else place.parent).resolve()
        self._only = None if place.is_dir() else {place.name}
        self._means = means
        self._bulletin = bulletin
        self._open: dict[str, OpenBook] = {}
        self._lock = threading.Lock()

    def books(self) -> tuple[Standing, ...]:
        """Return the books in the order of their names."""
        found = (path for path in self.folder.iterdir() if path.is_file() and self._shows(path))
        ordered = sorted(found, key=lambda path: natural_key(path.name))
        return tuple(Standing(name=_name_of(path), path=path) for path in ordered)

    def _shows(self, path: Path) -> bool:
        return path.name in self._only if self._only is not None else path.suffix == SUFFIX

    def open(self, name: str) -> OpenBook:
        """Return the open book of a name.

        Raises:
            Refused: there is none of that name, or it cannot be opened.
            LookupError: the shelf has no such book.
        """
        path = next((one.path for one in self.books() if one.name == name), None)
        if path is None:
            raise LookupError(f"there is no book {name!r} here")
        with self._lock:
            if name not in self._open:
                self._open[name] = OpenBook(name, path, self._means, self._bulletin)
            return self._open[name]

    def new_path(self, name: str) -> Path:
        """Return where a new book of this name goes.

        Raises:
            Refused: the name cannot be a file's, or a book has it already.
        """
        plain = name.strip().removesuffix(SUFFIX)
        if (
            not plain
            or plain.startswith(".")
            or len(plain) > _NAME_MOST
            or _NEVER & set(plain)
            or not plain.isprintable()
        ):
            raise Refused(
                f"{name!r} cannot be the name of a book",
                remedy=f"Give up to {_NAME_MOST} letters, digits, spaces, dots or dashes; no slash, colon or quotes.",
            )
        path = self.folder / f"{plain}{SUFFIX}"
        if path.exists():
            raise Refused(f"there is a book {plain!r} already", remedy="Choose another name, or open that one.")
        return path

    def show(self, path: Path) -> str:
        """Have a book that was made here shown too, and return its name."""
        if self._only is not None:
            self._only.add(path.name)
        return _name_of(path)

    def close(self) -> None:
        """Let go of every book."""
        with self._lock:
            for book in self._open.values():
                book.close()
            self._open.clear()


def _name_of(path: Path) -> str:
    return path.stem if path.suffix == SUFFIX else path.name
