"""A linear program in whole numbers: variables with bounds, rows with bounds; no solver is known here."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TypeAlias

Terms: TypeAlias = Iterable[tuple[int, int]]
"""Coefficient and variable."""


@dataclass(frozen=True, slots=True)
class Row:
    """``low <= sum of coefficient times variable <= high``; None for no bound."""

    terms: tuple[tuple[int, int], ...]
    low: int | None
    high: int | None

    def holds(self, values: Sequence[int]) -> bool:
        """Say whether values keep to the row."""
        total = sum(factor * values[at] for factor, at in self.terms)
        return (self.low is None or total >= self.low) and (self.high is None or total <= self.high)


class Rows:
    """The variables and rows of one program."""

    def __init__(self) -> None:
        self.bounds: list[tuple[int, int]] = []
        self.rows: list[Row] = []

    def variable(self, low: int, high: int) -> int:
        """Add a variable and return its number."""
        self.bounds.append((low, high))
        return len(self.bounds) - 1

    def add(self, terms: Terms, low: int | None = None, high: int | None = None) -> None:
        """Add a row."""
        self.rows.append(row(terms, low, high))

    def holds(self, values: Sequence[int]) -> bool:
        """Say whether values keep to all bounds and rows."""
        within = all(low <= value <= high for value, (low, high) in zip(values, self.bounds, strict=True))
        return within and all(one.holds(values) for one in self.rows)


def row(terms: Terms, low: int | None = None, high: int | None = None) -> Row:
    """Make a row; terms of the same variable are added up."""
    summed: dict[int, int] = defaultdict(int)
    for factor, at in terms:
        summed[at] += factor
    return Row(tuple((factor, at) for at, factor in summed.items() if factor), low, high)


def total(terms: Terms, values: Sequence[int]) -> int:
    """Return the sum of coefficient times value."""
    return sum(factor * values[at] for factor, at in terms)
