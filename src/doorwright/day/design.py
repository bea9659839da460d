"""What is played: the building as calls see it."""

from dataclasses import dataclass
from math import inf, isfinite
from typing import Final

from doorwright.day.chance import Length

HOURS_COUNT: Final = 24
HOUR_S: Final = 3600.0
NEVER: Final = Length(mean_s=inf)
TWO_MINUTES: Final = Length(mean_s=120.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Homes:
    """Dwellings that are called alike, such as those of one core."""

    name: str
    count: int
    calls_per_day: float
    """Visitors to each dwelling on a mean day, those who call the desk instead among them; first tries only."""
    entrances: tuple[float, ...]
    """How the visitors spread over the entrances, in the order of the building's; any positive weights."""
    answer_ratio: float
    """Share of calls that somebody is at home to answer."""
    diverts: bool = True
    """Whether an unanswered call goes on to the desk, where there is one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Desk:
    """The concierge's desk: so many calls at once, and a line of waiting calls."""

    positions_count: int
    talk: Length
    patience: Length
    """How long a visitor waits for the desk to answer."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Building:
    """One design, with the habits of those who use it."""

    entrances: tuple[str, ...]
    """Names of the entrances. Each holds one call at a time; visitors who come meanwhile find it taken."""
    homes: tuple[Homes, ...]
    hours: tuple[float, ...]
    """24 weights: how the day's calls spread over its hours."""
    answer: Length
    """Time from the first ring until somebody answers."""
    talk: Length
    """Talk with the household, release and all."""
    ring_limit_s: float
    """After this time of ringing, the call ends or goes on to the desk."""
    engaged_s: float = 5.0
    """How long an entrance is held by a call that finds the dwelling or the server engaged."""
    line_ratio: float = 1.0
    """Share of visitors who stand in line where they find the entrance taken; the others leave at once."""
    line_patience: Length = TWO_MINUTES
    """How long a visitor stands in line before leaving."""
    desk: Desk | None = None
    desk_ratio: float = 0.0
    """Share of visitors who call the desk, not a dwelling."""
    retry_ratio: float = 0.0
    """Share of the visitors served by nobody who try again."""
    retry_after: Length = TWO_MINUTES
    """Time until they do."""
    tries_max_count: int = 3
    calls_max_count: int | None = None
    """Calls that the server can hold at once; None where nothing limits them."""

    def __post_init__(self) -> None:
        """Refuse a building that cannot be played. Its maker has checked what a user gave; this catches bugs."""
        if faults := tuple(self._faults()):
            raise ValueError("; ".join(faults))

    def _faults(self) -> list[str]:
        ratios = (self.desk_ratio, self.retry_ratio, self.line_ratio, *(homes.answer_ratio for homes in self.homes))
        times = (self.ring_limit_s, self.engaged_s, self.answer.mean_s, self.talk.mean_s, self.retry_after.mean_s)
        weights = (self.hours, *(homes.entrances for homes in self.homes))
        widths = {len(homes.entrances) for homes in self.homes}
        told = {
            "there is no entrance": not self.entrances,
            "there are no homes": not self.homes,
            f"the day has {HOURS_COUNT} hours": len(self.hours) != HOURS_COUNT,
            "weights are positive, and not all nothing": any(min(row) < 0.0 or not sum(row) > 0.0 for row in weights),
            "each group of homes has one weight an entrance": bool(widths - {len(self.entrances)}),
            "a group has dwellings": any(homes.count < 1 for homes in self.homes),
            "calls a day are a number from 0": any(
                not (homes.calls_per_day >= 0.0 and isfinite(homes.calls_per_day)) for homes in self.homes
            ),
            "a share lies between 0 and 1": any(not 0.0 <= ratio <= 1.0 for ratio in ratios),
            "times are finite": any(not (time_s >= 0.0 and isfinite(time_s)) for time_s in times),
            "an endless talk never frees the desk": self.desk is not None and not isfinite(self.desk.talk.mean_s),
            "visitors call a desk that is not there": self.desk is None and self.desk_ratio > 0.0,
            "there is at least one try": self.tries_max_count < 1,
            "the server holds at least one call": self.calls_max_count is not None and self.calls_max_count < 1,
        }
        return [text for text, wrong in told.items() if wrong]

    @property
    def visitors_per_day(self) -> float:
        """Mean number of visitors a day, first tries only, those for the desk among them."""
        return sum(homes.count * homes.calls_per_day for homes in self.homes)
