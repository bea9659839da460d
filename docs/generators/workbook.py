"""Every sheet and column of a workbook."""

from collections.abc import Iterator
from typing import Final

from doorwright.store.workbook.columns import SETTINGS, SHEETS, SITE_NOTE, SITE_SYNONYMS, Column, Sheet
from generators import markdown
from generators.markdown import cell, plain, table

_INTRO: Final = """
A workbook has a sheet for each kind of thing. `doorwright template` writes one with all of them. Sheets and columns
that are not needed may be left out. Case, spaces and marks between words do not matter in headings; the words under
"also read as" are understood too. How to fill one in stands in
[fill in the workbook](../howto/fill-in-the-workbook.md).
"""


def page() -> str:
    """Return the page."""
    return markdown.page("Workbook", _INTRO, *_site(), *(block for sheet in SHEETS for block in _sheet(sheet)))


def _site() -> Iterator[str]:
    yield "## Site"
    yield plain(SITE_NOTE)
    yield _also(SITE_SYNONYMS)
    yield table(
        ("setting", "what belongs in it", "what it is", "example", "also read as"),
        [(one.heading, one.form.wanted, one.note, _example(one.example), _words(one.synonyms)) for one in SETTINGS],
    )


def _sheet(sheet: Sheet) -> Iterator[str]:
    yield f"## {sheet.name}"
    yield plain(sheet.note)
    yield _also(sheet.synonyms)
    if not sheet.in_template:
        yield "An export writes this sheet; the template does not have it."
    matches = "; else ".join(" and ".join(f'"{_heading(sheet, name)}"' for name in names) for names in sheet.matches)
    yield f"A row without Id is taken for a part that is there already if they agree in {plain(matches)}."
    yield table(
        ("column", "needed", "what belongs in it", "what it is", "example", "also read as"),
        [
            (
                one.heading,
                "yes" if one.required else "",
                _wanted(one),
                one.note + (" Read only: an export does not write it." if one.helper else ""),
                _example(one.example),
                _words(one.synonyms),
            )
            for one in sheet.columns
        ],
    )


def _heading(sheet: Sheet, field: str) -> str:
    return next((column.heading for column in sheet.columns if column.field == field), field)


def _also(synonyms: tuple[str, ...]) -> str:
    return f"Also read under the names: {cell(_words(synonyms))}." if synonyms else ""


def _words(synonyms: tuple[str, ...]) -> str:
    return ", ".join(dict.fromkeys(synonyms))


def _wanted(column: Column) -> str:
    if column.refers:
        return f"the name of a {' or '.join(kind.KIND for kind in column.refers)}"
    if column.profiles:
        return f"a unit type: {', '.join(kind.value for kind in column.profiles)}"
    return column.form.wanted


def _example(example: str | float | None) -> str:
    """Return the example; one that stands for whatever unit type of a kind there is says so in words."""
    text = "" if example is None else str(example)
    return f"a unit type of kind {text.removeprefix('profile:')}" if text.startswith("profile:") else text
