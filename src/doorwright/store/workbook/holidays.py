"""The sheet "Holidays": a date and the name of the day in each row. The site keeps the dates, its notes the names."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from typing import Final

from doorwright.model.site import Site
from doorwright.store.workbook.dates import dates_in, day_first_of
from doorwright.store.workbook.grid import CellError, Grid, Raw
from doorwright.store.workbook.report import Report, Spot
from doorwright.store.workbook.values import Unreadable, as_text, clean, is_blank

HOLIDAYS_SHEET: Final = "Holidays"
HOLIDAYS_SYNONYMS: Final = ("holiday", "bank holidays", "public holidays", "bank and public holidays", "closed days")
HOLIDAYS_HEADINGS: Final = ("Date", "Name")
HOLIDAYS_NOTES: Final = (
    "The site's holidays, for timetables with a window on Hol. A date such as 2026-12-25. Needed in every row.",
    "What the day is called; may be blank.",
)
HOLIDAYS_EXAMPLE: Final = (date(2026, 12, 25), "Christmas Day")
_DATE_WORDS: Final = frozenset({"date", "dates", "day", "holiday date", "on"})
_NAME_WORDS: Final = frozenset({"name", "holiday", "occasion", "what", "title", "description", "holiday name"})
_NOTE: Final = "Holiday "


def note_heading(day: date) -> str:
    """Return the heading of the note that keeps the name of a holiday."""
    return f"{_NOTE}{day}"


def named_holidays(site: Site) -> Iterator[tuple[date, str]]:
    """Yield the holidays of a site with their names."""
    notes = dict(site.notes)
    for day in site.holidays:
        yield day, notes.get(note_heading(day), "")


def with_holidays(site: Site, grids: list[tuple[int, Grid]], report: Report, *, replacing: bool) -> Site:
    """Return the site with the holidays of its sheet besides its own, or instead of them."""
    if not any(grid.filled for _, grid in grids):
        return site
    listed = holidays_of(grids, report)
    kept = () if replacing else site.holidays
    for day in site.holidays:
        if day not in listed:
            what = "removed" if replacing else "kept as it was"
            report.remark(Spot(grids[0][0], grids[0][1].name), "", day, f"this holiday has no row and was {what}")
    holidays = (*kept, *(day for day in listed if day not in kept))
    names = dict(site.notes)
    names |= {note_heading(day): name for day, name in listed.items() if name}
    gone = {note_heading(day) for day in site.holidays if day not in holidays}
    notes = _names_last(names, gone, holidays)
    return site if (holidays, notes) == (site.holidays, site.notes) else replace(site, holidays=holidays, notes=notes)


def _names_last(notes: dict[str, str], gone: set[str], holidays: tuple[date, ...]) -> tuple[tuple[str, str], ...]:
    headings = [note_heading(day) for day in holidays]
    others = [(heading, text) for heading, text in notes.items() if heading not in gone and heading not in headings]
    return (*others, *((heading, notes[heading]) for heading in headings if heading in notes))


def notes_besides(site: Site) -> tuple[tuple[str, str], ...]:
    """Return the notes of a site that are not the name of one of its holidays."""
    names = {note_heading(day) for day in site.holidays}
    return tuple(note for note in site.notes if note[0] not in names)


def holidays_of(grids: list[tuple[int, Grid]], report: Report) -> dict[date, str]:
    """Return the dates of the sheets of holidays with their names, empty where a day has none."""
    found: dict[date, str] = {}
    for order, grid in grids:
        top, at, named = _headings(grid)
        texts = [str(cells[at]) for cells in grid.rows[top:] if at < len(cells) and isinstance(cells[at], str)]
        day_first = day_first_of(texts)
        for number, cells in enumerate(grid.rows[top:], top + 1):
            name = _name(cells[named]) if 0 <= named < len(cells) else ""
            spot = Spot(order, grid.name, number, at, HOLIDAYS_HEADINGS[0])
            for day in _days(cells[at] if at < len(cells) else "", name, spot, report, day_first=day_first):
                if day in found:
                    report.remark(spot, day, day, "this holiday stands twice and was taken once")
                found[day] = found.get(day) or name
    return found


def _days(raw: Raw, name: str, spot: Spot, report: Report, *, day_first: bool | None) -> tuple[date, ...]:
    if is_blank(raw):
        if name:
            report.mistake(spot, name, "the date of this holiday is missing", "Write it, such as 2026-12-25.")
        return ()
    try:
        days = dates_in(raw, day_first)
    except Unreadable as fault:
        report.mistake(spot, raw.code if isinstance(raw, CellError) else raw, fault.problem, fault.remedy)
        return ()
    if days and (isinstance(raw, int | float) or (isinstance(raw, str) and clean(raw) != str(days[0]))):
        report.remark(spot, raw, days[0], "dates put in one form")
    return days


def _name(raw: Raw) -> str:
    try:
        return "" if is_blank(raw) else as_text(raw)
    except Unreadable:
        return ""


def _headings(grid: Grid) -> tuple[int, int, int]:
    """Return the first row of the list, and the columns of dates and of names (-1 for none)."""
    for number, cells in enumerate(grid.rows):
        words = [clean(cell).casefold() if isinstance(cell, str) else "" for cell in cells]
        dated = next((at for at, word in enumerate(words) if word in _DATE_WORDS), -1)
        if dated >= 0:
            named = next((at for at, word in enumerate(words) if word in _NAME_WORDS), -1)
            return number + 1, dated, named
    for number, cells in enumerate(grid.rows):  # no headings: the first column that holds a date, names beside it
        for at, cell in enumerate(cells):
            if _is_date(cell):
                return number, at, at + 1
    return 0, 0, 1


def _is_date(cell: Raw) -> bool:
    if is_blank(cell):
        return False
    try:
        return bool(dates_in(cell))
    except Unreadable:
        return False
