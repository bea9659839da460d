"""Claim: switches for 500 dwellings on 25 levels at 4 risers: proven within 1 % of the best in 60 s of two cores.

Without prices, where the fewest switches and then the least cable are sought, units fed across cores too: within 2 %.

``python -m bench.placement`` measures it; so does ``python -m bench`` with the others.
"""

import time
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

from bench.claim import Costs, Figure
from doorwright.plan.placement import (
    Crossing,
    Cupboard,
    Demand,
    Impossible,
    Prices,
    Problem,
    Root,
    Routes,
    Spot,
    SwitchType,
    place,
)

NAME: Final = "switches for 500 dwellings on 25 levels at 4 risers"
DWELLINGS_COUNT: Final = 500
LEVELS_COUNT: Final = 25
RISERS_COUNT: Final = 4
EFFORT_S: Final = 20.0
GOAL_GAP_PERCENT: Final = 1.0
GOAL_UNPRICED_GAP_PERCENT: Final = 2.0
GOAL_S: Final = 60.0

_RUNS_M: Final = (4.0, 12.0, 7.5, 7.5, 12.0, 4.0, 9.0)
_CLASSES_W: Final = (7.0, 7.0, 15.4, 7.0, 7.0, 7.0, 15.4, 7.0, 7.0)
"""What ports set aside for receivers of PoE classes 2 and 3 (IEEE 802.3)."""


def question() -> Problem:
    """Make the invented tower: runs and classes differ on each level, the entrances on the ground draw class 4."""
    levels = {f"L{number:02d}": 3.0 * number for number in range(LEVELS_COUNT)}
    risers = {f"R{number}": (22.0 * number, 0.0) for number in range(RISERS_COUNT)}
    cupboards = tuple(
        Cupboard(
            key=f"{riser} {level}",
            spot=Spot(core=riser, level=level, run_m=1.5),
            room_count=2,
            opening_cost=Decimal(60),
        )
        for riser in risers
        for level in levels
    )
    dwellings = tuple(
        Demand(
            key=f"D{number:03d}",
            spot=Spot(
                core=f"R{number % RISERS_COUNT}",
                level=f"L{number // RISERS_COUNT % LEVELS_COUNT:02d}",
                run_m=_RUNS_M[number % len(_RUNS_M)],
            ),
            power_w=_CLASSES_W[number % len(_CLASSES_W)],
        )
        for number in range(DWELLINGS_COUNT)
    )
    entrances = tuple(
        Demand(key=f"{riser} entrance {number}", spot=Spot(core=riser, level="L00", run_m=15.0), power_w=30.0)
        for riser in risers
        for number in (1, 2)
    )
    types = tuple(
        SwitchType(
            key=f"{ports_count} ports", ports_count=ports_count, uplinks_count=uplinks_count, budget_w=budget_w,
            port_w=30.0, optical=True, cost=Decimal(cost),
        )
        for ports_count, uplinks_count, budget_w, cost in ((8, 2, 124, 190), (24, 4, 240, 420), (48, 4, 480, 860))
    )  # fmt: skip
    return Problem(
        cupboards=cupboards,
        demands=(*dwellings, *entrances),
        types=types,
        routes=Routes(
            heights_m=levels, risers_m=risers, crossings=(Crossing(level="L00"),), slack_m=5.0, units_cross=False
        ),
        root=Root(cupboard="R0 L00"),
        prices=Prices(
            cable_per_m=Decimal("1.40"),
            copper_uplink_per_m=Decimal("1.40"),
            optical_uplink_per_m=Decimal("1.10"),
            optical_uplink_each=Decimal(120),
        ),
    )


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: one size alone)
    """Yield the gap and the seconds, with each riser by itself and with units fed across the ground."""
    problem = question()
    across = replace(problem, routes=replace(problem.routes, units_cross=True))
    unpriced = replace(across, prices=None)
    for what, one, goal_percent in (
        ("each riser by itself", problem, GOAL_GAP_PERCENT),
        ("units fed across the ground too", across, GOAL_GAP_PERCENT),
        ("the same without prices", unpriced, GOAL_UNPRICED_GAP_PERCENT),
    ):
        begin_s, busy_s = time.perf_counter(), time.process_time()
        plan = place(one, effort_s=EFFORT_S, gap_ratio=goal_percent / 100)
        busy_s, took_s = time.process_time() - busy_s, time.perf_counter() - begin_s
        if isinstance(plan, Impossible):
            raise TypeError(f"the invented tower has a plan: {plan.reasons}")
        yield Figure(NAME, f"{what}: gap to the bound, per cent", 100 * plan.gap_ratio, goal_percent)
        yield Figure(NAME, f"{what}: seconds of processor, both cores together", busy_s, GOAL_S)
        yield Figure(NAME, f"{what}: seconds on the clock", took_s)


if __name__ == "__main__":
    for figure in figures({}, ()):
        word = {None: "", True: "met", False: "not met"}[figure.met]
        print(f"{figure.what}: {figure.measured:.2f} {word}")
