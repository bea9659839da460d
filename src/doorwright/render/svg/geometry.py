"""Rectangles on paper, and shelves of things cut into fair shares. Lengths in millimetres, y downwards."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle by its upper left corner, width and height."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float

    @property
    def right_mm(self) -> float:
        """The x of its right edge."""
        return self.x_mm + self.width_mm

    @property
    def bottom_mm(self) -> float:
        """The y of its lower edge."""
        return self.y_mm + self.height_mm

    def overlaps(self, other: "Box", slack_mm: float = 0.01) -> bool:
        """Say whether the two share more than a seam ``slack_mm`` wide."""
        return (
            self.x_mm < other.right_mm - slack_mm
            and other.x_mm < self.right_mm - slack_mm
            and self.y_mm < other.bottom_mm - slack_mm
            and other.y_mm < self.bottom_mm - slack_mm
        )

    def holds(self, other: "Box", slack_mm: float = 0.01) -> bool:
        """Say whether ``other`` lies within this box."""
        return (
            other.x_mm >= self.x_mm - slack_mm
            and other.y_mm >= self.y_mm - slack_mm
            and other.right_mm <= self.right_mm + slack_mm
            and other.bottom_mm <= self.bottom_mm + slack_mm
        )


def shares(sizes_mm: Sequence[float], limit_mm: float) -> tuple[range, ...]:
    """Cut a row of things into as few runs as fit ``limit_mm`` each, and those as even as can be.

    A thing larger than the limit has a run to itself.
    """
    fewest = len(_runs(sizes_mm, limit_mm))
    low, high = max([*sizes_mm, sum(sizes_mm) / max(fewest, 1)], default=0.0), limit_mm
    for _ in range(20):  # halving 20 times brings an A3 sheet below a thousandth of a millimetre
        middle = (low + high) / 2
        if len(_runs(sizes_mm, middle)) > fewest:
            low = middle
        else:
            high = middle
    return _runs(sizes_mm, high)


def _runs(sizes_mm: Sequence[float], limit_mm: float) -> tuple[range, ...]:
    runs: list[range] = []
    start, filled_mm = 0, 0.0
    for i, size_mm in enumerate(sizes_mm):
        if i > start and filled_mm + size_mm > limit_mm + 1e-9:
            runs.append(range(start, i))
            start, filled_mm = i, 0.0
        filled_mm += size_mm
    if sizes_mm:
        runs.append(range(start, len(sizes_mm)))
    return tuple(runs)


def lanes(spans: Sequence[tuple[float, float]]) -> tuple[int, ...]:
    """Give each span a lane so that no two spans which touch share one; lanes are filled from 0.

    The well-known greedy colouring of intervals: by start, each into the first lane that is free again.
    """
    ends: list[float] = []
    given = [0] * len(spans)
    for i in sorted(range(len(spans)), key=lambda i: spans[i]):
        start, end = spans[i]
        lane = next((k for k, free in enumerate(ends) if free < start), len(ends))
        if lane == len(ends):
            ends.append(end)
        else:
            ends[lane] = end
        given[i] = lane
    return tuple(given)


def shelved(sizes_mm: Sequence[tuple[float, float]], room: Box, gap_mm: float) -> tuple[tuple[Box, ...], ...]:
    """Stand things of (width, height) side by side in rows, the rows below each other, on as many sheets as it takes.

    Returns:
        The boxes of each sheet, in the order of the things, ``gap_mm`` apart; one larger than the room stands alone.
    """
    sheets: list[list[Box]] = [[]]
    x_mm, y_mm, shelf_mm = room.x_mm, room.y_mm, 0.0
    for width_mm, height_mm in sizes_mm:
        if x_mm > room.x_mm and x_mm + width_mm > room.right_mm + 1e-9:
            x_mm, y_mm, shelf_mm = room.x_mm, y_mm + shelf_mm + gap_mm, 0.0
        if y_mm > room.y_mm and y_mm + height_mm > room.bottom_mm + 1e-9:
            kept = [box for box in sheets[-1] if box.y_mm < y_mm]
            moved = sheets[-1][len(kept) :]
            sheets[-1] = kept
            sheets.append([Box(box.x_mm, room.y_mm, box.width_mm, box.height_mm) for box in moved])
            y_mm = room.y_mm
        sheets[-1].append(Box(x_mm, y_mm, width_mm, height_mm))
        x_mm, shelf_mm = x_mm + width_mm + gap_mm, max(shelf_mm, height_mm)
    return tuple(tuple(sheet) for sheet in sheets if sheet)
