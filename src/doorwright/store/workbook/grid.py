"""Files to grids of cells: spreadsheet files through python-calamine, separated text through the csv module."""

import io
import re
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Final, TypeAlias
from xml.sax.saxutils import unescape

import python_calamine as calamine

from doorwright.kernel.errors import Refused
from doorwright.store.workbook.separated import separated_rows


@dataclass(frozen=True, slots=True)
class CellError:
    """A formula's error instead of a value, such as ``#REF!``; empty where the formula was never worked out."""

    code: str


Raw: TypeAlias = str | int | float | bool | date | datetime | time | timedelta | CellError


@dataclass(slots=True)
class Grid:
    """One sheet: rows of cells from the very first on, and its merged ranges as (top, left, bottom, right)."""

    name: str
    rows: list[list[Raw]]
    merged: list[tuple[int, int, int, int]] = field(default_factory=list)
    hidden: bool = False

    @property
    def filled(self) -> bool:
        """Whether any cell holds something."""
        return any(cell != "" for row in self.rows for cell in row)

    def copied(self) -> "Grid":
        """Return the same sheet with rows of its own."""
        return Grid(self.name, [list(row) for row in self.rows], self.merged, self.hidden)

    def cell(self, row: int, column: int) -> Raw:
        """Return what stands in a cell, both counted from 0; an empty text beyond what is filled."""
        cells = self.rows[row] if 0 <= row < len(self.rows) else []
        return cells[column] if 0 <= column < len(cells) else ""

    def put(self, row: int, column: int, raw: Raw) -> None:
        """Put something into a cell, row and column counted from 0."""
        while len(self.rows) <= row:
            self.rows.append([])
        cells = self.rows[row]
        cells.extend([""] * (column + 1 - len(cells)))
        cells[column] = raw


def cell_text(raw: Raw) -> str:
    """Return a cell as one would type it: what is typed so is read as the same; a formula's error as its code."""
    match raw:
        case CellError(code):
            return code
        case bool():
            return "yes" if raw else "no"
        case float() if raw.is_integer() and abs(raw) < 1e15:
            return str(int(raw))
        case datetime() if raw.time() == time():
            return str(raw.date())
    return str(raw)


_ZIP: Final = b"PK\x03\x04"
_COMPOUND: Final = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_ENCRYPTED: Final = "EncryptedPackage".encode("utf-16-le")
_TEXT_ENDINGS: Final = frozenset({".csv", ".tsv", ".txt"})
_UNPACKED_MAX_BYTES: Final = 1 << 30
_CELLS_MAX_COUNT: Final = 20_000_000
_SAVE_AS: Final = "Open it in a spreadsheet program and save it as .xlsx or .ods, or as a folder of .csv files."


def read_grids(path: Path) -> list[Grid]:
    """Return the sheets of a workbook file, of one text file, or of a folder of text files.

    Raises:
        Refused: there is no such file, or it is empty, protected by a password, damaged, or no workbook.
    """
    try:
        grids = _folder(path) if path.is_dir() else _file(path)
    except OSError as error:
        raise Refused(
            f"{path.name} cannot be read: {error.strerror or error}",
            remedy="Check the name, and close the file where another program holds it open.",
        ) from error
    if not any(grid.filled for grid in grids):
        raise Refused(f"{path.name} is empty: no sheet has a filled cell", remedy="Start from the template.")
    return grids


def _folder(path: Path) -> list[Grid]:
    files = sorted(
        (
            file
            for file in path.iterdir()
            if file.suffix.lower() in _TEXT_ENDINGS and not file.name.startswith((".", "~"))
        ),
        key=lambda file: file.name.casefold(),
    )
    if not files:
        raise Refused(
            f"the folder {path.name} holds no .csv file",
            remedy='Give a workbook, or a folder with one .csv file per sheet, such as "Dwellings.csv".',
        )
    return [_text(file, file.read_bytes()) for file in files]


def _file(path: Path) -> list[Grid]:
    content = path.read_bytes()
    if not content:
        raise Refused(
            f"{path.name} is empty: the file has no content", remedy="Copy the file again, or use the template."
        )
    if content.startswith(_ZIP):
        return _spreadsheet(path, content, _zip_sheets(path, content))
    if content.startswith(_COMPOUND):
        if _ENCRYPTED in content:
            raise _protected(path)
        return _spreadsheet(path, content, {})
    if path.suffix.lower() in _TEXT_ENDINGS:
        return [_text(path, content)]
    raise Refused(f"{path.name} is not a workbook", remedy=_SAVE_AS)


def _text(path: Path, content: bytes) -> Grid:
    return Grid(path.stem, [list(row) for row in separated_rows(content)])


def _protected(path: Path) -> Refused:
    return Refused(
        f"{path.name} is protected by a password",
        remedy="Open it in a spreadsheet program, take the password away and save it under another name.",
    )


def _damaged(path: Path, error: BaseException | str) -> Refused:
    return Refused(f"{path.name} is damaged or not a workbook: {error}", remedy=_SAVE_AS)


def _spreadsheet(path: Path, content: bytes, oddities: dict[str, dict[tuple[int, int], CellError]]) -> list[Grid]:
    grids = []
    try:
        with calamine.load_workbook(io.BytesIO(content)) as book:
            for sheet in book.sheets_metadata:
                if sheet.typ is not calamine.SheetTypeEnum.WorkSheet:
                    continue
                cells = book.get_sheet_by_name(sheet.name)
                rows: list[list[Raw]] = [list(row) for row in cells.to_python(skip_empty_area=False)]
                merged = [(*start, *end) for start, end in cells.merged_cell_ranges or []]
                hidden = sheet.visible is not calamine.SheetVisibleEnum.Visible
                grid = Grid(sheet.name, rows, merged, hidden)
                for (row, column), error in oddities.get(sheet.name, {}).items():
                    if grid.cell(row, column) == "":
                        grid.put(row, column, error)
                grids.append(grid)
    except calamine.PasswordError as error:
        raise _protected(path) from error
    except (calamine.CalamineError, ValueError, IndexError) as error:
        raise _damaged(path, error) from error
    except BaseException as error:
        # A panic of the Rust library reaches Python as a class of its own that cannot be imported.
        if type(error).__name__ == "PanicException":
            raise _damaged(path, "its parts contradict each other") from error
        raise
    return grids


# What calamine leaves out of an .xlsx file: cells with an error, formulas never worked out, the extent of a sheet.

_CELL: Final = re.compile(rb"<(?:\w+:)?c\s([^>]*?)(?:/>|>(.*?)</(?:\w+:)?c>)", re.DOTALL)
_AT: Final = re.compile(rb'\br="([A-Z]{1,3})(\d{1,7})"')
_VALUE: Final = re.compile(rb"<(?:\w+:)?v(?:\s[^>]*)?>([^<]+)<")
_FORMULA: Final = re.compile(rb"<(?:\w+:)?f[\s>/]")
_SHEET: Final = re.compile(rb"<(?:\w+:)?sheet\s([^>]*)>")
_RELATION: Final = re.compile(rb"<(?:\w+:)?Relationship\s([^>]*)>")
_ATTRIBUTE: Final = re.compile(rb'([\w:]+)\s*=\s*(?:"([^"]*)"|\'([^\']*)\')')


def _zip_sheets(path: Path, content: bytes) -> dict[str, dict[tuple[int, int], CellError]]:
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            if sum(entry.file_size for entry in archive.infolist()) > _UNPACKED_MAX_BYTES:
                raise Refused(f"{path.name} unpacks to more than 1 GiB", remedy="Keep only the sheets that are needed.")
            names = set(archive.namelist())
            if "META-INF/manifest.xml" in names and b"encryption-data" in archive.read("META-INF/manifest.xml"):
                raise _protected(path)
            if "xl/workbook.xml" not in names:
                return {}
            return {
                sheet: _oddities(path, sheet, archive.read(part)) for sheet, part in _parts(archive) if part in names
            }
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError, KeyError, OSError) as error:
        raise _damaged(path, error) from error


def _parts(archive: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    relations = {}
    for found in _RELATION.finditer(archive.read("xl/_rels/workbook.xml.rels")):
        given = _attributes(found[1])
        relations[given.get("Id", "")] = given.get("Target", "")
    for found in _SHEET.finditer(archive.read("xl/workbook.xml")):
        given = _attributes(found[1])
        target = relations.get(next((given[key] for key in given if key.endswith(":id")), ""), "")
        yield given.get("name", ""), target.removeprefix("/") if target.startswith("/") else f"xl/{target}"


def _attributes(text: bytes) -> dict[str, str]:
    entities = {"&quot;": '"', "&apos;": "'"}
    return {
        name.decode(): unescape((double or single).decode("utf-8", "replace"), entities)
        for name, double, single in _ATTRIBUTE.findall(text)
    }


def _oddities(path: Path, sheet: str, xml: bytes) -> dict[tuple[int, int], CellError]:
    found: dict[tuple[int, int], CellError] = {}
    rows_count, columns_count = 0, 0
    for cell in _CELL.finditer(xml):
        inside = cell[2]
        if not inside:
            continue
        at = _AT.search(cell[1])
        if at is None:
            continue
        row, column = int(at[2]), _column(at[1])
        rows_count, columns_count = max(rows_count, row), max(columns_count, column)
        if b't="e"' in cell[1]:
            value = _VALUE.search(inside)
            found[row - 1, column - 1] = CellError(value[1].decode("utf-8", "replace") if value else "#ERROR")
        elif _FORMULA.search(inside) and not _VALUE.search(inside) and b't="str"' not in cell[1]:
            found[row - 1, column - 1] = CellError("")
    if rows_count * columns_count > _CELLS_MAX_COUNT:
        raise Refused(
            f'{path.name}: sheet "{sheet}" reaches to row {rows_count} and column {columns_count}',
            remedy="A stray value stands far outside the list. Delete the rows and columns beyond the list, and save.",
        )
    return found


def _column(letters: bytes) -> int:
    number = 0
    for code in letters:
        number = number * 26 + code - 64
    return number
