"""The lines of the sheet "Site" put into the site's own fields."""

from collections.abc import Iterable
from dataclasses import replace
from typing import Any

from doorwright.model.site import Site
from doorwright.store.workbook.columns import SETTINGS
from doorwright.store.workbook.grid import CellError, Raw
from doorwright.store.workbook.layout import NOTE_MARK, is_secret_heading
from doorwright.store.workbook.report import Report, Spot
from doorwright.store.workbook.values import Unreadable, as_text, check_error, clean, clean_lines, same


def with_settings(lines: Iterable[tuple[str, Raw, Spot]], before: Site | None, report: Report, *, name: str) -> Site:
    """Return the site with the lines read into its own fields: each the field (empty for a note), cell and place.

    ``name`` is taken where there was no site before and no line names it.
    """
    site = before or Site(name="")
    settings = {setting.field: setting for setting in SETTINGS}
    given: dict[str, Any] = {}
    notes: list[tuple[str, str]] = []
    for field, raw, spot in lines:
        if not field:
            _site_note(raw, spot, notes, report)
            continue
        setting = settings[field]
        if before is not None and same(raw, setting.form.show(site_value(site, field))):
            continue
        if isinstance(raw, str) and clean(raw) == "-":
            given[field] = site_value(Site(name=site.name), field)
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
    for group, _, inner in (field.partition(".") for field in given if "." in field):
        grouped.setdefault(group, {})[inner] = given[f"{group}.{inner}"]
    if before is None and "name" not in own:
        own["name"] = name
        report.remark(Spot(-1, ""), "", own["name"], 'the sheet "Site" gives no name, so the file\'s name was taken')
    own |= {group: replace(getattr(site, group), **values) for group, values in grouped.items()}
    merged = tuple(dict([*site.notes, *notes]).items()) if notes else site.notes
    return replace(site, **own, notes=site.notes if set(notes) <= set(site.notes) else merged)


def site_value(site: Site, field: str) -> Any:
    """Return the value of a setting."""
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
