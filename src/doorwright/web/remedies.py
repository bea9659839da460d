"""Remedies on pages: where a refusal names a command, the page is named on which the same is done."""

import re
from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from doorwright.kernel.errors import Mistake

_PAGES: Final = {
    "check": "on the page Check",
    "diff": "on the page History",
    "firmware": "on the page Firmware",
    "found": "on the page Found",
    "history": "on the page History",
    "plan": "on the page Plan",
    "rehearse": "on the page Rehearsal",
    "services": "on the page Services",
    "vault": "on the page Secrets",
    "verify": "on the page Verify",
    "waive": "on the page Check",
}
"""The page of each command that a remedy names."""
_COMMAND: Final = re.compile(r"doorwright (?P<command>[a-z]+) \S+(?P<rest>[^.]*(?:\.\w[^.]*)*)(?=\.?$)")
_SHOWN: Final = {"units", "switches", "doors", "addresses", "dwellings", "cables"}
_SAME_AGAIN: Final = "Give the command again."


def on_page(remedy: str) -> str:
    """Return a remedy as it is told on a page."""
    if remedy == _SAME_AGAIN:
        return "Correct it, and send it again."
    told = _COMMAND.sub(_page_for, remedy).replace("are in: in the", "are in the")
    return re.sub(r": (?=(?:in|on) the (?:tables?|page)\b)", " ", told)


def mistakes_on_page(mistakes: Iterable[Mistake]) -> tuple[Mistake, ...]:
    """Return mistakes as they are told on a page: an option of a command is the field of that name there."""
    return tuple(
        replace(one, where=_field_of(one.where), remedy=on_page(one.remedy.replace("--part LABEL", "in its field")))
        for one in mistakes
    )


def _page_for(found: re.Match[str]) -> str:
    command, rest = found["command"], found["rest"].strip()
    if command == "show":
        return f"in the table {rest.capitalize()}" if rest in _SHOWN else "in the tables"
    return _PAGES.get(command, found[0])


def _field_of(where: str) -> str:
    return where.removeprefix("--").replace("-", " ").capitalize() if where.startswith("--") else where
