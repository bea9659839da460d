"""The way on: the steps through a book, and the one that comes next."""

from dataclasses import dataclass
from typing import Final

from doorwright.app.do_work import tally
from doorwright.app.way_on import Step, way_on
from doorwright.web.answers import Answer, Page
from doorwright.web.asking import Ask, get
from doorwright.web.opened import OpenBook
from doorwright.web.showing import book_url

_PAGES: Final = {
    Step.HOMES: ("tables", "To the tables"),
    Step.VAULT: ("secrets", "Set the passphrase"),
    Step.PLAN: ("plan", "To the plan"),
    Step.CHECK: ("check", "See the findings"),
    Step.PAPERS: ("papers", "To the papers"),
    Step.WORK: ("run-sheet", "To the run sheet"),
    Step.HANDOVER: ("signatures", "To the signatures"),
}
"""The page of each step, and what leads there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StepLine:
    """A step, where its page is and what leads there, and how it stands."""

    name: str
    to: str
    lead: str
    is_done: bool
    is_next: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class OnwardView:
    """The steps in order, and why the next one is next."""

    steps: tuple[StepLine, ...]
    why: str


def page(ask: Ask) -> Answer:
    """Show the way on."""
    return Page(template="building/onward.html", title="The way on", view=onward_of(ask.book), part="onward")


def onward_of(book: OpenBook) -> OnwardView:
    """Return the way on in an open book."""
    head, walk = book.now()
    judged = book.judged()
    way = way_on(
        book.book,
        walk,
        head.number,
        judged.assessment if judged is not None else None,
        lambda: tally(book.on_site.sheet(book.book, head.number, walk).lines),
    )
    steps = tuple(
        StepLine(name=step, to=book_url(book.name, to), lead=lead, is_done=way.is_done(step), is_next=step is way.next)
        for step, (to, lead) in _PAGES.items()
    )
    return OnwardView(steps=steps, why=way.why)


ROUTES: Final = (*get("/books/{book}/onward", page),)
