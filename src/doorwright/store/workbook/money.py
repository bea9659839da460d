"""Amounts of money: read and written to the last digit, never by way of binary fractions."""

import re
from decimal import Decimal
from typing import Any, Final

from doorwright.store.workbook.grid import Raw
from doorwright.store.workbook.values import Form, Parsed, Shown, Unreadable, figure_of

_DIGITS_OF_A_CELL: Final = 15
"""How many digits a number in a cell keeps (IEEE 754 double precision); an amount of more is written as text."""

_WHOLE_DIGITS_MAX: Final = 15
_SIGN: Final = re.compile(r"(?:[^\W\d_]{1,3}|[\u0024\u00a2-\u00a5\u20a0-\u20cf])\.?")


def _read_amount(raw: Raw, _heading: str) -> Parsed:
    text = raw
    before = ""
    if isinstance(raw, str):
        found = re.match(rf"\s*({_SIGN.pattern})\s*(?=[\d.,])", raw)
        if found is not None:
            before, text = found[1], raw[found.end() :]
    # what a formula works out has rounding errors behind the digits that a spreadsheet program shows
    digits, behind, change = figure_of(text) if isinstance(text, str | bool) else (_shown(text), "", "")
    behind = re.sub(r"\s*[.,]?\s*[-–—]+$", "", behind).strip()
    if behind and (before or not _SIGN.fullmatch(behind)):
        raise Unreadable(f'"{behind}" is no currency', "Write the amount alone, such as 12.50.")
    amount = Decimal(digits)
    if amount < 0:
        raise Unreadable("the amount is less than 0", "Write an amount from 0 upwards.")
    if amount.adjusted() >= _WHOLE_DIGITS_MAX:
        raise Unreadable("the amount is too large to be a price", "Write what one piece, metre or drum costs.")
    if before or behind:
        change = "the currency beside the amount was passed over: prices are in the currency of the site"
    return Parsed(amount, change)


def _shown(raw: Raw) -> str:
    digits, _, _ = figure_of(raw)
    return f"{float(digits):.{_DIGITS_OF_A_CELL}g}"


def _show_amount(value: Any) -> Shown:
    amount: Decimal = value
    plain = f"{amount:f}"
    if len(plain.replace(".", "").lstrip("0")) > _DIGITS_OF_A_CELL:
        return plain
    return int(amount) if amount == amount.to_integral_value() else float(amount)


AMOUNT: Final = Form("an amount of money", _read_amount, _show_amount, is_text=False)
