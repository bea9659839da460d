"""Take a workbook in: as a new book, or into a book that is there."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.model.change import diff
from doorwright.model.site import PARTS, Site
from doorwright.store.book import Book
from doorwright.store.record import Tally, tally
from doorwright.store.workbook import Reading, Remark, read_sheets
from doorwright.store.workbook.grid import Grid, read_grids


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What came of a workbook: the revision that now stands, what changed, and what was changed on reading."""

    book: Path
    revision: int
    counts: dict[str, int]
    tallies: tuple[Tally, ...]
    remarks: tuple[Remark, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposed:
    """What a workbook would give, before anything is saved.

    ``parent`` is the revision that it would follow and ``before`` the site of that; None and an empty site for a new
    book.
    """

    workbook: str
    before: Site
    parent: int | None
    reading: Reading


def new_book(book_path: Path, workbook: Path, means: Means) -> TakenIn:
    """Make a book from a workbook.

    Raises:
        Refused: the workbook has mistakes (all are listed), or the book is there already; nothing is written.
    """
    if book_path.exists():
        message = f"{book_path} is there already"
        raise Refused(message, remedy=f"To take the workbook into it: doorwright import {book_path} {workbook}")
    means.progress(f"reading {workbook.name}")
    return save_new(propose(read_grids(workbook), means, workbook=workbook.name), book_path, means)


def import_workbook(book_path: Path, workbook: Path, means: Means, *, remove_missing: bool = False) -> TakenIn:
    """Take the changes of a workbook into a book; blank cells and absent rows change nothing.

    Raises:
        Refused: the workbook has mistakes, or somebody saved in between; nothing is changed.
    """
    with Book.open(book_path) as book:
        means.progress(f"reading {workbook.name}")
        proposed = propose(
            read_grids(workbook), means, workbook=workbook.name, book=book, remove_missing=remove_missing
        )
        return replace(save_into(proposed, book, means), book=book_path)


def propose(
    sheets: Sequence[Grid], means: Means, *, workbook: str, book: Book | None = None, remove_missing: bool = False
) -> Proposed:
    """Read the sheets of a workbook as a new site, or into the newest revision of a book; nothing is saved.

    ``workbook`` is the name of its file.
    """
    parent = book.head().number if book is not None else None
    before = book.site(parent) if book is not None else None
    reading = read_sheets(
        sheets,
        name=Path(workbook).stem,
        before=before,
        profiles=means.profiles(),
        new_id=means.new_id,
        remove_missing=remove_missing,
    )
    return Proposed(workbook=workbook, before=before or Site(name=""), parent=parent, reading=reading)


def save_new(proposed: Proposed, book_path: Path, means: Means) -> TakenIn:
    """Make a book of what a workbook gives.

    Raises:
        Refused: the workbook has mistakes (all are listed), or the book is there already; nothing is written.
    """
    site = _sound(proposed)
    means.progress("saving")
    message = f"new from {proposed.workbook}"
    with Book.create(book_path, site, by=means.who, at=means.now(), message=message) as book:
        return _taken_in(book_path, book.head().number, proposed)


def save_into(proposed: Proposed, book: Book, means: Means) -> TakenIn:
    """Save what a workbook gives as the next revision of a book.

    Raises:
        Refused: the workbook has mistakes, or somebody saved in between; nothing is changed.
    """
    if proposed.parent is None:
        raise ValueError("this was read as a new book")
    site = _sound(proposed)
    means.progress("saving")
    message = f"import of {proposed.workbook}"
    head = book.save(site, parent=proposed.parent, by=means.who, at=means.now(), message=message)
    return _taken_in(book.path, head.number, proposed)


def counts_of(site: Site) -> dict[str, int]:
    """Return how many parts of each kind a site has, those kinds left out of which it has none."""
    return {kind.KIND: len(site.table(kind)) for kind in PARTS if site.table(kind)}


def _sound(proposed: Proposed) -> Site:
    mistakes = proposed.reading.mistakes
    if mistakes:
        raise Refused(
            f"{proposed.workbook} has {counted(len(mistakes), 'mistake')}; nothing was saved",
            remedy="Correct them in the workbook and give the command again.",
            mistakes=mistakes,
        )
    return proposed.reading.site


def _taken_in(book: Path, revision: int, proposed: Proposed) -> TakenIn:
    site = proposed.reading.site
    return TakenIn(
        book=book,
        revision=revision,
        counts=counts_of(site),
        tallies=tally(diff(proposed.before, site)),
        remarks=proposed.reading.remarks,
    )
