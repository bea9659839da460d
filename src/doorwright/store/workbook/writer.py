"""A site to a workbook, and the template. Text is always written as text: nothing in it becomes a formula or a link."""

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from typing import Any, Final

import xlsxwriter

from doorwright.model.part import Part
from doorwright.model.profile import Profile
from doorwright.model.site import Site
from doorwright.store.workbook.columns import SETTINGS, SHEETS, SITE_NOTE, Column, Setting, Sheet
from doorwright.store.workbook.holidays import (
    HOLIDAYS_EXAMPLE,
    HOLIDAYS_HEADINGS,
    HOLIDAYS_NOTES,
    HOLIDAYS_SHEET,
    named_holidays,
    notes_besides,
)
from doorwright.store.workbook.layout import (
    LISTS_SHEET,
    NOTE_MARK,
    README_SHEET,
    SITE_SHEET,
    field_of,
    is_secret_heading,
)
from doorwright.store.workbook.shown import names_of, shown
from doorwright.store.workbook.values import LIST_LENGTH_MAX, LIST_TEXT, TEXT_LENGTH_MAX, Shown, clean

_CREATED: Final = datetime(2000, 1, 1)  # noqa: DTZ001  (a fixed date, so that equal sites give equal files)
_A4: Final = 9
_WIDTH_MAX: Final = 36
_WIDTH_MIN: Final = 8
_USUAL_MAX: Final = 24
_NOTE_WIDTH: Final = 20
_FILTER_BUTTON: Final = 3
"""Room that the filter's button takes of a heading, in characters."""
_HEAD_LINE: Final = 14
"""Height of one line of a heading, in points."""
_SPARE_ROWS: Final = 2000
_OPTIONS: Final = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}

_INK, _HEAD, _RULE, _PALE = "#22313A", "#DCE7E4", "#9DB2AE", "#5C6F76"

_README_EXPORT: Final = (
    "This workbook holds the schedules of one site, a sheet for each kind of part.",
    "To change the site, change cells or add rows, save, and import it again. What was not changed stays as it is.",
    "Keep the column Id: by it a row is known again when its name changes. Leave it blank in new rows.",
    "A blank cell keeps what was there; a cell with only a dash (-) clears it. The part of a row taken out is kept.",
    "Columns of your own may stand beside ours: they are kept as notes. Resting the pointer on a heading explains it.",
    "Secrets are not in this file and do not belong in it: they are printed on the sealed sheet only.",
)
_README_TEMPLATE: Final = (
    "Fill in what you know; only the sheet Dwellings is strictly needed. The rest can be planned.",
    "Each sheet has one invented example row: write over it, or take it out.",
    "Columns may stand in any order; columns of your own are kept as notes. Point at a heading to have it explained.",
    "A range such as 1-24 or G01-G08 in the column Dwelling stands for one row each.",
    "Lengths may be written with their unit (35 m, 110 ft). Unanswered questions stay blank: blank does not mean no.",
    "Locks on escape routes, fire alarm release and mains work: the local code and a competent person decide.",
    "Do not write passwords, PINs or other secrets in this file: such columns are not read.",
)


def workbook_bytes(site: Site, *, title: str) -> bytes:
    """Return the schedules of a site as xlsx; reading them back gives the site again. ``title`` is on every page."""
    book = _Book(title)
    book.readme(_README_EXPORT, [("Title", title), ("Site", site.name), *_counts(site)])
    book.settings([(setting.heading, setting, _setting(site, setting)) for setting in SETTINGS], notes_besides(site))
    book.holidays(named_holidays(site))
    names = names_of(site)
    for sheet in SHEETS:
        parts = site.table(sheet.kind)
        columns = [column for column in sheet.columns if not column.helper]
        rows = [[_fitting(column, shown(column, part, names)) for column in columns] for part in parts]
        headings, placed = _noted(sheet, parts)
        book.table(sheet, columns, rows, headings, placed)
    return book.close()


def template_bytes(profiles: Mapping[str, Profile]) -> bytes:
    """Return an empty workbook as xlsx: explained headings, lists to choose from, one invented example row a sheet.

    The sheet of sealed lines is left out: Doorwright writes it when secrets are issued.
    """
    book = _Book("Template")
    listed = [(profile.key, f"{profile.title} ({profile.kind.value})") for profile in profiles.values()]
    book.readme(_README_TEMPLATE, [("Unit types", ""), *listed])
    book.settings([(setting.heading, setting, setting.example) for setting in SETTINGS], ())
    book.holidays([HOLIDAYS_EXAMPLE])
    examples = _examples(profiles)
    lists = _Lists(book.book)
    for sheet in SHEETS:
        if sheet.in_template:
            columns = [column for column in sheet.columns if column.field != "id"]
            row = [examples.get((sheet.name, column.field)) for column in columns]
            given = all(cell is not None for cell, column in zip(row, columns, strict=True) if column.required)
            worksheet = book.table(sheet, columns, [row] if given else [], [], [()], roomy=True)
            for index, column in enumerate(columns):
                choices = column.form.choices or tuple(
                    key for key, profile in profiles.items() if profile.kind in column.profiles
                )
                if choices:
                    lists.attach(worksheet, index, column, choices)
    lists.close()
    return book.close()


def _counts(site: Site) -> list[tuple[str, str]]:
    return [(sheet.name, str(len(site.table(sheet.kind)))) for sheet in SHEETS if site.table(sheet.kind)]


def _setting(site: Site, setting: Setting) -> Shown:
    if setting.field == "holidays":
        return None  # they have a sheet of their own
    group, _, name = setting.field.rpartition(".")
    return setting.form.show(getattr(getattr(site, group) if group else site, name))


def _fitting(column: Column, value: Shown) -> Shown:
    """Return what a cell takes; a text too long to be read back stays in the site only, as a blank cell keeps it."""
    longest = LIST_LENGTH_MAX if column.form is LIST_TEXT else TEXT_LENGTH_MAX
    return None if isinstance(value, str) and len(value) > longest else value


def _examples(profiles: Mapping[str, Profile]) -> dict[tuple[str, str], Shown]:
    """Return the example cells by sheet and field; those that need a unit type nobody has are left out."""
    first: dict[str, Profile] = {}
    for profile in profiles.values():
        first.setdefault(profile.kind.value, profile)
        if profile.kind.value == "VCU" and profile.module in profiles and not first["VCU"].module:
            first["VCU"] = profile
    if "VCU" in first and first["VCU"].module in profiles:
        first["key module"] = profiles[str(first["VCU"].module)]
    needs = {"Doors": ("freed_by",), "Modules": ("unit",), "Keys": ("unit",), "Cables": ("near", "far")}
    lacking = {"Switches" for _ in (0,) if "switch" not in first} | {"Units" for _ in (0,) if "VCU" not in first}
    cells: dict[tuple[str, str], Shown] = {}
    for sheet in SHEETS:
        for column in sheet.columns:
            value = column.example
            if isinstance(value, str) and value.startswith("profile:"):
                known = first.get(value.removeprefix("profile:"))
                value = known.key if known else None
            if column.field in needs.get(sheet.name, ()) and lacking:
                value = None
            if sheet.name == "Dwellings" and column.field.startswith("unit_") and "URU" not in first:
                value = None
            cells[sheet.name, column.field] = value
    return cells


# notes beside the columns


def _noted(sheet: Sheet, parts: Sequence[Part]) -> tuple[list[str], list[tuple[tuple[int, str], ...]]]:
    """Return the headings of the notes, and for each part its notes by column.

    A part's notes keep their order from left to right; where two parts order theirs differently a heading stands twice.
    """
    headings: list[str] = []
    placed = []
    for part in parts:
        cells = []
        at = 0
        for heading, text in part.notes:
            if is_secret_heading(heading) or len(text) > TEXT_LENGTH_MAX:
                continue
            if heading in headings[at:]:
                at = headings.index(heading, at)
            else:
                headings.append(heading)
                at = len(headings) - 1
            cells.append((at, text))
            at += 1
        placed.append(tuple(cells))
    return [_note_heading(sheet, heading) for heading in headings], placed


def _note_heading(sheet: Sheet, heading: str) -> str:
    plain = clean(heading) and not heading.startswith(NOTE_MARK) and field_of(sheet, heading) is None
    return heading if plain else f"{NOTE_MARK} {heading}"


# the file


class _Lists:
    """A hidden sheet with the lists that cells choose from."""

    def __init__(self, book: Any) -> None:
        self._book = book
        self._lists: dict[tuple[str, ...], int] = {}

    def attach(self, worksheet: Any, index: int, column: Column, choices: tuple[str, ...]) -> None:
        """Let the cells of a column choose from a list; other values are questioned, not refused."""
        wanted = f"Usually {column.form.wanted}." if column.form.choices else "Usually a unit type of the list."
        at = self._lists.setdefault(choices, len(self._lists))
        name = xlsxwriter.utility.xl_col_to_name(at)
        worksheet.data_validation(
            1, index, _SPARE_ROWS, index,
            {
                "validate": "list",
                "source": f"={LISTS_SHEET}!${name}$1:${name}${len(choices)}",
                "error_type": "warning",
                "error_title": column.heading,
                "error_message": wanted[:255],
            },
        )  # fmt: skip

    def close(self) -> None:
        """Write the lists."""
        worksheet = self._book.add_worksheet(LISTS_SHEET)
        for choices, at in self._lists.items():
            for row, choice in enumerate(choices):
                worksheet.write_string(row, at, choice)
        worksheet.hide()


@dataclass(slots=True)
class _Styles:
    head: Any
    head_key: Any
    text: Any
    wrap: Any
    number: Any
    day: Any
    title: Any
    quiet: Any


class _Book:
    """A workbook in our style: one sheet a table, headings that stay, filters, and pages that print."""

    def __init__(self, title: str) -> None:
        self._file = BytesIO()
        self.book = xlsxwriter.Workbook(self._file, {**_OPTIONS, "in_memory": True})
        self.book.set_properties({"title": title[:255], "comments": "Written by Doorwright", "created": _CREATED})
        self._title = title
        base = {"font_name": "Calibri", "font_size": 10, "font_color": _INK, "valign": "top"}
        head = {**base, "bold": True, "bg_color": _HEAD, "bottom": 2, "bottom_color": _RULE, "text_wrap": True}
        self._styles = _Styles(
            head=self.book.add_format({**head, "italic": True}),
            head_key=self.book.add_format(head),
            text=self.book.add_format({**base, "num_format": "@"}),
            wrap=self.book.add_format({**base, "num_format": "@", "text_wrap": True}),
            number=self.book.add_format({**base, "align": "right", "indent": 1}),
            day=self.book.add_format({**base, "num_format": "yyyy-mm-dd", "align": "left"}),
            title=self.book.add_format({**base, "bold": True, "font_size": 16}),
            quiet=self.book.add_format({**base, "font_color": _PALE}),
        )

    def readme(self, lines: Iterable[str], facts: Iterable[tuple[str, str]]) -> None:
        """Write the opening sheet."""
        sheet = self._sheet(README_SHEET, landscape=False)
        sheet.set_column(0, 0, 24)
        sheet.set_column(1, 1, 76)
        sheet.write_string(0, 0, clean(self._title)[:TEXT_LENGTH_MAX], self._styles.title)
        row = 2
        for line in lines:
            sheet.merge_range(row, 0, row, 1, "", self._styles.wrap)
            sheet.write_string(row, 0, line, self._styles.wrap)
            sheet.set_row(row, 28)
            row += 1
        for name, value in facts:
            row += 1
            sheet.write_string(row, 0, name, self._styles.quiet)
            sheet.write_string(row, 1, value[:TEXT_LENGTH_MAX], self._styles.wrap)

    def settings(self, lines: Iterable[tuple[str, Setting, Shown]], notes: Iterable[tuple[str, str]]) -> None:
        """Write the sheet of the site's own fields."""
        sheet = self._sheet(SITE_SHEET)
        sheet.set_column(0, 0, 28)
        sheet.set_column(1, 1, 44)
        sheet.set_column(2, 2, 60)
        for index, heading in enumerate(("Setting", "Value", "Meaning")):
            sheet.write_string(0, index, heading, self._styles.head_key)
        sheet.freeze_panes(1, 1)
        sheet.repeat_rows(0)
        last = 0
        for last, (heading, setting, value) in enumerate(lines, 1):
            sheet.write_string(last, 0, heading, self._styles.text)
            self._cell(sheet, last, 1, value, is_text=setting.form.is_text, wrap=True)
            sheet.write_string(last, 2, setting.note, self._styles.quiet)
            if setting.form.choices:
                sheet.data_validation(last, 1, last, 1, {"validate": "list", "source": list(setting.form.choices)})
        for heading, text in notes:
            if not is_secret_heading(heading) and len(text) <= TEXT_LENGTH_MAX:
                last += 1
                sheet.write_string(last, 0, f"{NOTE_MARK} {heading}", self._styles.text)
                sheet.write_string(last, 1, text, self._styles.wrap)
        sheet.autofilter(0, 0, last, 1)
        sheet.write_comment(0, 0, SITE_NOTE)

    def holidays(self, named: Iterable[tuple[date, str]]) -> None:
        """Write the sheet of the site's holidays."""
        sheet = self._sheet(HOLIDAYS_SHEET, landscape=False)
        for index, (heading, note, width) in enumerate(zip(HOLIDAYS_HEADINGS, HOLIDAYS_NOTES, (14, 40), strict=True)):
            sheet.set_column(index, index, width)
            sheet.write_string(0, index, heading, self._styles.head if index else self._styles.head_key)
            sheet.write_comment(0, index, note, {"x_scale": 1.6, "author": "Doorwright"})
        row = 0
        for row, (day, name) in enumerate(named, 1):
            sheet.write_datetime(row, 0, datetime(day.year, day.month, day.day), self._styles.day)  # noqa: DTZ001  (a day has no zone)
            if name:
                sheet.write_string(row, 1, name, self._styles.text)
        sheet.freeze_panes(1, 0)
        sheet.autofilter(0, 0, max(row, 1), 1)
        sheet.repeat_rows(0)

    def table(
        self, sheet: Sheet, columns: Sequence[Column], rows: Sequence[Sequence[Shown]], notes: Sequence[str],
        placed: Sequence[tuple[tuple[int, str], ...]], *, roomy: bool = False,
    ) -> Any:  # fmt: skip
        """Write the sheet of one kind of part, its notes in columns of their own, and return it.

        A ``roomy`` sheet has columns as wide as what people usually write there, else as wide as what stands there.
        """
        worksheet = self._sheet(sheet.name)
        # notes stand before the identifiers, which stand last and outside the pages that are printed
        shift = {index: index + (len(notes) if column.field == "id" else 0) for index, column in enumerate(columns)}
        first_note = len(columns) - sum(column.field == "id" for column in columns)
        lines = 1
        for index, column in enumerate(columns):
            style = self._styles.head_key if column.required else self._styles.head
            worksheet.write_string(0, shift[index], column.heading, style)
            needed = " Needed in every row." if column.required else ""
            worksheet.write_comment(0, shift[index], f"{column.note}{needed}", {"x_scale": 1.6, "author": "Doorwright"})
            usual = column.width if roomy else 0
            lines = max(
                lines, self._width(worksheet, shift[index], usual, [row[index] for row in rows], column.heading)
            )
        for number, heading in enumerate(notes):
            worksheet.write_string(0, first_note + number, heading, self._styles.head)
            worksheet.set_column(first_note + number, first_note + number, _NOTE_WIDTH, self._styles.wrap)
        for number, row in enumerate(rows, 1):
            for index, value in enumerate(row):
                if value is not None:
                    column = columns[index]
                    self._cell(
                        worksheet, number, shift[index], value, is_text=column.form.is_text, wrap=column.width > 30
                    )
            for at, text in placed[number - 1]:
                worksheet.write_string(number, first_note + at, text, self._styles.wrap)
        last = len(columns) + len(notes) - 1
        worksheet.set_row(0, _HEAD_LINE * lines + 4)
        worksheet.freeze_panes(1, 1)
        worksheet.autofilter(0, 0, max(len(rows), 1), last)
        worksheet.repeat_rows(0)
        worksheet.print_area(0, 0, max(len(rows), 1), max(first_note + len(notes) - 1, 0))
        worksheet.ignore_errors({"number_stored_as_text": f"A1:{xlsxwriter.utility.xl_rowcol_to_cell(1048575, last)}"})
        return worksheet

    def _width(self, worksheet: Any, index: int, usual: int, values: Iterable[Shown], heading: str) -> int:
        """Make a column as wide as its values and its heading's longest word want; return the heading's lines."""
        longest = max((len(str(value)) for value in values if value is not None), default=0)
        word = max(len(word) for word in heading.split()) + _FILTER_BUTTON
        width = min(_WIDTH_MAX, max(_WIDTH_MIN, min(usual, _USUAL_MAX), longest + 1, word))
        worksheet.set_column(index, index, width)
        return len(textwrap.wrap(heading, width - _FILTER_BUTTON))

    def _cell(self, worksheet: Any, row: int, index: int, value: Shown, *, is_text: bool, wrap: bool) -> None:
        if value is None:
            return
        if isinstance(value, str):
            style = self._styles.wrap if wrap or len(value) > _WIDTH_MAX else self._styles.text
            worksheet.write_string(row, index, value, style)
        elif is_text:
            worksheet.write_string(row, index, str(value), self._styles.text)
        else:
            worksheet.write_number(row, index, value, self._styles.number)

    def _sheet(self, name: str, *, landscape: bool = True) -> Any:
        worksheet = self.book.add_worksheet(name)
        worksheet.set_paper(_A4)
        if landscape:
            worksheet.set_landscape()
        worksheet.fit_to_pages(1, 0)
        worksheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
        footer = clean(self._title).replace("&", "&&")[:120]
        worksheet.set_footer(f"&L{footer}&C&A&RPage &P of &N")
        return worksheet

    def close(self) -> bytes:
        """Finish the workbook and return it."""
        self.book.close()
        return self._file.getvalue()
