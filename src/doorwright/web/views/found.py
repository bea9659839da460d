"""What was found in the building: settings tables taken in, and set beside the plan."""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.take_found import Compared, TakenFound, column_maps, compare_found, headings_in, take_found
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage
from doorwright.kernel.person import Role
from doorwright.model.aspect import with_unit
from doorwright.model.label import natural_key
from doorwright.model.network import Switch
from doorwright.rules.strangers import FIND_IT
from doorwright.store.found import TARGETS
from doorwright.store.record import ColumnMap
from doorwright.web.answers import Answer, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.held import HeldTable, as_file
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.showing import book_url


@dataclass(frozen=True, slots=True, kw_only=True)
class DifferenceLine:
    """Planned, rehearsed and found, what to do, and where. What is in no plan has nothing planned.

    ``differs`` says on which sides it is not as planned.
    """

    part: str
    what: str
    planned: str
    rehearsed: str
    found: str
    differs: tuple[Stage, ...]
    to_do: str
    where: str
    seen_at: datetime
    seen_by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalLine:
    """The rehearsal that the book keeps; ``is_stale`` where the plan has changed since."""

    revision: int
    is_stale: bool
    at: datetime
    by: str
    calls_count: int
    proved_count: int
    conditions: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FoundView:
    """How much was seen, the rehearsal, what differs, what is in no plan, and the mappings the book keeps."""

    revision: int
    parts_count: int
    seen_count: int
    rehearsal: RehearsalLine | None
    differences: Piece[DifferenceLine]
    strangers: tuple[DifferenceLine, ...]
    mappings: tuple[ColumnMap, ...]
    switches: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnLine:
    """One column of a table: its heading, what it most likely tells, and whether it may hold secrets."""

    heading: str
    guess: str
    may_be_secret: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnsView:
    """A table whose columns are to be explained. ``targets`` are what a column can tell, with words for people."""

    id: str
    file_name: str
    mapping: str
    columns: tuple[ColumnLine, ...]
    targets: tuple[tuple[str, str], ...]


def page(ask: Ask) -> Answer:
    """Show what was rehearsed and what was found beside the plan."""
    compared = compare_found(ask.book.path)
    view = FoundView(
        revision=compared.revision,
        parts_count=compared.parts_count,
        seen_count=compared.seen_count,
        rehearsal=rehearsal_line(compared),
        differences=piece(difference_lines(compared), start_of(ask)),
        strangers=stranger_lines(compared),
        mappings=column_maps(ask.book.path),
        switches=tuple(sorted((one.name for one in ask.book.now()[1].all(Switch)), key=natural_key)),
    )
    return Page(template="onsite/found.html", title="Found", view=view)


def difference_lines(compared: Compared) -> tuple[DifferenceLine, ...]:
    """Return what differs from the plan in the real building or the rehearsed one, in words."""
    return tuple(
        DifferenceLine(
            part=one.part.label,
            what=one.aspect,
            planned=with_unit(one.aspect, one.planned),
            rehearsed=with_unit(one.aspect, one.rehearsed),
            found=with_unit(one.aspect, one.found),
            differs=one.at,
            to_do=one.to_do,
            where=one.where,
            seen_at=one.seen.seen_at,
            seen_by=one.seen.seen_by,
        )
        for one in compared.lines
    )


def rehearsal_line(compared: Compared) -> RehearsalLine | None:
    """Return which rehearsal the book keeps, if any."""
    kept = compared.rehearsal
    if kept is None:
        return None
    return RehearsalLine(
        revision=kept.head.revision,
        is_stale=kept.is_stale,
        at=kept.at,
        by=kept.by,
        calls_count=kept.head.calls_count,
        proved_count=kept.head.proved_count,
        conditions=kept.head.conditions,
    )


def stranger_lines(compared: Compared) -> tuple[DifferenceLine, ...]:
    """Return what is in no plan, in words."""
    return tuple(
        DifferenceLine(
            part=f"{one.by} {one.identity}",
            what="",
            planned="",
            rehearsed="",
            found=one.seen.value,
            differs=(Stage.FOUND,),
            to_do=FIND_IT,
            where="",
            seen_at=one.seen.seen_at,
            seen_by=one.seen.seen_by,
        )
        for one in compared.strangers
    )


def give(ask: Ask) -> Answer:
    """Take a settings table whose mapping the book knows; ask what the columns of any other tell."""
    file = ask.upload("table")
    mapping = ask.text("mapping")
    if not mapping:
        raise Refused("the mapping has no name", remedy="Give it one; the book keeps it for the next table.")
    held = ask.book.tables.hold(
        ask.person.name,
        file_name=file.filename or "",
        content=file.file.read(),
        mapping=mapping,
        switch=ask.text("switch"),
        seen_at=_moment(ask.text("seen_at")),
    )
    known = {one.name for one in column_maps(ask.book.path)}
    if mapping in known and not ask.chosen("anew"):
        return _take(ask, held, ())
    with as_file(held) as table:
        headings_in(table)  # a file that cannot be read is refused before anybody is asked about it
    return Go(book_url(ask.book.name, "found", "columns", held.id))


def columns(ask: Ask) -> Answer:
    """Ask what the columns of a table tell."""
    held = _held(ask)
    with as_file(held) as table:
        lines = tuple(
            ColumnLine(heading=one.heading, guess=one.guess, may_be_secret=one.may_be_secret)
            for one in headings_in(table)
        )
    view = ColumnsView(
        id=held.id,
        file_name=held.file_name,
        mapping=held.mapping,
        columns=lines,
        targets=tuple((target.word, target.what) for target in TARGETS),
    )
    return Page(template="onsite/columns.html", title="What the columns tell", view=view)


def take(ask: Ask) -> Answer:
    """Take a table in, through what its columns were said to tell."""
    held = _held(ask)
    told = zip(ask.texts("heading"), ask.texts("tells"), strict=False)
    given = tuple(f"{tells}={heading}" for heading, tells in told if tells)
    if not given:
        raise Refused("no column tells anything", remedy="Say of at least one column what it tells.")
    return _take(ask, held, given)


def _take(ask: Ask, held: HeldTable, given: tuple[str, ...]) -> Answer:
    with as_file(held) as table:
        taken: TakenFound = take_found(
            ask.book.path,
            table,
            ask.means,
            name=held.mapping,
            given=given,
            switch=held.switch or None,
            seen_at=held.seen_at,
        )
    ask.book.tables.drop(held.id)
    ask.book.changed()
    return Page(template="onsite/taken.html", title="Taken in", view=taken)


def _held(ask: Ask) -> HeldTable:
    held = ask.book.tables.find(ask.path["table"], ask.person.name)
    if held is None:
        raise HTTPException(404, "that table is no longer here; give it again")
    return held


def _moment(text: str) -> datetime | None:
    if not text:
        return None
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        raise Refused(f"{text!r} is no moment", remedy="Write it as 2026-11-25T14:05.") from None


ROUTES: Final = (
    *get("/books/{book}/found", page),
    *post("/books/{book}/found", give, needs=Role.WORK),
    *get("/books/{book}/found/columns/{table}", columns),
    *post("/books/{book}/found/columns/{table}", take, needs=Role.WORK),
)
