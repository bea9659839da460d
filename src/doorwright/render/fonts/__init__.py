"""The fonts of the papers, kept beside the code so that a paper looks the same on every machine.

Their names, versions and licences stand in ``README.md``. No system font is ever used. What none of them can print is
found out here, from the fonts themselves, before it becomes an empty box on paper.
"""

import struct
import unicodedata
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Final

FOLDER: Final = Path(__file__).parent

_REGULAR: Final = (
    "NotoSans-Regular",
    "NotoSansHebrew-Regular",
    "NotoSansArabic-Regular",
    "DejaVuSans",
    "NotoSansSymbols2-Regular",
)
"""In the order in which the templates ask them for a character; a bold cut holds what its regular cut holds."""

_MARKS: Final = frozenset({"Mn", "Mc", "Me"})
_ARABIC_JOINERS: Final = "\u200c\u200d"
_UNKNOWN: Final = "\ufffd"
_SKIN_TONES: Final = range(0x1F3FB, 0x1F400)
_VARIATIONS: Final = (range(0xFE00, 0xFE10), range(0xE0100, 0xE01F0))


def printable(text: str) -> str:
    """Return ``text`` as the fonts can print it, with U+FFFD for each character that none of them holds.

    White space of any kind becomes a blank. What is not to be seen is left out: joiners between pictures, variation
    selectors, direction controls (an unclosed one would turn round whatever stands beside it, UAX #9). Text of which
    nothing would be left becomes U+FFFD: a name is never empty.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_known(cluster) for cluster in _clusters(text)) or (text and _UNKNOWN)


@cache
def _known(cluster: str) -> str:
    """Return a letter with its marks, the letter alone and a sign of doubt, or the sign alone."""
    if any(all(ord(char) in font for char in cluster) for font in coverage()):
        return cluster
    if len(cluster) > 1 and _known(cluster[0]) != _UNKNOWN:
        return cluster[0] + _UNKNOWN
    return _UNKNOWN


def _clusters(text: str) -> Iterator[str]:
    cluster = ""
    for char in text:
        if char.isspace():
            kept = " "
        elif unicodedata.category(char) == "Cc":
            kept = _UNKNOWN
        elif _unseen(char, cluster):
            continue
        else:
            kept = char
        if cluster and not cluster.isspace() and unicodedata.category(kept) in _MARKS:
            cluster += kept
            continue
        if cluster:
            yield cluster
        cluster = kept
    if cluster:
        yield cluster


def _unseen(char: str, before: str) -> bool:
    if char in _ARABIC_JOINERS:
        return not (before and unicodedata.bidirectional(before[0]) == "AL")
    code = ord(char)
    variation = any(code in group for group in _VARIATIONS)
    return variation or code in _SKIN_TONES or unicodedata.category(char) == "Cf"


@cache
def coverage() -> tuple[frozenset[int], ...]:
    """Return the code points that each font holds, in the order in which fonts are asked."""
    return tuple(frozenset(_code_points((FOLDER / f"{name}.ttf").read_bytes())) for name in _REGULAR)


def _code_points(font: bytes) -> Iterator[int]:
    """Read the ``cmap`` table of a TrueType font: formats 4 and 12 (OpenType specification, cmap)."""
    (table_count,) = struct.unpack_from(">H", font, 4)
    for entry in range(table_count):
        tag, _, start, _ = struct.unpack_from(">4sLLL", font, 12 + 16 * entry)
        if tag != b"cmap":
            continue
        (map_count,) = struct.unpack_from(">H", font, start + 2)
        for number in range(map_count):
            _, _, offset = struct.unpack_from(">HHL", font, start + 4 + 8 * number)
            yield from _subtable(font, start + offset)


def _subtable(font: bytes, start: int) -> Iterator[int]:
    (form,) = struct.unpack_from(">H", font, start)
    if form == 4:
        yield from _segments(font, start)
    elif form == 12:
        (group_count,) = struct.unpack_from(">L", font, start + 12)
        for group in range(group_count):
            first, last, _ = struct.unpack_from(">LLL", font, start + 16 + 12 * group)
            yield from range(first, last + 1)


def _segments(font: bytes, start: int) -> Iterator[int]:
    (double_count,) = struct.unpack_from(">H", font, start + 6)
    count = double_count // 2
    ends, starts = start + 14, start + 16 + double_count
    deltas, offsets = starts + double_count, starts + 2 * double_count
    for i in range(count):
        (last,) = struct.unpack_from(">H", font, ends + 2 * i)
        (first,) = struct.unpack_from(">H", font, starts + 2 * i)
        (delta,) = struct.unpack_from(">H", font, deltas + 2 * i)
        (offset,) = struct.unpack_from(">H", font, offsets + 2 * i)
        for code in range(first, min(last, 0xFFFE) + 1):
            glyph = code
            if offset:
                (glyph,) = struct.unpack_from(">H", font, offsets + 2 * i + offset + 2 * (code - first))
                if glyph == 0:
                    continue
            if (glyph + delta) & 0xFFFF:
                yield code
