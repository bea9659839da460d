"""Where data and templates become a PDF. Everything that is printed passes here.

Templates are typst files; data reaches them as JSON and is never part of their text, so that no sign in a name can be
read as markup. The compiler's own check for PDF/UA-1 (ISO 14289-1) must pass: a paper that fails it is a bug of ours.
"""

import json
from functools import cache
from importlib import resources
from typing import Any, Final

import typst

from doorwright.render import fonts
from doorwright.render.pdf.edition import Edition

STANDARD: Final = "ua-1"
_SHOWN_COUNT: Final = 60
"""How much of a name fits a footer."""


def press(template: str, data: dict[str, Any], edition: Edition) -> bytes:
    """Return the PDF of a main template and its data; equal input gives equal bytes."""
    files: Any = dict(_templates())  # the package takes a dict of files, though its types do not say so
    files["main.typ"] = files.pop(f"{template}.typ")
    files["data.json"] = json.dumps(_printable(data), ensure_ascii=False).encode()
    pdf: bytes = typst.compile(
        files,
        font_paths=[str(fonts.FOLDER)],
        ignore_system_fonts=True,
        pdf_standards=[STANDARD],
        timestamp=int(edition.made_at.timestamp()),
    )
    return pdf


def edition_data(edition: Edition, site_name: str, reference: str | None) -> dict[str, Any]:
    """Return what headers and footers say."""
    return {
        "site": _cut(site_name),
        "reference": _cut(reference or ""),
        "revision": str(edition.revision),
        "made_at": f"{edition.made_at:%Y-%m-%d %H:%M %Z}",
        "made_by": edition.made_by,
        "made_by_cut": _cut(edition.made_by),
        "message": edition.message,
    }


def _cut(text: str) -> str:
    return text if len(text) <= _SHOWN_COUNT else text[:_SHOWN_COUNT].rstrip() + "…"


@cache
def _templates() -> dict[str, bytes]:
    folder = resources.files(__package__).joinpath("templates")
    return {file.name: file.read_bytes() for file in folder.iterdir() if file.name.endswith(".typ")}


def _printable(data: Any) -> Any:
    match data:
        case str():
            return fonts.printable(data)
        case dict():
            return {key: _printable(value) for key, value in data.items()}
        case list() | tuple():
            return [_printable(value) for value in data]
    return data
