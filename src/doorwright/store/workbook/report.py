"""What reading a workbook has to say: mistakes to correct, and remarks on what was read otherwise than written."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from doorwright.kernel.errors import Mistake
from doorwright.model.site import Site

READ_LENGTH_COUNT = 60


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Something read otherwise than written: the first place, what stood there, what was kept, and how often."""

    where: str
    read: str
    kept: str
    change: str
    count: int = 1

    def __str__(self) -> str:
        read = f" (read: {self.read}; kept as: {self.kept})" if self.read or self.kept else ""
        more = f", and {self.count - 1} more like it" if self.count > 1 else ""
        return f"{self.where}: {self.change}{read}{more}"


@dataclass(frozen=True, slots=True)
class Spot:
    """A place in a workbook.

    ``order`` is the sheet's, from 0, and -1 for the workbook as a whole; ``row`` counts from 1, and is 0 for the sheet
    as a whole; ``column`` counts from 0, and is -1 for the row as a whole.
    """

    order: int
    sheet: str
    row: int = 0
    column: int = -1
    heading: str = ""

    def __str__(self) -> str:
        text = f'sheet "{self.sheet}"' if self.sheet else "the workbook"
        if self.row:
            text += f", row {self.row}"
        if self.column >= 0:
            text += f", column {letter(self.column)}"
        if self.heading:
            text += f' "{self.heading}"'
        return text


@dataclass(frozen=True, slots=True)
class Reading:
    """A workbook as read. Where there are mistakes nothing is saved, and the site is the one before (or empty).

    ``spots`` are the places of the mistakes, in their order; ``headed`` gives by a sheet's order the row (from 1) in
    which its headings were found.
    """

    site: Site
    remarks: tuple[Remark, ...]
    mistakes: tuple[Mistake, ...]
    spots: tuple[Spot, ...] = ()
    headed: Mapping[int, int] = field(default_factory=dict)


class Report:
    """Collects mistakes and remarks, and gives them in the order of sheets and rows."""

    def __init__(self) -> None:
        self._mistakes: list[tuple[Spot, Mistake]] = []
        self._remarks: dict[tuple[str, int, str], Remark] = {}

    def mistake(self, spot: Spot, read: object, problem: str, remedy: str) -> None:
        """Add a mistake."""
        found = Mistake(where=str(spot), read=shorten(read), problem=problem, remedy=remedy)
        self._mistakes.append((spot, found))

    def remark(self, spot: Spot, read: object, kept: object, change: str) -> None:
        """Add a remark; equal ones of one column become one with a count."""
        key = (spot.sheet, spot.column, change)
        known = self._remarks.get(key)
        if known is None:
            self._remarks[key] = Remark(where=str(spot), read=shorten(read), kept=shorten(kept), change=change)
        else:
            self._remarks[key] = Remark(
                where=known.where, read=known.read, kept=known.kept, change=change, count=known.count + 1
            )

    @property
    def mistakes(self) -> tuple[Mistake, ...]:
        """Every mistake, by sheet, row and column."""
        return tuple(mistake for _, mistake in self._in_order())

    @property
    def spots(self) -> tuple[Spot, ...]:
        """The place of every mistake, in the same order."""
        return tuple(spot for spot, _ in self._in_order())

    @property
    def remarks(self) -> tuple[Remark, ...]:
        """Every remark, in the order in which they first arose."""
        return tuple(self._remarks.values())

    def _in_order(self) -> list[tuple[Spot, Mistake]]:
        return sorted(self._mistakes, key=lambda found: (found[0].order, found[0].row, found[0].column))


def shorten(read: object) -> str:
    """Return a value as one line of at most 60 characters."""
    if isinstance(read, float) and read.is_integer() and abs(read) < 1e15:
        read = int(read)
    text = " ".join(str(read)[: READ_LENGTH_COUNT * 4].split())
    return text if len(text) <= READ_LENGTH_COUNT else text[: READ_LENGTH_COUNT - 1] + "…"


def letter(column: int) -> str:
    """Return the letters by which a spreadsheet program calls a column counted from 0."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return letters
