"""Every sheet and column of a workbook."""

from collections.abc import Iterator
from typing import Final

from doorwright.store.workbook.columns import SETTINGS, SHEETS, SITE_NOTE, SITE_SYNONYMS, Sheet
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
        [
            (one.heading, one.form.wanted, one.note, "" if one.example is None else one.example, _words(one.synonyms))
            for one in SETTINGS
        ],
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
                one.wanted,
                one.note + (" Read only: an export does not write it." if one.helper else ""),
                one.told_example,
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
