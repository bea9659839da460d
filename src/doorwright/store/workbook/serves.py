"""Whom an entrance serves or who may free a door, from text: ``all``, buildings, cores, dwellings, ranges, desks."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from doorwright.model.part import Part
from doorwright.model.place import Building, Dwelling
from doorwright.model.unit import Unit
from doorwright.store.workbook.columns import SHEET_BY_KIND, Column
from doorwright.store.workbook.labels import ImpossibleRange, labels_of
from doorwright.store.workbook.names import Ambiguous, Names, NotFound
from doorwright.store.workbook.report import Report, Spot
from doorwright.store.workbook.shown import ALL, DESKS, listed
from doorwright.store.workbook.values import clean


@dataclass(frozen=True, slots=True)
class _Cell:
    """The cell being read: the kinds of part that it may name, their names, and where mistakes are told."""

    kinds: tuple[type[Part], ...]
    names: Names
    desks: Sequence[str]
    spot: Spot
    report: Report


def served(
    text: str, column: Column, names: Names, *, desks: Sequence[str], spot: Spot, report: Report
) -> dict[str, Any] | None:
    """Return the fields of a part that a column of lists fills; None after a mistake. ``desks`` are all there are."""
    cell = _Cell(tuple(kind for _, kind in column.lists), names, desks, spot, report)
    found: dict[str, None] = {}
    good = True
    for item, quoted in listed(text):
        idents = _item(clean(item), cell, quoted=quoted)
        good = good and idents is not None
        found |= dict.fromkeys(idents or ())
    if not good:
        return None
    by_kind = {kind: set(names.ids(kind)) for kind in cell.kinds}
    return {field: tuple(ident for ident in found if ident in by_kind[kind]) for field, kind in column.lists}


def _item(item: str, cell: _Cell, *, quoted: bool) -> list[str] | None:
    if not quoted and item.casefold() in ALL:
        return cell.names.ids(Building)
    try:
        ident, exactly = cell.names.find(item, cell.kinds)
    except Ambiguous as fault:
        cell.report.mistake(
            cell.spot, item, f'"{item}" names more than one of those it may mean',
            f"Write core/label: {', '.join(fault.spellings)}.",
        )  # fmt: skip
        return None
    except NotFound as fault:
        if Unit in cell.kinds and not quoted and item.casefold() in DESKS and cell.desks:
            return list(cell.desks)
        return _range(item, cell, quoted=quoted, nearest=fault.nearest)
    if not exactly:
        cell.report.remark(cell.spot, item, cell.names.name(ident), "read as the name most like it")
    return [ident]


def _range(item: str, cell: _Cell, *, quoted: bool, nearest: str) -> list[str] | None:
    core, slash, rest = item.rpartition("/")
    try:
        labels = None if quoted else labels_of(rest)
    except ImpossibleRange as fault:
        cell.report.mistake(cell.spot, item, str(fault), "Write the lower label first, such as 1-24 or G01-G08.")
        return None
    if labels is None:
        guess = f'Did you mean "{nearest}"? Otherwise write' if nearest else "Write"
        what = _joined([kind.KIND for kind in cell.kinds], "or")
        sheets = _joined([f'"{SHEET_BY_KIND[kind].name}"' for kind in cell.kinds], "and")
        cell.report.mistake(
            cell.spot, item, f"there is no {what} of this name", f"{guess} all, or names from the sheets {sheets}."
        )
        return None
    idents, lacking = [], []
    for label in labels:
        try:
            idents.append(cell.names.find(f"{core}{slash}{label}", (Dwelling,))[0])
        except NotFound:
            lacking.append(label)
        except Ambiguous as fault:
            cell.report.mistake(
                cell.spot, item, f"several cores have a dwelling {label}",
                f"Write core/label: {', '.join(fault.spellings)}.",
            )  # fmt: skip
            return None
    if not idents:
        cell.report.mistake(
            cell.spot, item, "no dwelling of this range is listed", "Correct the range, or list its dwellings."
        )
        return None
    if lacking:
        kept = f"{len(idents)} of {len(labels)}"
        cell.report.remark(
            cell.spot, item, kept, f"labels of a range that no dwelling has were passed over, such as {lacking[0]}"
        )
    return idents


def _joined(words: list[str], last: str) -> str:
    return f" {last} ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]
