"""How labels and numbers are spelt in files of servers, so that no label can say anything to the program that reads it.

Labels stand in notes alone, or in JSON through its own writer. Everything else that people typed is either of the
letters allowed here or is left out and told.
"""

import re
import unicodedata
from collections.abc import Iterable
from typing import Final

NOTE_MOST_COUNT: Final = 160
"""How many characters of a label a note shows."""

_UNITS_OF_NAMES: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9-]{0,61}[A-Za-z0-9])?")
_NUMBER: Final = re.compile(r"[A-Za-z0-9*+][A-Za-z0-9*+._-]{0,31}")
_REALM: Final = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 ._@-]{0,126}[A-Za-z0-9])?")


def note(text: str) -> str:
    """Return a label as it may stand in a note: one line, without backslashes, which some programs join lines by."""
    plain = "".join(
        character if character.isprintable() and character != "\\" else " "
        for character in unicodedata.normalize("NFC", text)
    )
    short = " ".join(plain.split())
    return short if len(short) <= NOTE_MOST_COUNT else f"{short[: NOTE_MOST_COUNT - 1]}…"


def notes(lines: Iterable[str], sign: str = "#") -> str:
    """Return lines as notes, each behind the sign and a space."""
    return "\n".join(f"{sign} {note(line)}".rstrip() for line in lines)


def is_number(text: str) -> bool:
    """Say whether a call number may stand in a SIP server's tables: a part of RFC 3261's user that needs no escapes."""
    return _NUMBER.fullmatch(text) is not None


def is_realm(text: str) -> bool:
    """Say whether a realm may stand between quotation marks anywhere: letters, digits, space and ``._@-``."""
    return _REALM.fullmatch(text) is not None


def is_host_name(text: str) -> bool:
    """Say whether a text is a host name of two labels or more (RFC 1123 §2.1), whose last is no number."""
    labels = text.split(".")
    return (
        len(text) <= 253
        and len(labels) > 1
        and not labels[-1].isdigit()
        and all(_UNITS_OF_NAMES.fullmatch(label) for label in labels)
    )


def host_label(text: str, otherwise: str) -> str:
    """Return a name as one label of a host name (RFC 1123 §2.1), or ``otherwise`` where nothing is left of it."""
    folded = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", folded.casefold()).strip("-")[:48].strip("-") or otherwise


def unlike(label: str, used: set[str]) -> str:
    """Return the label, or with a number behind it where it is used already; it is used from now on."""
    found, count = label, 1
    while found in used:
        count += 1
        found = f"{label}-{count}"
    used.add(found)
    return found
