"""The sheet of a part: beside the drawing, or as a page of its own with the drawing beside it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final
from weakref import WeakKeyDictionary

from starlette.exceptions import HTTPException

from doorwright.app.part_past import PartsPast, Turn
from doorwright.app.part_sheet import PartSheet, sheet_of
from doorwright.kernel.person import Role
from doorwright.model.network import Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.store.workbook.columns import SHEET_BY_KIND
from doorwright.web.answers import Answer, Page
from doorwright.web.asking import Ask, get
from doorwright.web.opened import OpenBook
from doorwright.web.showing import book_url
from doorwright.web.views.building import drawing_facts, drawing_of, said_by_part

_PASTS: Final[WeakKeyDictionary[OpenBook, PartsPast]] = WeakKeyDictionary()


@dataclass(frozen=True, slots=True, kw_only=True)
class Way:
    """Something that can be done with the part, and where."""

    name: str
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PartView:
    """The sheet of a part, what can be done with it, and the table in which it is a row."""

    sheet: PartSheet
    ways: tuple[Way, ...]
    table: Way | None


@dataclass(frozen=True, slots=True, kw_only=True)
class PastView:
    """What has happened to a part."""

    id: str
    turns: tuple[Turn, ...]


def page(ask: Ask) -> Answer:
    """Show the sheet of a part."""
    _, walk = ask.book.now()
    part = _part(ask, walk)
    sheet = sheet_of(walk, part, said_by_part(ask.book), ask.book.book.observations())
    table = SHEET_BY_KIND.get(type(part))
    view = PartView(
        sheet=sheet,
        ways=tuple(_ways(ask, walk, part)) if ask.person.may(Role.PLAN) else (),
        table=Way(name=table.name, to=book_url(ask.book.name, "tables", table.name.lower())) if table else None,
    )
    facts: dict[str, Any] = {}
    if not ask.by_htmx:
        facts = {"drawing": drawing_of(ask.book, walk, chosen=part.id), **drawing_facts()}
    return Page(template="building/part.html", title=sheet.title, view=view, part="sheet", facts=facts)


def past(ask: Ask) -> Answer:
    """Show what has happened to a part, also to one that is gone."""
    _, walk = ask.book.now()
    known = _PASTS.setdefault(ask.book, PartsPast(ask.book.path))
    turns = known.of(walk, ask.path["part"])
    if not turns:
        raise HTTPException(404, "the book never had such a part")
    view = PastView(id=ask.path["part"], turns=turns)
    return Page(template="building/past.html", title="Its history", view=view, part="past")


def _part(ask: Ask, walk: Walk) -> Part:
    part = walk.part(ask.path["part"])
    if part is None:
        raise HTTPException(404, "the site has no such part any more; the history of the book tells what became of it")
    return part


def _ways(ask: Ask, walk: Walk, part: Part) -> Iterator[Way]:
    """Yield the changes that one can make from here, their forms filled in with this part."""

    def way(name: str, step: str, **given: str) -> Way:
        return Way(name=name, to=book_url(ask.book.name, "changes", step, **given))

    called = _called(walk, part)
    match part:
        case Unit() | Switch():
            yield way("Replace it", "replace", unit=called)
            yield way("Move it", "move", unit=called)
            yield way("New secrets", "new-secret", unit=called)
        case Dwelling():
            core, level = walk.find(Core, part.core), walk.find(Level, part.level)
            if core is not None and level is not None:
                yield way("Add a dwelling beside it", "add-dwelling", core=core.name, level=level.name)
            yield way("Make one with others", "merge-dwellings", keep=called)
            yield way("Give it up", "remove-dwelling", label=called)
        case Core():
            yield way("Add a dwelling", "add-dwelling", core=part.name)
        case Level():
            yield way("Add a dwelling", "add-dwelling", level=part.name)
        case Subnet():
            yield way("Give it another range", "new-subnet", subnet=called)
    if isinstance(part, Unit | Switch | Dwelling | Entrance):
        yield way("Rename it", "rename", part=called)


def _called(walk: Walk, part: Part) -> str:
    """Return by what a change finds the part: its label, that of a dwelling behind its core where others share it."""
    if isinstance(part, Dwelling) and len(walk.dwellings_labelled(part.door_label)) > 1:
        core = walk.find(Core, part.core)
        return f"{core.name}/{part.door_label}" if core is not None else part.door_label
    return part.label


ROUTES: Final = (
    *get("/books/{book}/parts/{part}/past", past),
    *get("/books/{book}/parts/{part}", page),
)
