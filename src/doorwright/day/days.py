"""Many days of one building: play them, and read off what visitors met, with intervals."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final, TypeAlias

import numpy as np

from doorwright.day.chance import GROUP_COUNT, Times
from doorwright.day.design import HOUR_S, HOURS_COUNT, Building
from doorwright.day.interval import USUAL_RATIO, Estimate, Tally
from doorwright.day.journal import Counted, What
from doorwright.day.lockstep import play
from doorwright.day.visitors import draw_visitors

_VISITORS_AT_ONCE_COUNT: Final = 1_500_000
"""Visitors drawn and played at once: some 250 MB. More days than hold them are played one lot after another."""
_DAYS_AT_ONCE_COUNT: Final = 4_000

Count: TypeAlias = Callable[["Played"], Times]
"""What is counted by day and hour."""


class Figure(StrEnum):
    """What can be read off: a share, or a mean time in seconds."""

    FOUND_TAKEN = "found_taken_ratio"
    """Tries that found the entrance taken, of all tries."""
    LEFT_LINE = "left_line_ratio"
    """Tries given up before the entrance was free, of all tries."""
    LINE_WAIT = "line_wait_s"
    """Time in line, over all tries."""
    LINE_LONGER = "line_longer_ratio"
    """Tries that stood in line longer than the goal, of all tries."""
    ENGAGED = "engaged_ratio"
    """Tries that found the dwelling in another call, of all tries."""
    REFUSED = "refused_ratio"
    """Tries that the server refused because it held as many calls as it can, of all tries."""
    UNANSWERED = "unanswered_ratio"
    """Calls that rang and nobody answered, of all calls that rang."""
    SERVED = "served_ratio"
    """Visitors served by the household or the desk in the end, of all visitors."""
    GONE = "gone_ratio"
    """Visitors served by nobody, of all visitors."""
    DESK_WAITED = "desk_waited_ratio"
    """Calls to the desk that waited, of all calls that reached it."""
    DESK_WAIT = "desk_wait_s"
    """Time until the desk answered or the visitor gave up, over all calls that reached it."""
    DESK_LONGER = "desk_longer_ratio"
    """Calls to the desk that waited longer than the goal, of all calls that reached it."""
    DESK_LEFT = "desk_left_ratio"
    """Calls to the desk given up before it answered, of all calls that reached it."""
    ENTRANCE_BUSY = "entrance_busy_ratio"
    """Share of time that an entrance is held, over all entrances."""
    DESK_BUSY = "desk_busy_ratio"
    """Share of time that a position of the desk talks, over all positions."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Played:
    """The days of one building, counted.

    Hours are those in which the try, or the call to the desk, came; what follows midnight is in 23. Shares of visitors
    in an hour therefore set those who came back in it against those who first came in it.
    """

    building: Building
    visitors: Times
    """First tries by day and hour. Shape: (days, hours)."""
    counted: Counted

    @property
    def days_count(self) -> int:
        """Days played."""
        return int(self.visitors.shape[0])

    def visitors_a_day(self, hour: int | None = None) -> Tally:
        """Return the visitors of a day, or of one hour of it."""
        come = _of_hour(self.visitors, hour)
        return Tally(come, np.ones_like(come))

    def tally(self, figure: Figure, hour: int | None = None) -> Tally:
        """Return a figure of the whole day, or of those who came in one hour (0 to 23)."""
        if figure is Figure.ENTRANCE_BUSY:
            return self._use(self.counted.entrance_busy_s.sum(axis=1), len(self.building.entrances), hour)
        if figure is Figure.DESK_BUSY:
            desk = self.building.desk
            return self._use(self.counted.desk_busy_s, desk.positions_count if desk else 0, hour)
        counted, of = _SHARES[figure]
        return Tally(_of_hour(counted(self), hour), _of_hour(of(self), hour))

    def entrance_tally(self, entrance: str, hour: int | None = None) -> Tally:
        """Return the share of time that one entrance is held."""
        at = self.building.entrances.index(entrance)
        return self._use(self.counted.entrance_busy_s[:, at], 1, hour)

    def by_hour(self, figure: Figure, confidence_ratio: float = USUAL_RATIO) -> tuple[Estimate, ...]:
        """Return a figure for each of the 24 hours."""
        return tuple(self.tally(figure, hour).estimate(confidence_ratio) for hour in range(HOURS_COUNT))

    def busiest_hour(self) -> int:
        """Return the hour in which most visitors come."""
        return int(self.visitors.sum(axis=0).argmax())

    def _use(self, busy_s: Times, count: int, hour: int | None) -> Tally:
        length_s = HOUR_S if hour is not None else HOUR_S * HOURS_COUNT
        return Tally(_of_hour(busy_s, hour), np.full(self.days_count, length_s * count))


def _whats(*whats: What) -> Count:
    """Return what counts the events of these kinds. Shape: (days, hours)."""
    return lambda played: played.counted.tries[:, :, whats].sum(axis=2)


_TRIES: Final = _whats(*(what for what in What if what < What.DESK_SERVED))
_AT_DESK: Final = _whats(What.DESK_SERVED, What.DESK_LEFT)
_RANG: Final = _whats(What.ANSWERED, What.UNANSWERED, What.DIVERTED)

# figure: what is counted, and of what
_SHARES: Final[dict[Figure, tuple[Count, Count]]] = {
    Figure.FOUND_TAKEN: (lambda played: played.counted.taken, _TRIES),
    Figure.LEFT_LINE: (_whats(What.LEFT_LINE), _TRIES),
    Figure.LINE_WAIT: (lambda played: played.counted.line_wait_s, _TRIES),
    Figure.LINE_LONGER: (lambda played: played.counted.line_longer, _TRIES),
    Figure.ENGAGED: (_whats(What.ENGAGED), _TRIES),
    Figure.REFUSED: (_whats(What.REFUSED), _TRIES),
    Figure.UNANSWERED: (_whats(What.UNANSWERED, What.DIVERTED), _RANG),
    Figure.SERVED: (_whats(What.ANSWERED, What.DESK_SERVED), lambda played: played.visitors),
    Figure.GONE: (lambda played: played.counted.gone.sum(axis=2), lambda played: played.visitors),
    Figure.DESK_WAITED: (lambda played: played.counted.desk_waited, _AT_DESK),
    Figure.DESK_WAIT: (lambda played: played.counted.desk_wait_s, _AT_DESK),
    Figure.DESK_LONGER: (lambda played: played.counted.desk_longer, _AT_DESK),
    Figure.DESK_LEFT: (_whats(What.DESK_LEFT), _AT_DESK),
}


def _of_hour(by_hour: Times, hour: int | None) -> Times:
    if hour is not None and not 0 <= hour < HOURS_COUNT:
        raise ValueError(f"a day has no hour {hour}")
    found: Times = by_hour.sum(axis=1) if hour is None else by_hour[:, hour]
    return found


def play_days(
    building: Building, *, days_count: int, seed: int, line_goal_s: float = 30.0, desk_goal_s: float = 20.0
) -> Played:
    """Play independent days of a building.

    Args:
        building: the design.
        days_count: days; more give narrower intervals, by the square root.
        seed: of all streams. The same seed gives the same visitors to every design, day by day.
        line_goal_s: tries that stand in line longer are counted, seconds.
        desk_goal_s: calls that wait longer for the desk are counted, seconds.
    """
    if days_count < 1:
        raise ValueError(f"there must be a day to play, not {days_count}")
    lot = min(_VISITORS_AT_ONCE_COUNT / max(building.visitors_per_day, 1.0), _DAYS_AT_ONCE_COUNT)
    step = max(1, int(lot / GROUP_COUNT))
    groups = -(-days_count // GROUP_COUNT)
    visitors_by_hour, parts = [], []
    for first in range(0, groups, step):
        visitors = draw_visitors(building, seed=seed, groups=range(first, min(first + step, groups)))
        visitors = visitors.first_days(days_count - first * GROUP_COUNT)
        come = visitors.by_hour()
        visitors_by_hour.append(come)
        journal = play(building, visitors)
        del visitors  # the count needs room too
        parts.append(
            journal.count(
                days_count=len(come), entrances_count=len(building.entrances),
                line_goal_s=line_goal_s, desk_goal_s=desk_goal_s,
            )
        )  # fmt: skip
    return Played(building=building, visitors=np.concatenate(visitors_by_hour), counted=Counted.joined(parts))
