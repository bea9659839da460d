"""Rows of cells in memory, such as a page's, read as the rows of a workbook are: onto the parts that are there."""

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from doorwright.kernel.errors import Mistake
from doorwright.model.calling import Timetable
from doorwright.model.part import Part
from doorwright.model.place import Building, Dwelling
from doorwright.model.profile import Profile
from doorwright.model.site import PARTS, Site
from doorwright.model.unit import Unit
from doorwright.store.workbook.assemble import Assembly
from doorwright.store.workbook.built import built, with_profiles
from doorwright.store.workbook.columns import SHEETS, Sheet
from doorwright.store.workbook.draft import Draft, comparable
from doorwright.store.workbook.dwellings import expand, number_levels
from doorwright.store.workbook.layout import Layout, Row
from doorwright.store.workbook.names import HOLDERS, Names
from doorwright.store.workbook.receivers import add_receivers
from doorwright.store.workbook.removal import remove
from doorwright.store.workbook.report import Remark, Report
from doorwright.store.workbook.shown import REFERRED
from doorwright.store.workbook.timetables import joined
from doorwright.store.workbook.twice import check_twice
from doorwright.store.workbook.values import is_blank

_BEFORE_ROWS: Final = {Dwelling: expand, Timetable: joined}
_NAMING: Final = frozenset({"name", "door_label", *HOLDERS})
"""The fields by which parts are named, or told apart where several have a name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TypedRow:
    """A row as typed: the texts of its altered cells by field, where an empty one clears; ``id`` is None for a new row.

    ``number`` counts the rows of the sheet from 1, new ones behind the others. ``notes`` are all notes of the part, or
    None where none was altered.
    """

    id: str | None
    number: int
    cells: Mapping[str, str]
    notes: tuple[tuple[str, str], ...] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlacedMistake:
    """A mistake and where it stands: the sheet and row as typed (None for neither), and the field (empty for a row)."""

    sheet: Sheet | None
    row: TypedRow | None
    field: str
    mistake: Mistake


@dataclass(frozen=True, slots=True, kw_only=True)
class RowsRead:
    """What rows gave. Where there are mistakes, the site is the one before. ``made`` are the parts of each new row."""

    site: Site
    remarks: tuple[Remark, ...]
    mistakes: tuple[PlacedMistake, ...] = ()
    made: Mapping[tuple[str, int], tuple[str, ...]] = field(default_factory=dict)
    unaltered_names: bool = False


def read_rows(
    before: Site,
    rows: Mapping[str, Sequence[TypedRow]],
    *,
    removed: Collection[str] = (),
    names: Names,
    profiles: Mapping[str, Profile],
    new_id: Callable[[], str],
) -> RowsRead:
    """Read altered and new rows, by the name of their sheet, and take away the parts ``removed``.

    What follows from a removal is as in a workbook from which rows were taken out. ``names`` are those of the site
    before; they stay as they are.
    """
    report = Report()
    old = {kind: before.table(kind) for kind in PARTS}
    known = {profile.key: profile for profile in before.profiles}
    known |= {key: profile for key, profile in profiles.items() if key not in known}
    unaltered = not removed and not any(_renames(sheet, row) for sheet in SHEETS for row in rows.get(sheet.name, ()))
    assembly = Assembly(
        old_names=names, old=old, profiles=known, new_id=new_id, report=report, unaltered=unaltered,
        finds_by_fields=False,
    )  # fmt: skip
    assembly.listed = {kind for kind, parts in old.items() if parts}
    for order, sheet in enumerate(SHEETS):
        _take(assembly, order, rows.get(sheet.name, ()), old[sheet.kind], frozenset(removed))
    check_twice(assembly)
    tables = {kind: built(assembly.drafts[kind], old[kind]) for kind in PARTS} if not report.mistakes else {}
    if removed and not report.mistakes:
        tables = remove(tables, old, report)
    if report.mistakes:
        return RowsRead(site=before, remarks=report.remarks, mistakes=tuple(_placed(report, rows)))
    site = before.with_tables({kind: parts for kind, parts in tables.items() if parts is not old[kind]})
    return RowsRead(
        site=with_profiles(site, before, known),
        remarks=report.remarks,
        made=_made(assembly),
        unaltered_names=unaltered,
    )


def _renames(sheet: Sheet, row: TypedRow) -> bool:
    return row.id is None or (sheet.kind in REFERRED and not _NAMING.isdisjoint(row.cells))


def _take(
    assembly: Assembly, order: int, typed: Sequence[TypedRow], old: tuple[Part, ...], removed: frozenset[str]
) -> None:
    sheet = SHEETS[order]
    if typed:
        found = list(_rows(order, sheet, _in_full(sheet, typed, old)))
        assembly.take(sheet, _BEFORE_ROWS[sheet.kind](found, assembly.report) if sheet.kind in _BEFORE_ROWS else found)
    else:
        assembly.keep(sheet.kind)
    drafts = assembly.drafts[sheet.kind]
    for ident in removed & drafts.keys():
        del drafts[ident]
    if typed:
        _check_alike(assembly, sheet, old)
    if sheet.kind is Dwelling:
        number_levels(assembly)
    if sheet.kind is Unit:
        add_receivers(assembly)
    assembly.settle()


def _in_full(sheet: Sheet, typed: Sequence[TypedRow], old: tuple[Part, ...]) -> Sequence[TypedRow]:
    """Return the rows; of buildings with all others between them, as "all" means the buildings in their order."""
    if sheet.kind is not Building:
        return typed
    by_id = {row.id: row for row in typed}
    whole = [by_id.get(part.id) or TypedRow(id=part.id, number=at, cells={}) for at, part in enumerate(old, 1)]
    return [*whole, *(row for row in typed if row.id is None)]


def _rows(order: int, sheet: Sheet, typed: Iterable[TypedRow]) -> Iterator[Row]:
    at = {column.field: index for index, column in enumerate(sheet.columns)}
    headings = {column.field: column.heading for column in sheet.columns}
    layout = Layout(sheet, sheet.name, order, 0, at, headings, [])
    for row in typed:
        if row.id is None:
            cells = {name: text for name, text in row.cells.items() if not is_blank(text)}
        else:
            cells = {name: "-" if is_blank(text) else text for name, text in row.cells.items()} | {"id": row.id}
        yield Row(layout, row.number, dict(cells), row.notes or ())


def _check_alike(assembly: Assembly, sheet: Sheet, old: tuple[Part, ...]) -> None:
    """Tell of new rows, and of dwellings with another label or core, that stand in the table already."""
    fields = sheet.fields(sheet.matches[0])
    drafts = assembly.drafts[sheet.kind].values()
    told = {(spot.order, spot.row) for spot in assembly.report.spots}
    places = {part.id: number for number, part in enumerate(old, 1)}
    standing: dict[tuple[Any, ...], int] = {}
    for draft in drafts:
        if draft.row is None and draft.old is not None:
            standing.setdefault(_key(draft, fields), places[draft.ident])
    for draft in drafts:
        if draft.row is None or draft.broken or not _is_new(draft, fields):
            continue
        key = _key(draft, fields)
        spot = draft.row.spot()
        if key not in standing or (None in key and not sheet.blank_matches) or (spot.order, spot.row) in told:
            continue
        what = " and ".join(sheet.column(name).heading.lower() for name in sheet.matches[0])
        assembly.report.mistake(
            draft.row.spot(sheet.matches[0][-1]), "", f"this {sheet.kind.KIND} stands in row {standing[key]} already",
            f"Take one of the two rows out, or tell them apart by {what}.",
        )  # fmt: skip


def _key(draft: Draft, fields: tuple[str, ...]) -> tuple[Any, ...]:
    return tuple(comparable(draft.value(name)) for name in fields)


def _is_new(draft: Draft, fields: tuple[str, ...]) -> bool:
    if draft.old is None:
        return True
    return draft.kind is Dwelling and any(
        draft.given.get(name, getattr(draft.old, name)) != getattr(draft.old, name) for name in fields
    )


def _placed(report: Report, rows: Mapping[str, Sequence[TypedRow]]) -> Iterator[PlacedMistake]:
    at = {(sheet.name, row.number): row for sheet in SHEETS for row in rows.get(sheet.name, ())}
    for spot, mistake in zip(report.spots, report.mistakes, strict=True):
        sheet = SHEETS[spot.order] if spot.order >= 0 else None
        row = at.get((spot.sheet, spot.row)) if sheet is not None else None
        name = sheet.columns[spot.column].field if sheet is not None and spot.column >= 0 else ""
        yield PlacedMistake(sheet=sheet, row=row, field=name, mistake=mistake)


def _made(assembly: Assembly) -> dict[tuple[str, int], tuple[str, ...]]:
    made: dict[tuple[str, int], tuple[str, ...]] = {}
    for drafts in assembly.drafts.values():
        for draft in drafts.values():
            if draft.row is not None and draft.old is None and draft.kind is draft.row.layout.sheet.kind:
                key = draft.row.layout.sheet.name, draft.row.number
                made[key] = (*made.get(key, ()), draft.ident)
    return made
