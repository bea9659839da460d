"""Formulas of lines and queues against libraries written by others."""

import logging
import warnings

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.calc import queueing, traffic

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    logging.disable(logging.WARNING)  # it warns at import that it has no compiler
    import erlanglib
    import fast_engset

    logging.disable(logging.NOTSET)

loads = st.floats(min_value=0.01, max_value=60.0)
lines = st.integers(min_value=1, max_value=80)


@settings(max_examples=60)
@given(offered_erl=loads, lines_count=lines)
def test_erlang_b(offered_erl: float, lines_count: int) -> None:
    # it sums the definition with 1000 digits
    theirs = erlanglib.erlang_b(lines_count, offered_erl)
    assert traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count) == pytest.approx(theirs, rel=1e-12)


def test_erlang_b_of_thousands_of_lines() -> None:
    for lines_count, offered_erl in ((1_000, 950.0), (2_000, 2_100.0), (2_500, 2_500.0)):
        theirs = erlanglib.erlang_b(lines_count, offered_erl)
        found = traffic.blocked_ratio(offered_erl=offered_erl, lines_count=lines_count)
        assert found == pytest.approx(theirs, rel=1e-11)


@settings(max_examples=60)
@given(offered_erl=loads, lines_count=lines)
def test_erlang_c(offered_erl: float, lines_count: int) -> None:
    if offered_erl >= lines_count * 0.999:
        return
    theirs = erlanglib.erlang_c(lines_count, offered_erl)
    found = queueing.waiting_ratio(offered_erl=offered_erl, positions_count=lines_count)
    # near full load both divide by a small difference
    assert found == pytest.approx(theirs, rel=1e-9)


@settings(max_examples=40)
@given(offered_erl=loads, goal_ratio=st.floats(min_value=0.001, max_value=0.5))
def test_lines_for_a_load(offered_erl: float, goal_ratio: float) -> None:
    theirs = erlanglib.required_channels(offered_erl, goal_ratio)
    assert traffic.needed_lines_count(offered_erl=offered_erl, goal_ratio=goal_ratio) == theirs


@settings(max_examples=60)
@given(
    sources_count=st.integers(min_value=2, max_value=200), lines_share=st.floats(min_value=0.05, max_value=0.95),
    source_erl=st.floats(min_value=0.01, max_value=0.9),
)  # fmt: skip
def test_engset_by_offered_load(sources_count: int, lines_share: float, source_erl: float) -> None:
    lines_count = max(1, int(sources_count * lines_share))
    # its total is the number of sources times the load that one source offers; its tolerance 2⁻²⁴ by default
    theirs = fast_engset.blocking_prob(
        lines_count, sources_count, sources_count * source_erl, alg=fast_engset.Algorithm.BISECT, tol=1e-13
    )
    assert theirs.status is fast_engset.Status.OK
    found = traffic.offered_sources_congestion(
        sources_count=sources_count, lines_count=lines_count, source_erl=source_erl
    )
    assert found.call_ratio == pytest.approx(theirs.value, abs=1e-9)
