"""The engine of the day against two event simulations written by others: simpy, event for event; ciw, in the mean."""

from typing import Any

import ciw
import numpy as np
import pytest

from bench.event_by_event import lossy_calls, play_day
from doorwright.day.chance import Length
from doorwright.day.design import Building
from doorwright.day.interval import Estimate, Tally
from doorwright.day.journal import What
from doorwright.day.lockstep import play
from doorwright.day.queue import run_queue
from doorwright.day.visitors import draw_visitors
from tests.unit.day.blocks import FLAT, block, desk

SURE = 0.999
SEED = 2026
SLOW = Length(mean_s=200.0)


@pytest.mark.parametrize(
    "building",
    [
        block(),
        block(calls_max_count=1, retry_ratio=0.9, tries_max_count=6, retry_after=Length(mean_s=30.0)),
        block(desk=None, desk_ratio=0.0, line_ratio=0.3),
        block(desk=desk(positions_count=2, talk=SLOW, patience=SLOW), desk_ratio=0.5, calls_max_count=None),
        block(hours=FLAT, talk=SLOW, line_patience=SLOW, calls_max_count=None),
    ],
    ids=["usual", "one call at a time", "no desk", "busy desk", "long talks"],
)
def test_every_day_goes_as_in_simpy(building: Building) -> None:
    visitors = draw_visitors(building, seed=SEED, groups=range(1))
    days = visitors.at_s.shape[1]
    counted = play(building, visitors).count(
        days_count=days, entrances_count=len(building.entrances), line_goal_s=30.0, desk_goal_s=20.0
    )
    for day in range(0, days, 5):
        told = play_day(building, visitors, day)
        assert counted.tries[day].sum(axis=0).tolist() == [told.whats[what] for what in What]
        assert counted.gone[day].sum(axis=0).tolist() == [told.gone[what] for what in What]
        assert counted.taken[day].sum() == told.taken
        # single precision of what is kept
        assert counted.line_wait_s[day].sum() == pytest.approx(told.line_wait_s, abs=0.01)
        assert counted.desk_wait_s[day].sum() == pytest.approx(told.desk_wait_s, abs=0.01)


def overlap(one: Estimate, other: Estimate) -> bool:
    return one.low <= other.high and other.low <= one.high


def ours(patience: Length) -> tuple[Estimate, Estimate]:
    run = run_queue(
        gap=Length(mean_s=0.5), hold=Length(mean_s=1.0), patience=patience, lines_count=4,
        callers_count=2_000, settle_count=100, runs_count=200, seed=SEED,
    )  # fmt: skip
    return run.lost.estimate(SURE), run.wait_s.estimate(SURE)


def test_lost_calls_as_in_simpy() -> None:
    lost = np.array([lossy_calls(offered_erl=2.0, lines_count=4, calls_count=4_000, seed=run) for run in range(20)])
    theirs = Tally(lost.astype(np.float64), np.full(20, 4_000.0)).estimate(SURE)
    mine, _ = ours(Length(mean_s=0.0, variation_ratio=0.0))
    assert overlap(mine, theirs)
    # T-18: 2 E on 4 lines, 2/21
    assert theirs.holds(2 / 21)
    assert mine.holds(2 / 21)


def ciw_runs(**network: Any) -> list[list[Any]]:
    """Run 2 E on 4 lines ten times; return the records of the calls that came after the first settling."""
    found = []
    for run in range(10):
        ciw.seed(SEED + run)
        simulation = ciw.Simulation(
            ciw.create_network(
                arrival_distributions=[ciw.dists.Exponential(2.0)],
                service_distributions=[ciw.dists.Exponential(1.0)],
                number_of_servers=[4],
                **network,
            )
        )
        simulation.simulate_until_max_time(550.0)
        found.append([record for record in simulation.get_all_records() if 50.0 <= record.arrival_date < 540.0])
    return found


def tally(counts: list[tuple[float, float]]) -> Estimate:
    counted, of = zip(*counts, strict=True)
    return Tally(np.array(counted), np.array(of)).estimate(SURE)


def test_lost_calls_as_in_ciw() -> None:
    runs = ciw_runs(queue_capacities=[0])
    theirs = tally([(float(sum(r.record_type == "rejection" for r in run)), float(len(run))) for run in runs])
    mine, _ = ours(Length(mean_s=0.0, variation_ratio=0.0))
    assert overlap(mine, theirs)
    assert theirs.holds(2 / 21)


def test_callers_who_give_up_as_in_ciw() -> None:
    runs = ciw_runs(reneging_time_distributions=[ciw.dists.Exponential(0.5)])
    left = tally([(float(sum(r.record_type == "renege" for r in run)), float(len(run))) for run in runs])
    waited = tally([(float(sum(r.waiting_time for r in run)), float(len(run))) for run in runs])
    mine_left, mine_waited = ours(Length(mean_s=2.0))
    assert overlap(mine_left, left)
    assert overlap(mine_waited, waited)
