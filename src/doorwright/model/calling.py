"""When calls go through, divert, or a trade release works: weekly windows at an entrance."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, Final

from doorwright.model.part import Part

DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
DAY_MIN: Final = 24 * 60


class TimetablePurpose(StrEnum):
    """What happens inside the windows."""

    CALL = "calls go through"
    DIVERT = "calls divert"
    TRADE_RELEASE = "trade release"


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Some days of the week (0 is Monday), from ``start_min`` up to ``end_min`` after midnight, local time.

    A window that ends at or before its start runs into the next day.
    """

    days: tuple[int, ...]
    start_min: int
    end_min: int

    def __str__(self) -> str:
        return f"{'+'.join(DAYS[day] for day in self.days)} {_clock(self.start_min)}-{_clock(self.end_min)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Timetable(Part):
    """Weekly windows at an entrance. ``divert_to`` is the SMU that takes the calls where they divert."""

    KIND: ClassVar[str] = "timetable"
    TABLE: ClassVar[str] = "timetables"

    name: str
    entrance: str
    purpose: TimetablePurpose
    windows: tuple[Window, ...] = ()
    divert_to: str | None = None

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
