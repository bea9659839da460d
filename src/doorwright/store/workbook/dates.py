"""Dates as people and spreadsheet programs write them."""

import re
from collections.abc import Iterable
from datetime import date, datetime, timedelta
from typing import Any, Final

from doorwright.store.workbook.grid import Raw
from doorwright.store.workbook.values import LIST_LENGTH_MAX, Form, Parsed, Shown, Unreadable, as_text, check_error

_MONTHS: Final = (
    "january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november",
    "december",
)  # fmt: skip
_WEEKDAY: Final = r"(?:mon|tues?|wed(?:nes)?|thu(?:rs?)?|fri|sat(?:ur)?|sun)(?:day)?\.?"
_BEFORE: Final = re.compile(rf"{_WEEKDAY},?\s+", re.IGNORECASE)
_AFTER: Final = re.compile(r"[T ]\s*0{1,2}:00(:00(\.0+)?)?Z?")
_YEAR_FIRST: Final = re.compile(r"(\d{4})([-/.])(\d{1,2})\2(\d{1,2})")
_COMPACT: Final = re.compile(r"((?:19|20)\d{2})(\d{2})(\d{2})")
_FIGURES: Final = re.compile(r"(\d{1,2})\s*([-/. ])\s*(\d{1,2})\s*\2\s*(\d{4})")
_DAY_MONTH: Final = re.compile(r"(\d{1,2})(?:st|nd|rd|th)?\.?[\s\-/]*(?:of\s+)?([a-z]{3,9})\.?[\s\-/,]*(\d{4})")
_MONTH_DAY: Final = re.compile(r"([a-z]{3,9})\.?\s*(\d{1,2})(?:st|nd|rd|th)?\.?,?\s+(\d{4})")
_SHORT_YEAR: Final = re.compile(r"\d{1,2}\W(\d{1,2}|[a-z]{3,9})\W\s*'?\d{2}")
_NO_YEAR: Final = re.compile(
    r"\d{1,2}(st|nd|rd|th)?\W*(of\s+)?([a-z]{3,9}|\d{1,2})\W*|[a-z]{3,9}\W*\d{1,2}(st|nd|rd|th)?"
)
_SPAN: Final = re.compile(r"(.*?\d)\s+(?:to|until|-|–|—)\s+(.*\d.*)")
_FIRST_DAY: Final = date(1899, 12, 30)
"""Day 0 of the day numbers of spreadsheet programs (from memory; right from 1 March 1900 on)."""
_DAY_NUMBERS: Final = range(30_000, 80_000)
_SPAN_MAX: Final = 62
_REMEDY: Final = "Write year, month and day, such as 2026-12-25."
_ONE_FORM: Final = "dates put in one form"


def day_first_of(texts: Iterable[str]) -> bool | None:
    """Return whether dates such as 03/04/2026 begin with the day, as others of their list tell; None where none do."""
    told = set()
    for text in texts:
        for first, mark, second, _ in _FIGURES.findall(text):
            if mark != "." and (int(first) > 12) != (int(second) > 12):
                told.add(int(first) > 12)
    return told.pop() if len(told) == 1 else None


def date_of(text: str, day_first: bool | None = None) -> date:
    """Return the date that a text names. ``day_first`` decides where day and month cannot be told apart.

    Raises:
        Unreadable: it names none, or may be two.
    """
    plain = _AFTER.sub("", _BEFORE.sub("", text.strip(), count=1)).strip(" ,").casefold()
    found = _YEAR_FIRST.fullmatch(plain)
    if found:
        return _date(int(found[1]), int(found[3]), int(found[4]), text)
    found = _COMPACT.fullmatch(plain)
    if found:
        return _date(int(found[1]), int(found[2]), int(found[3]), text)
    found = _FIGURES.fullmatch(plain)
    if found:
        return _figures(int(found[1]), int(found[3]), int(found[4]), text, day_first=found[2] == "." or day_first)
    found = _DAY_MONTH.fullmatch(plain)
    if found:
        return _date(int(found[3]), _month(found[2], text), int(found[1]), text)
    found = _MONTH_DAY.fullmatch(plain)
    if found:
        return _date(int(found[3]), _month(found[1], text), int(found[2]), text)
    if _SHORT_YEAR.fullmatch(plain):
        raise Unreadable(f'the year of "{text}" has two digits', f"{_REMEDY[:-1]}, with all four digits of the year.")
    if _NO_YEAR.fullmatch(plain) and re.search(r"\d", plain):
        raise Unreadable(f'"{text}" names no year', f"{_REMEDY} A holiday that comes every year has a date for each.")
    raise Unreadable(f'"{text[:60]}" is no date', _REMEDY)


def _figures(first: int, second: int, year: int, text: str, *, day_first: bool | None) -> date:
    if first > 12 or first == second:
        return _date(year, second, first, text)
    if second > 12:
        return _date(year, first, second, text)
    if day_first is None:
        raise Unreadable(f'"{text}" may begin with the day or with the month', _REMEDY)
    return _date(year, second, first, text) if day_first else _date(year, first, second, text)


def _month(word: str, text: str) -> int:
    word = "sep" if word == "sept" else word
    for number, name in enumerate(_MONTHS, 1):
        if name.startswith(word):
            return number
    raise Unreadable(f'"{text}" is no date: "{word}" is no month', _REMEDY)


def _date(year: int, month: int, day: int, text: str) -> date:
    try:
        return date(year, month, day)
    except ValueError:
        raise Unreadable(f'"{text}" is no day of the calendar', _REMEDY) from None


def dates_in(raw: Raw, day_first: bool | None = None) -> tuple[date, ...]:
    """Return the dates of a cell: one, several separated by commas or lines, or spans such as ``1 May 2026 to ...``.

    Raises:
        Unreadable: one of them is no date.
    """
    if isinstance(raw, datetime):
        return (raw.date(),)
    if isinstance(raw, date):
        return (raw,)
    if isinstance(raw, int | float) and not isinstance(raw, bool) and int(raw) in _DAY_NUMBERS:
        return (_FIRST_DAY + timedelta(days=int(raw)),)
    text = as_text(raw if not isinstance(raw, str) else raw.replace("\n", ";"), LIST_LENGTH_MAX)
    check_error(text)
    items = _items(text)
    if day_first is None:
        day_first = day_first_of(items)
    return tuple(dict.fromkeys(day for item in items for day in _days(item, day_first)))


def _items(text: str) -> list[str]:
    """Return the dates of a list; a comma within ``Fri, Dec 25, 2026`` separates nothing."""
    text = re.sub(rf"\b({_WEEKDAY}),\s*", r"\1 ", text, flags=re.IGNORECASE)
    text = re.sub(
        r"([a-z]\.?\s*\d{1,2}(?:st|nd|rd|th)?|\d[a-z\s]*\s[a-z]{3,9}\.?),\s*(\d{4})\b(?![-/.]\d)",
        r"\1 \2",
        text,
        flags=re.IGNORECASE,
    )
    return [item.strip() for item in re.split(r"[,;]", text) if item.strip()]


def _days(item: str, day_first: bool | None) -> list[date]:
    span = _SPAN.fullmatch(item)
    if span is None or _FIGURES.fullmatch(item):
        return [date_of(item, day_first)]
    first, last = date_of(span[1], day_first), date_of(span[2], day_first)
    if not 0 <= (last - first).days <= _SPAN_MAX:
        raise Unreadable(
            f'"{item}" goes backwards, or over more than {_SPAN_MAX} days', "Write the earlier date first."
        )
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]


def _read_dates(raw: Raw, _heading: str) -> Parsed:
    days = dates_in(raw)
    return Parsed(
        days, _ONE_FORM if isinstance(raw, int | float) or (isinstance(raw, str) and _other(raw, days)) else ""
    )


def _other(raw: str, days: tuple[date, ...]) -> bool:
    return re.sub(r"\s", "", raw) != ",".join(map(str, days))


def _show_dates(days: Any) -> Shown:
    return ", ".join(map(str, days)) or None


DATES: Final = Form("dates such as 2026-12-25, separated by commas", _read_dates, _show_dates)
