"""The sheets and columns of a workbook: one table that the reader, the template, the export and the reference share.

What people list together with dwellings (type, serial, MAC address, firmware and height of the first receiver) stands
there as helper columns, which no export writes.
"""

from typing import Final

from doorwright.store.workbook.columns.building import BUILDING_SHEETS
from doorwright.store.workbook.columns.buying import BUYING_SHEETS
from doorwright.store.workbook.columns.calling import CALLING_SHEETS
from doorwright.store.workbook.columns.column import Column, Setting, Sheet, WhenGone
from doorwright.store.workbook.columns.equipment import EQUIPMENT_SHEETS
from doorwright.store.workbook.columns.site import SETTINGS, SITE_NOTE, SITE_SYNONYMS
from doorwright.store.workbook.columns.wiring import WIRING_SHEETS

__all__ = [
    "SETTINGS",
    "SHEETS",
    "SHEET_BY_KIND",
    "SITE_NOTE",
    "SITE_SYNONYMS",
    "Column",
    "Setting",
    "Sheet",
    "WhenGone",
]

SHEETS: Final[tuple[Sheet, ...]] = (
    *BUILDING_SHEETS,
    *EQUIPMENT_SHEETS,
    *WIRING_SHEETS,
    *CALLING_SHEETS,
    *BUYING_SHEETS,
)
"""The sheets in the order of reading: a sheet comes after those that its rows refer to."""

SHEET_BY_KIND: Final = {sheet.kind: sheet for sheet in SHEETS}
