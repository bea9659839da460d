"""Blocks wired together, and batteries of which only the capacity is told."""

from math import inf, nan

import pytest

from doorwright.calc.battery import Bank, Battery, bank, discharge, smallest_capacity_ah, usable_capacity_ah
from doorwright.calc.standby import Stage


def test_a_battery_of_which_nothing_else_is_told_is_new_warm_and_ideal() -> None:
    assert usable_capacity_ah(capacity_ah=100.0) == 100.0
    assert usable_capacity_ah(capacity_ah=100.0, ageing_ratio=0.8) == pytest.approx(80.0)
    assert usable_capacity_ah(capacity_ah=100.0, temperature_ratio=0.9) == pytest.approx(90.0)
    # 20 Ah at 20 h, no Peukert: 4 A for 5 h (hand)
    assert Battery(capacity_ah=20.0).runtime_h(4.0) == pytest.approx(5.0)
    assert smallest_capacity_ah((Stage(name="one", current_a=4.0, duration_h=5.0),)) == pytest.approx(20.0)


def test_strings_side_by_side() -> None:
    """Two blocks of 12 V and 7 Ah: 24 V and 7 Ah in a string, twice the capacity with two strings (hand)."""
    assert bank(block_v=12.0, block_ah=7.0, series_count=2) == Bank(bank_v=24.0, bank_ah=7.0)
    assert bank(block_v=12.0, block_ah=7.0, series_count=2, parallel_count=2) == Bank(bank_v=24.0, bank_ah=14.0)


@pytest.mark.parametrize("peukert_exponent", [1.0, 1.2])
def test_the_smallest_battery_is_empty_at_the_very_end(peukert_exponent: float) -> None:
    """A hundredth less does not last, a hundredth more does; 2 A for 3 h ask for more than 6 Ah where k is above 1.

    By hand, for k = 1.2 at 20 h: 2·(2·20/C)^0.2·3 = C, so C = (6·40^0.2)^(1/1.2) = 8.2313 Ah.
    """
    stages = (Stage(name="all at once", current_a=2.0, duration_h=3.0),)
    least_ah = smallest_capacity_ah(stages, peukert_exponent=peukert_exponent)
    assert least_ah == pytest.approx({1.0: 6.0, 1.2: 8.2313}[peukert_exponent], abs=1e-4)
    assert discharge(Battery(capacity_ah=1.01 * least_ah, peukert_exponent=peukert_exponent), stages).lasts
    assert not discharge(Battery(capacity_ah=0.99 * least_ah, peukert_exponent=peukert_exponent), stages).lasts


def test_a_stage_that_takes_exactly_all_is_carried() -> None:
    found = discharge(Battery(capacity_ah=6.0), (Stage(name="all", current_a=2.0, duration_h=3.0),))
    assert (found.lasts, found.left_ratio) == (True, 0.0)


@pytest.mark.parametrize(
    "figures", [{"capacity_ah": inf}, {"rate_h": inf}, {"peukert_exponent": inf}, {"usable_ratio": nan}]
)
def test_what_is_endless_or_no_number_is_no_battery(figures: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="no battery"):
        Battery(**{"capacity_ah": 7.0, **figures})
