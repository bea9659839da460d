"""Invented buildings for tests of the day."""

from typing import Any

from doorwright.day.chance import Length
from doorwright.day.design import Building, Desk, Homes

FLAT = (1.0,) * 24
EVENING = (1, 1, 1, 1, 1, 1, 3, 5, 6, 5, 4, 4, 5, 5, 4, 5, 7, 9, 10, 9, 7, 5, 3, 2)


def desk(**other: Any) -> Desk:
    return Desk(**{"positions_count": 1, "talk": Length(mean_s=45.0), "patience": Length(mean_s=60.0), **other})


def block(**other: Any) -> Building:
    """Two cores of 30 dwellings, each with an entrance, and a gate to both; busy enough that all can happen."""
    given: dict[str, Any] = {
        "entrances": ("east", "west", "gate"),
        "homes": (
            Homes(name="east", count=30, calls_per_day=6.0, entrances=(1.0, 0.0, 1.0), answer_ratio=0.6),
            Homes(name="west", count=30, calls_per_day=6.0, entrances=(0.0, 1.0, 1.0), answer_ratio=0.8, diverts=False),
        ),
        "hours": EVENING,
        "answer": Length(mean_s=12.0, variation_ratio=0.5),
        "talk": Length(mean_s=40.0),
        "ring_limit_s": 30.0,
        "desk": desk(),
        "desk_ratio": 0.1,
        "retry_ratio": 0.4,
        "line_ratio": 0.8,
        "calls_max_count": 2,
    }
    return Building(**{**given, **other})
