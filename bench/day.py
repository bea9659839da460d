"""Claim: a day of calls is played at least 10 times faster than event by event with simpy, with the same answers.

``python -m bench.day`` measures it; so does ``python -m bench`` with the others. Both sides play the same model in the
same run: lines without waiting, and the building with entrances, dwellings, retries and desk. The building's visitors
are drawn once for both and their drawing is part of our time alone. Figures are our time for a call over simpy's.
"""

import time
from collections.abc import Iterator, Sequence
from typing import Final

from bench.claim import Costs, Figure
from bench.event_by_event import lossy_calls, play_day
from doorwright.day.chance import Length
from doorwright.day.days import play_days
from doorwright.day.design import Building, Desk, Homes
from doorwright.day.journal import What
from doorwright.day.queue import run_queue
from doorwright.day.visitors import draw_visitors

NAME: Final = "days of calls: our time for a call over simpy's"
GOAL_RATIO: Final = 0.1
GOAL_S: Final = 5.0
DAYS_COUNT: Final = 1_000
CONFIDENCE_RATIO: Final = 0.999

_OFFERED_ERL, _LINES_COUNT = 2.0, 4
_CALLS_COUNT, _SETTLE_COUNT, _SIMPY_CALLS_COUNT, _SIMPY_DAYS_COUNT = 2_000, 100, 300_000, 50
_AT_ONCE: Final = Length(mean_s=0.0, variation_ratio=0.0)

EVENING: Final = (1, 1, 1, 1, 1, 1, 3, 5, 6, 5, 4, 4, 5, 5, 4, 5, 7, 9, 10, 9, 7, 5, 3, 2)


def block(*, cores_count: int = 4, homes_count: int = 125, desk_positions_count: int = 1) -> Building:
    """Return an invented block: an entrance to each core, two gates to all of them, and a desk."""
    entrances = (*(f"core {number}" for number in range(cores_count)), "north gate", "south gate")
    homes = tuple(
        Homes(
            name=f"core {number}", count=homes_count, calls_per_day=3.0, answer_ratio=0.7,
            entrances=tuple(1.0 if at == number else 0.5 if at >= cores_count else 0.0 for at in range(len(entrances))),
        )
        for number in range(cores_count)
    )  # fmt: skip
    return Building(
        entrances=entrances, homes=homes, hours=EVENING,
        answer=Length(mean_s=12.0), talk=Length(mean_s=30.0), ring_limit_s=30.0,
        desk=Desk(positions_count=desk_positions_count, talk=Length(mean_s=45.0), patience=Length(mean_s=60.0)),
        desk_ratio=0.05, retry_ratio=0.3, line_ratio=0.9,
    )  # fmt: skip


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: one size alone)
    """Yield both ratios, the seconds for a thousand days, and whether the answers agree."""
    yield from _lines()
    yield from _building()


def _lines() -> Iterator[Figure]:
    begin_s = time.process_time()
    lost = run_queue(
        gap=Length(mean_s=1.0 / _OFFERED_ERL), hold=Length(mean_s=1.0), patience=_AT_ONCE, lines_count=_LINES_COUNT,
        callers_count=_CALLS_COUNT, settle_count=_SETTLE_COUNT, runs_count=DAYS_COUNT, seed=1,
    ).lost.estimate(CONFIDENCE_RATIO)  # fmt: skip
    ours_s = (time.process_time() - begin_s) / ((_CALLS_COUNT + _SETTLE_COUNT) * DAYS_COUNT)
    begin_s = time.process_time()
    theirs = lossy_calls(
        offered_erl=_OFFERED_ERL, lines_count=_LINES_COUNT, calls_count=_SIMPY_CALLS_COUNT, seed=1
    ) / _SIMPY_CALLS_COUNT  # fmt: skip
    theirs_s = (time.process_time() - begin_s) / _SIMPY_CALLS_COUNT
    yield Figure(NAME, f"{_LINES_COUNT} lines without waiting", ours_s / theirs_s, GOAL_RATIO)
    yield Figure(NAME, "  million calls a second, ours", 1e-6 / ours_s)
    yield Figure(NAME, "  million calls a second, simpy", 1e-6 / theirs_s)
    # Simpy's one run is as long as 150 of ours, and its chance about as large as theirs together.
    beyond = abs(theirs - lost.mean) / (lost.half * (1.0 + (_CALLS_COUNT * DAYS_COUNT / _SIMPY_CALLS_COUNT) ** 0.5))
    yield Figure(NAME, "  difference of lost calls, in both intervals", beyond, 1.0)


def _building() -> Iterator[Figure]:
    building = block()
    begin_s = time.process_time()
    played = play_days(building, days_count=DAYS_COUNT, seed=1)
    took_s = time.process_time() - begin_s
    ours_s = took_s / float(played.visitors.sum())
    visitors = draw_visitors(building, seed=1, groups=range(1))
    begin_s = time.process_time()
    told = [play_day(building, visitors, day) for day in range(_SIMPY_DAYS_COUNT)]
    theirs_s = (time.process_time() - begin_s) / float(played.visitors[:_SIMPY_DAYS_COUNT].sum())
    homes_count = sum(homes.count for homes in building.homes)
    what = f"{homes_count} dwellings, {len(building.entrances)} entrances, a desk"
    yield Figure(NAME, what, ours_s / theirs_s, GOAL_RATIO)
    yield Figure(NAME, "  million visitors a second, ours", 1e-6 / ours_s)
    yield Figure(NAME, "  million visitors a second, simpy", 1e-6 / theirs_s)
    yield Figure(NAME, f"  seconds for {DAYS_COUNT} days", took_s, GOAL_S)
    tries = played.counted.tries.sum(axis=1)
    unlike = sum([one.whats[what] for what in What] != tries[day].tolist() for day, one in enumerate(told))
    yield Figure(NAME, f"  days of {_SIMPY_DAYS_COUNT} with other outcomes", float(unlike), 0.0)


if __name__ == "__main__":
    for figure in figures({}, ()):
        word = {None: "", True: "met", False: "not met"}[figure.met]
        print(f"{figure.what}: {figure.measured:.3f} {word}")
