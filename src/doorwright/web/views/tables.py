"""Tables: the parts of the site as sheets to type in, and the site's own fields as a form."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from starlette.exceptions import HTTPException

from doorwright.app.edit_table import Batch, CellEdit, Edited, NewRow, RemovedRow, edit_table
from doorwright.app.set_site import LineMistake, SettingLine, SiteSet, lines_of, set_site
from doorwright.app.show_table import (
    KIND,
    TABLES,
    RowsSince,
    RowTexts,
    TableColumn,
    Tabled,
    TableKind,
    columns_of,
)
from doorwright.app.undo_edit import undo_edit
from doorwright.kernel.person import Role
from doorwright.kernel.verdict import Subject
from doorwright.store.workbook.columns import SITE_NOTE
from doorwright.store.workbook.layout import field_of
from doorwright.web.answers import Answer, Go, Page, Said
from doorwright.web.asking import Ask, get, post
from doorwright.web.opened import Judged, OpenBook
from doorwright.web.showing import book_url

_MARKS_A_ROW: Final = 8
_WAS: Final = "was:"
"""Before the name of the hidden field that says what stood in a line of the form."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """A table of the list: how many rows it has, and how many of them the rules find something on (None: not yet)."""

    slug: str
    name: str
    note: str
    rows_count: int
    found_count: int | None
    is_view: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class TableList:
    """All tables."""

    revision: int
    site_note: str
    tables: tuple[SheetLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableView:
    """A table's page; its rows come by themselves."""

    slug: str
    name: str
    note: str
    revision: int
    rows_count: int
    may_edit: bool
    adds: bool
    others: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class TableValue:
    """A whole table: its columns, and the text of every cell."""

    slug: str
    name: str
    revision: int
    person: str
    may_edit: bool
    adds: bool
    columns: tuple[TableColumn, ...]
    rows: tuple[RowTexts, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """What came of a batch, and what is otherwise in the table since the page's revision."""

    edited: Edited
    since: RowsSince


@dataclass(frozen=True, slots=True, kw_only=True)
class Marks:
    """What the rules say of the rows of a table: by identifier (severity, what, field or none). None: not yet."""

    revision: int | None
    rows: Mapping[str, tuple[tuple[str, str, str], ...]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteView:
    """The form of the site's own fields, after a refusal with what was typed and what is wrong."""

    revision: int
    note: str
    lines: tuple[SettingLine, ...]
    was: Mapping[str, str]
    may_edit: bool
    mistakes: Mapping[str, LineMistake] = field(default_factory=dict)
    theirs: Mapping[str, str] = field(default_factory=dict)


def listed(ask: Ask) -> Answer:
    """Show the list of tables."""
    head, walk = ask.book.now()
    judged = ask.book.judged()
    lines = tuple(
        SheetLine(
            slug=table.slug,
            name=table.name,
            note=table.note,
            rows_count=sum(len(walk.site.table(sheet.kind)) for sheet in table.sheets),
            found_count=_found_count(judged, table),
            is_view=table.is_view,
        )
        for table in TABLES.values()
    )
    view = TableList(revision=head.number, site_note=SITE_NOTE, tables=lines)
    return Page(template="tables/list.html", title="Tables", view=view)


def _found_count(judged: Judged | None, table: TableKind) -> int | None:
    if judged is None:
        return None
    kinds = {sheet.kind.KIND for sheet in table.sheets}
    return len({one for finding in judged.assessment.findings for one in finding.subjects if one.kind in kinds})


def page(ask: Ask) -> Answer:
    """Show a table; its page fetches the rows."""
    table = _table(ask)
    head, walk = ask.book.now()
    view = TableView(
        slug=table.slug,
        name=table.name,
        note=table.note,
        revision=head.number,
        rows_count=sum(len(walk.site.table(sheet.kind)) for sheet in table.sheets),
        may_edit=ask.person.may(Role.PLAN),
        adds=_adds(table),
        others=(("site", "Site"), *((one.slug, one.name) for one in TABLES.values())),
    )
    return Page(template="tables/table.html", title=table.name, view=view)


def rows(ask: Ask) -> Answer:
    """Give a whole table, or with ``since`` what is otherwise than in that revision."""
    table, tabled = _table(ask), _tabled(ask.book)
    head = ask.book.now()[0]
    since = ask.whole("since")
    if since is not None:
        return Said(tabled.since(table, head.number, since))
    found = tabled.rows(table, head.number)
    profiles: dict[str, tuple[str, ...]] = {}
    for profile in {**ask.means.profiles(), **{one.key: one for one in tabled.site(head.number).profiles}}.values():
        profiles[profile.kind.value] = (*profiles.get(profile.kind.value, ()), profile.key)
    return Said(
        TableValue(
            slug=table.slug,
            name=table.name,
            revision=head.number,
            person=ask.person.name,
            may_edit=ask.person.may(Role.PLAN),
            adds=_adds(table),
            columns=tuple(columns_of(table, found.notes, profiles)),
            rows=found.rows,
        )
    )


def choices(ask: Ask) -> Answer:
    """Give names that a cell of a column may hold."""
    head = ask.book.now()[0]
    return Said(_tabled(ask.book).choices(_table(ask), ask.text("field"), head.number, ask.text("for")))


def marks(ask: Ask) -> Answer:
    """Give what the rules say of the rows."""
    judged, table = ask.book.judged(), _table(ask)
    if judged is None:
        return Said(Marks(revision=None, rows={}))
    found: dict[str, list[tuple[str, str, str]]] = {}
    for ident, mark in _marks(judged, table):
        of_row = found.setdefault(ident, [])
        if len(of_row) < _MARKS_A_ROW:
            of_row.append(mark)
    return Said(Marks(revision=judged.revision, rows={ident: tuple(those) for ident, those in found.items()}))


def _marks(judged: Judged, table: TableKind) -> Iterator[tuple[str, tuple[str, str, str]]]:
    sheets = {sheet.kind.KIND: sheet for sheet in table.sheets}
    for finding in judged.assessment.findings:
        for subject in finding.subjects:
            if subject.kind in sheets:
                yield subject.id, (finding.severity.value, f"{finding.message} ({finding.rule})", "")
    told: set[tuple[Subject, str]] = set()
    for verdict in judged.assessment.not_checked:
        for subject in verdict.subjects:
            for missing in verdict.missing:
                sheet = sheets.get(subject.kind)
                if sheet is None or missing.kind != subject.kind:
                    continue
                known = field_of(sheet, missing.field)
                what = (subject, missing.field)
                if known is not None and what not in told:
                    told.add(what)
                    yield subject.id, ("missing", f"not checked yet: {missing} is missing ({verdict.rule})", known[0])


def edit(ask: Ask) -> Answer:
    """Take a batch of edits in."""
    table, tabled = _table(ask), _tabled(ask.book)
    batch = _batch(ask.body)
    return _after(ask, tabled, table, edit_table(tabled, table, batch, ask.means), batch.revision)


def undo(ask: Ask) -> Answer:
    """Undo one of one's own edits, or an undoing of it."""
    table, tabled = _table(ask), _tabled(ask.book)
    body = _object(ask.body)
    edited = undo_edit(tabled, _whole(body, "undo"), ask.means)
    return _after(ask, tabled, table, edited, _whole(body, "revision"))


def _after(ask: Ask, tabled: Tabled, table: TableKind, edited: Edited, seen: int) -> Answer:
    if edited.saved is not None:
        ask.book.changed()
    since = tabled.since(table, edited.revision, seen)
    return Said(After(edited=edited, since=since), 422 if edited.mistakes else 200)


def site_form(ask: Ask) -> Answer:
    """Show the site's own fields."""
    head, walk = ask.book.now()
    lines = lines_of(walk.site)
    return _site_page(
        SiteView(
            revision=head.number,
            note=SITE_NOTE,
            lines=lines,
            was={line.field: line.text for line in lines},
            may_edit=ask.person.may(Role.PLAN),
        )
    )


def set_fields(ask: Ask) -> Answer:
    """Save the lines of the form that were altered."""
    typed = {name: value for name, value in ask.fields.items() if isinstance(value, str)}
    was = {name.removeprefix(_WAS): text for name, text in typed.items() if name.startswith(_WAS)}
    given = {name: text for name, text in typed.items() if not name.startswith(_WAS)}
    done: SiteSet = set_site(ask.book.book, given, was, ask.means)
    if done.saved:
        ask.book.changed()
    if not done.mistakes and not done.theirs:
        said = "; ".join((f"Saved as revision {done.revision}", *done.remarks)) if done.saved else "Nothing was altered"
        return Go(book_url(ask.book.name, "tables", "site"), f"{said}.")
    now = lines_of(ask.book.now()[1].site)
    lines = tuple(
        SettingLine(
            field=line.field, heading=line.heading, text=given.get(line.field, line.text), note=line.note,
            wanted=line.wanted, choices=line.choices, long=line.long,
        )
        for line in now
    )  # fmt: skip
    # having seen theirs, the person may put their own again: it is laid over what stands there now
    seen = {line.field: done.theirs.get(line.field, was.get(line.field, line.text)) for line in now}
    view = SiteView(
        revision=done.revision,
        note=SITE_NOTE,
        lines=lines,
        was=seen,
        may_edit=True,
        mistakes={one.field: one for one in done.mistakes},
        theirs=done.theirs,
    )
    return _site_page(view, 422)


def _site_page(view: SiteView, status: int = 200) -> Page:
    return Page(template="tables/site.html", title="Site", view=view, status=status)


def _table(ask: Ask) -> TableKind:
    table = TABLES.get(ask.path["sheet"])
    if table is None:
        raise HTTPException(404, f"there is no table {ask.path['sheet']!r}")
    return table


def _adds(table: TableKind) -> bool:
    return not table.is_view and all(sheet.in_template for sheet in table.sheets)


def _tabled(book: OpenBook) -> Tabled:
    return book.tabled


# what the page's program sends


def _batch(body: Any) -> Batch:
    sent = _object(body)
    return Batch(
        revision=_whole(sent, "revision"),
        edits=tuple(
            CellEdit(id=_text(one, "id"), field=_text(one, "field"), was=_text(one, "was"), to=_text(one, "to"))
            for one in _objects(sent, "edits")
            if one.get("field") != KIND
        ),
        added=tuple(NewRow(key=_text(one, "key"), cells=_texts(one, "cells")) for one in _objects(sent, "added")),
        removed=tuple(RemovedRow(id=_text(one, "id"), was=_texts(one, "was")) for one in _objects(sent, "removed")),
    )


def _object(value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise HTTPException(400, "an object was expected")
    return value


def _objects(sent: dict[str, Any], name: str) -> list[dict[str, Any]]:
    those = sent.get(name, [])
    if not isinstance(those, list):
        raise HTTPException(400, f"{name}: a list was expected")
    return [_object(one) for one in those]


def _whole(sent: dict[str, Any], name: str) -> int:
    value = sent.get(name)
    if not isinstance(value, int) or isinstance(value, bool):
        raise HTTPException(400, f"{name}: a whole number was expected")
    return value


def _text(sent: dict[str, Any], name: str) -> str:
    value = sent.get(name)
    if not isinstance(value, str):
        raise HTTPException(400, f"{name}: a text was expected")
    return value


def _texts(sent: dict[str, Any], name: str) -> dict[str, str]:
    those = _object(sent.get(name, {}))
    return {key: _text(those, key) for key in those}


_AT: Final = "/books/{book}/tables"
ROUTES: Final = (
    *get(_AT, listed),
    *get(f"{_AT}/site", site_form),
    *post(f"{_AT}/site", set_fields, needs=Role.PLAN),
    *get(f"{_AT}/{{sheet}}.json", rows, twin=False),
    *get(f"{_AT}/{{sheet}}/marks.json", marks, twin=False),
    *get(f"{_AT}/{{sheet}}/choices.json", choices, twin=False),
    *post(f"{_AT}/{{sheet}}/edit", edit, needs=Role.PLAN),
    *post(f"{_AT}/{{sheet}}/undo", undo, needs=Role.PLAN),
    *get(f"{_AT}/{{sheet}}", page, twin=False),
)
