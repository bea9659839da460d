"""Whom a call rings and when: ringing, diverts, and weekly windows in which calls go through, divert or doors free."""

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, Final

from doorwright.model.part import Part

DAYS: Final = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun", "Hol")
HOLIDAY: Final = 7
"""The day that stands for the site's holidays. A timetable with a window on it has only that window on a holiday; one
that is closed on holidays has none."""
DAY_MIN: Final = 24 * 60


class RingMode(StrEnum):
    """How the receivers of a dwelling ring."""

    TOGETHER = "together"
    IN_TURN = "in turn"


class DivertCause(StrEnum):
    """Why a call goes elsewhere."""

    ALWAYS = "always"
    NO_ANSWER = "no answer"
    BUSY = "busy"
    NOT_REGISTERED = "not registered"


class TimetablePurpose(StrEnum):
    """What happens inside the windows."""

    CALL = "calls go through"
    DIVERT = "calls divert"
    TRADE_RELEASE = "trade release"


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Some days (0 is Monday, 7 a holiday), from ``start_min`` up to ``end_min`` after midnight, local time.

    A window that ends at or before its start runs into the next day.
    """

    days: tuple[int, ...]
    start_min: int
    end_min: int

    def __str__(self) -> str:
        return f"{'+'.join(DAYS[day] for day in self.days)} {_clock(self.start_min)}-{_clock(self.end_min)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Timetable(Part):
    """Weekly windows at an entrance. ``divert_to`` is the SMU that takes the calls where they divert.

    With ``closed_on_holidays`` no window begins on a holiday; what began on the eve runs to its end.
    """

    KIND: ClassVar[str] = "timetable"
    TABLE: ClassVar[str] = "timetables"

    name: str
    entrance: str
    purpose: TimetablePurpose
    windows: tuple[Window, ...] = ()
    divert_to: str | None = None
    closed_on_holidays: bool = False

    @property
    def label(self) -> str:
        """Its name."""
        return self.name


@dataclass(frozen=True, slots=True, kw_only=True)
class Divert(Part):
    """Where calls go instead: to another dwelling or to a desk.

    It is for calls to a ``dwelling`` or to a ``desk``; with neither for those to every dwelling, and to no desk.
    Without ``entrance`` it is for calls from everywhere; with ``timetable`` it holds inside that timetable's windows
    only. The most particular divert wins.
    """

    KIND: ClassVar[str] = "divert"
    TABLE: ClassVar[str] = "diverts"

    cause: DivertCause
    dwelling: str | None = None
    entrance: str | None = None
    timetable: str | None = None
    to_dwelling: str | None = None
    to_desk: str | None = None
    desk: str | None = None

    @property
    def label(self) -> str:
        """Its cause."""
        return f"divert: {self.cause}"


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"
