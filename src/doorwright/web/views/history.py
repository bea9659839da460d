"""What has happened to a book: its revisions, what each changed, the work between two of them, and the way back."""

import tempfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.past import Difference, compare, touches_between
from doorwright.app.telling import Story
from doorwright.app.undo import undo
from doorwright.kernel.person import Role
from doorwright.store.record import Revision
from doorwright.web.answers import Answer, Download, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.showing import book_url
from doorwright.web.touches import TouchView, touch_view

PAGE_COUNT: Final = 100
DIFFERENCES_MOST: Final = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class RevisionView:
    """One revision, told shortly."""

    number: int
    made_at: datetime
    made_by: str
    message: str
    tallies: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class HistoryView:
    """Revisions, the newest first; ``older`` is the first that is not shown, or None."""

    newest: int
    revisions: tuple[RevisionView, ...]
    older: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class CompareView:
    """Two revisions beside one another: as stories, field by field, and as work."""

    earlier: RevisionView
    later: RevisionView
    newest: int
    stories: tuple[Story, ...]
    differences: tuple[Difference, ...]
    differences_count: int
    touch: TouchView


def page(ask: Ask) -> Answer:
    """Show the revisions."""
    revisions = ask.book.book.revisions()
    newest = revisions[-1].number
    first = ask.whole("from", newest) or newest
    shown = [one for one in reversed(revisions) if one.number <= first][:PAGE_COUNT]
    older = shown[-1].number - 1 if shown and shown[-1].number > 1 else None
    view = HistoryView(newest=newest, revisions=tuple(map(_revision, shown)), older=older)
    return Page(template="history/history.html", title="History", view=view)


def one(ask: Ask) -> Answer:
    """Show what a revision changed."""
    number = int(ask.path["number"])
    return _compared(ask, max(1, number - 1), number)


def two(ask: Ask) -> Answer:
    """Show two revisions beside one another."""
    newest = ask.book.now()[0].number
    earlier, later = ask.whole("earlier", max(1, newest - 1)) or 1, ask.whole("later", newest) or newest
    return _compared(ask, *sorted((earlier, later)))


def _compared(ask: Ask, earlier: int, later: int) -> Page:
    revisions = {one.number: one for one in ask.book.book.revisions()}
    for number in (later, earlier):
        if number not in revisions:
            raise HTTPException(404, f"the book has no revision {number}; its newest is {max(revisions)}")
    compared = compare(ask.book.path, earlier, later)
    touches = touches_between(ask.book.path, earlier, later, ask.means) if earlier != later else ()
    view = CompareView(
        earlier=_revision(revisions[earlier]),
        later=_revision(revisions[later]),
        newest=max(revisions),
        stories=compared.stories,
        differences=compared.differences[:DIFFERENCES_MOST],
        differences_count=len(compared.differences),
        touch=touch_view(touches),
    )
    return Page(template="history/compare.html", title=f"Revisions {earlier} and {later}", view=view)


def touch_paper(ask: Ask) -> Answer:
    """Give out the touch list between two revisions on paper."""
    newest = ask.book.now()[0].number
    earlier, later = ask.whole("earlier", max(1, newest - 1)) or 1, ask.whole("later", newest) or newest
    name = f"touch-list-{earlier}-{later}.pdf"
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / name
        touches_between(ask.book.path, earlier, later, ask.means, out)
        return Download(name=name, media_type="application/pdf", content=out.read_bytes())


def go_back(ask: Ask) -> Answer:
    """Save the site of an earlier revision as the newest."""
    undone = undo(ask.book.path, ask.means, to=ask.whole("to"))
    ask.book.changed()
    return Go(book_url(ask.book.name, "history", str(undone.revision)), f"Revision {undone.revision}: {undone.message}")


def _revision(revision: Revision) -> RevisionView:
    return RevisionView(
        number=revision.number,
        made_at=revision.made_at,
        made_by=revision.made_by,
        message=revision.message,
        tallies=tuple(map(str, revision.tallies)),
    )


ROUTES: Final = (
    *get("/books/{book}/history", page),
    *get("/books/{book}/history/compare", two),
    *get("/books/{book}/history/touch-list.pdf", touch_paper, needs=Role.WORK, twin=False),
    *post("/books/{book}/history/back", go_back, needs=Role.PLAN),
    *get("/books/{book}/history/{number:int}", one),
)
