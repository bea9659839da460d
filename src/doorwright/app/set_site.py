"""Set fields of the site itself, one line of the sheet "Site" each, read as a workbook is."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.model.site import Site
from doorwright.store.book import Book
from doorwright.store.workbook.columns import SETTINGS, Setting
from doorwright.store.workbook.holidays import notes_besides
from doorwright.store.workbook.layout import NOTE_MARK, SITE_SHEET, is_secret_heading
from doorwright.store.workbook.report import Report, Spot
from doorwright.store.workbook.settings import site_value, with_settings
from doorwright.store.workbook.values import as_text, is_blank

NOTE: Final = "note:"
"""What the field of a note begins with; behind it stands its heading."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettingLine:
    """A line of the form: its field, what it is called, what stands there, and what people are told about it."""

    field: str
    heading: str
    text: str
    note: str
    wanted: str
    choices: tuple[str, ...] = ()
    long: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class LineMistake:
    """A mistake at a line."""

    field: str
    heading: str
    read: str
    problem: str
    remedy: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteSet:
    """What came of it: the revision that now stands; with mistakes or ``theirs`` (fields altered since) none was made.

    ``theirs`` tells for each line that somebody altered meanwhile what stands there now, in words.
    """

    revision: int
    saved: bool
    remarks: tuple[str, ...] = ()
    mistakes: tuple[LineMistake, ...] = ()
    theirs: Mapping[str, str]


def lines_of(site: Site) -> tuple[SettingLine, ...]:
    """Return the lines of a site, its notes last."""
    notes = (
        SettingLine(
            field=NOTE + heading, heading=heading, text=text, note="A note of your own.", wanted="text", long=True
        )
        for heading, text in notes_besides(site)
        if not is_secret_heading(heading)
    )
    return (*(_line(site, setting) for setting in SETTINGS), *notes)


def _line(site: Site, setting: Setting) -> SettingLine:
    value = setting.form.show(site_value(site, setting.field))
    text = "" if value is None else as_text(value)
    return SettingLine(
        field=setting.field, heading=setting.heading, text=text, note=setting.note, wanted=setting.form.wanted,
        choices=setting.form.choices, long=setting.field in {"holidays", "habits.hour_weights"},
    )  # fmt: skip


def set_site(book: Book, given: Mapping[str, str], was: Mapping[str, str], means: Means) -> SiteSet:
    """Save the lines that were altered as one revision; a line emptied is cleared to what it is without a choice.

    ``was`` says what stood in each line when the form was shown. Where somebody altered one of the same lines since,
    nothing is saved and theirs is told.

    Raises:
        Refused: there is no such line, or the book cannot be written.
    """
    head = book.head()
    site = book.site(head.number)
    known = {line.field: line for line in lines_of(site)}
    unknown = sorted(given.keys() - known.keys())
    if unknown:
        raise Refused(f"the site has no line {unknown[0]!r}", remedy="Load the page again.")
    altered = {field: text for field, text in given.items() if _plain(text) != _plain(was.get(field, ""))}
    theirs = {
        field: known[field].text
        for field, text in altered.items()
        if known[field].text not in {was.get(field, ""), text}
    }
    if theirs:
        return SiteSet(revision=head.number, saved=False, theirs=theirs)
    report = Report()
    order = {field: number for number, field in enumerate(known, 1)}
    at = {number: field for field, number in order.items()}
    lines = [
        (
            "" if field.startswith(NOTE) else field,
            "-" if is_blank(text) else text,
            Spot(0, SITE_SHEET, order[field], 1, _marked(known[field])),
        )
        for field, text in altered.items()
    ]
    after = with_settings(lines, site, report, name=site.name)
    if not after.name.strip() and "name" in altered:
        report.mistake(
            Spot(0, SITE_SHEET, order["name"], 1, "Name"), "", "a site needs a name", "Write what it is called."
        )
    if report.mistakes:
        mistakes = tuple(
            LineMistake(
                field=at[spot.row], heading=known[at[spot.row]].heading, read=one.read, problem=one.problem,
                remedy=one.remedy,
            )
            for spot, one in zip(report.spots, report.mistakes, strict=True)
        )  # fmt: skip
        return SiteSet(revision=head.number, saved=False, mistakes=mistakes, theirs={})
    saved = book.save(
        after, parent=head.number, by=means.who, at=means.now(), message=f"{counted(len(altered), 'line')} of the site"
    )
    return SiteSet(
        revision=saved.number, saved=saved.number != head.number, remarks=tuple(map(str, report.remarks)), theirs={}
    )


def _plain(text: str) -> str:
    return text.replace("\r\n", "\n").strip()


def _marked(line: SettingLine) -> str:
    return f"{NOTE_MARK} {line.heading}" if line.field.startswith(NOTE) else line.heading
