"""Whom an entrance serves, from text: ``all``, buildings, cores, dwellings, and ranges of dwellings."""

from typing import Any

from doorwright.model.place import Building, Core, Dwelling
from doorwright.store.workbook.labels import ImpossibleRange, labels_of
from doorwright.store.workbook.names import Ambiguous, Names, NotFound
from doorwright.store.workbook.report import Report, Spot
from doorwright.store.workbook.shown import ALL, SERVED, listed
from doorwright.store.workbook.values import clean


def served(text: str, names: Names, spot: Spot, report: Report) -> dict[str, Any] | None:
    """Return the three fields of an entrance that say whom it serves; None after a mistake."""
    found: dict[str, None] = {}
    good = True
    for item, quoted in listed(text):
        idents = _item(clean(item), quoted=quoted, names=names, spot=spot, report=report)
        good = good and idents is not None
        found |= dict.fromkeys(idents or ())
    if not good:
        return None
    by_kind = {kind: set(names.ids(kind)) for kind in SERVED}
    return {
        field: tuple(ident for ident in found if ident in by_kind[kind])
        for field, kind in (("serves_buildings", Building), ("serves_cores", Core), ("serves_dwellings", Dwelling))
    }


def _item(item: str, *, quoted: bool, names: Names, spot: Spot, report: Report) -> list[str] | None:
    if not quoted and item.casefold() in ALL:
        return names.ids(Building)
    try:
        ident, exactly = names.find(item, SERVED)
    except Ambiguous as fault:
        report.mistake(
            spot,
            item,
            f'"{item}" names more than one of those it may serve',
            f"Write core/label: {', '.join(fault.spellings)}.",
        )
        return None
    except NotFound as fault:
        return _range(item, quoted=quoted, nearest=fault.nearest, names=names, spot=spot, report=report)
    if not exactly:
        report.remark(spot, item, names.name(ident), "read as the name most like it")
    return [ident]


def _range(item: str, *, quoted: bool, nearest: str, names: Names, spot: Spot, report: Report) -> list[str] | None:
    core, slash, rest = item.rpartition("/")
    try:
        labels = None if quoted else labels_of(rest)
    except ImpossibleRange as fault:
        report.mistake(spot, item, str(fault), "Write the lower label first, such as 1-24 or G01-G08.")
        return None
    if labels is None:
        guess = f'Did you mean "{nearest}"? Otherwise write' if nearest else "Write"
        report.mistake(
            spot, item, "there is no building, core or dwelling of this name",
            f"{guess} all, or names from the sheets Buildings, Cores and Dwellings.",
        )  # fmt: skip
        return None
    idents, lacking = [], []
    for label in labels:
        try:
            idents.append(names.find(f"{core}{slash}{label}", (Dwelling,))[0])
        except NotFound:
            lacking.append(label)
        except Ambiguous as fault:
            report.mistake(
                spot, item, f"several cores have a dwelling {label}", f"Write core/label: {', '.join(fault.spellings)}."
            )
            return None
    if not idents:
        report.mistake(spot, item, "no dwelling of this range is listed", "Correct the range, or list its dwellings.")
        return None
    if lacking:
        kept = f"{len(idents)} of {len(labels)}"
        report.remark(
            spot, item, kept, f"labels of a range that no dwelling has were passed over, such as {lacking[0]}"
        )
    return idents
