"""Take a workbook in: as a new book, or into a book that is there."""

from dataclasses import dataclass
from pathlib import Path

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.model.change import diff
from doorwright.model.site import PARTS, Site
from doorwright.store.book import Book
from doorwright.store.record import Tally, tally
from doorwright.store.workbook import Reading, Remark, read_workbook


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenIn:
    """What came of a workbook: the revision that now stands, what changed, and what was changed on reading."""

    book: Path
    revision: int
    counts: dict[str, int]
    tallies: tuple[Tally, ...]
    remarks: tuple[Remark, ...]


def new_book(book_path: Path, workbook: Path, means: Means) -> TakenIn:
    """Make a book from a workbook.

    Raises:
        Refused: the workbook has mistakes (all are listed), or the book is there already; nothing is written.
    """
    if book_path.exists():
        message = f"{book_path} is there already"
        raise Refused(message, remedy=f"To take the workbook into it: doorwright import {book_path} {workbook}")
    means.progress(f"reading {workbook.name}")
    reading = _read(workbook, None, means)
    means.progress("saving")
    message = f"new from {workbook.name}"
    with Book.create(book_path, reading.site, by=means.who, at=means.now(), message=message) as book:
        return _taken_in(book_path, book.head().number, Site(name=""), reading)


def import_workbook(book_path: Path, workbook: Path, means: Means, *, remove_missing: bool = False) -> TakenIn:
    """Take the changes of a workbook into a book; blank cells and absent rows change nothing.

    Raises:
        Refused: the workbook has mistakes, or somebody saved in between; nothing is changed.
    """
    with Book.open(book_path) as book:
        parent = book.head().number
        before = book.site(parent)
        means.progress(f"reading {workbook.name}")
        reading = _read(workbook, before, means, remove_missing=remove_missing)
        means.progress("saving")
        head = book.save(
            reading.site, parent=parent, by=means.who, at=means.now(), message=f"import of {workbook.name}"
        )
        return _taken_in(book_path, head.number, before, reading)


def _read(workbook: Path, before: Site | None, means: Means, *, remove_missing: bool = False) -> Reading:
    reading = read_workbook(
        workbook, before=before, profiles=means.profiles(), new_id=means.new_id, remove_missing=remove_missing
    )
    if reading.mistakes:
        count = len(reading.mistakes)
        raise Refused(
            f"{workbook.name} has {count} {'mistake' if count == 1 else 'mistakes'}; nothing was saved",
            remedy="Correct them in the workbook and give the command again.",
            mistakes=reading.mistakes,
        )
    return reading


def _taken_in(book: Path, revision: int, before: Site, reading: Reading) -> TakenIn:
    site = reading.site
    return TakenIn(
        book=book,
        revision=revision,
        counts={kind.KIND: len(site.table(kind)) for kind in PARTS if site.table(kind)},
        tallies=tally(diff(before, site)),
        remarks=reading.remarks,
    )
