"""Claim: 500 units and 4 technicians: a schedule within 5 % of the bound in 30 s.

``python -m bench.schedule`` measures it; so does ``python -m bench`` with the others.
"""

import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from bench import steps
from bench.claim import Costs, Figure
from doorwright.model.walk import Walk
from doorwright.plan.schedule import Pace, Times, make_schedule, work_of
from doorwright.store import codec

NAME: Final = "schedule of 500 dwellings' units, 4 technicians"
UNITS_COUNT: Final = 500
TECHNICIANS: Final = 4
EFFORT_S: Final = 20.0
GOAL_GAP_PERCENT: Final = 5.0
GOAL_S: Final = 30.0


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: one size alone)
    """Yield the gap to the bound, and the seconds it took from the site to the schedule."""
    with tempfile.TemporaryDirectory() as folder:
        steps.lay_out(Path(folder), UNITS_COUNT)
        site = codec.load((Path(folder) / steps.PLANNED).read_bytes())
    begin_s = time.process_time()
    work = work_of(Walk(site), times=Times(), pace=Pace())
    schedule = make_schedule(work, technicians=TECHNICIANS, effort_s=EFFORT_S)
    took_s = time.process_time() - begin_s
    yield Figure(NAME, "finish above the bound, per cent", 100 * schedule.gap_ratio, GOAL_GAP_PERCENT)
    yield Figure(NAME, "seconds of one processor", took_s, GOAL_S)
    share = 100 * schedule.finish_s * TECHNICIANS / schedule.in_list_order_s
    yield Figure(NAME, "technicians' hours, per cent of one in list order", share)


if __name__ == "__main__":
    for figure in figures({}, ()):
        word = {None: "", True: "met", False: "not met"}[figure.met]
        print(f"{figure.what}: {figure.measured:.2f} {word}")
