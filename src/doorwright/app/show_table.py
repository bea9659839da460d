"""Show parts as tables: a sheet of the workbook each, and views that join columns of several sheets."""

import threading
from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final, TypeAlias

from doorwright.model.label import natural_key
from doorwright.model.part import Part
from doorwright.model.site import Site
from doorwright.store.book import Book
from doorwright.store.workbook.columns import SHEETS, Column, Sheet
from doorwright.store.workbook.layout import is_secret_heading
from doorwright.store.workbook.names import Names
from doorwright.store.workbook.shown import names_of, shown
from doorwright.store.workbook.values import as_text

NOTE: Final = "note:"
"""What the field of a column of notes begins with; behind it stands the heading, and which of that heading it is."""
KIND: Final = "kind of row"
"""The field of the column that says from which sheet a row of a view comes; it cannot be altered."""
_SITES_KEPT: Final = 6
_ROWS_KEPT: Final = 16
_CHOICES_MOST: Final = 60

RowTexts: TypeAlias = tuple[str, tuple[str | None, ...]]
"""The identifier of a part, and the text of each cell; None where its sheet has no such column."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TableKind:
    """A table: a sheet, or a view of chosen fields of several sheets."""

    slug: str
    name: str
    note: str
    sheets: tuple[Sheet, ...]
    fields: tuple[str, ...] = ()

    @property
    def is_view(self) -> bool:
        """Whether it shows chosen fields; rows are not added there."""
        return bool(self.fields)

    def columns(self, sheet: Sheet) -> dict[str, Column]:
        """Return the columns of a sheet that this table shows, by field."""
        shows = [column for column in sheet.columns if not column.helper and column.field != "id"]
        return {column.field: column for column in shows if not self.fields or column.field in self.fields}


@dataclass(frozen=True, slots=True, kw_only=True)
class TableColumn:
    """A column as a page needs it: ``choices`` are offered, ``looks_up`` says that names are offered while typing."""

    field: str
    heading: str
    note: str
    wanted: str
    width: int
    number: bool = False
    required: bool = False
    fixed: bool = False
    looks_up: bool = False
    choices: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRows:
    """The rows of a table at a revision, and the headings of notes that stand beside its columns."""

    revision: int
    notes: tuple[str, ...]
    rows: tuple[RowTexts, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RowsSince:
    """What is otherwise in a table than it was: the altered and new rows, and where any came or went, the order.

    ``whole`` says that all rows are given, as nobody knows any more what there was.
    """

    revision: int
    columns: tuple[str, ...]
    rows: tuple[RowTexts, ...]
    order: tuple[str, ...] | None = None
    whole: bool = False


def _slug(name: str) -> str:
    return name.casefold().replace(" ", "-")


def _sheet(kind: str) -> Sheet:
    return next(sheet for sheet in SHEETS if sheet.name == kind)


TABLES: Final = {
    table.slug: table
    for table in (
        *(TableKind(slug=_slug(sheet.name), name=sheet.name, note=sheet.note, sheets=(sheet,)) for sheet in SHEETS),
        TableKind(
            slug="addresses",
            name="Addresses",
            note="Everything with an address on the network, in one list: units, switches and servers.",
            sheets=(_sheet("Units"), _sheet("Switches"), _sheet("Servers")),
            fields=("name", "subnet", "address", "mac", "serial", "registrar", "port", "place"),
        ),
    )
}
"""Every table by its step in an address."""


def columns_of(table: TableKind, notes: tuple[str, ...], profiles: dict[str, tuple[str, ...]]) -> Iterator[TableColumn]:
    """Yield the columns of a table; ``profiles`` are the keys of the known unit types by kind of unit type."""
    if table.is_view:
        yield TableColumn(field=KIND, heading="Sheet", note="Where it is listed.", wanted="", width=10, fixed=True)
    for name in _fields(table):
        sheet = next(sheet for sheet in table.sheets if name in table.columns(sheet))
        column = table.columns(sheet)[name]
        types = tuple(key for kind in column.profiles for key in profiles.get(kind.value, ()))
        yield TableColumn(
            field=name, heading=column.heading, note=column.note, wanted=_wanted(column), width=column.width,
            number=not column.form.is_text, required=column.required,
            looks_up=bool(column.refers or column.lists), choices=column.form.choices or types,
        )  # fmt: skip
    for name in notes:
        heading = name.removeprefix(NOTE).rpartition("#")[0]
        note = "A column of your own, kept as notes."
        yield TableColumn(field=name, heading=heading or "Note", note=note, wanted="text", width=20)


def _fields(table: TableKind) -> tuple[str, ...]:
    of_sheets = dict.fromkeys(name for sheet in table.sheets for name in table.columns(sheet))
    return tuple(name for name in table.fields if name in of_sheets) if table.is_view else tuple(of_sheets)


def _wanted(column: Column) -> str:
    if column.refers:
        return f"the name of a {' or '.join(kind.KIND for kind in column.refers)}"
    if column.profiles:
        return f"a unit type: {', '.join(kind.value for kind in column.profiles)}"
    return column.form.wanted


def cell_text(column: Column, part: Part, names: Names) -> str:
    """Return the text of a cell as the workbook writes it; empty for a blank one."""
    value = shown(column, part, names)
    return "" if value is None else as_text(value) if isinstance(value, int | float) else value


def note_fields(part: Part) -> dict[str, str]:
    """Return the notes of a part by the fields of their columns: what is no secret, each of a heading numbered."""
    found: dict[str, str] = {}
    for heading, text in part.notes:
        if not is_secret_heading(heading):
            number = 1 + sum(1 for name in found if name.rpartition("#")[0] == NOTE + heading)
            found[f"{NOTE}{heading}#{number}"] = text
    return found


@dataclass(slots=True)
class Tabled:
    """The newest sites of one book as tables, made once each. Threads may share it."""

    book: Book
    _sites: "OrderedDict[int, tuple[Site, Names | None]]" = field(default_factory=OrderedDict)
    _rows: "OrderedDict[tuple[int, str], TableRows]" = field(default_factory=OrderedDict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    def site(self, revision: int) -> Site:
        """Return the site of a revision."""
        known = self._sites.get(revision)
        if known is None:
            known = (self.book.site(revision), None)
            self._keep(revision, *known)
        return known[0]

    def names(self, revision: int) -> Names:
        """Return the names of that site. Nobody may enter others."""
        site = self.site(revision)
        known = self._sites.get(revision)
        names = known[1] if known is not None else None
        if names is None:
            names = names_of(site)
            self._keep(revision, site, names)
        return names

    def saved(self, revision: int, site: Site, names: Names | None) -> None:
        """Know the site of a revision just saved, and its names where the edit altered none."""
        self._keep(revision, site, names)

    def _keep(self, revision: int, site: Site, names: Names | None) -> None:
        with self._lock:
            self._sites[revision] = (site, names)
            while len(self._sites) > _SITES_KEPT:
                self._sites.pop(min(self._sites))

    def rows(self, table: TableKind, revision: int) -> TableRows:
        """Return the rows of a table."""
        key = revision, table.slug
        known = self._rows.get(key)
        if known is None:
            known = _rows_of(table, revision, self.site(revision), self.names(revision))
            with self._lock:
                self._rows[key] = known
                while len(self._rows) > _ROWS_KEPT:
                    self._rows.popitem(last=False)
        return known

    def since(self, table: TableKind, revision: int, earlier: int) -> RowsSince:
        """Return what is otherwise in a table than in an earlier revision."""
        now, then = self.rows(table, revision), self._rows.get((earlier, table.slug))
        columns = (*_fields(table), *now.notes)
        if then is None or then.notes != now.notes:
            order = tuple(ident for ident, _ in now.rows)
            return RowsSince(revision=revision, columns=columns, rows=now.rows, order=order, whole=True)
        was = dict(then.rows)
        rows = tuple(row for row in now.rows if was.get(row[0]) != row[1])
        order = tuple(ident for ident, _ in now.rows)
        same_order = order == tuple(ident for ident, _ in then.rows)
        return RowsSince(revision=revision, columns=columns, rows=rows, order=None if same_order else order)

    def choices(self, table: TableKind, name: str, revision: int, text: str) -> tuple[str, ...]:
        """Return names that a cell of a column may hold: those with a text in them, those that begin with it first."""
        columns = (table.columns(sheet).get(name) for sheet in table.sheets)
        column = next((found for found in columns if found is not None), None)
        if column is None:
            return ()
        kinds = column.refers or tuple(kind for _, kind in column.lists)
        names, wanted = self.names(revision), text.strip().casefold()
        called = ((names.name(ident), ident) for kind in kinds for ident in names.ids(kind))
        hits = [(label, ident) for label, ident in called if wanted in label.casefold()]
        hits.sort(key=lambda hit: (not hit[0].casefold().startswith(wanted), natural_key(hit[0])))
        return tuple(dict.fromkeys(names.spell(ident, kinds) for _, ident in hits[:_CHOICES_MOST]))


def _rows_of(table: TableKind, revision: int, site: Site, names: Names) -> TableRows:
    fields = _fields(table)
    noted: dict[str, None] = {}
    made: list[tuple[Part, tuple[str | None, ...]]] = []
    for sheet in table.sheets:
        columns = table.columns(sheet)
        first = (sheet.name,) if table.is_view else ()
        for part in site.table(sheet.kind):
            texts = tuple(cell_text(columns[name], part, names) if name in columns else None for name in fields)
            made.append((part, (*first, *texts)))
            if part.notes and not table.is_view:
                noted.update(dict.fromkeys(note_fields(part)))
    if not noted:
        return TableRows(revision=revision, notes=(), rows=tuple((part.id, texts) for part, texts in made))
    rows = []
    for part, texts in made:
        own = note_fields(part)
        rows.append((part.id, (*texts, *(own.get(name, "") for name in noted))))
    return TableRows(revision=revision, notes=tuple(noted), rows=tuple(rows))
