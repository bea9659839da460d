"""Student's t against printed tables, and ratios over days worked out by hand."""

from math import inf, isnan, sqrt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.day.interval import Tally, student_probability, student_quantile

# NIST Technical Note 1297, Appendix B, Table B.1: fraction 95 % and 99 % (two-sided), read in a copy
TWO_SIDED = {
    (1, 0.95): 12.71, (2, 0.95): 4.30, (3, 0.95): 3.18, (4, 0.95): 2.78, (5, 0.95): 2.57, (10, 0.95): 2.23,
    (30, 0.95): 2.04, (50, 0.95): 2.01, (1, 0.99): 63.66, (2, 0.99): 9.92, (9, 0.99): 3.25, (20, 0.99): 2.85,
    (45, 0.99): 2.69,
}  # fmt: skip
# the same table, last rows: printed with more digits
FINE = {(100, 0.95): 1.984, (100, 0.99): 2.626, (100_000_000, 0.95): 1.960, (100_000_000, 0.99): 2.576}


@pytest.mark.parametrize(("row", "printed"), TWO_SIDED.items())
def test_quantiles_agree_with_the_printed_table(row: tuple[int, float], printed: float) -> None:
    freedom_count, confidence = row
    assert student_quantile((1 + confidence) / 2, freedom_count) == pytest.approx(printed, abs=0.00501)


@pytest.mark.parametrize(("row", "printed"), FINE.items())
def test_quantiles_of_many_degrees_agree_with_the_printed_table(row: tuple[int, float], printed: float) -> None:
    freedom_count, confidence = row
    assert student_quantile((1 + confidence) / 2, freedom_count) == pytest.approx(printed, abs=0.000501)


@pytest.mark.parametrize("probability", [0.9, 0.975, 0.9995])
def test_series_and_expansion_meet(probability: float) -> None:
    # both forms are exact to six digits where one hands over to the other
    before, after = student_quantile(probability, 200), student_quantile(probability, 201)
    assert before > after > before - 1e-3
    assert student_probability(after, 201) == pytest.approx(probability, abs=1e-8)


@given(freedom_count=st.integers(1, 150), value=st.floats(0.0, 50.0))
def test_probability_grows_with_value_and_with_degrees(freedom_count: int, value: float) -> None:
    here = student_probability(value, freedom_count)
    assert 0.5 - 1e-12 <= here <= 1.0 + 1e-12
    assert here <= student_probability(value + 0.5, freedom_count) + 1e-12
    assert here <= student_probability(value, freedom_count + 1) + 1e-12


def test_ratio_and_interval_by_hand() -> None:
    # 1 of 10, 3 of 10, 2 of 10: ratio 6/30; scatter -1/10, +1/10, 0 of the mean count 10;
    # variance of the mean (0.01 + 0.01)/2/3; t of 2 degrees at 95 % is 4.303 (NIST TN 1297 prints 4.30)
    estimate = Tally(np.array([1.0, 3.0, 2.0]), np.array([10.0, 10.0, 10.0])).estimate()
    assert estimate.mean == pytest.approx(0.2)
    assert estimate.half == pytest.approx(4.303 * sqrt(0.02 / 6), rel=1e-4)
    assert estimate.holds(0.2)
    assert not estimate.holds(0.6)


def test_pairing_takes_away_what_days_have_in_common() -> None:
    # each day is 0.1 worse in the second design, however good the day: the difference has no scatter
    of = np.array([10.0, 10.0, 10.0])
    good, bad = Tally(np.array([1.0, 5.0, 3.0]), of), Tally(np.array([2.0, 6.0, 4.0]), of)
    difference = bad.less(good)
    assert difference.mean == pytest.approx(0.1)
    assert difference.half == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(ValueError, match="same days"):
        bad.less(Tally(of[:2], of[:2]))


def test_nothing_counted_is_told_and_one_day_says_nothing_of_scatter() -> None:
    nothing = Tally(np.zeros(3), np.zeros(3))
    assert isnan(nothing.estimate().mean)
    assert isnan(nothing.less(nothing).mean)
    alone = Tally(np.array([1.0]), np.array([4.0])).estimate()
    assert (alone.mean, alone.low, alone.high) == (0.25, -inf, inf)
