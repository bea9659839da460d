"""What the scripts of the examples share: a workbook that is the same bytes each time, and its cells."""

import sys
from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Final, TypeAlias

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

Cell: TypeAlias = str | int | float | date | None
Row: TypeAlias = Sequence[Cell]

WRITTEN: Final = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


class Book:
    """A workbook as it is written, sheet after sheet."""

    def __init__(self, path: Path, title: str) -> None:
        self._book = xlsxwriter.Workbook(str(path))
        self._book.set_properties({"title": title, "comments": "Invented.", "created": WRITTEN})
        self._head = self._book.add_format({"bold": True, "bottom": 1, "text_wrap": True, "valign": "top"})
        self._day = self._book.add_format({"num_format": "d mmm yyyy", "align": "left"})

    def _put(self, sheet: Worksheet, at: int, row: Row, style: Format | None = None) -> None:
        for column, cell in enumerate(row):
            if isinstance(cell, str):
                sheet.write_string(at, column, cell, style)
            elif isinstance(cell, date):
                sheet.write_datetime(at, column, datetime.combine(cell, time()), self._day)
            elif cell is not None:
                sheet.write_number(at, column, cell, style)

    def close(self) -> None:
        """Write the file."""
        self._book.close()


def run(write: Callable[[Path], None], name: str) -> None:
    """Write the workbook beside its script, or to the path that is given."""
    write(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(__file__).parent / name / f"{name}.xlsx")
