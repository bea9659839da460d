"""Long lists, a piece at a time."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, Generic, TypeVar

from doorwright.web.asking import Ask

T = TypeVar("T")
PIECE_MOST: Final = 200
"""So many rows are shown at first, and with every "more"."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece(Generic[T]):
    """Some rows of a list: from which on (the first is 0), how many there are in all, where the next piece begins."""

    rows: tuple[T, ...]
    start: int
    total_count: int
    next_start: int | None


def piece(rows: Sequence[T], start: int = 0, most: int = PIECE_MOST) -> Piece[T]:
    """Return the piece of a list that begins at ``start``."""
    start = min(max(start, 0), len(rows))
    end = start + most
    return Piece(
        rows=tuple(rows[start:end]),
        start=start,
        total_count=len(rows),
        next_start=end if end < len(rows) else None,
    )


def start_of(ask: Ask) -> int:
    """Return where the piece that a page asks for begins."""
    return ask.whole("from", 0) or 0
