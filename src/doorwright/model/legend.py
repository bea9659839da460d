"""Shorter words for a legend that does not fit its strip: proposed to people, never put in the place of theirs."""

import re
from collections.abc import Callable, Iterator
from typing import Final

_BRACKETED: Final = re.compile(r"\s*[(\[{][^)\]}]*[)\]}]\s*")
_DROPPED: Final = re.compile(
    r"(?i)\b(?:the|and co|limited|ltd|incorporated|inc|company|gmbh|family|mr|mrs|ms|dr)\b\.?\s*"
)
_ABBREVIATED: Final = (
    ("apartment", "Apt"), ("association", "Assoc."), ("department", "Dept."), ("and", "&"), ("consultancy", "Cons."),
    ("management", "Mgmt"), ("services", "Svcs"), ("office", "Off."), ("international", "Intl"),
    ("of", ""), ("for", ""),
)  # fmt: skip
"""Words and what commonly stands for them on narrow labels (common practice)."""

SHORTEST_COUNT: Final = 3
"""A legend of fewer letters says nothing. Our choice."""


def shortened(legend: str, fits: Callable[[str], bool]) -> str | None:
    """Return the first of ever shorter forms of a legend that fits; None where none does or it fits already.

    Tried in turn: without what stands in brackets, without titles and legal forms, with common abbreviations, with
    first words as initials, and at last its beginning with a full stop. Digits are never cut: they are the dwelling.
    """
    if fits(legend):
        return None
    return next((form for form in _forms(legend) if form and form != legend and fits(form)), None)


def _forms(legend: str) -> Iterator[str]:
    form = _tidy(_BRACKETED.sub(" ", legend))
    yield form
    form = _tidy(_DROPPED.sub("", form)) or form
    yield form
    for word, short in _ABBREVIATED:
        form = _tidy(re.sub(rf"(?i)\b{word}\b", short, form)) or form
        yield form
    words = form.split()
    for count in range(1, len(words)):
        initials = [word if any(map(str.isdigit, word)) or word == "&" else f"{word[0]}." for word in words[:count]]
        yield " ".join([*initials, *words[count:]])
    if not any(char.isdigit() for char in form):
        for length in range(len(form) - 1, SHORTEST_COUNT - 1, -1):
            yield f"{form[:length].rstrip(' .,&')}."


def _tidy(text: str) -> str:
    return " ".join(text.split()).strip(" ,;-–")
