"""How a table of ours is opened as a file and laid out for the screen and for A4."""

from datetime import datetime
from io import BytesIO
from typing import Any, Final

import xlsxwriter

BASE: Final = {"font_name": "Calibri", "font_size": 10, "valign": "top"}
"""What every format begins with."""
_OPTIONS: Final = {
    "in_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
}  # fmt: skip


def workbook_in(file: BytesIO, *, title: str, made_at: datetime) -> Any:
    """Open a workbook that takes text as text, its properties the same for the same input."""
    book = xlsxwriter.Workbook(file, _OPTIONS)
    book.set_properties(
        {"title": title[:255], "comments": "Written by Doorwright", "created": made_at.replace(tzinfo=None)}
    )
    return book


def for_printing(sheet: Any, title: str, *, last_row: int, columns_count: int, still_count: int = 0) -> None:
    """Keep the head and so many columns in sight, let people filter, and print as wide as A4 across, head repeated."""
    sheet.freeze_panes(1, still_count)
    sheet.autofilter(0, 0, max(last_row, 1), columns_count - 1)
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)
    sheet.set_footer(f"&L{title.replace('&', '&&')[:200]}&R&P / &N")
