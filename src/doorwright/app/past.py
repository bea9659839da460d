"""What has happened to a book: its revisions, and what differs between two of them."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doorwright.app.means import Means
from doorwright.app.paper import edition_of, write_paper
from doorwright.app.telling import Story, told
from doorwright.kernel.errors import Refused
from doorwright.kernel.trail import Trace
from doorwright.model.change import SITE_KIND, Add, Change, Remove, Set, diff
from doorwright.model.naming import name_of, where_is
from doorwright.model.site import PART_BY_KIND
from doorwright.model.walk import Walk
from doorwright.plan.touch import Touch, touch_list
from doorwright.render.pdf.touch import touch_list_pdf
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """What differs between two revisions: field by field, and as a person would tell it."""

    differences: tuple[Difference, ...]
    stories: tuple[Story, ...]


def history(book_path: Path) -> tuple[Revision, ...]:
    """Return all revisions, the oldest first."""
    with Book.open(book_path, read_only=True) as book:
        return book.revisions()


def trail(book_path: Path) -> tuple[Trace, ...]:
    """Return who did what in a book beside saving revisions, the oldest first."""
    with Book.open(book_path, read_only=True) as book:
        return book.trail()


def compare(book_path: Path, earlier: int, later: int) -> Compared:
    """Return what differs between two revisions.

    Raises:
        Refused: the book has no such revision.
    """
    with Book.open(book_path, read_only=True) as book:
        before, after = Walk(book.site(earlier)), Walk(book.site(later))
    changes = diff(before.site, after.site)
    return Compared(
        differences=tuple(_difference(before, after, change) for change in changes),
        stories=told(before, after, changes),
    )


def touches_between(
    book_path: Path, earlier: int, later: int, means: Means, out: Path | None = None
) -> tuple[Touch, ...]:
    """Return the touch list between two revisions; with ``out`` write it as a PDF and note that in the book.

    Raises:
        Refused: the book has no such revision, nothing is to be touched, or the file cannot be written.
    """
    with Book.open(book_path, read_only=out is None) as book:
        before, after = Walk(book.site(earlier)), Walk(book.site(later))
        revision = next(one for one in book.revisions() if one.number == later)
        touches = touch_list(before, after, diff(before.site, after.site))
        if out is not None:
            if not touches:
                raise Refused(
                    f"no unit is to be touched between revisions {earlier} and {later}",
                    remedy="There is nothing to print.",
                )
            means.progress("setting the touch list")
            pdf = touch_list_pdf(after=after, touches=touches, since=earlier, reason="", edition=edition_of(revision))
            write_paper(book, out, pdf, revision=later, at=means.now())
    return touches


def _difference(before: Walk, after: Walk, change: Change) -> Difference:
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
                before=worded(before, old),
                after=worded(after, new),
            )


def worded(walk: Walk, value: Any) -> str:
    """Say a value in words: references by label, nothing as nothing."""
    if value is None:
        return ""
    if isinstance(value, tuple):
        return ", ".join(worded(walk, item) for item in value)
    if isinstance(value, str):
        part = walk.part(value)
        return name_of(walk, part) if part else value
    return str(value)
