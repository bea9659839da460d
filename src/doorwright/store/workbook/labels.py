"""Door labels as people write them, ranges of labels, and the order that a level's name tells."""

import re
from typing import Final

RANGE_MAX_COUNT: Final = 5_000

_RANGE: Final = re.compile(r"([^\W\d_]*)(\d{1,9})\s*(?:-|–|—|−|\bto\b)\s*([^\W\d_]*)(\d{1,9})", re.IGNORECASE)
_LABEL: Final = re.compile(r"[^\W\d_]{0,2}\d{1,9}[^\W\d_]?")


class ImpossibleRange(ValueError):  # noqa: N818  (an answer about a text, not an error of the program)
    """The text is a range that counts nowhere, or too far."""


def labels_of(text: str) -> tuple[str, ...] | None:
    """Return the labels of a range such as ``1-24`` or ``G01-G08``; None where the text is no range.

    Raises:
        ImpossibleRange: it counts downwards, across letters, or gives more than 5 000 labels.
    """
    found = _RANGE.fullmatch(text.strip())
    if found is None:
        return None
    prefix, first, other, last = found.groups()
    if not other and prefix and len(first) != len(last):
        return None  # a label such as B2-14
    if other and other.casefold() != prefix.casefold():
        raise ImpossibleRange(f"the range goes from {prefix or 'plain numbers'} to {other}")
    start, end = int(first), int(last)
    if end < start:
        raise ImpossibleRange("the range counts downwards")
    if end - start >= RANGE_MAX_COUNT:
        raise ImpossibleRange(f"the range has {end - start + 1} labels, more than {RANGE_MAX_COUNT}")
    width = len(first) if first.startswith("0") else 1
    return tuple(f"{prefix}{number:0{width}d}" for number in range(start, end + 1))


def listed_labels(text: str) -> tuple[str, ...] | None:
    """Return the labels of a range or of a list such as ``1-4, 6; 8``; None where the text is a single label.

    Raises:
        ImpossibleRange: a range in it is.
    """
    items = [item.strip() for item in re.split(r"[,;]", text) if item.strip()]
    if len(items) < 2:
        return labels_of(text)
    labels: list[str] = []
    for item in items:
        expanded = labels_of(item)
        if expanded is None and not _LABEL.fullmatch(item):
            return None
        labels += expanded or (item,)
    return tuple(labels)


def compressed(names: list[str]) -> list[str]:
    """Return names with runs of three or more numbered ones written as ranges, so that they expand to the same."""
    result: list[str] = []
    run: list[str] = []
    for name in names:
        if run and _follows(run[-1], name, run[0]):
            run.append(name)
            continue
        result += _closed(run)
        run = [name]
    return result + _closed(run)


_NUMBERED: Final = re.compile(r"(.*/)?([^\W\d_]*)(\d{1,9})")


def _follows(previous: str, name: str, first: str) -> bool:
    one, two, start = _NUMBERED.fullmatch(previous), _NUMBERED.fullmatch(name), _NUMBERED.fullmatch(first)
    if one is None or two is None or start is None or one[1] != two[1] or one[2] != two[2]:
        return False
    width = len(start[3]) if start[3].startswith("0") else 1
    number = int(one[3]) + 1
    return two[3] == f"{number:0{width}d}" and number - int(start[3]) < RANGE_MAX_COUNT - 1


def _closed(run: list[str]) -> list[str]:
    if len(run) < 3:
        return run
    last = _NUMBERED.fullmatch(run[-1])
    return run if last is None else [f"{run[0]}-{last[2]}{last[3]}"]


# levels

_ORDINALS: Final = (
    "ground", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth",
)  # fmt: skip
_LEVEL_WORDS: Final = re.compile(r"\b(level|floor|storey|story|lvl|fl|etage|stock|og)\b\.?")
_GROUND: Final = frozenset({"g", "gf", "ground", "gr", "eg", "e", "rdc", "rc", "pb", "l0", "f0", "street", "entrance"})
_BASEMENT: Final = re.compile(r"(?:b|bsmt|basement|ug|kg|cellar|lower ground|lg|sub|p|parking)\s*(\d{1,2})?")
_NUMBERED_LEVEL: Final = re.compile(r"(?:l|f)?\s*([+-]?\d{1,3})\.?(?:st|nd|rd|th|\.|er|e)?")


def level_order(name: str) -> int | None:
    """Return how many storeys above the ground a level lies, as its name tells; None where it does not."""
    text = re.sub(r"[–—−]", "-", name.casefold())
    text = " ".join(_LEVEL_WORDS.sub(" ", text).replace("_", " ").split())
    if text in _GROUND:
        return 0
    if text in _ORDINALS:
        return _ORDINALS.index(text)
    below = _BASEMENT.fullmatch(text)
    if below:
        return -int(below[1] or 1)
    above = _NUMBERED_LEVEL.fullmatch(text)
    return int(above[1]) if above else None
