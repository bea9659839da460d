"""Lists to read or copy: what the book holds and what follows from it, a table each."""

from dataclasses import dataclass
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.show import SUBJECTS, show
from doorwright.web.answers import Answer, Page
from doorwright.web.asking import Ask, get
from doorwright.web.paging import Piece, piece, start_of


@dataclass(frozen=True, slots=True, kw_only=True)
class ListView:
    """One list, a piece at a time, and the names of all."""

    what: str
    headings: tuple[str, ...]
    rows: Piece[tuple[str, ...]]
    all: tuple[str, ...]


def page(ask: Ask) -> Answer:
    """Show one list."""
    what = ask.path["what"]
    if what not in SUBJECTS:
        raise HTTPException(404, f"there is no list {what!r}; there are: {', '.join(SUBJECTS)}")
    shown = show(ask.book.path, what)
    view = ListView(what=what, headings=shown.headings, rows=piece(shown.rows, start_of(ask)), all=SUBJECTS)
    return Page(template="lists/list.html", title=shown.title, view=view)


ROUTES: Final = (*get("/books/{book}/lists/{what}", page),)
