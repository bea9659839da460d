"""The table of entries to make at cleared units: one row an entry, to copy from and to tick. It holds no secret."""

from collections.abc import Sequence
from datetime import datetime
from io import BytesIO
from typing import Final

from doorwright.plan.firmware.rebuild import Line
from doorwright.render.xlsx.pages import BASE, for_printing, workbook_in

HEADINGS: Final = ("No.", "Unit", "Where", "End", "About", "Field", "Value", "Done")
_WIDTHS: Final = (6, 22, 30, 30, 22, 22, 34, 8)
_LONGEST: Final = 32_767
"""Characters that a cell of this format holds."""

_MISSING: Final = "not in the book"


def rebuild_xlsx(lines: Sequence[Line], *, title: str, made_at: datetime) -> bytes:
    """Return the table of entries as an xlsx file, the same for the same input.

    Args:
        lines: the entries, in order of work.
        title: what stands in the file's properties and on its pages.
        made_at: when the revision it shows was saved.
    """
    file = BytesIO()
    book = workbook_in(file, title=title, made_at=made_at)
    head = book.add_format({**BASE, "bold": True, "bottom": 2})
    text = book.add_format({**BASE, "num_format": "@", "text_wrap": True})
    missing = book.add_format({**BASE, "italic": True, "font_color": "#a02020"})
    sheet = book.add_worksheet("Entries")
    for column, (heading, width) in enumerate(zip(HEADINGS, _WIDTHS, strict=True)):
        sheet.set_column(column, column, width)
        sheet.write_string(0, column, heading, head)
    for row, line in enumerate(lines, start=1):
        sheet.write_number(row, 0, row, text)
        for column, value in enumerate((line.unit.name, line.where, line.end, line.about.name, line.field), start=1):
            sheet.write_string(row, column, _clean(value), text)
        sheet.write_string(row, 6, _clean(line.value or _MISSING), text if line.value else missing)
        sheet.write_blank(row, 7, None, text)
    for_printing(sheet, title, last_row=len(lines), columns_count=len(HEADINGS), still_count=2)
    book.close()
    return file.getvalue()


def _clean(text: str) -> str:
    """Return text without what the format cannot hold: control characters, and too many of any."""
    return "".join(sign for sign in text if sign.isprintable() or sign == "\n")[:_LONGEST]
