"""How often visitors come and what they do: the assumptions behind every estimate of traffic."""

from dataclasses import dataclass
from typing import Final

EVENING_PEAK: tuple[float, ...] = (
    0.4, 0.2, 0.1, 0.1, 0.1, 0.3, 1.0, 2.5, 4.0, 4.0, 5.0, 6.0,
    6.5, 5.5, 5.0, 5.5, 7.0, 9.5, 10.0, 9.0, 7.0, 5.0, 3.0, 1.3,
)  # fmt: skip
"""Weights of the hours of a day with post and deliveries at noon and most visitors after work: our own assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CallHabits:
    """What visitors and residents are taken to do. No figure here is measured: a site's own counts replace them.

    ``hour_weights`` has one weight for each hour of the local day, from midnight; only their proportions count.
    ``answer_ratio`` of the calls are answered, after ``answer_s`` in the mean; a caller who is not answered calls
    again with probability ``retry_ratio`` after ``retry_after_s`` in the mean. ``desk_ratio`` of the calls are for the
    desk, where a caller waits ``desk_patience_s`` in the mean. ``busy_ratio`` is the share of visitors who may find the
    visitor call unit taken in the busiest hour, ``desk_wait_s`` and ``desk_within_ratio`` how soon how many callers
    of the desk are to be answered.
    """

    calls_per_dwelling_count: float = 3.0
    hour_weights: tuple[float, ...] = EVENING_PEAK
    answer_ratio: float = 0.7
    answer_s: float = 12.0
    talk_s: float = 25.0
    retry_ratio: float = 0.4
    retry_after_s: float = 60.0
    desk_ratio: float = 0.1
    desk_talk_s: float = 60.0
    desk_patience_s: float = 45.0
    busy_ratio: float = 0.05
    desk_wait_s: float = 20.0
    desk_within_ratio: float = 0.8

    @property
    def busy_hour_ratio(self) -> float:
        """The share of the day's calls that fall into its busiest hour."""
        return max(self.hour_weights) / sum(self.hour_weights)


USUAL_HABITS: Final = CallHabits()
"""What is assumed where a site says nothing."""
