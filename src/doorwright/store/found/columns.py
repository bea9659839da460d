"""A column map: from what the user gave to pairs of target and heading, and the guesses that are offered."""

from collections.abc import Sequence
from typing import Final

from doorwright.kernel.errors import Mistake
from doorwright.store.found.target import TARGET_BY_WORD, TARGETS, Target
from doorwright.store.workbook.layout import is_secret_heading, words

Columns = tuple[tuple[str, str], ...]
"""Pairs of a target's word and the heading of its column."""

_ALL_WORDS: Final = ", ".join(TARGET_BY_WORD)


def columns_from(given: Sequence[str]) -> tuple[Columns, tuple[Mistake, ...]]:
    """Return the pairs that texts such as "mac=MAC address" mean, and what is wrong in them."""
    pairs: dict[str, str] = {}
    mistakes: list[Mistake] = []
    for text in given:
        word, equals, heading = (piece.strip() for piece in text.partition("="))
        word = word.casefold()
        wrong = _wrong(word, equals, heading, pairs)
        if wrong is None:
            pairs[word] = heading
        else:
            mistakes.append(Mistake(where="--map", read=text, problem=wrong[0], remedy=wrong[1]))
    if given and not mistakes and not any(TARGET_BY_WORD[word].identifies for word in pairs):
        known_by = ", ".join(target.word for target in TARGETS if target.identifies)
        problem, remedy = "no column tells which unit a row is about", f"Map at least one of: {known_by}."
        mistakes.append(Mistake(where="--map", read=", ".join(given), problem=problem, remedy=remedy))
    return tuple(pairs.items()), tuple(mistakes)


def _wrong(word: str, equals: str, heading: str, pairs: dict[str, str]) -> tuple[str, str] | None:
    if not (word and equals and heading):
        return "this names no column", 'Write what it tells, an equals sign and its heading: --map "mac=MAC address".'
    if word not in TARGET_BY_WORD:
        return f'"{word}" is nothing that a column can tell', f"Write one of: {_ALL_WORDS}."
    if is_secret_heading(heading):
        return "a column of this heading may hold secrets, which are never read", "Leave it out."
    if word in pairs:
        return f'"{word}" is given twice', "Give each once."
    if words(heading) in {words(other) for other in pairs.values()}:
        return "this column is given twice", "Let each column tell one thing."
    return None


def guess(heading: str) -> Target | None:
    """Return what a column of this heading most likely tells, or None."""
    given = words(heading)
    for target in TARGETS:
        if given in {words(target.word), words(target.what), words(target.aspect), *target.often}:
            return target
    return None


def suggestion(target: Target, heading: str) -> str:
    """Return the line that maps a column."""
    return f'--map "{target.word}={heading}"'
