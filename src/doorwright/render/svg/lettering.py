"""How wide text is, how it is shortened, and what of it may stand in a drawing.

There is no font at hand when a drawing is made, so widths come from a table of average advances by class of
character. The averages are those of DejaVu Sans, the wider of the two families that the drawings name, so text set
in Noto Sans comes out shorter than reckoned, never longer by more than a letter's chance. Measured from the fonts'
own ``hmtx`` tables (regular and bold weight), in em.
"""

import unicodedata
from typing import Final

ELLIPSIS: Final = "…"

_CLASSES: Final[tuple[tuple[str, float, float], ...]] = (
    # characters, regular, bold
    ("ijlI.,:;'|!", 0.32, 0.38),
    ('frt()[]{}/\\"-`·', 0.42, 0.48),
    ("mw", 0.90, 0.98),
    ("MW%@", 0.95, 1.06),
    ("0123456789", 0.64, 0.70),
    (" ", 0.32, 0.35),
    ("+=<>×≤≥~→←↑↓", 0.84, 0.84),
    ("–", 0.50, 0.50),
    ("—…", 1.00, 1.00),
)
_NARROW_TABLE: Final = {char: (regular, bold) for chars, regular, bold in _CLASSES for char in chars}
_LOWER: Final = (0.61, 0.69)
_UPPER: Final = (0.71, 0.79)
_OTHER: Final = (0.70, 0.78)
_WIDE: Final = (1.05, 1.05)
_EMOJI: Final = (1.40, 1.40)

_ZERO_WIDTH: Final = frozenset({"Mn", "Me", "Cf"})
_RIGHT_TO_LEFT: Final = frozenset({"R", "AL"})
_JOINER: Final = "\u200d"


def clean(text: str) -> str:
    """Return ``text`` on one line, without what XML 1.0 forbids and without stray direction marks.

    Controls and lone surrogates become U+FFFD (XML 1.0, section 2.2), so that what was there is not hidden; explicit
    direction controls are dropped, because an unclosed one would turn round whatever stands beside it (UAX #9).
    """
    kept: list[str] = []
    for char in " ".join(text.split()):
        code = ord(char)
        if 0x202A <= code <= 0x202E or 0x2066 <= code <= 0x2069:
            continue
        forbidden = code < 0x20 or 0x7F <= code <= 0x9F or 0xD800 <= code <= 0xDFFF or code in (0xFFFE, 0xFFFF)
        kept.append("\ufffd" if forbidden else char)
    return "".join(kept)


def is_right_to_left(text: str) -> bool:
    """Say whether the first letter with a direction runs right to left (UAX #9, rules P2 and P3)."""
    for char in text:
        direction = unicodedata.bidirectional(char)
        if direction in _RIGHT_TO_LEFT:
            return True
        if direction == "L":
            return False
    return False


def width_mm(text: str, size_mm: float, *, bold: bool = False) -> float:
    """Return about how wide ``text`` stands at a font size of ``size_mm``."""
    return size_mm * sum(_advance(char)[bold] for char in text)


def fit(text: str, room_mm: float, size_mm: float, *, bold: bool = False) -> str:
    """Return ``text``, or as much of its beginning as fits ``room_mm`` with an ellipsis. Clusters stay whole."""
    if width_mm(text, size_mm, bold=bold) <= room_mm:
        return text
    left_mm = room_mm - width_mm(ELLIPSIS, size_mm, bold=bold)
    kept = ""
    for cluster in _clusters(text):
        left_mm -= width_mm(cluster, size_mm, bold=bold)
        if left_mm < 0:
            break
        kept += cluster
    return kept.rstrip() + ELLIPSIS


def wrapped(text: str, room_mm: float, size_mm: float, lines_count: int, *, bold: bool = False) -> tuple[str, ...]:
    """Return ``text`` in at most so many lines, broken between words; what is left over stays in the last line."""
    lines: list[str] = []
    for word in text.split():
        joined = f"{lines[-1]} {word}" if lines else word
        if lines and (len(lines) == lines_count or width_mm(joined, size_mm, bold=bold) <= room_mm):
            lines[-1] = joined
        else:
            lines.append(word)
    return tuple(lines)


def _clusters(text: str) -> list[str]:
    """Letters with the marks that belong to them: enough of UAX #29 never to cut an accent or a joined emoji."""
    clusters: list[str] = []
    for char in text:
        modifier = 0x1F3FB <= ord(char) <= 0x1F3FF
        if clusters and (unicodedata.category(char) in _ZERO_WIDTH or modifier or clusters[-1].endswith(_JOINER)):
            clusters[-1] += char
        else:
            clusters.append(char)
    return clusters


def _advance(char: str) -> tuple[float, float]:
    known = _NARROW_TABLE.get(char)
    if known:
        return known
    category = unicodedata.category(char)
    if category in _ZERO_WIDTH:
        return (0.0, 0.0)
    if category == "So":
        return _EMOJI
    if unicodedata.east_asian_width(char) in "WF":
        return _WIDE
    if category == "Ll":
        return _LOWER
    return _UPPER if category == "Lu" else _OTHER
