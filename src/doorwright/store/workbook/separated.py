"""Separated text as people save it: comma, semicolon or tab; UTF-8, UTF-16 or Windows-1252."""

import csv
import io
from collections import Counter
from typing import Final

_SAMPLE_LINES: Final = 50
_SEPARATORS: Final = (";", "\t", ",")


def separated_rows(content: bytes) -> list[list[str]]:
    """Return the rows of a text file, its encoding and separator told from its content."""
    text = _decoded(content)
    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep=") and len(first.strip()) == len("sep=;"):
        return [[], *_parsed(rest, first.strip()[-1])]
    sample = "\n".join(text[:200_000].splitlines()[:_SAMPLE_LINES])
    return _parsed(text, max(_SEPARATORS, key=lambda separator: _usual_width(sample, separator)))


def _decoded(content: bytes) -> str:
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return content.decode("utf-16", "replace")
    head = content[:400]
    # UTF-16 without its mark: nearly every other byte of Latin text is zero.
    if head[1::2].count(0) > len(head) // 4:
        return content.decode("utf-16-le", "replace")
    if head[::2].count(0) > len(head) // 4:
        return content.decode("utf-16-be", "replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace")


def _parsed(text: str, separator: str) -> list[list[str]]:
    # The limit of the csv module is global; a long cell is told as a mistake of the user's, not as a crash.
    before = csv.field_size_limit(max(csv.field_size_limit(), len(text) + 1))
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    finally:
        csv.field_size_limit(before)


def _usual_width(sample: str, separator: str) -> float:
    widths = Counter(len(row) for row in _parsed(sample, separator) if any(cell.strip() for cell in row))
    if not widths:
        return 0.0
    rows_count = sum(widths.values())
    return sum(count * rows for count, rows in widths.items() if count > 1) / rows_count
