"""The few forms of Markdown that the generated pages are made of."""

import re
from collections.abc import Iterable, Sequence

NOTICE = "<!-- Written by docs/generate.py from the code. Change the code, then run `make reference`. -->"

_CODE = re.compile(r"(`+)(.+?)\1")
_SPECIAL = re.compile(r"([\\*_<>\[\]|#])")


def plain(text: str) -> str:
    """Return a text in which no character is taken for Markdown, but for `code` between backticks."""
    parts: list[str] = []
    end = 0
    for code in _CODE.finditer(text):
        parts += [_escaped(text[end : code.start()]), f"`{code[2]}`"]
        end = code.end()
    return "".join([*parts, _escaped(text[end:])])


def _escaped(text: str) -> str:
    return _SPECIAL.sub(r"\\\1", text)


def cell(text: object) -> str:
    """Return a text fit for a cell of a table: on one line."""
    return " ".join(plain(str(text)).split())


def table(headings: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """Return a table of cells that are Markdown already where they are `Raw`, else plain text."""
    lines = [_row(headings), _row(["---"] * len(headings))]
    lines += [_row([one if isinstance(one, Raw) else cell(one) for one in row]) for row in rows]
    return "\n".join(lines)


class Raw(str):
    """A text that is Markdown already."""

    __slots__ = ()


def code(text: object) -> Raw:
    """Return a text set as code; nothing for nothing."""
    return Raw(f"`{text}`".replace("|", r"\|")) if str(text) else Raw("")


def anchor(text: str) -> str:
    """Return the anchor that the documentation builder gives a heading."""
    return re.sub(r"[^\w\- ]", "", text.lower()).replace(" ", "-")


def link(text: str) -> Raw:
    """Return a link to the heading of this text on the same page."""
    return Raw(f"[{plain(text)}](#{anchor(text)})")


def page(title: str, *blocks: str) -> str:
    """Return a whole page: the notice, the title, and blocks with air between them."""
    return "\n\n".join([NOTICE, f"# {title}", *(block.strip("\n") for block in blocks if block.strip())]) + "\n"


def _row(cells: Iterable[str]) -> str:
    return f"| {' | '.join(cells)} |"
