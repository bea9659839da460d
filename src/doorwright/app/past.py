"""What has happened to a book: its revisions, and what differs between two of them."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doorwright.model.change import SITE_KIND, Add, Change, Remove, Set, diff
from doorwright.model.naming import name_of, where_is
from doorwright.model.site import PART_BY_KIND
from doorwright.model.walk import Walk
from doorwright.store.book import Book
from doorwright.store.record import Revision


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """One thing that differs: the part, what of it, the value before and after; for whole parts, where they are."""

    kind: str
    part: str
    what: str
    before: str
    after: str


def history(book_path: Path) -> tuple[Revision, ...]:
    """Return all revisions, the oldest first."""
    with Book.open(book_path, read_only=True) as book:
        return book.revisions()


def compare(book_path: Path, earlier: int, later: int) -> tuple[Difference, ...]:
    """Return what differs between two revisions.

    Raises:
        Refused: the book has no such revision.
    """
    with Book.open(book_path, read_only=True) as book:
        before, after = Walk(book.site(earlier)), Walk(book.site(later))
    return tuple(_told(before, after, change) for change in diff(before.site, after.site))


def _told(before: Walk, after: Walk, change: Change) -> Difference:
    match change:
        case Add(part):
            return Difference(
                kind=part.KIND, part=name_of(after, part), what="added", before="", after=where_is(after, part)
            )
        case Remove(part):
            return Difference(
                kind=part.KIND, part=name_of(before, part), what="removed", before=where_is(before, part), after=""
            )
        case Set(kind, ident, field, old, new):
            owner = after.site.name if kind == SITE_KIND else name_of(after, after.get(PART_BY_KIND[kind], ident))
            return Difference(
                kind=kind,
                part=owner,
                what=field.replace("_", " "),
                before=_worded(before, old),
                after=_worded(after, new),
            )


def _worded(walk: Walk, value: Any) -> str:
    """Say a value in words: references by label, nothing as nothing."""
    if value is None:
        return ""
    if isinstance(value, tuple):
        return ", ".join(_worded(walk, item) for item in value)
    if isinstance(value, str):
        part = walk.part(value)
        return name_of(walk, part) if part else value
    return str(value)
