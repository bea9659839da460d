"""The mistakes of a workbook beside their cells: the rows that have some, and the corrections that a form gives."""

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, TypeAlias

from doorwright.kernel.errors import Mistake
from doorwright.store.workbook import Reading
from doorwright.store.workbook.grid import Grid, cell_text
from doorwright.store.workbook.report import Spot, letter
from doorwright.web.intake import CellAt, Intake

ROWS_SHOWN_COUNT: Final = 100
"""So many rows with mistakes are shown at once; the others come when these are right."""
FIELDS_SHOWN_COUNT: Final = 1_500
"""So many cells can be corrected at once: a form holds no more than 2 000 fields."""

_CELL: Final = re.compile(r"cell\.(\d{1,4})\.(\d{1,7})\.(\d{1,5})")
_ALL_ROWS: Final = re.compile(r"rows\.(\d{1,4})\.(\d{1,5})")
_OUT: Final = re.compile(r"out\.(\d{1,4})\.(\d{1,7})")

_Found: TypeAlias = list[tuple[Spot, Mistake]]


@dataclass(frozen=True, slots=True, kw_only=True)
class CellLine:
    """One cell of a row with mistakes. ``field`` is its name in the form, empty where it is only shown.

    ``merged_text`` is what the merged cell says whose part a blank one is.
    """

    text: str
    field: str
    merged_text: str = ""
    mistakes: tuple[Mistake, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class RowLine:
    """A row with mistakes; ``mistakes`` are those of the row as a whole, ``out_field`` leaves the row out."""

    number: int
    out_field: str
    cells: tuple[CellLine, ...]
    mistakes: tuple[Mistake, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class HeadingLine:
    """A column: its letter and heading. Of one that the sheet lacks, the names of two fields of the form.

    ``field`` is that of the heading itself, ``rows_field`` that of a text for every row that lacks it.
    """

    letter: str
    text: str
    field: str = ""
    rows_field: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLines:
    """A sheet with mistakes: its columns, and the rows; ``more_count`` further rows have mistakes too."""

    name: str
    headings: tuple[HeadingLine, ...]
    rows: tuple[RowLine, ...]
    more_count: int


def mistakes_elsewhere(reading: Reading) -> tuple[Mistake, ...]:
    """Return the mistakes that are in no row: of a sheet, or of the workbook."""
    return tuple(mistake for spot, mistake in _found(reading) if not _has_row(spot))


def sheets_with_mistakes(sheets: Sequence[Grid], reading: Reading) -> Iterator[SheetLines]:
    """Yield each sheet that has rows with mistakes, and those rows."""
    rows_left, fields_left = ROWS_SHOWN_COUNT, FIELDS_SHOWN_COUNT
    for order, rows in _by_row(reading).items():
        frame = _Frame(order, sheets[order], reading.headed.get(order, 0), rows)
        lines: list[RowLine] = []
        for number, here in rows.items():
            line = frame.row(number, here)
            fields_count = sum(bool(cell.field) for cell in line.cells)
            if rows_left <= 0 or fields_count > fields_left:
                break
            lines.append(line)
            rows_left, fields_left = rows_left - 1, fields_left - fields_count
        yield SheetLines(
            name=frame.sheet.name,
            headings=tuple(frame.headings()),
            rows=tuple(lines),
            more_count=len(rows) - len(lines),
        )


def corrections(intake: Intake, fields: Iterable[tuple[str, Any]]) -> dict[CellAt, str]:
    """Return what a form says of cells. A text for every row goes where the form says nothing of the row's own.

    A row that is left out becomes blank; what a merged cell says from there for rows below goes on to these.
    """
    texts: dict[CellAt, str] = {}
    for_rows: dict[tuple[int, int], str] = {}
    out: list[tuple[int, int]] = []
    for field, value in fields:
        if not isinstance(value, str):
            continue
        text = value.strip().replace("\r\n", "\n")
        if cell := _CELL.fullmatch(field):
            texts[int(cell[1]), int(cell[2]), int(cell[3])] = text
        elif (rows := _ALL_ROWS.fullmatch(field)) and text:
            for_rows[int(rows[1]), int(rows[2])] = text
        elif row := _OUT.fullmatch(field):
            out.append((int(row[1]), int(row[2])))
    if intake.proposed is not None:
        for (order, column), text in for_rows.items():
            for at in _lacking_cells(intake.sheets, intake.proposed.reading, order, column):
                texts[at] = texts.get(at) or text
    for order, number in out:
        if order < len(intake.sheets):
            texts |= _left_out(order, intake.sheets[order], number)
    return texts


def _left_out(order: int, sheet: Grid, number: int) -> dict[CellAt, str]:
    """Return the texts that blank a row, counted from 0, and hand its merged cells down to the rows below."""
    texts: dict[CellAt, str] = {}
    cells = sheet.rows[number] if number < len(sheet.rows) else []
    for top, left, bottom, _ in sheet.merged:
        if top == number < bottom and left < len(cells):
            for below in range(top + 1, min(bottom + 1, len(sheet.rows))):
                if sheet.cell(below, left) == "" and any(cell != "" for cell in sheet.rows[below]):
                    texts[order, below, left] = cell_text(cells[left])
    return texts | {(order, number, column): "" for column in range(len(cells))}


def _lacking_cells(sheets: Sequence[Grid], reading: Reading, order: int, column: int) -> Iterator[CellAt]:
    """Yield the cells of a column that a sheet lacks, in every row that needs it."""
    rows = _by_row(reading).get(order, {})
    if not rows:
        return
    frame = _Frame(order, sheets[order], reading.headed.get(order, 0), rows)
    if not frame.width <= column < frame.width + len(frame.lacking):
        return
    heading = frame.lacking[column - frame.width]
    for number, here in rows.items():
        if any(spot.column < 0 and spot.heading == heading for spot, _ in here):
            yield order, number - 1, column


class _Frame:
    """One sheet with mistakes: how wide it is, and which columns it lacks. ``header`` is the row of headings, or 0."""

    def __init__(self, order: int, sheet: Grid, header: int, rows: Mapping[int, _Found]) -> None:
        self.order = order
        self.sheet = sheet
        self.header = header
        self.width = _width(sheet, header, rows)
        lacking = (spot.heading for here in rows.values() for spot, _ in here if spot.column < 0 and spot.heading)
        self.lacking = tuple(dict.fromkeys(lacking)) if header else ()

    def headings(self) -> Iterator[HeadingLine]:
        for column in range(self.width):
            text = cell_text(self.sheet.cell(self.header - 1, column)) if self.header else ""
            yield HeadingLine(letter=letter(column), text=text)
        for column, heading in enumerate(self.lacking, start=self.width):
            yield HeadingLine(
                letter=letter(column),
                text=heading,
                field=self._field(self.header, column),
                rows_field=f"rows.{self.order}.{column}",
            )

    def row(self, number: int, here: _Found) -> RowLine:
        whole: list[Mistake] = []
        wrong: dict[int, list[Mistake]] = {}
        for spot, mistake in here:
            if spot.column >= 0:
                wrong.setdefault(spot.column, []).append(mistake)
            elif spot.heading in self.lacking:
                wrong.setdefault(self.width + self.lacking.index(spot.heading), []).append(mistake)
            else:
                whole.append(mistake)
        cells = tuple(
            CellLine(
                text=cell_text(self.sheet.cell(number - 1, column)),
                merged_text=self._merged_text(number - 1, column),
                field=self._field(number, column) if column in wrong or (whole and column < self.width) else "",
                mistakes=tuple(wrong.get(column, ())),
            )
            for column in range(self.width + len(self.lacking))
        )
        out_field = f"out.{self.order}.{number - 1}"
        return RowLine(number=number, out_field=out_field, cells=cells, mistakes=tuple(whole))

    def _merged_text(self, row: int, column: int) -> str:
        """Return what a merged cell that begins above says here, empty where there is none."""
        if self.sheet.cell(row, column) != "":
            return ""
        tops = (
            top for top, left, bottom, _ in self.sheet.merged if left == column and self.header <= top < row <= bottom
        )
        top = next(tops, None)
        return cell_text(self.sheet.cell(top, column)) if top is not None else ""

    def _field(self, number: int, column: int) -> str:
        return f"cell.{self.order}.{number - 1}.{column}"


def _found(reading: Reading) -> _Found:
    return list(zip(reading.spots, reading.mistakes, strict=True))


def _has_row(spot: Spot) -> bool:
    return spot.order >= 0 and spot.row > 0


def _by_row(reading: Reading) -> dict[int, dict[int, _Found]]:
    of_sheet: dict[int, dict[int, _Found]] = {}
    for spot, mistake in _found(reading):
        if _has_row(spot):
            of_sheet.setdefault(spot.order, {}).setdefault(spot.row, []).append((spot, mistake))
    return of_sheet


def _width(sheet: Grid, header: int, rows: Mapping[int, _Found]) -> int:
    """Return how many columns there are: those with a heading, and as far as the rows with mistakes are filled."""
    numbers = (*rows, *([header] if header else []))
    filled = (
        column + 1
        for number in numbers
        for column in range(len(sheet.rows[number - 1]) if number <= len(sheet.rows) else 0)
        if sheet.cell(number - 1, column) != ""
    )
    wrong = (spot.column + 1 for here in rows.values() for spot, _ in here)
    return max((*filled, *wrong), default=0)
