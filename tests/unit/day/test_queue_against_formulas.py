"""What is played must agree with Erlang, Engset and Pollaczek: each within its interval of 99.9 %, one seed."""

from math import inf
from typing import Any

import numpy as np
import pytest

from doorwright.calc import queueing, traffic
from doorwright.day.chance import Length, Times
from doorwright.day.positions import Positions
from doorwright.day.queue import QueueRun, run_queue, run_sources

SEED = 2026
SURE = 0.999
AT_ONCE = Length(mean_s=0.0, variation_ratio=0.0)
FOREVER = Length(mean_s=inf)


def played(
    offered_erl: float, lines_count: int, patience: Length, *, hold: Length | None = None, callers_count: int = 2_000
) -> QueueRun:
    hold = hold or Length(mean_s=60.0)
    return run_queue(
        gap=Length(mean_s=hold.mean_s / offered_erl), hold=hold, patience=patience, lines_count=lines_count,
        callers_count=callers_count, settle_count=400, runs_count=400, seed=SEED, longer_s=20.0,
    )  # fmt: skip


# Erlang B: rows T-12 to T-18 of tests/reference/traffic.toml, and the sevenfold size
@pytest.mark.parametrize(
    ("offered_erl", "lines_count"), [(1.0, 1), (1.0, 3), (2.0, 4), (2.0, 5), (5.0, 10), (35.0, 30)]
)
@pytest.mark.parametrize("variation_ratio", [1.0, 0.0])
def test_loss(offered_erl: float, lines_count: int, variation_ratio: float) -> None:
    # blocking does not depend on the law of the holding times: constant ones must do as well
    hold = Length(mean_s=60.0, variation_ratio=variation_ratio)
    run = played(offered_erl, lines_count, AT_ONCE, hold=hold)
    expected = traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count)
    assert run.lost.estimate(SURE).holds(expected)
    assert run.lost.estimate(SURE).half < 0.05 * expected + 0.001


# Erlang C: rows T-21 to T-23
@pytest.mark.parametrize(("offered_erl", "lines_count"), [(0.5, 1), (1.0, 2), (2.0, 3), (10.0, 14)])
def test_delay(offered_erl: float, lines_count: int) -> None:
    run = played(offered_erl, lines_count, FOREVER)
    given: dict[str, Any] = {"offered_erl": offered_erl, "positions_count": lines_count}
    assert run.blocked.estimate(SURE).holds(queueing.waiting_ratio(**given))
    assert run.wait_s.estimate(SURE).holds(queueing.mean_wait_s(**given, hold_s=60.0))
    assert run.waited_longer.estimate(SURE).holds(queueing.longer_ratio(**given, hold_s=60.0, wait_s=20.0))
    assert run.lost.estimate(SURE).mean == 0.0


# Erlang A: light, critical and overloaded
@pytest.mark.parametrize(
    ("offered_erl", "lines_count", "patience_s"), [(2.0, 3, 45.0), (10.0, 10, 120.0), (6.0, 3, 60.0)]
)
def test_abandonment(offered_erl: float, lines_count: int, patience_s: float) -> None:
    run = played(offered_erl, lines_count, Length(mean_s=patience_s))
    expected = queueing.desk_service(
        offered_erl=offered_erl, positions_count=lines_count, hold_s=60.0, patience_s=patience_s, wait_s=20.0
    )
    assert run.blocked.estimate(SURE).holds(expected.waiting_ratio)
    assert run.lost.estimate(SURE).holds(expected.left_ratio)
    assert run.wait_s.estimate(SURE).holds(expected.mean_wait_s)


# Engset: rows T-25 to T-27; β is the load of an idle source, mean holding time over mean idle time
@pytest.mark.parametrize(
    ("sources_count", "lines_count", "idle_source_erl"), [(4, 3, 1 / 3), (4, 2, 1 / 3), (10, 5, 0.25)]
)
def test_few_sources(sources_count: int, lines_count: int, idle_source_erl: float) -> None:
    lost = run_sources(
        idle=Length(mean_s=60.0 / idle_source_erl), hold=Length(mean_s=60.0), sources_count=sources_count,
        lines_count=lines_count, until_s=60_000.0, settle_s=1_200.0, runs_count=300, seed=SEED,
    )  # fmt: skip
    expected = traffic.few_sources_congestion(
        sources_count=sources_count, lines_count=lines_count, idle_source_erl=idle_source_erl
    )
    assert lost.estimate(SURE).holds(expected.call_ratio)
    # the interval is fine enough to tell calls' from time's congestion
    assert not lost.estimate(SURE).holds(expected.time_ratio)


def test_one_line_with_calls_all_alike() -> None:
    # Pollaczek and Khinchine (textbook, from memory): W = ρ·h/(2·(1 - ρ)) for constant lengths: 0.5·60/(2·0.5) = 30 s
    run = played(0.5, 1, FOREVER, hold=Length(mean_s=60.0, variation_ratio=0.0))
    assert run.wait_s.estimate(SURE).holds(30.0)


def test_callers_by_hand() -> None:
    # two positions, one run: held until 10 and 12; the third comes at 4, with 5 s of patience leaves, with 7 s waits 6
    def one(value: float) -> Times:
        return np.array([value])

    for patience_s, wait_s, served in ((5.0, 6.0, False), (7.0, 6.0, True)):
        positions = Positions(1, 2)
        assert positions.admit(one(1.0), one(9.0), one(0.0))[1].all()
        assert positions.admit(one(2.0), one(10.0), one(0.0))[1].all()
        found_s, found = positions.admit(one(4.0), one(1.0), one(patience_s))
        assert (found_s[0], found[0]) == (wait_s, served)
        # the next finds the first position free at 11 if the third was served, else at 10
        assert positions.admit(one(10.5), one(1.0), one(9.0))[0][0] == pytest.approx(0.5 if served else 0.0)


def test_positions_there_must_be() -> None:
    with pytest.raises(ValueError, match="must be a position"):
        Positions(1, 0)
