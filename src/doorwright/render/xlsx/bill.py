"""The bill of materials as a table to send to suppliers: one row an item, sums that say what they leave out."""

from datetime import datetime
from decimal import Decimal
from io import BytesIO
from typing import Any, Final

from doorwright.plan.materials import NOT_COUNTED, Bill, Material
from doorwright.render.xlsx.pages import BASE, for_printing, workbook_in

HEADINGS: Final = ("Group", "Key", "What", "Planned", "Measure", "To order", "By", "Price", "Cost", "Remark")
_WIDTHS: Final = (12, 22, 40, 10, 9, 10, 16, 12, 16, 44)


def bill_xlsx(bill: Bill, *, title: str, made_at: datetime) -> bytes:
    """Return the bill as an xlsx file, the same for the same input.

    Sums are written as the exact figures that the bill has, not as formulas: a price that is missing would make a
    formula's sum look whole.
    """
    file = BytesIO()
    book = workbook_in(file, title=title, made_at=made_at)
    head = book.add_format({**BASE, "bold": True, "bottom": 2, "text_wrap": True})
    text = book.add_format({**BASE, "num_format": "@", "text_wrap": True})
    number = book.add_format({**BASE, "align": "right"})
    bold = book.add_format({**BASE, "bold": True, "top": 1, "text_wrap": True})
    sheet = book.add_worksheet("Bill of materials")
    for column, (heading, width) in enumerate(zip(HEADINGS, _WIDTHS, strict=True)):
        sheet.set_column(column, column, width)
        unit = f", {bill.currency}" if bill.currency and heading in ("Price", "Cost") else ""
        sheet.write_string(0, column, f"{heading}{unit}", head)
    row = 1
    for group in bill.groups:
        for line in bill.of(group):
            _write(sheet, row, _cells(bill, line), text, number)
            row += 1
        if bill.has_prices:
            _total(sheet, row, bill, group, bold)
            row += 1
    if bill.has_prices:
        _total(sheet, row, bill, None, bold)
        row += 1
    sheet.write_string(row + 1, 0, NOT_COUNTED, book.add_format({**BASE, "italic": True}))
    for_printing(sheet, title, last_row=row - 1, columns_count=len(HEADINGS))
    book.close()
    return file.getvalue()


def _cells(bill: Bill, line: Material) -> tuple[str | Decimal | None, ...]:
    cost = line.cost if line.cost is not None or not bill.has_prices else "no price"
    return (
        line.group, line.key, line.title, line.amount, line.measure, line.order, line.order_measure,
        line.price, cost, line.remark,
    )  # fmt: skip


def _write(sheet: Any, row: int, cells: tuple[str | Decimal | None, ...], text: Any, number: Any) -> None:
    for column, cell in enumerate(cells):
        if isinstance(cell, str):
            sheet.write_string(row, column, "".join(sign for sign in cell if sign.isprintable()), text)
        elif cell is not None:
            sheet.write_number(row, column, cell, number)


def _total(sheet: Any, row: int, bill: Bill, group: str | None, bold: Any) -> None:
    total = bill.total(group)
    name = f"{group.capitalize()}: total" if group else "Total"
    for column in range(len(HEADINGS)):
        sheet.write_blank(row, column, None, bold)
    sheet.write_string(row, 0, name, bold)
    sheet.write_number(row, HEADINGS.index("Cost"), total.cost, bold)
    names = f": {', '.join(total.unpriced)}" if group is None and total.unpriced else ""
    sheet.write_string(row, HEADINGS.index("Remark"), f"{total.leaves_out}{names}", bold)
