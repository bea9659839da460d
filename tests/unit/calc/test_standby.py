"""How large a battery a practice asks for, and how one runs down."""

from math import inf, nan

import pytest

from doorwright.calc.battery import Battery, discharge, smallest_capacity_ah
from doorwright.calc.cold import cold_ratio
from doorwright.calc.standby import Stage, practices, requirement


def stages(*pairs: tuple[float, float]) -> tuple[Stage, ...]:
    return tuple(
        Stage(name=f"stage {i}", current_a=current_a, duration_h=duration_h)
        for i, (current_a, duration_h) in enumerate(pairs, start=1)
    )


def test_bs_takes_the_high_rate_factor_where_the_current_is_above_the_twenty_hour_rate() -> None:
    # 1.25 × (24 × 0.05 + 1.75 × 0.3/2) = 1.828 Ah: check figure of the annex form
    found = requirement(stages=stages((0.05, 24.0), (0.3, 0.5)), practice=practices()["bs5839-1"])
    assert found.high_rate_ratios == (1.0, 1.75)
    assert found.required_ah == pytest.approx(1.828, abs=0.001)


def test_bs_counts_no_high_rate_against_a_large_battery_and_takes_the_makers_figure() -> None:
    asked = stages((0.05, 24.0), (0.3, 0.5))
    # 0.3 A × 20 h = 6 Ah: a battery of 7 Ah takes the current for ordinary; 1.25 × (1.2 + 0.15) = 1.6875 (hand)
    large = requirement(stages=asked, practice=practices()["bs5839-1"], capacity_ah=7.0)
    assert large.high_rate_ratios == (1.0, 1.0)
    assert large.required_ah == pytest.approx(1.6875)
    # 1.25 × (1.2 + 1.4 × 0.15) = 1.7625 (hand)
    told = requirement(stages=asked, practice=practices()["bs5839-1"], maker_ratio=1.4)
    assert told.required_ah == pytest.approx(1.7625)


def test_vde_counts_its_factors_below_a_day_only() -> None:
    practice = practices()["vde0833-2"]
    # 12 h: 12.55 Ah × 1.1 × 1.25 = 17.256; 72 h: 66.55 Ah without factors (check figures)
    assert requirement(stages=stages((0.9, 12.0), (3.5, 0.5)), practice=practice).required_ah == pytest.approx(
        17.256, abs=0.001
    )
    assert requirement(stages=stages((0.9, 72.0), (3.5, 0.5)), practice=practice).required_ah == pytest.approx(66.55)
    # told that the standby is short, the factor stays, however the stages are cut
    cut = requirement(stages=stages((0.9, 24.0), (3.5, 0.5)), practice=practice, standby_h=23.0)
    assert cut.margin_ratio == 1.375


def test_nfpa_asks_more_from_the_edition_of_2022() -> None:
    asked = stages((0.42, 24.0), (3.8, 5 / 60))
    # 10.397 Ah; × 1.20 = 12.476; × 1.25 = 12.996 (check figure A-6)
    assert requirement(stages=asked, practice=practices()["plain"]).required_ah == pytest.approx(10.397, abs=0.001)
    assert requirement(stages=asked, practice=practices()["nfpa72-2010"]).required_ah == pytest.approx(
        12.476, abs=0.001
    )
    assert requirement(stages=asked, practice=practices()["nfpa72-2022"]).required_ah == pytest.approx(
        12.996, abs=0.001
    )


def test_every_practice_says_where_it_comes_from_and_for_which_edition() -> None:
    for practice in practices().values():
        assert practice.edition
        assert practice.cite.place
        assert practice.margin_ratio >= 1.0
        assert practice.short_margin_ratio >= practice.margin_ratio
    assert requirement(stages=(), practice=practices()["bs5839-1"]).required_ah == 0.0


def test_a_standby_hour_by_hour() -> None:
    # 7 Ah at 20 h: 0.2 A for 10 h use 2 Ah, 1 A for 2 h use 2 Ah, 3 Ah are left: 3/7 (hand, no Peukert)
    found = discharge(Battery(capacity_ah=7.0), stages((0.2, 10.0), (1.0, 2.0)))
    assert found.lasts
    assert [(point.time_h, point.left_ah) for point in found.points] == [(0.0, 7.0), (10.0, 5.0), (12.0, 3.0)]
    assert found.left_ratio == pytest.approx(3 / 7)
    assert found.left_after(5.0) == pytest.approx(6 / 7)
    assert found.left_after(-1.0) == 1.0
    assert found.left_after(99.0) == pytest.approx(3 / 7)
    # at a corner, and in the second stage: 5 Ah less 1 A for half an hour (hand)
    assert found.left_after(10.0) == pytest.approx(5 / 7)
    assert found.left_after(10.5) == pytest.approx(4.5 / 7)
    assert found.left_after(12.0) == pytest.approx(3 / 7)


def test_a_standby_that_runs_out() -> None:
    # 2 Ah used in 10 h, the other 5 Ah at 1 A in 5 h more (hand)
    found = discharge(Battery(capacity_ah=7.0), stages((0.2, 10.0), (1.0, 6.0)))
    assert found.empty_after_h == pytest.approx(15.0)
    assert not found.lasts
    assert found.points[-1].left_ah == 0.0


def test_a_stage_may_be_called_empty() -> None:
    assert discharge(Battery(capacity_ah=7.0), (Stage(name="empty", current_a=0.1, duration_h=1.0),)).lasts


def test_peukert_takes_more_above_the_rated_current_and_gives_nothing_below() -> None:
    # 20 Ah at 20 h, k 1.2, twice the rated current: 20 × 0.5^1.2 = 8.7055 h (hand)
    battery = Battery(capacity_ah=20.0, peukert_exponent=1.2)
    assert battery.runtime_h(2.0) == pytest.approx(8.7055, abs=1e-4)
    assert battery.runtime_h(0.5) == pytest.approx(40.0)
    assert battery.runtime_h(0.0) == inf
    # half of it left to an old one
    assert Battery(capacity_ah=20.0, usable_ratio=0.5).runtime_h(1.0) == pytest.approx(10.0)


def test_a_battery_below_one_ampere_hour_for_less_than_an_hour_is_a_battery() -> None:
    # 0.8 Ah in 0.5 h is 1.6 A, for which it lasts the half hour (hand)
    assert Battery(capacity_ah=0.8, rate_h=0.5).runtime_h(1.6) == pytest.approx(0.5)


def test_the_smallest_battery() -> None:
    # no Peukert: 2 + 2 Ah over a usable share of 0.8 (hand)
    assert smallest_capacity_ah(stages((0.2, 10.0), (1.0, 2.0)), usable_ratio=0.8) == pytest.approx(5.0)
    assert smallest_capacity_ah(()) == 0.0
    assert smallest_capacity_ah(stages((0.0, 10.0))) == 0.0
    with pytest.raises(ValueError, match="usable share of 0"):
        smallest_capacity_ah(stages((0.2, 10.0)), usable_ratio=0.0)


@pytest.mark.parametrize(
    ("figures", "fault"),
    [
        ({"capacity_ah": 0.0}, "capacity of 0 Ah"),
        ({"capacity_ah": -7.0}, "capacity of -7 Ah"),
        ({"capacity_ah": 7.0, "rate_h": -20.0}, "rated time of -20 h"),
        ({"capacity_ah": 7.0, "usable_ratio": -0.5}, "usable share of -0.5"),
        ({"capacity_ah": 7.0, "rate_h": nan}, "rated time of nan h"),
        ({"capacity_ah": 7.0, "peukert_exponent": 0.9}, "exponent of 0.9"),
        ({"capacity_ah": 7.0, "usable_ratio": 1.1}, "usable share of 1.1"),
    ],
)
def test_what_is_no_battery_is_refused(figures: dict[str, float], fault: str) -> None:
    with pytest.raises(ValueError, match=fault):
        Battery(**figures)


@pytest.mark.parametrize(("current_a", "duration_h"), [(-1.0, 1.0), (1.0, -1.0), (nan, 1.0), (1.0, inf)])
def test_what_is_no_stage_is_refused(current_a: float, duration_h: float) -> None:
    with pytest.raises(ValueError, match=r"the stage 'standby' (takes|lasts)"):
        Stage(name="standby", current_a=current_a, duration_h=duration_h)


def test_colder_than_the_table_no_factor_is_made_up() -> None:
    with pytest.raises(ValueError, match=r"no factor is known below -6\.7 °C, and the battery gets -10 °C"):
        cold_ratio(battery_c=-10.0)


def test_warmth_earns_nothing() -> None:
    assert cold_ratio(battery_c=40.0) == 1.0
