"""A figure as it is reported: measured, and where something is promised, the goal and whether it is met."""

from dataclasses import dataclass
from typing import Final

from bench.fresh import Cost

Costs = dict[tuple[str, int], Cost]
"""What each step cost, by step and number of dwellings."""

ROUND_TRIP: Final = "round_trip"


@dataclass(frozen=True, slots=True)
class Figure:
    """One line of the report. ``at_most`` is the goal, None where nothing is promised."""

    claim: str
    what: str
    measured: float
    at_most: float | None = None

    @property
    def met(self) -> bool | None:
        """Whether the goal is met."""
        return None if self.at_most is None else self.measured <= self.at_most
