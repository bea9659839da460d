"""Find: one hit is gone to, several are listed with where they are."""

from dataclasses import dataclass
from typing import Final

from doorwright.app.seek import Hit, seek
from doorwright.web.answers import Answer, Go, Page, Said
from doorwright.web.asking import Ask, get
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.showing import book_url


@dataclass(frozen=True, slots=True, kw_only=True)
class SeekView:
    """What was sought and found. ``exact`` says that each hit is exactly what was sought."""

    sought: str
    exact: bool
    hits: Piece[Hit]


def page(ask: Ask) -> Answer:
    """Find parts, and go to the one where there is one."""
    view = _view(ask)
    if view.hits.total_count == 1 and not ask.chosen("wide"):
        return Go(book_url(ask.book.name, "parts", view.hits.rows[0].id))
    return Page(template="building/seek.html", title=f"Find {view.sought}" if view.sought else "Find", view=view)


def hits(ask: Ask) -> Answer:
    """Tell what was found, also where it is one."""
    return Said(_view(ask))


def _view(ask: Ask) -> SeekView:
    _, walk = ask.book.now()
    found = seek(walk, ask.text("for"), wide=ask.chosen("wide"))
    return SeekView(sought=found.text, exact=found.exact, hits=piece(found.hits, start_of(ask)))


ROUTES: Final = (
    *get("/books/{book}/seek.json", hits, twin=False),
    *get("/books/{book}/seek", page, twin=False),
)
