"""Rows of one timetable joined: people write a row a day, and leave the name out below the first."""

from collections.abc import Iterable
from dataclasses import replace

from doorwright.store.workbook.grid import Raw
from doorwright.store.workbook.layout import Row
from doorwright.store.workbook.report import Report
from doorwright.store.workbook.values import WINDOWS, YES_NO, Unreadable, clean
from doorwright.store.workbook.windows import closed_on_holidays


def joined(rows: Iterable[Row], report: Report) -> list[Row]:
    """Return one row a timetable, its windows those of all rows of the same name and entrance."""
    result: list[Row] = []
    at: dict[tuple[str, str], int] = {}
    last: Row | None = None
    for row in rows:
        if "name" not in row.cells and "windows" in row.cells and last is not None and "id" not in row.cells:
            row = row.with_cells(name=last.cells["name"])  # noqa: PLW2901  (the row as it is meant)
        row = _closed(row, report)  # noqa: PLW2901
        name = clean(str(row.cells.get("name", ""))).casefold()
        if name:
            last = row
        entrance = clean(str(row.cells.get("entrance", ""))).casefold()
        known = at.get((name, entrance)) if entrance else next((i for (n, _), i in at.items() if n == name), None)
        if known is None or "id" in row.cells or not name:
            at.setdefault((name, entrance), len(result))
            result.append(row)
        else:
            result[known] = _together(result[known], row, report)
    return result


def _closed(row: Row, report: Report) -> Row:
    """Return a row whose windows say "Hol closed" with that in the column where it belongs."""
    raw = row.cells.get("windows")
    left, closed = closed_on_holidays(str(raw)) if raw is not None else ("", False)
    if not closed:
        return row
    said = row.cells.get("closed_on_holidays")
    if said is not None and str(said).strip() and _is_no(said):
        report.mistake(
            row.spot("windows"), raw, f"the windows say closed on holidays, and the column beside them says {said}",
            "Take the words out of the windows, or write yes.",
        )  # fmt: skip
        return row.with_cells(windows=left)
    report.remark(row.spot("windows"), raw, left, "closed on holidays, as its windows say")
    cells = {field: value for field, value in row.cells.items() if field != "windows" or left}
    return replace(row, cells={**cells, **({"windows": left} if left else {}), "closed_on_holidays": "yes"})


def _is_no(raw: Raw) -> bool:
    try:
        return YES_NO.read(raw, "").value is False
    except Unreadable:
        return False  # told where the column is read


def _together(first: Row, row: Row, report: Report) -> Row:
    for field in ("purpose", "divert_to", "closed_on_holidays"):
        ours, theirs = first.cells.get(field), row.cells.get(field)
        if ours is not None and theirs is not None and clean(str(ours)).casefold() != clean(str(theirs)).casefold():
            report.mistake(
                row.spot(field), theirs, f"row {first.number} of the same timetable says otherwise: {ours}",
                "Give the two timetables different names, or correct one row.",
            )  # fmt: skip
    extra = {field: raw for field, raw in row.cells.items() if field not in first.cells}
    if "windows" not in row.cells:
        return first.with_cells(**extra)
    try:
        WINDOWS.read(row.cells["windows"], "")
    except Unreadable as fault:
        report.mistake(row.spot("windows"), row.cells["windows"], fault.problem, fault.remedy)
        return first
    before = first.cells.get("windows")
    windows = f"{before}; {row.cells['windows']}" if before is not None else row.cells["windows"]
    report.remark(row.spot(), row.cells["windows"], windows, "rows of one timetable were joined")
    return first.with_cells(**{**extra, "windows": windows})
