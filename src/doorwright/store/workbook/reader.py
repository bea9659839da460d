"""A workbook to a site: the sheets in turn, then what runs across them."""

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Final

from doorwright.model.calling import Timetable
from doorwright.model.place import Dwelling
from doorwright.model.profile import Profile
from doorwright.model.site import PARTS, Site
from doorwright.model.unit import Unit
from doorwright.store.workbook.assemble import Assembly
from doorwright.store.workbook.built import built, with_profiles
from doorwright.store.workbook.columns import SHEETS
from doorwright.store.workbook.draft import Draft
from doorwright.store.workbook.dwellings import expand, number_levels
from doorwright.store.workbook.grid import Grid, read_grids
from doorwright.store.workbook.holidays import with_holidays
from doorwright.store.workbook.layout import Sorted, rows_of, settings_of, sort_grids
from doorwright.store.workbook.names import Names
from doorwright.store.workbook.receivers import add_receivers
from doorwright.store.workbook.removal import remove
from doorwright.store.workbook.report import Reading, Report, Spot
from doorwright.store.workbook.settings import with_settings
from doorwright.store.workbook.shown import names_of
from doorwright.store.workbook.timetables import joined
from doorwright.store.workbook.twice import check_twice
from doorwright.store.workbook.values import clean

_BEFORE_ROWS: Final = {Dwelling: expand, Timetable: joined}


def read_workbook(
    path: Path,
    *,
    before: Site | None,
    profiles: Mapping[str, Profile],
    new_id: Callable[[], str],
    remove_missing: bool = False,
) -> Reading:
    """Read a workbook file, a text file, or a folder of text files.

    With ``before``, rows are matched to its parts; a blank cell keeps what was, a lone ``-`` clears it, and parts
    without a row are kept unless ``remove_missing``. ``new_id`` makes the identifiers of new parts.

    Raises:
        Refused: the file cannot be read as a workbook at all.
    """
    grids = read_grids(path)
    return read_sheets(
        grids, name=path.stem, before=before, profiles=profiles, new_id=new_id, remove_missing=remove_missing
    )


def read_sheets(
    grids: Sequence[Grid],
    *,
    name: str,
    before: Site | None,
    profiles: Mapping[str, Profile],
    new_id: Callable[[], str],
    remove_missing: bool = False,
) -> Reading:
    """Read the sheets of a workbook as ``read_workbook`` does. The grids stay as they are, and can be read again.

    ``name`` is what the site is called where no sheet says it: the workbook's.
    """
    report = Report()
    sheets = sort_grids([grid.copied() for grid in grids], report)
    old = {kind: before.table(kind) if before else () for kind in PARTS}
    known = {profile.key: profile for profile in before.profiles} if before else {}
    known |= {key: profile for key, profile in profiles.items() if key not in known}
    assembly = Assembly(
        old_names=names_of(before) if before else Names(), old=old, profiles=known, new_id=new_id, report=report
    )
    if before is None and not sheets.tables["Dwellings"] and not report.mistakes:
        report.mistake(
            Spot(-1, ""), "", 'the sheet "Dwellings" is missing',
            'Add a sheet of this name with the headings "Dwelling", "Core" and "Level". The template shows it.',
        )  # fmt: skip
    site = with_settings(settings_of(sheets.site), before, report, name=clean(name))
    site = with_holidays(site, sheets.holidays, report, replacing=remove_missing)
    _tables(assembly, sheets, remove_missing=remove_missing)
    if report.mistakes:
        return _reading(before or Site(name=site.name), sheets, report)
    tables = {kind: built(assembly.drafts[kind], old[kind]) for kind in PARTS if kind in assembly.drafts}
    if remove_missing:
        tables = remove(tables, old, report)
        if report.mistakes:
            return _reading(before or Site(name=site.name), sheets, report)
    site = site.with_tables({kind: parts for kind, parts in tables.items() if parts is not old[kind] or before is None})
    return _reading(with_profiles(site, before, known), sheets, report)


def _reading(site: Site, sheets: Sorted, report: Report) -> Reading:
    headed = {layout.order: layout.header_row + 1 for found in sheets.tables.values() for layout, _ in found}
    return Reading(site, report.remarks, report.mistakes, report.spots, headed)


def _tables(assembly: Assembly, sheets: Sorted, *, remove_missing: bool) -> None:
    report = assembly.report
    rows = {
        sheet.kind: [row for layout, grid in sheets.tables[sheet.name] for row in rows_of(layout, grid, report)]
        for sheet in SHEETS
    }
    assembly.listed = {kind for kind, found in rows.items() if found}
    named = {sheet.kind: tuple(layout.name for layout, _ in sheets.tables[sheet.name]) for sheet in SHEETS}
    assembly.called = {kind: names for kind, names in named.items() if names}
    for sheet in SHEETS:
        if not sheets.tables[sheet.name]:
            assembly.keep(sheet.kind)
        else:
            found = rows[sheet.kind]
            prepared = _BEFORE_ROWS[sheet.kind](found, report) if sheet.kind in _BEFORE_ROWS else found
            unclaimed = assembly.take(sheet, prepared)
            for draft in unclaimed:
                _left_out(draft, sheets.tables[sheet.name][0][0].spot(), assembly, remove_missing=remove_missing)
        if sheet.kind is Dwelling:
            number_levels(assembly)
        if sheet.kind is Unit:
            add_receivers(assembly)
        assembly.settle()
    check_twice(assembly)


def _left_out(draft: Draft, spot: Spot, assembly: Assembly, *, remove_missing: bool) -> None:
    name = draft.old.label if draft.old else ""
    if remove_missing:
        del assembly.drafts[draft.kind][draft.ident]
        assembly.report.remark(spot, "", name, f"this {draft.kind.KIND} has no row any more and was removed")
    else:
        assembly.report.remark(spot, "", name, f"this {draft.kind.KIND} has no row and was kept as it was")
