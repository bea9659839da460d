"""Counts in words ("1 error", "2 errors", "3 switches"), and words as they may stand in an address."""

import re
from collections.abc import Mapping


def counted(count: int, word: str) -> str:
    """Return a count with its noun in the right number."""
    return f"{count} {word if count == 1 else plural(word)}"


def counted_all(counts: Mapping[str, int]) -> str:
    """Return several counts with their nouns."""
    return ", ".join(counted(count, word) for word, count in counts.items())


def plural(word: str) -> str:
    """Return the plural of a regular English noun."""
    if " of " in word:
        first, _, rest = word.partition(" ")
        return f"{plural(first)} {rest}"
    if word.endswith(("s", "x", "ch", "sh")):
        return f"{word}es"
    if word.endswith("y") and word[-2] not in "aeiou":
        return f"{word[:-1]}ies"
    return f"{word}s"


def slug_of(title: str) -> str:
    """Return a title as it may stand in an address or a file's name: "Voltage at locks" is "voltage-at-locks"."""
    return re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")
