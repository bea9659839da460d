"""The start: the books that are here, and the ways to a new one."""

from dataclasses import dataclass
from typing import Final

from doorwright.app.demo import PASSPHRASE, example_workbook, make_demo_book
from doorwright.app.means import Means
from doorwright.app.write_template import template
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.web.answers import Answer, Begun, Download, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.showing import book_url

_XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
_DEMO: Final = "demo"


@dataclass(frozen=True, slots=True, kw_only=True)
class BookLine:
    """A book on the shelf; ``problem`` says why it cannot be opened, where it cannot."""

    name: str
    site: str = ""
    revision: int | None = None
    saved_at: str = ""
    saved_by: str = ""
    dwellings_count: int = 0
    problem: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Start:
    """The books, and the folder they lie in."""

    folder: str
    books: tuple[BookLine, ...]


def page(ask: Ask) -> Answer:
    """Show the books."""
    lines = tuple(_line(ask, one.name) for one in ask.shelf.books())
    return Page(template="start/start.html", title="Books", view=Start(folder=str(ask.shelf.folder), books=lines))


def _line(ask: Ask, name: str) -> BookLine:
    try:
        head, walk = ask.shelf.open(name).now()
    except Refused as refused:
        return BookLine(name=name, problem=f"{refused.message}. {refused.remedy}")
    return BookLine(
        name=name,
        site=walk.site.name,
        revision=head.number,
        saved_at=f"{head.made_at:%Y-%m-%d %H:%M}",
        saved_by=head.made_by,
        dwellings_count=len(walk.site.dwellings),
    )


def empty_workbook(ask: Ask) -> Answer:
    """Give the template to fill in."""
    return Download(name="doorwright-template.xlsx", media_type=_XLSX, content=template(ask.means))


def make_demo(ask: Ask) -> Answer:
    """Make the demo's book, under a name that is free."""
    taken = {one.name for one in ask.shelf.books()}
    name = next(name for name in (_DEMO, *(f"{_DEMO} {i}" for i in range(2, len(taken) + 3))) if name not in taken)
    path = ask.shelf.new_path(name)

    def work(means: Means) -> Answer:
        make_demo_book(path, example_workbook(), means)
        shown = ask.shelf.show(path)
        return Go(book_url(shown), f"The demo's book is made and planned. Its vault opens with: {PASSPHRASE}")

    return Begun(ask.jobs.start("Making the demo's book", "", work, ask.means))


ROUTES: Final = (
    *get("/", page),
    *get("/template.xlsx", empty_workbook, twin=False),
    *post("/demo", make_demo, needs=Role.PLAN),
)
