"""What must hold of lines and queues, whatever the load."""

from collections.abc import Callable
from itertools import pairwise
from math import comb, exp, inf, log

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from doorwright.calc import queueing, traffic

loads = st.floats(min_value=0.001, max_value=300.0)
lines = st.integers(min_value=1, max_value=300)
shares = st.floats(min_value=1e-4, max_value=0.9)
times_s = st.floats(min_value=0.1, max_value=1000.0)


@given(offered_erl=loads, lines_count=lines, more=st.floats(min_value=0.0, max_value=50.0))
def test_blocking_grows_with_load_and_falls_with_lines(offered_erl: float, lines_count: int, more: float) -> None:
    here = traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count)
    assert 0.0 <= here <= 1.0
    assert traffic.blocked_ratio(offered_erl=offered_erl + more, lines_count=lines_count) >= here * (1 - 1e-12)
    assert traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count + 1) <= here
    # what is carried never exceeds the lines
    assert offered_erl * (1 - here) <= lines_count * (1 + 1e-12)


@given(lines_count=lines, goal_ratio=shares)
def test_load_and_lines_are_inverse_to_blocking(lines_count: int, goal_ratio: float) -> None:
    load_erl = traffic.allowed_erl(lines_count=lines_count, goal_ratio=goal_ratio)
    assert traffic.blocked_ratio(offered_erl=load_erl, lines_count=lines_count) == pytest.approx(goal_ratio, rel=1e-9)
    assert traffic.needed_lines_count(offered_erl=load_erl * (1 - 1e-9), goal_ratio=goal_ratio) == lines_count
    assert traffic.needed_lines_count(offered_erl=load_erl * (1 + 1e-9), goal_ratio=goal_ratio) == lines_count + 1


@given(offered_erl=loads, lines_count=lines)
def test_waiting_exceeds_blocking_and_ends_where_load_reaches_positions(offered_erl: float, lines_count: int) -> None:
    waiting = queueing.waiting_ratio(offered_erl=offered_erl, positions_count=lines_count)
    assert waiting >= traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count) * (1 - 1e-12)
    mean_s = queueing.mean_wait_s(offered_erl=offered_erl, positions_count=lines_count, hold_s=60.0)
    if offered_erl >= lines_count:
        assert (waiting, mean_s) == (1.0, inf)
    else:
        assert 0.0 <= waiting <= 1.0
        assert mean_s < inf


@given(offered_erl=loads, hold_s=times_s, wait_s=times_s, goal_ratio=st.floats(min_value=0.0, max_value=0.999))
def test_needed_positions_suffice_and_one_fewer_does_not(
    offered_erl: float, hold_s: float, wait_s: float, goal_ratio: float
) -> None:
    needed = queueing.needed_positions_count(
        offered_erl=offered_erl, hold_s=hold_s, wait_s=wait_s, goal_ratio=goal_ratio
    )

    def served(positions: int) -> float:
        return 1 - queueing.longer_ratio(
            offered_erl=offered_erl, positions_count=positions, hold_s=hold_s, wait_s=wait_s
        )

    assert served(needed) >= goal_ratio - 1e-12
    if needed - 1 > offered_erl:
        assert served(needed - 1) <= goal_ratio + 1e-12


@given(sources_count=st.integers(1, 60), lines_count=st.integers(1, 60), idle_source_erl=st.floats(0.001, 5.0))
def test_few_sources_by_the_sum_itself(sources_count: int, lines_count: int, idle_source_erl: float) -> None:
    def share(sources: int) -> float:
        weights = [comb(sources, line) * idle_source_erl**line for line in range(lines_count + 1)]
        return weights[-1] / sum(weights)

    found = traffic.few_sources_congestion(
        sources_count=sources_count, lines_count=lines_count, idle_source_erl=idle_source_erl
    )
    assert found.time_ratio == pytest.approx(share(sources_count), rel=1e-9)
    assert found.call_ratio == pytest.approx(share(sources_count - 1), rel=1e-9)
    assert found.call_ratio <= found.time_ratio
    # what is offered and not blocked is carried
    assert found.carried_erl == pytest.approx(found.offered_erl * (1 - found.call_ratio), rel=1e-9)
    weights = [comb(sources_count, line) * idle_source_erl**line for line in range(lines_count + 1)]
    taken = sum(line * weight for line, weight in enumerate(weights)) / sum(weights)
    assert found.carried_erl == pytest.approx(taken, rel=1e-9)


@given(sources_count=st.integers(2, 200), lines_count=st.integers(1, 100), source_erl=st.floats(0.001, 0.95))
def test_the_offered_form_offers_what_it_is_given(sources_count: int, lines_count: int, source_erl: float) -> None:
    found = traffic.offered_sources_congestion(
        sources_count=sources_count, lines_count=lines_count, source_erl=source_erl
    )
    assert found.offered_erl == pytest.approx(sources_count * source_erl, rel=1e-9)


@given(offered_erl=st.floats(0.05, 20.0), lines_count=st.integers(1, 30))
def test_many_sources_are_an_endless_crowd(offered_erl: float, lines_count: int) -> None:
    # T-30: S → ∞ with S·β fixed
    sources = 10_000_000
    found = traffic.few_sources_congestion(
        sources_count=sources, lines_count=lines_count, idle_source_erl=offered_erl / sources
    )
    crowd = traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count)
    assert found.call_ratio == pytest.approx(crowd, rel=1e-3)
    assert found.time_ratio == pytest.approx(crowd, rel=1e-3)


desks = {
    "offered_erl": st.floats(min_value=0.01, max_value=60.0),
    "positions_count": st.integers(min_value=1, max_value=40),
    "hold_s": st.floats(min_value=1.0, max_value=600.0),
    "patience_s": st.floats(min_value=1.0, max_value=600.0),
    "wait_s": st.floats(min_value=0.0, max_value=600.0),
}


@given(**desks)
def test_the_desk_by_its_states(
    offered_erl: float, positions_count: int, hold_s: float, patience_s: float, wait_s: float
) -> None:
    found = queueing.desk_service(
        offered_erl=offered_erl, positions_count=positions_count, hold_s=hold_s, patience_s=patience_s, wait_s=wait_s
    )
    # birth and death: state k is left downwards at min(k, n)/h + max(k - n, 0)/p, upwards at A/h
    logs = [0.0]
    while len(logs) <= positions_count or logs[-1] > max(logs) - 45.0:
        state = len(logs)
        falling = min(state, positions_count) + max(state - positions_count, 0) * hold_s / patience_s
        logs.append(logs[-1] + log(offered_erl / falling))
    top = max(logs)
    weights = [exp(one - top) for one in logs]
    total = sum(weights)
    waiting = sum(weights[positions_count:]) / total
    queue = sum((state - positions_count) * w for state, w in enumerate(weights) if state > positions_count) / total
    assert found.waiting_ratio == pytest.approx(waiting, rel=1e-8, abs=1e-14)
    assert found.left_ratio == pytest.approx(queue * hold_s / patience_s / offered_erl, rel=1e-8, abs=1e-14)
    # who is not gone is served: carried load is the mean number of positions that talk
    talking = sum(min(state, positions_count) * w for state, w in enumerate(weights)) / total
    assert offered_erl * (1 - found.left_ratio) == pytest.approx(talking, rel=1e-8)
    assert found.busy_ratio * positions_count == pytest.approx(talking, rel=1e-8)
    assert 0.0 <= found.in_time_ratio <= 1 - found.left_ratio + 1e-12


@given(**desks)
def test_answered_in_time_by_steps(
    offered_erl: float, positions_count: int, hold_s: float, patience_s: float, wait_s: float
) -> None:
    # The wait offered to a caller has the density exp(x·(1 - exp(-v/p)) - n·v/h), up to a factor (Palm; Garnett and
    # others, from memory): sum it by Simpson's rule, and count who is still there when a position is free.
    assume(offered_erl * patience_s / hold_s < 200.0)

    x, rate = offered_erl * patience_s / hold_s, positions_count / hold_s
    mode_s = patience_s * max(0.0, log(offered_erl / positions_count))

    def exponent(v_s: float) -> float:
        return x * (1 - exp(-v_s / patience_s)) - rate * v_s

    def density(v_s: float) -> float:
        return exp(exponent(v_s) - exponent(mode_s))

    def answered(v_s: float) -> float:
        return density(v_s) * exp(-v_s / patience_s)

    # pieces that double in length, from well below both scales to where nothing is left
    marks_s = [0.0, min(patience_s, 1 / rate) / 4]
    while density(marks_s[-1]) > 1e-14 or marks_s[-1] < mode_s:
        marks_s.append(2 * marks_s[-1])
    whole = sum(_simpson(density, begin, end) for begin, end in pairwise(marks_s))
    after_s = [wait_s, *(mark_s for mark_s in marks_s if mark_s > wait_s)]
    late_share = sum(_simpson(answered, begin, end) for begin, end in pairwise(after_s)) / whole
    found = queueing.desk_service(
        offered_erl=offered_erl, positions_count=positions_count, hold_s=hold_s, patience_s=patience_s, wait_s=wait_s
    )
    late = found.waiting_ratio * late_share
    assert found.in_time_ratio == pytest.approx(1 - found.left_ratio - late, abs=1e-5)


def _simpson(function: Callable[[float], float], begin: float, end: float, steps: int = 200) -> float:
    width = (end - begin) / steps
    inner = sum((4 if step % 2 else 2) * function(begin + step * width) for step in range(1, steps))
    return width / 3 * (function(begin) + inner + function(end))


@given(
    offered_erl=loads, hold_s=times_s, patience_s=times_s, wait_s=times_s,
    goal_ratio=st.floats(min_value=0.0, max_value=0.99),
)  # fmt: skip
def test_needed_positions_of_callers_who_give_up(
    offered_erl: float, hold_s: float, patience_s: float, wait_s: float, goal_ratio: float
) -> None:
    desk = {"offered_erl": offered_erl, "hold_s": hold_s, "wait_s": wait_s}
    needed = queueing.patient_positions_count(**desk, patience_s=patience_s, goal_ratio=goal_ratio)

    def in_time(positions: int) -> float:
        return queueing.desk_service(**desk, patience_s=patience_s, positions_count=positions).in_time_ratio

    assert in_time(needed) >= goal_ratio
    assert needed == 1 or in_time(needed - 1) < goal_ratio
    # and one more never answers fewer
    assert in_time(needed + 1) >= in_time(needed) - 1e-9


@given(offered_erl=st.floats(0.05, 30.0), positions_count=st.integers(1, 40), wait_s=st.floats(0.0, 300.0))
def test_endless_patience_waits_and_none_is_lost(offered_erl: float, positions_count: int, wait_s: float) -> None:
    assume(offered_erl < 0.95 * positions_count)
    patient = queueing.desk_service(
        offered_erl=offered_erl, positions_count=positions_count, hold_s=60.0, patience_s=1e9, wait_s=wait_s
    )
    waiting = queueing.waiting_ratio(offered_erl=offered_erl, positions_count=positions_count)
    assert patient.waiting_ratio == pytest.approx(waiting, rel=1e-4, abs=1e-12)
    mean_s = queueing.mean_wait_s(offered_erl=offered_erl, positions_count=positions_count, hold_s=60.0)
    assert patient.mean_wait_s == pytest.approx(mean_s, rel=1e-4, abs=1e-9)
    longer = queueing.longer_ratio(offered_erl=offered_erl, positions_count=positions_count, hold_s=60.0, wait_s=wait_s)
    assert patient.in_time_ratio == pytest.approx(1 - longer, abs=1e-5)
    rash = queueing.desk_service(
        offered_erl=offered_erl, positions_count=positions_count, hold_s=60.0, patience_s=1e-6, wait_s=wait_s
    )
    blocking = traffic.blocked_ratio(offered_erl=offered_erl, lines_count=positions_count)
    assert rash.left_ratio == pytest.approx(blocking, rel=1e-5, abs=1e-12)
    assert rash.waiting_ratio == pytest.approx(blocking, rel=1e-5, abs=1e-12)


@pytest.mark.parametrize("patience_s", [1e-3, 60.0, 1e6])
@pytest.mark.parametrize("offered_erl", [10.0, 3_900.0, 4_000.0, 8_000.0])
def test_thousands_of_positions_are_no_trouble(offered_erl: float, patience_s: float) -> None:
    found = queueing.desk_service(
        offered_erl=offered_erl, positions_count=4_000, hold_s=60.0, patience_s=patience_s, wait_s=20.0
    )
    assert 0.0 <= found.left_ratio <= found.waiting_ratio <= 1.0
    assert found.busy_ratio <= 1.0 + 1e-12
    # of an overload, what the positions cannot carry leaves
    assert found.left_ratio >= 1.0 - 4_000 / offered_erl - 1e-12


def test_unreal_lines_are_refused() -> None:
    with pytest.raises(ValueError, match="negative or endless"):
        traffic.blocked_ratio(offered_erl=-1.0, lines_count=1)
    with pytest.raises(ValueError, match="no number of lines"):
        traffic.needed_lines_count(offered_erl=1.0, goal_ratio=0.0)
    with pytest.raises(ValueError, match="no load"):
        traffic.allowed_erl(lines_count=0, goal_ratio=0.01)
    with pytest.raises(ValueError, match="less than 1 erlang"):
        traffic.offered_sources_congestion(sources_count=4, lines_count=2, source_erl=1.0)
    with pytest.raises(ValueError, match="must be a source"):
        traffic.few_sources_congestion(sources_count=0, lines_count=2, idle_source_erl=0.1)
    with pytest.raises(ValueError, match="no number of positions"):
        queueing.needed_positions_count(offered_erl=1.0, hold_s=60.0, wait_s=20.0, goal_ratio=1.0)
    with pytest.raises(ValueError, match="no desk"):
        queueing.desk_service(offered_erl=1.0, positions_count=0, hold_s=60.0, patience_s=60.0, wait_s=20.0)
