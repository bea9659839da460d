"""A workbook to a site: the sheets in turn, then what runs across them."""

from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

from doorwright.model.calling import Timetable
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling
from doorwright.model.power import Supply
from doorwright.model.profile import Profile
from doorwright.model.site import PARTS, Site
from doorwright.model.unit import KeyModule, Unit
from doorwright.store.workbook.assemble import Assembly
from doorwright.store.workbook.columns import SETTINGS, SHEETS
from doorwright.store.workbook.draft import Draft
from doorwright.store.workbook.dwellings import expand, number_levels
from doorwright.store.workbook.grid import CellError, Raw, read_grids
from doorwright.store.workbook.holidays import with_holidays
from doorwright.store.workbook.layout import (
    NOTE_MARK,
    Sorted,
    is_secret_heading,
    rows_of,
    settings_of,
    sort_grids,
)
from doorwright.store.workbook.names import Names
from doorwright.store.workbook.receivers import add_receivers
from doorwright.store.workbook.removal import remove
from doorwright.store.workbook.report import Reading, Report, Spot
from doorwright.store.workbook.shown import names_of
from doorwright.store.workbook.timetables import joined
from doorwright.store.workbook.twice import check_twice
from doorwright.store.workbook.values import Unreadable, as_text, check_error, clean, clean_lines, same

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
    report = Report()
    sheets = sort_grids(read_grids(path), report)
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
    site = with_holidays(_settings(sheets, before, path, report), sheets.holidays, report, replacing=remove_missing)
    _tables(assembly, sheets, remove_missing=remove_missing)
    if report.mistakes:
        return Reading(before or Site(name=site.name), report.remarks, report.mistakes)
    tables = {kind: _built(assembly.drafts[kind], old[kind]) for kind in PARTS if kind in assembly.drafts}
    if remove_missing:
        tables = remove(tables, old, report)
        if report.mistakes:
            return Reading(before or Site(name=site.name), report.remarks, report.mistakes)
    site = site.with_tables({kind: parts for kind, parts in tables.items() if parts is not old[kind] or before is None})
    return Reading(_with_profiles(site, before, known), report.remarks, report.mistakes)


def _tables(assembly: Assembly, sheets: Sorted, *, remove_missing: bool) -> None:
    report = assembly.report
    rows = {
        sheet.kind: [row for layout, grid in sheets.tables[sheet.name] for row in rows_of(layout, grid, report)]
        for sheet in SHEETS
    }
    assembly.listed = {kind for kind, found in rows.items() if found}
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


def _built(drafts: Mapping[str, Draft], old: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return the parts of a kind: old ones in their order, then new ones; the old tuple itself where all is equal."""
    first = [drafts[part.id] for part in old if part.id in drafts]
    known = {part.id for part in old}
    parts = tuple(_part(draft) for draft in (*first, *(drafts[ident] for ident in drafts if ident not in known)))
    return old if parts == old else parts


def _part(draft: Draft) -> Part:
    if draft.old is None:
        return draft.kind(id=draft.ident, notes=draft.notes or (), **draft.given)
    changed = {name: value for name, value in draft.given.items() if getattr(draft.old, name) != value}
    if draft.notes is not None and draft.notes != draft.old.notes:
        changed["notes"] = draft.notes
    return replace(draft.old, **changed) if changed else draft.old


# the site's own fields


def _settings(sheets: Sorted, before: Site | None, path: Path, report: Report) -> Site:
    site = before or Site(name="")
    settings = {setting.field: setting for setting in SETTINGS}
    given: dict[str, Any] = {}
    notes: list[tuple[str, str]] = []
    for field, raw, spot in settings_of(sheets.site):
        if not field:
            _site_note(raw, spot, notes, report)
            continue
        setting = settings[field]
        if before is not None and same(raw, setting.form.show(_site_value(site, field))):
            continue
        if isinstance(raw, str) and clean(raw) == "-":
            given[field] = _site_value(Site(name=site.name), field)
            continue
        try:
            given[field], change = setting.form.read(raw, setting.heading)
        except Unreadable as fault:
            report.mistake(spot, getattr(raw, "code", raw), fault.problem, fault.remedy)
        else:
            if change:
                report.remark(spot, raw, setting.form.show(given[field]), change)
    own = {field: value for field, value in given.items() if "." not in field}
    grouped: dict[str, dict[str, Any]] = {}
    for group, _, name in (field.partition(".") for field in given if "." in field):
        grouped.setdefault(group, {})[name] = given[f"{group}.{name}"]
    if before is None and "name" not in own:
        own["name"] = clean(path.stem)
        report.remark(Spot(-1, ""), "", own["name"], 'the sheet "Site" gives no name, so the file\'s name was taken')
    own |= {group: replace(getattr(site, group), **values) for group, values in grouped.items()}
    merged = tuple(dict([*site.notes, *notes]).items()) if notes else site.notes
    return replace(site, **own, notes=site.notes if set(notes) <= set(site.notes) else merged)


def _site_value(site: Site, field: str) -> Any:
    group, _, name = field.rpartition(".")
    return getattr(getattr(site, group) if group else site, name)


def _site_note(raw: Raw, spot: Spot, notes: list[tuple[str, str]], report: Report) -> None:
    heading = spot.heading.removeprefix(NOTE_MARK).strip()
    if is_secret_heading(heading):
        report.remark(spot, "", "", "this line was not read: secrets do not belong in a workbook")
        return
    try:
        text = as_text(raw) if isinstance(raw, str | bool | int | float | CellError) else str(raw)
        check_error(text)
    except Unreadable as fault:
        report.mistake(spot, getattr(raw, "code", raw), fault.problem, fault.remedy)
        return
    notes.append((heading, clean_lines(raw) if isinstance(raw, str) else text))


# unit types


def _with_profiles(site: Site, before: Site | None, known: Mapping[str, Profile]) -> Site:
    """Return the site with the unit types of ``before`` and those in use besides."""
    used = {part.profile for kind in (Unit, KeyModule, Switch, Supply) for part in site.table(kind)}
    used |= {module for key in used if key in known and (module := known[key].module)}
    kept = before.profiles if before else ()
    have = {profile.key for profile in kept}
    added = tuple(profile for key, profile in known.items() if key in used and key not in have)
    return replace(site, profiles=(*kept, *added)) if added else site
