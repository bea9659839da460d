"""Take one batch of edits of a table into a book: read as a workbook is, merged with what others saved meanwhile."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Final, TypeAlias

from doorwright.app.means import Means
from doorwright.app.show_table import NOTE, Tabled, TableKind, cell_text, note_fields
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.model.part import Part
from doorwright.store.record import Revision
from doorwright.store.workbook.columns import Sheet
from doorwright.store.workbook.names import Names
from doorwright.store.workbook.rows import PlacedMistake, TypedRow, read_rows

_TRIES: Final = 5
"""So often an edit is tried again when somebody else saves in the moment between reading and saving."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CellEdit:
    """One cell: the row's part, the field, what stood there when it was edited, and what is to stand there."""

    id: str
    field: str
    was: str
    to: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NewRow:
    """A new row under a key of the page's own, with the texts of its cells."""

    key: str
    cells: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class RemovedRow:
    """A row to take out, and the texts that it had when that was asked."""

    id: str
    was: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Batch:
    """Edits made together, seen from a revision."""

    revision: int
    edits: tuple[CellEdit, ...] = ()
    added: tuple[NewRow, ...] = ()
    removed: tuple[RemovedRow, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CellMistake:
    """A mistake of a batch: ``row`` is an identifier or key, empty for none; without ``field`` it is about the row."""

    row: str
    field: str
    where: str
    read: str
    problem: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Conflict:
    """A cell that somebody else altered since: what was meant, what stands there now (None: the row is gone), whose.

    ``field`` is empty where a whole row was meant.
    """

    row: str
    field: str
    where: str
    was: str
    mine: str
    theirs: str | None
    by: str
    revision: int
    at: datetime | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Edited:
    """What came of a batch. With mistakes nothing was saved; ``saved`` is the revision made, None for none.

    ``made`` are the parts of each new row by its key: several where it named a range.
    """

    revision: int
    saved: int | None
    message: str = ""
    mistakes: tuple[CellMistake, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    remarks: tuple[str, ...] = ()
    made: Mapping[str, tuple[str, ...]]


def edit_table(tabled: Tabled, table: TableKind, batch: Batch, means: Means) -> Edited:
    """Save a batch of edits of a table as one revision.

    An edit whose cell still says what it said goes in; one whose cell somebody altered meanwhile comes back as a
    conflict. Text is read as that of a workbook; an empty cell is cleared. Values issued before stay as they are
    unless their own cell is edited, as on an import.

    Raises:
        Refused: the batch names a column or table that is not there, or the book cannot be written.
    """
    _see_fields(table, batch)
    for attempt in range(_TRIES):
        head = tabled.book.head()
        merge = _Merge(tabled, table, batch, head)
        read = read_rows(
            merge.site, merge.rows(), removed=merge.removed, names=merge.names,
            profiles=means.profiles(), new_id=means.new_id,
        )  # fmt: skip
        if read.mistakes:
            mistakes = tuple(merge.told(found) for found in read.mistakes)
            return Edited(revision=head.number, saved=None, mistakes=mistakes, conflicts=merge.conflicts(), made={})
        message = _message(table, merge)
        try:
            saved = tabled.book.save(read.site, parent=head.number, by=means.who, at=means.now(), message=message)
        except Refused:
            if attempt + 1 == _TRIES or tabled.book.head().number == head.number:
                raise
            continue
        tabled.saved(saved.number, read.site, merge.names if read.unaltered_names else None)
        is_new = saved.number != head.number
        made = {merge.key_of[place]: idents for place, idents in read.made.items() if place in merge.key_of}
        return Edited(
            revision=saved.number, saved=saved.number if is_new else None, message=message if is_new else "",
            conflicts=merge.conflicts(), remarks=tuple(map(str, read.remarks)), made=made,
        )  # fmt: skip
    raise AssertionError("unreachable: the last try returns or raises")


def _see_fields(table: TableKind, batch: Batch) -> None:
    known = {name for sheet in table.sheets for name in table.columns(sheet)}
    named = {edit.field for edit in batch.edits} | {name for row in batch.added for name in row.cells}
    named |= {name for row in batch.removed for name in row.was}
    unknown = sorted(name for name in named if name not in known and not name.startswith(NOTE))
    if unknown:
        raise Refused(f"{table.name} has no column {unknown[0]!r}", remedy="Load the page again.")
    if batch.added and table.is_view:
        raise Refused(f"rows are not added to {table.name}", remedy="Add them to the sheet that lists them.")


_Collided: TypeAlias = tuple[str, str, str, str, str | None]
"""What collides: the row's part, the field, what it said, what was meant, and what stands there now."""


class _Merge:
    """A batch laid over the newest site: what of it goes in, and what collides."""

    def __init__(self, tabled: Tabled, table: TableKind, batch: Batch, head: Revision) -> None:
        self.site = tabled.site(head.number)
        self.names = tabled.names(head.number)
        self.counts = {"cells": 0, "added": len(batch.added), "removed": 0}
        self.removed: set[str] = set()
        self.key_of: dict[tuple[str, int], str] = {}
        self._tabled = tabled
        self._table = table
        self._batch = batch
        self._head = head
        self._found = {
            part.id: (sheet, part, number)
            for sheet in table.sheets
            for number, part in enumerate(self.site.table(sheet.kind), 1)
        }
        self._cells: dict[str, dict[str, str]] = {}
        self._collided: list[_Collided] = []
        self._lay_out()

    def _lay_out(self) -> None:
        for gone in self._batch.removed:
            if gone.id not in self._found:
                continue  # somebody took it out already
            has = self._table.columns(self._found[gone.id][0])
            was = {name: text for name, text in gone.was.items() if name in has or name.startswith(NOTE)}
            now = self._texts(gone.id, was)
            otherwise = [name for name, text in was.items() if now[name] != text]
            if otherwise:
                self._collided.append((gone.id, "", "", "", self._otherwise(gone.id, otherwise, now)))
            else:
                self.removed.add(gone.id)
        for edit in self._batch.edits:
            if edit.id not in self._found:
                self._collided.append((edit.id, edit.field, edit.was, edit.to, None))
                continue
            if not edit.field.startswith(NOTE) and edit.field not in self._table.columns(self._found[edit.id][0]):
                sheet = self._found[edit.id][0]
                raise Refused(f"{sheet.name} has no column {edit.field!r}", remedy="Load the page again.")
            now_text = self._texts(edit.id, (edit.field,))[edit.field]
            if now_text == edit.to:
                continue
            if now_text != edit.was:
                self._collided.append((edit.id, edit.field, edit.was, edit.to, now_text))
            elif edit.id not in self.removed:
                self._cells.setdefault(edit.id, {})[edit.field] = edit.to
        self.counts["removed"] = len(self.removed)
        self.counts["cells"] = sum(map(len, self._cells.values()))

    def _texts(self, ident: str, fields: Iterable[str]) -> dict[str, str]:
        sheet, part, _ = self._found[ident]
        return _texts(sheet, part, fields, self.names)

    def _otherwise(self, ident: str, fields: Iterable[str], now: Mapping[str, str]) -> str:
        sheet = self._found[ident][0]
        return "; ".join(f"{_heading(sheet, name)}: {now[name]}" for name in fields)

    def rows(self) -> dict[str, list[TypedRow]]:
        """Return the rows to read, by sheet."""
        rows: dict[str, list[TypedRow]] = {}
        for ident, cells in self._cells.items():
            sheet, part, number = self._found[ident]
            notes = _noted(part, cells)
            plain = {name: text for name, text in cells.items() if not name.startswith(NOTE)}
            rows.setdefault(sheet.name, []).append(TypedRow(id=ident, number=number, cells=plain, notes=notes))
        if self._batch.added:
            sheet = self._table.sheets[0]
            count = len(self.site.table(sheet.kind))
            for number, row in enumerate(self._batch.added, count + 1):
                self.key_of[sheet.name, number] = row.key
                plain = {name: text for name, text in row.cells.items() if not name.startswith(NOTE)}
                own = {name: text for name, text in row.cells.items() if name.startswith(NOTE) and text}
                notes = tuple((_note_heading(name), text) for name, text in own.items())
                rows.setdefault(sheet.name, []).append(TypedRow(id=None, number=number, cells=plain, notes=notes))
        for found in rows.values():
            found.sort(key=lambda row: row.number)
        return rows

    def told(self, found: PlacedMistake) -> CellMistake:
        """Return a mistake at its cell of the page."""
        row = found.row
        place = (row.id or self.key_of[found.sheet.name, row.number]) if row is not None and found.sheet else ""
        where = self._where(found.sheet, row.number if row is not None and row.id is not None else 0, found.field)
        one = found.mistake
        return CellMistake(
            row=place, field=found.field, where=where or one.where, read=one.read, problem=one.problem,
            remedy=one.remedy,
        )  # fmt: skip

    def _where(self, sheet: Sheet | None, number: int, name: str) -> str:
        if sheet is None:
            return ""
        row = f"row {number}" if number else "new row"
        return f"{sheet.name}, {row}" + (f", {_heading(sheet, name)}" if name else "")

    def conflicts(self) -> tuple[Conflict, ...]:
        """Return what collides, with whoever altered it last."""
        if not self._collided:
            return ()
        whose = Whose(self._tabled, self._table, self._batch.revision, self._head)
        return tuple(self._conflict(whose, found) for found in self._collided)

    def _conflict(self, whose: "Whose", found: _Collided) -> Conflict:
        ident, name, was, mine, theirs = found
        known = self._found.get(ident)
        where = self._where(known[0], known[2], name) if known else f"{self._table.name}, a row that is gone"
        last = whose.altered(ident, known[0] if known else None, name)
        return Conflict(
            row=ident, field=name, where=where, was=was, mine=mine, theirs=theirs,
            by=last.made_by if last else "", revision=last.number if last else self._head.number,
            at=last.made_at if last else None,
        )  # fmt: skip


class Whose:
    """Finds who altered a cell last, from the newest revision back to the one that the page had seen."""

    def __init__(self, tabled: Tabled, table: TableKind, since: int, head: Revision) -> None:
        self._tabled = tabled
        self._kinds = tuple(sheet.kind for sheet in table.sheets)
        self._newer = [one for one in reversed(tabled.book.revisions()) if since < one.number <= head.number]
        self._parts: dict[int, dict[str, Part]] = {}

    def altered(self, ident: str, sheet: Sheet | None, name: str) -> Revision | None:
        """Return the revision that altered a cell last, or a row where no field is named; None where none did."""
        for one in self._newer:
            after, before = self._part(one.number, ident), self._part(one.number - 1, ident)
            if after is before or after == before:
                continue
            if after is None or before is None or sheet is None or not name:
                return one
            fields = sheet.column(name).fields if not name.startswith(NOTE) else ("notes",)
            if any(getattr(after, field) != getattr(before, field) for field in fields):
                return one
        return self._newer[0] if self._newer else None

    def _part(self, revision: int, ident: str) -> Part | None:
        if revision not in self._parts:
            site = self._tabled.site(revision)
            self._parts[revision] = {part.id: part for kind in self._kinds for part in site.table(kind)}
        return self._parts[revision].get(ident)


def _texts(sheet: Sheet, part: Part, fields: Iterable[str], names: Names) -> dict[str, str]:
    notes = note_fields(part) if part.notes else {}
    return {
        name: notes.get(name, "") if name.startswith(NOTE) else cell_text(sheet.column(name), part, names)
        for name in fields
    }


def _heading(sheet: Sheet, name: str) -> str:
    return _note_heading(name) if name.startswith(NOTE) else sheet.column(name).heading


def _note_heading(name: str) -> str:
    return name.removeprefix(NOTE).rpartition("#")[0]


def _noted(part: Part, cells: Mapping[str, str]) -> tuple[tuple[str, str], ...] | None:
    """Return all notes of a part with those that were typed; a dash takes one away. None where none was typed."""
    if not any(name.startswith(NOTE) for name in cells):
        return None
    now = note_fields(part)
    typed = {name: text or "-" for name, text in cells.items() if name.startswith(NOTE)}
    return tuple((_note_heading(name), text) for name, text in (now | typed).items())


def _message(table: TableKind, merge: _Merge) -> str:
    return ", ".join(_told(table.name, merge.counts)) or f"nothing in {table.name}"


def _told(name: str, counts: Mapping[str, int]) -> Iterator[str]:
    if counts["cells"]:
        yield f"{counted(counts['cells'], 'cell')} in {name}"
    if counts["added"]:
        yield f"{counted(counts['added'], 'row')} added to {name}"
    if counts["removed"]:
        yield f"{counted(counts['removed'], 'row')} taken out of {name}"
