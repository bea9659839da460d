"""What only the list of dwellings needs: ranges to rows, words before a number, and the order of levels it names."""

import re
from collections.abc import Iterable, Iterator
from typing import Final

from doorwright.model.place import Dwelling, Level
from doorwright.store.workbook.assemble import Assembly
from doorwright.store.workbook.labels import ImpossibleRange, level_order, listed_labels
from doorwright.store.workbook.layout import Row
from doorwright.store.workbook.names import without_kind_word
from doorwright.store.workbook.report import Report
from doorwright.store.workbook.values import Unreadable, as_text

_NUMBERED: Final = re.compile(r"\d+[^\W\d_]?")
_ONE_EACH: Final = ("call_number", "unit_serial", "unit_mac", "legend")


def expand(rows: Iterable[Row], report: Report) -> list[Row]:
    """Return one row a dwelling: ranges expanded, and ``Flat 12`` made ``12`` where others are bare numbers.

    A row with an identifier was written by Doorwright: its label is taken as it stands.
    """
    rows = list(rows)
    single = [one for row in rows for one in _rows(row, report)]
    bare = any("id" not in row.cells and _NUMBERED.fullmatch(_label(row)) for row in single)
    return [_without_word(row, report) if bare else row for row in single]


def _label(row: Row) -> str:
    raw = row.cells.get("door_label", "")
    try:
        return as_text(raw)
    except Unreadable:
        return ""  # told when the cell is read


def _rows(row: Row, report: Report) -> Iterator[Row]:
    text = _label(row)
    if not text or "id" in row.cells:
        yield row
        return
    spot = row.spot("door_label")
    try:
        labels = listed_labels(without_kind_word(Dwelling, text)) or ()
    except ImpossibleRange as fault:
        report.mistake(spot, text, str(fault), "Write the lower label first, such as 1-24 or G01-G08.")
        return
    if not labels:
        yield row
        return
    for field in _ONE_EACH:
        if field in row.cells and len(labels) > 1:
            report.mistake(
                row.spot(field),
                row.cells[field],
                f"one value stands for {len(labels)} dwellings",
                "Give each dwelling a row of its own.",
            )
            return
    report.remark(spot, text, f"{labels[0]} ... {labels[-1]}", "a range was read as one row for each label")
    for label in labels:
        yield row.with_cells(door_label=label)


def _without_word(row: Row, report: Report) -> Row:
    text = _label(row)
    label = without_kind_word(Dwelling, text)
    if label == text or "id" in row.cells or not _NUMBERED.fullmatch(label):
        return row
    report.remark(row.spot("door_label"), text, label, "the word before the number was left out, as in other rows")
    return row.with_cells(door_label=label)


def number_levels(assembly: Assembly) -> None:
    """Give an order to new levels that have none: from their names, else above all others."""
    unknown = []
    highest: dict[str, int] = {}
    for draft in assembly.drafts[Level].values():
        order = draft.value("order")
        if order is None:
            name = str(draft.value("name"))
            order = draft.given["order"] = level_order(name)
            if order is None:
                unknown.append(draft)
                continue
            assembly.report.remark(draft.spot(), name, order, "the order of a level was guessed from its name")
        building = str(draft.value("building"))
        highest[building] = max(order, highest.get(building, -1))
    for draft in unknown:
        building = str(draft.value("building"))
        highest[building] = draft.given["order"] = highest.get(building, -1) + 1
        assembly.report.remark(
            draft.spot(), draft.value("name"), draft.given["order"],
            "the name of a level does not tell its order, so it was put on top; the sheet Levels can say otherwise",
        )  # fmt: skip
