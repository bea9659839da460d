"""The weights of the 24 hours of a day, as a list of numbers."""

import re
from typing import Any, Final

from doorwright.store.workbook.grid import Raw
from doorwright.store.workbook.values import Form, Parsed, Shown, Unreadable, as_text, check_error

_HOURS_COUNT: Final = 24
_REMEDY: Final = "Write 24 numbers from midnight on, separated by commas, their decimals with a point."


def _read_weights(raw: Raw, _heading: str) -> Parsed:
    text = as_text(raw)
    check_error(text)
    # a decimal comma would make two numbers of one: where semicolons or bars stand between, it is a comma within
    items = [item.replace(",", ".") for item in re.split(r"\s*[;|]\s*", text)]
    change = "decimal commas were read as decimal points" if len(items) > 1 and "," in text else ""
    if len(items) == 1:
        items = re.split(r"\s*,\s*|\s+", text)
    items = [item for item in items if item]
    try:
        weights = tuple(float(item) for item in items)
    except ValueError:
        raise Unreadable("this is no list of numbers", _REMEDY) from None
    if len(weights) != _HOURS_COUNT:
        raise Unreadable(f"there are {len(weights)} numbers, not one for each hour of the day", _REMEDY)
    if not all(0.0 <= weight < float("inf") for weight in weights) or not any(weights):
        raise Unreadable("a weight is below zero, or none is above it", _REMEDY)
    return Parsed(weights, change)


def _show_weights(value: Any) -> Shown:
    return ", ".join(f"{weight:.0f}" if weight == int(weight) else repr(weight) for weight in value)


HOUR_WEIGHTS: Final = Form("24 numbers, separated by commas", _read_weights, _show_weights)
