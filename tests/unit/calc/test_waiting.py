"""Lines and desks at their limits: no load, one position, patience as long as a call, figures of no desk."""

from math import exp, inf, nan
from typing import Any

import pytest

from doorwright.calc import queueing, traffic


def test_without_a_call_nobody_waits() -> None:
    assert queueing.waiting_ratio(offered_erl=0.0, positions_count=2) == 0.0
    assert queueing.waiting_ratio(offered_erl=0.0, positions_count=0) == 0.0
    assert queueing.mean_wait_s(offered_erl=0.0, positions_count=2, hold_s=60.0) == 0.0
    idle = queueing.desk_service(offered_erl=0.0, positions_count=2, hold_s=60.0, patience_s=30.0, wait_s=20.0)
    assert idle == queueing.Service(
        waiting_ratio=0.0, left_ratio=0.0, mean_wait_s=0.0, in_time_ratio=1.0, busy_ratio=0.0
    )
    # a blocking of about 0.01¹¹⁰/110! = 1e-398 is zero to a double, but who calls is served and keeps a position busy
    light = queueing.desk_service(offered_erl=0.01, positions_count=110, hold_s=60.0, patience_s=30.0, wait_s=20.0)
    assert (light.in_time_ratio, light.left_ratio) == (1.0, 0.0)
    assert light.busy_ratio == pytest.approx(0.01 / 110)


def test_a_single_position() -> None:
    """M/M/1 of the textbooks: C = A, P(W > t) = A·e^(-(1 - A)·t/h), W = A·h/(1 - A); half an erlang, calls of 60 s."""
    desk: dict[str, Any] = {"offered_erl": 0.5, "positions_count": 1}
    assert queueing.waiting_ratio(**desk) == pytest.approx(0.5)
    assert queueing.longer_ratio(**desk, hold_s=60.0, wait_s=120.0) == pytest.approx(0.5 / exp(1.0))
    assert queueing.mean_wait_s(**desk, hold_s=60.0) == pytest.approx(60.0)


@pytest.mark.parametrize(("goal_ratio", "count"), [(0.57, 1), (0.58, 2), (0.93, 2), (0.94, 3)])
def test_positions_by_hand(goal_ratio: float, count: int) -> None:
    """Half an erlang, 60 s, 20 s: 1 - 0.5·e^(-1/6) = 0.577 with one; C = 0.1, 1 - 0.1·e^(-1/2) = 0.939 with two."""
    assert queueing.needed_positions_count(offered_erl=0.5, hold_s=60.0, wait_s=20.0, goal_ratio=goal_ratio) == count


def test_a_goal_that_is_met_exactly_is_met() -> None:
    # half an erlang at one position: half of the calls are answered at once (M/M/1)
    assert queueing.needed_positions_count(offered_erl=0.5, hold_s=60.0, wait_s=0.0, goal_ratio=0.5) == 1


def test_where_the_load_reaches_the_positions_the_line_has_no_end() -> None:
    assert queueing.waiting_ratio(offered_erl=2.0, positions_count=2) == 1.0
    assert queueing.longer_ratio(offered_erl=3.0, positions_count=2, hold_s=60.0, wait_s=1e6) == 1.0
    assert queueing.mean_wait_s(offered_erl=2.0, positions_count=2, hold_s=60.0) == inf
    # two erlang need a third position, whatever the goal
    assert queueing.needed_positions_count(offered_erl=2.0, hold_s=60.0, wait_s=20.0, goal_ratio=0.0) == 3


def test_patience_as_long_as_a_call() -> None:
    """Whoever is there leaves at the same rate, served or not: the number there follows Poisson's law (hand).

    One erlang at one position: P(wait) = 1 - 1/e; the mean line is A - 1 + 1/e = 1/e, so the mean wait is h/e.
    """
    found = queueing.desk_service(offered_erl=1.0, positions_count=1, hold_s=60.0, patience_s=60.0, wait_s=0.0)
    assert found.waiting_ratio == pytest.approx(1.0 - exp(-1.0))
    assert found.mean_wait_s == pytest.approx(60.0 * exp(-1.0))
    assert found.left_ratio == pytest.approx(exp(-1.0))
    assert found.busy_ratio == pytest.approx(1.0 - exp(-1.0))
    # in no time at all only those are answered who do not wait
    assert found.in_time_ratio == pytest.approx(exp(-1.0))


@pytest.mark.parametrize("offered_erl", [100.0, 1_000.0, 10_000.0])
@pytest.mark.parametrize("positions_count", [1, 2, 5])
def test_a_hopeless_desk_answers_nobody_in_time_and_not_less_than_that(
    offered_erl: float, positions_count: int
) -> None:
    found = queueing.desk_service(
        offered_erl=offered_erl, positions_count=positions_count, hold_s=60.0, patience_s=600.0, wait_s=0.0
    )
    # at once are answered only those who find a position free: next to none
    assert 0.0 <= found.in_time_ratio <= 1e-9
    # the positions never rest, and whom they cannot serve leaves (conservation)
    assert found.busy_ratio == pytest.approx(1.0)
    assert found.left_ratio == pytest.approx(1.0 - positions_count / offered_erl)


@pytest.mark.parametrize(
    "figures",
    [
        {"positions_count": 0}, {"positions_count": -1}, {"hold_s": 0.0}, {"hold_s": -60.0}, {"patience_s": 0.0},
        {"patience_s": -60.0}, {"patience_s": inf}, {"patience_s": nan},
    ],
)  # fmt: skip
def test_what_is_no_desk_is_refused(figures: dict[str, float]) -> None:
    desk: dict[str, float] = {"positions_count": 1, "hold_s": 60.0, "patience_s": 60.0, **figures}
    with pytest.raises(ValueError, match="no desk"):
        queueing.desk_service(
            offered_erl=1.0, positions_count=int(desk["positions_count"]), hold_s=desk["hold_s"],
            patience_s=desk["patience_s"], wait_s=20.0,
        )  # fmt: skip


@pytest.mark.parametrize(("offered_erl", "goal_ratio"), [(-1.0, 0.9), (inf, 0.9), (nan, 0.9), (1.0, 1.0), (1.0, nan)])
def test_no_number_of_positions_does_the_impossible(offered_erl: float, goal_ratio: float) -> None:
    goal = {"offered_erl": offered_erl, "hold_s": 60.0, "wait_s": 20.0, "goal_ratio": goal_ratio}
    with pytest.raises(ValueError, match="no number of positions"):
        queueing.needed_positions_count(**goal)
    with pytest.raises(ValueError, match="no number of positions"):
        queueing.patient_positions_count(**goal, patience_s=60.0)


def test_a_goal_that_no_call_at_all_may_miss_needs_a_position_all_the_same() -> None:
    assert queueing.needed_positions_count(offered_erl=0.0, hold_s=60.0, wait_s=20.0, goal_ratio=0.99) == 1
    assert (
        queueing.patient_positions_count(offered_erl=0.0, hold_s=60.0, patience_s=60.0, wait_s=20.0, goal_ratio=0.99)
        == 1
    )


@pytest.mark.parametrize(("lines_count", "goal_ratio"), [(0, 0.01), (1, 0.0), (1, 1.0), (1, -0.5), (1, 1.5), (1, nan)])
def test_no_load_belongs_to_no_line_or_no_share(lines_count: int, goal_ratio: float) -> None:
    with pytest.raises(ValueError, match="no load belongs"):
        traffic.allowed_erl(lines_count=lines_count, goal_ratio=goal_ratio)


def test_a_single_line_loses_what_it_is_busy() -> None:
    """B(A, 1) = A/(1 + A), so a third of half an erlang is lost, and half of one erlang (hand)."""
    assert traffic.blocked_ratio(offered_erl=0.5, lines_count=1) == pytest.approx(1.0 / 3.0)
    assert traffic.allowed_erl(lines_count=1, goal_ratio=0.5) == pytest.approx(1.0)
    assert traffic.blocked_ratio(offered_erl=0.5, lines_count=0) == 1.0
    assert traffic.blocked_ratio(offered_erl=0.0, lines_count=1) == 0.0
    assert traffic.needed_lines_count(offered_erl=0.5, goal_ratio=1.0) == 0
    assert traffic.needed_lines_count(offered_erl=0.5, goal_ratio=0.34) == 1


@pytest.mark.parametrize(("offered_erl", "lines_count"), [(-0.1, 1), (inf, 1), (nan, 1), (1.0, -1)])
def test_unreal_loads_and_lines_are_refused(offered_erl: float, lines_count: int) -> None:
    with pytest.raises(ValueError, match="negative or endless"):
        traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count)


def test_as_many_lines_as_sources_block_nobody_and_one_fewer_blocks_no_call() -> None:
    """Three sources of a third of an erlang idle (hand): each is busy a quarter of the time, all three 1/64 of it."""
    three: dict[str, Any] = {"sources_count": 3, "idle_source_erl": 1.0 / 3.0}
    plenty = traffic.few_sources_congestion(**three, lines_count=3)
    assert plenty.time_ratio == pytest.approx(1.0 / 64.0)
    assert (plenty.call_ratio, plenty.carried_erl) == pytest.approx((0.0, 0.75))
    more = traffic.few_sources_congestion(**three, lines_count=4)
    assert (more.time_ratio, more.call_ratio, more.carried_erl) == pytest.approx((0.0, 0.0, 0.75))
    # one source alone never meets itself
    alone = traffic.few_sources_congestion(sources_count=1, lines_count=1, idle_source_erl=1.0)
    assert (alone.time_ratio, alone.call_ratio, alone.offered_erl) == pytest.approx((0.5, 0.0, 0.5))


@pytest.mark.parametrize("source_erl", [-0.1, 1.0, nan])
def test_a_source_is_not_busy_for_ever(source_erl: float) -> None:
    with pytest.raises(ValueError, match="less than 1 erlang"):
        traffic.offered_sources_congestion(sources_count=3, lines_count=2, source_erl=source_erl)
