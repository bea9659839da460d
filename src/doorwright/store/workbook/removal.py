"""What becomes of parts that refer to removed ones, where a second import may remove."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from doorwright.model.part import Part
from doorwright.store.workbook.columns import SHEETS, Sheet, WhenGone
from doorwright.store.workbook.report import Report, Spot


def remove(
    tables: Mapping[type[Part], tuple[Any, ...]], old: Mapping[type[Part], tuple[Any, ...]], report: Report
) -> dict[type[Part], tuple[Any, ...]]:
    """Return the tables without references to parts that are no more.

    Some references are cleared, some parts go too (a key without its dwelling), and some are refused: a core is not
    removed while dwellings lie in it.
    """
    result = dict(tables)
    while True:
        present = {part.id for parts in result.values() for part in parts}
        gone = {part.id: part for parts in old.values() for part in parts if part.id not in present}
        changed = False
        for sheet in SHEETS:
            mended = tuple(
                kept for part in result[sheet.kind] if (kept := _mended(sheet, part, gone, report)) is not None
            )
            changed = changed or len(mended) != len(result[sheet.kind])
            if mended != result[sheet.kind]:
                result[sheet.kind] = mended
        if not changed:
            return result


def _mended(sheet: Sheet, part: Part, gone: Mapping[str, Part], report: Report) -> Part | None:
    cleared: dict[str, Any] = {}
    for column in sheet.columns:
        for field, kind in column.lists:
            idents = getattr(part, field)
            if any(ident in gone for ident in idents):
                cleared[field] = tuple(ident for ident in idents if ident not in gone)
                report.remark(
                    Spot(-1, sheet.name, heading=column.heading), "", part.label,
                    f"a {kind.KIND} that has no row any more was taken out of this list of a {part.KIND}",
                )  # fmt: skip
        if not column.refers or column.helper or getattr(part, column.field) not in gone:
            continue
        lost = gone[getattr(part, column.field)]
        spot = Spot(-1, sheet.name, heading=column.heading)
        if column.when_gone is WhenGone.REFUSED:
            report.mistake(
                spot, lost.label,
                f'the {lost.KIND} "{lost.label}" has no row any more, but the {part.KIND} "{part.label}" needs it',
                "Put its row back, or take out what needs it as well.",
            )  # fmt: skip
        elif column.when_gone is WhenGone.GOES_TOO:
            report.remark(spot, lost.label, "", f"this {part.KIND} was removed, as its {lost.KIND} was")
            return None
        else:
            cleared[column.field] = None
            report.remark(
                spot, lost.label, "", f"the {column.heading.lower()} of this {part.KIND} was cleared, as it was removed"
            )
    return replace(part, **cleared) if cleared else part
