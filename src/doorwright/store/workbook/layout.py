"""Which sheet is which, where its headings stand, and which column fills which field."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from typing import Final

from doorwright.store.workbook.columns import SETTINGS, SHEETS, SITE_SYNONYMS, Sheet
from doorwright.store.workbook.grid import CellError, Grid, Raw
from doorwright.store.workbook.holidays import HOLIDAYS_SHEET, HOLIDAYS_SYNONYMS
from doorwright.store.workbook.report import Report, Spot, letter
from doorwright.store.workbook.values import Unreadable, as_text, check_error, clean, clean_lines, is_blank

HEADER_ROWS_MAX: Final = 40
NOTE_MARK: Final = "Note:"
README_SHEET: Final = "Read me"
LISTS_SHEET: Final = "Lists"
SITE_SHEET: Final = "Site"

_SECRET: Final = re.compile(
    r"\b(pass ?(word|wort|code|phrase)?s?|pwd|pins?|secrets?|credentials?|(access|door|entry|master) (pin|code)s?)\b"
)


@dataclass(slots=True)
class Layout:
    """Where the columns of one sheet stand: index and heading by field, and the columns kept as notes."""

    sheet: Sheet
    name: str
    order: int
    header_row: int
    columns: dict[str, int]
    headings: dict[str, str]
    notes: list[tuple[int, str]]

    def spot(self, row: int = 0, field: str = "") -> Spot:
        """Return a place in this sheet."""
        heading = self.headings.get(field) or (self.sheet.column(field).heading if field else "")
        return Spot(self.order, self.name, row, self.columns.get(field, -1), heading)


@dataclass(slots=True)
class Row:
    """One row: its number as the spreadsheet program counts, the filled cells by field, and its notes."""

    layout: Layout
    number: int
    cells: dict[str, Raw]
    notes: tuple[tuple[str, str], ...] = ()

    def spot(self, field: str = "") -> Spot:
        """Return the place of one of its cells, or of the row."""
        return self.layout.spot(self.number, field)

    def with_cells(self, **cells: Raw) -> "Row":
        """Return this row with other cells."""
        return replace(self, cells=self.cells | cells)


def words(text: str) -> str:
    """Return a heading or a sheet's name as it is compared."""
    return " ".join(re.sub(r"[\W_]+", " ", text.casefold()).split())


def is_secret_heading(heading: str) -> bool:
    """Whether a column of this heading may hold secrets, which no workbook keeps."""
    return _SECRET.search(words(heading)) is not None


@cache
def _fields_by_words(sheet_name: str) -> dict[str, tuple[str, int]]:
    """Return, by the words of a heading, the field and how well the heading fits (0 is best)."""
    sheet = next(sheet for sheet in SHEETS if sheet.name == sheet_name)
    known: dict[str, tuple[str, int]] = {}
    for column in sheet.columns:
        known[words(column.heading)] = (column.field, 0)
    for column in sheet.columns:
        for rank, synonym in enumerate(column.synonyms, 1):
            known.setdefault(words(synonym), (column.field, rank))
    return known


def field_of(sheet: Sheet, heading: str) -> tuple[str, int] | None:
    """Return the field that a heading of a sheet means, and how well it fits (0 is best); None for any other."""
    known = _fields_by_words(sheet.name)
    found = known.get(words(heading))
    if found is None:
        bare = words(re.sub(r"[(\[].*?[)\]]", " ", heading))
        found = known.get(bare) if bare else None
    return found


# sheets


@dataclass(slots=True)
class Sorted:
    """The grids of a workbook by what they hold."""

    site: list[tuple[int, Grid]]
    holidays: list[tuple[int, Grid]]
    tables: dict[str, list[tuple[Layout, Grid]]]


def sort_grids(grids: list[Grid], report: Report) -> Sorted:
    """Tell the sheets apart by name, else by headings, and find the headings of each."""
    result = Sorted([], [], {sheet.name: [] for sheet in SHEETS})
    unknown: list[tuple[int, Grid]] = []
    for order, grid in enumerate(grids):
        if not grid.filled or words(grid.name) in {words(README_SHEET), words(LISTS_SHEET)}:
            continue
        if grid.hidden:
            report.remark(Spot(order, grid.name), "", "", "this hidden sheet was not read; show it to have it read")
        elif words(grid.name) in {words(name) for name in (SITE_SHEET, *SITE_SYNONYMS)}:
            result.site.append((order, grid))
        elif words(grid.name) in {words(name) for name in (HOLIDAYS_SHEET, *HOLIDAYS_SYNONYMS)}:
            result.holidays.append((order, grid))
        elif not _take_named(order, grid, result, report):
            unknown.append((order, grid))
    dwellings = next(sheet for sheet in SHEETS if sheet.name == "Dwellings")
    for order, grid in unknown:
        layout = None if result.tables["Dwellings"] else _layout(order, grid, dwellings, report)
        if layout is None or "door_label" not in layout.columns:
            report.remark(Spot(order, grid.name), "", "", "this sheet was not read: its name is none of those known")
        else:
            report.remark(Spot(order, grid.name), "", "", 'read as the sheet "Dwellings", by its headings')
            result.tables["Dwellings"].append((layout, grid))
    return result


def _take_named(order: int, grid: Grid, result: Sorted, report: Report) -> bool:
    sheet, exactly = _sheet_of(grid.name)
    if sheet is None:
        return False
    layout = _layout(order, grid, sheet, report)
    if layout is None:
        if exactly:
            listed = (
                ", ".join(column.heading for column in sheet.columns if column.required) or sheet.columns[0].heading
            )
            report.mistake(
                Spot(order, grid.name), "", "no row of headings was found",
                f"Put headings above the list; at least: {listed}. The template shows them.",
            )  # fmt: skip
        return exactly
    if words(grid.name) != words(sheet.name):
        report.remark(Spot(order, grid.name), "", "", f'read as the sheet "{sheet.name}"')
    result.tables[sheet.name].append((layout, grid))
    return True


def _sheet_of(name: str) -> tuple[Sheet | None, bool]:
    """Return the sheet that a name means, and whether the whole name does (and not only some words of it)."""
    given = words(name)
    best: tuple[int, Sheet] | None = None
    for sheet in SHEETS:
        for known in (sheet.name, *sheet.synonyms):
            if given == words(known):
                return sheet, True
            if f" {words(known)} " in f" {given} " and (best is None or len(known) > best[0]):
                best = (len(known), sheet)
    return (best[1] if best else None), False


# headings


def _layout(order: int, grid: Grid, sheet: Sheet, report: Report) -> Layout | None:
    best_score, header = 0.0, -1
    required = {column.field for column in sheet.columns if column.required}
    for number, cells in enumerate(grid.rows[:HEADER_ROWS_MAX]):
        headings = [_heading(cell) for cell in cells]
        fields = {found[0] for found in (field_of(sheet, heading) for heading in headings if heading) if found}
        filled_count = sum(1 for heading in headings if heading)
        score = len(fields) + len(fields & required) / 10
        if fields and (len(fields) > 1 or filled_count == 1) and score > best_score:
            best_score, header = score, number
    return _laid_out(order, grid, sheet, header, report) if header >= 0 else None


def _heading(cell: Raw) -> str:
    if isinstance(cell, CellError) or (isinstance(cell, str) and len(cell) > 200):
        return ""
    return clean(str(cell)) if isinstance(cell, str) else _plain(cell)


def _plain(cell: Raw) -> str:
    try:
        return as_text(cell)
    except Unreadable:
        return str(cell)


def _laid_out(order: int, grid: Grid, sheet: Sheet, header: int, report: Report) -> Layout:
    width = max(len(row) for row in grid.rows[header:])
    headings = [_heading(cell) for cell in grid.rows[header]]
    headings += [""] * (width - len(headings))
    candidates = []
    for index, heading in enumerate(headings):
        found = None if heading.startswith(NOTE_MARK) else field_of(sheet, heading)
        if found:
            candidates.append((found[1], index, found[0]))
    layout = Layout(sheet, grid.name, order, header, {}, {}, [])
    for _, index, field in sorted(candidates):
        if field not in layout.columns:
            layout.columns[field] = index
            layout.headings[field] = headings[index]
    taken = set(layout.columns.values())
    for index, heading in enumerate(headings):
        if index not in taken and _column_filled(grid, header, index):
            _keep_as_note(layout, index, heading, report)
    return layout


def _column_filled(grid: Grid, header: int, index: int) -> bool:
    return any(index < len(row) and not is_blank(row[index]) for row in grid.rows[header + 1 :])


def _keep_as_note(layout: Layout, index: int, heading: str, report: Report) -> None:
    spot = Spot(layout.order, layout.name, layout.header_row + 1, index, heading)
    bare = heading.removeprefix(NOTE_MARK).strip() if heading.startswith(NOTE_MARK) else heading
    if is_secret_heading(bare):
        report.remark(spot, "", "", "this column was not read: secrets do not belong in a workbook")
        return
    if heading.startswith(NOTE_MARK):
        layout.notes.append((index, bare))
        return
    kept = heading or f"Column {letter(index)}"
    report.remark(spot, heading, kept, "this column is not known and was kept as notes")
    layout.notes.append((index, kept))


# rows


def rows_of(layout: Layout, grid: Grid, report: Report) -> Iterator[Row]:
    """Yield the filled rows under the headings; merged cells speak for all their rows where the column allows it."""
    _fill_merged(layout, grid, report)
    placed = list(layout.columns.items())
    for index in range(layout.header_row + 1, len(grid.rows)):
        raw_cells = grid.rows[index]
        width = len(raw_cells)
        cells = {}
        for field, column in placed:
            if column < width:
                raw = raw_cells[column]
                if raw != "" and not is_blank(raw):
                    cells[field] = raw
        notes = tuple(_notes(layout, index + 1, raw_cells, report)) if layout.notes else ()
        if not cells and not notes:
            continue
        if _repeats_headings(layout, cells):
            report.remark(layout.spot(index + 1), "", "", "headings that stand again within the list were passed over")
            continue
        yield Row(layout, index + 1, cells, notes)


def _repeats_headings(layout: Layout, cells: dict[str, Raw]) -> bool:
    return len(cells) > 1 and all(words(_heading(raw)) == words(layout.headings[name]) for name, raw in cells.items())


def _notes(layout: Layout, number: int, cells: list[Raw], report: Report) -> Iterator[tuple[str, str]]:
    for column, heading in layout.notes:
        if column < len(cells) and not is_blank(cells[column]):
            try:
                text = _note_text(cells[column])
            except Unreadable as fault:
                spot = Spot(layout.order, layout.name, number, column, heading)
                report.mistake(spot, _plain_or_code(cells[column]), fault.problem, fault.remedy)
            else:
                yield heading, text


def _note_text(raw: Raw) -> str:
    if isinstance(raw, str):
        as_text(raw)
        check_error(clean(raw))
        return clean_lines(raw)
    if isinstance(raw, int | float | CellError):
        return repr(raw) if isinstance(raw, float) and abs(raw) >= 1e15 else as_text(raw)
    return str(raw)


def _plain_or_code(raw: Raw) -> str:
    return raw.code if isinstance(raw, CellError) else str(raw)[:400]


def _fill_merged(layout: Layout, grid: Grid, report: Report) -> None:
    fields = {index: field for field, index in layout.columns.items() if layout.sheet.column(field).fills}
    for top, left, bottom, _ in grid.merged:
        if left not in fields or bottom == top or top <= layout.header_row or top >= len(grid.rows):
            continue
        raw = grid.rows[top][left] if left < len(grid.rows[top]) else ""
        if raw == "":
            continue
        report.remark(layout.spot(top + 1, fields[left]), raw, raw, "a merged cell was read for each of its rows")
        for cells in grid.rows[top + 1 : bottom + 1]:
            # A merged block often runs on below the list; rows without anything else stay blank.
            if any(cell != "" for cell in cells):
                cells.extend([""] * (left + 1 - len(cells)))
                if cells[left] == "":
                    cells[left] = raw


def settings_of(grids: list[tuple[int, Grid]]) -> Iterator[tuple[str, Raw, Spot]]:
    """Yield the lines of the sheet "Site": the setting's field (empty for one that is not known), value and place."""
    known: dict[str, str] = {}
    for setting in SETTINGS:
        known[words(setting.heading)] = setting.field
        for synonym in setting.synonyms:
            known.setdefault(words(synonym), setting.field)
    for order, grid in grids:
        column = _value_column(grid, known)
        for number, cells in enumerate(grid.rows, 1):
            key = next((index for index, cell in enumerate(cells) if not is_blank(cell)), column)
            if key >= column or column >= len(cells) or is_blank(cells[column]):
                continue
            heading = _heading(cells[key])
            if words(heading) not in _SETTING_HEADS:
                field = "" if heading.startswith(NOTE_MARK) else known.get(words(heading), "")
                yield field, cells[column], Spot(order, grid.name, number, column, heading)


_SETTING_HEADS: Final = frozenset({"setting", "key", "field"})


def _value_column(grid: Grid, known: dict[str, str]) -> int:
    """Return the column of the values: the one under "Value", else the usual one beside names of settings."""
    beside: Counter[int] = Counter()
    for cells in grid.rows:
        filled = [index for index, cell in enumerate(cells) if not is_blank(cell)]
        if len(filled) < 2:
            continue
        if words(_heading(cells[filled[0]])) in _SETTING_HEADS:
            return next((i for i in filled if words(_heading(cells[i])) in {"value", "values"}), filled[1])
        if words(_heading(cells[filled[0]])) in known:
            beside[filled[1]] += 1
    return beside.most_common(1)[0][0] if beside else 1
