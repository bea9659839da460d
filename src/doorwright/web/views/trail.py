"""The trail: who did what in a book beside saving revisions."""

from dataclasses import dataclass
from typing import Final

from doorwright.kernel.trail import Trace
from doorwright.web.answers import Answer, Page
from doorwright.web.asking import Ask, get
from doorwright.web.paging import Piece, piece, start_of


@dataclass(frozen=True, slots=True, kw_only=True)
class TrailView:
    """What was noted, the latest first."""

    traces: Piece[Trace]


def page(ask: Ask) -> Answer:
    """Show the trail."""
    noted = tuple(reversed(ask.book.book.trail()))
    return Page(template="history/trail.html", title="Trail", view=TrailView(traces=piece(noted, start_of(ask))))


ROUTES: Final = (*get("/books/{book}/trail", page),)
