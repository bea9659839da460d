"""Workbooks that somebody gave and that are not in a book yet: kept for an hour, with the corrections made to them."""

import secrets
import tempfile
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path, PurePosixPath, PureWindowsPath
from typing import Final, TypeAlias

from doorwright.app.take_in import Proposed
from doorwright.kernel.errors import Refused
from doorwright.store.workbook.grid import Grid, cell_text, read_grids

KEPT_FOR: Final = timedelta(hours=1)
KEPT_COUNT: Final = 3
"""So many of one person are kept; a fourth takes the place of the oldest."""
LONG_CELLS_COUNT: Final = 20_000
"""From this many cells on, reading takes more than a moment (about a second on a slow machine)."""

CellAt: TypeAlias = tuple[int, int, int]
"""A cell: the order of its sheet, its row and its column, all counted from 0."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Intake:
    """A workbook on its way into a book.

    ``book`` is the one that it is to be taken into, None where it makes a new one; ``name`` what the new one is to be
    called. ``sheets`` are as corrected, ``given`` as they came. ``proposed`` is what it gives as it stands, None before
    it was read.
    """

    id: str
    by: str
    book: str | None
    name: str
    workbook: str
    sheets: tuple[Grid, ...]
    given: tuple[Grid, ...]
    remove_missing: bool
    begun_at: datetime
    corrected_count: int = 0
    proposed: Proposed | None = None

    @property
    def is_long(self) -> bool:
        """Whether reading it is work for a job."""
        return sum(len(row) for sheet in self.sheets for row in sheet.rows) >= LONG_CELLS_COUNT


class Intakes:
    """The workbooks of one server that are on their way into a book, each known to the person alone who gave it."""

    def __init__(self, now: Callable[[], datetime]) -> None:
        self._now = now
        self._intakes: dict[str, Intake] = {}
        self._lock = threading.Lock()

    def begin(
        self, by: str, *, workbook: str, sheets: Sequence[Grid], book: str | None, name: str, remove_missing: bool
    ) -> Intake:
        """Keep a workbook that somebody gave."""
        intake = Intake(
            id=secrets.token_urlsafe(12),
            by=by,
            book=book,
            name=name,
            workbook=workbook,
            sheets=tuple(sheets),
            given=tuple(sheets),
            remove_missing=remove_missing,
            begun_at=self._now(),
        )
        with self._lock:
            self._forget()
            own = sorted((one for one in self._intakes.values() if one.by == by), key=lambda one: one.begun_at)
            for old in own[: max(0, len(own) - KEPT_COUNT + 1)]:
                del self._intakes[old.id]
            self._intakes[intake.id] = intake
        return intake

    def find(self, ident: str, by: str) -> Intake | None:
        """Return what somebody gave, or None where it is no more, or another's."""
        with self._lock:
            self._forget()
            intake = self._intakes.get(ident)
        return intake if intake is not None and intake.by == by else None

    def keep(self, intake: Intake) -> Intake:
        """Keep an intake as it now stands, unless it was thrown away meanwhile."""
        with self._lock:
            if intake.id in self._intakes:
                self._intakes[intake.id] = intake
        return intake

    def drop(self, ident: str) -> None:
        """Throw one away."""
        with self._lock:
            self._intakes.pop(ident, None)

    def _forget(self) -> None:
        ended = self._now() - KEPT_FOR
        for ident in [ident for ident, one in self._intakes.items() if one.begun_at < ended]:
            del self._intakes[ident]


def corrected(intake: Intake, texts: Mapping[CellAt, str]) -> Intake:
    """Return an intake with other texts in some cells, still to be read. Cells that say the same stay as they are."""
    other = {
        at: text
        for at, text in texts.items()
        if 0 <= at[0] < len(intake.sheets) and text != cell_text(intake.sheets[at[0]].cell(at[1], at[2])).strip()
    }
    if not other:
        return intake
    changed = {order for order, _, _ in other}
    sheets = tuple(sheet.copied() if order in changed else sheet for order, sheet in enumerate(intake.sheets))
    for (order, row, column), text in other.items():
        sheets[order].put(row, column, text)
    return replace(intake, sheets=sheets, corrected_count=intake.corrected_count + len(other), proposed=None)


def sheets_in(files: Sequence[tuple[str, bytes]]) -> tuple[str, list[Grid]]:
    """Return the name of a workbook that came as one file, or as text files with a sheet each, and its sheets.

    Args:
        files: the names that the browser gave, and what is in them.

    Raises:
        Refused: there is no file, there are several that are not all text, or what is there cannot be read.
    """
    if not files:
        raise Refused("no workbook was given", remedy="Choose a file, or drop one on the page.")
    with tempfile.TemporaryDirectory(prefix="doorwright-") as made:
        folder = Path(made)
        for name, content in files:
            (folder / _plain(name)).write_bytes(content)
        if len(files) == 1:
            name = _plain(files[0][0])
            return name, read_grids(folder / name)
        others = [name for name, _ in files if not name.lower().endswith((".csv", ".tsv", ".txt"))]
        if others:
            raise Refused(
                f"{len(files)} files were given, and {others[0]} is a workbook of its own",
                remedy="Give one workbook at a time; only .csv files, each a sheet, go together.",
            )
        return f"{len(files)} text files", read_grids(folder)


def _plain(name: str) -> str:
    """Return a file's own name, without the folders that some browsers send along."""
    plain = "".join(letter for letter in PurePosixPath(PureWindowsPath(name).name).name if letter.isprintable())
    return plain if plain.strip(". ") else "workbook"
