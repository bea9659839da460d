"""What must hold of every battery and every standby."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.calc.battery import Battery, discharge, rated_runtime_h, smallest_capacity_ah
from doorwright.calc.cold import cold_ratio
from doorwright.calc.standby import Stage, StandbyPractice, practices, requirement

amperes = st.floats(min_value=0.0, max_value=20.0)
real_amperes = st.floats(min_value=0.001, max_value=20.0)
hours = st.floats(min_value=0.01, max_value=72.0)
temperatures_c = st.floats(min_value=-6.7, max_value=60.0)
capacities_ah = st.floats(min_value=1.0, max_value=200.0)
exponents = st.floats(min_value=1.0, max_value=1.6)
standbys = st.lists(
    st.builds(Stage, name=st.just("stage"), current_a=amperes, duration_h=hours), min_size=1, max_size=6
)
batteries = st.builds(
    Battery,
    capacity_ah=capacities_ah,
    rate_h=st.sampled_from([5.0, 10.0, 20.0]),
    peukert_exponent=exponents,
    usable_ratio=st.floats(min_value=0.3, max_value=1.0),
)
any_practice = st.sampled_from(tuple(practices().values()))


@given(capacity_ah=capacities_ah, rate_h=hours, exponent=exponents)
def test_at_the_rated_current_the_rated_time_returns(capacity_ah: float, rate_h: float, exponent: float) -> None:
    # at I = C/H the rated-time form is exactly H
    found_h = rated_runtime_h(
        capacity_ah=capacity_ah, rate_h=rate_h, current_a=capacity_ah / rate_h, peukert_exponent=exponent
    )
    assert found_h == pytest.approx(rate_h, rel=1e-12)


@given(battery=batteries, current_a=real_amperes)
def test_the_runtime_is_peukerts_above_the_rated_current_and_the_plain_one_below(
    battery: Battery, current_a: float
) -> None:
    law_h = rated_runtime_h(
        capacity_ah=battery.capacity_ah,
        rate_h=battery.rate_h,
        current_a=current_a,
        peukert_exponent=battery.peukert_exponent,
    )
    plain_h = battery.capacity_ah / current_a
    assert battery.runtime_h(current_a) == pytest.approx(battery.usable_ratio * min(law_h, plain_h), rel=1e-9)


@given(battery=batteries, standby=standbys)
def test_the_charge_only_falls_and_ends_at_empty_or_at_the_end(battery: Battery, standby: list[Stage]) -> None:
    found = discharge(battery, standby)
    shares = [point.left_ratio for point in found.points]
    assert shares == sorted(shares, reverse=True)
    assert shares[0] == 1.0
    assert found.left_ratio >= 0.0
    times_h = [point.time_h for point in found.points]
    assert times_h == sorted(times_h)
    whole_h = sum(stage.duration_h for stage in standby)
    if found.empty_after_h is None:
        assert times_h[-1] == pytest.approx(whole_h)
    else:
        assert found.left_ratio == 0.0
        assert found.empty_after_h <= whole_h * (1 + 1e-12)


@given(battery=batteries, current_a=real_amperes)
def test_one_long_stage_ends_when_the_runtime_says(battery: Battery, current_a: float) -> None:
    runtime_h = battery.runtime_h(current_a)
    stage = Stage(name="stage", current_a=current_a, duration_h=2.0 * runtime_h)
    assert discharge(battery, [stage]).empty_after_h == pytest.approx(runtime_h)


@given(battery=batteries, standby=standbys, cut=st.floats(min_value=0.0, max_value=1.0))
def test_cutting_a_stage_in_two_changes_nothing(battery: Battery, standby: list[Stage], cut: float) -> None:
    first, *others = standby
    halves = [
        Stage(name="stage", current_a=first.current_a, duration_h=part * first.duration_h) for part in (cut, 1.0 - cut)
    ]
    whole, parted = discharge(battery, standby), discharge(battery, [*halves, *others])
    assert parted.left_ratio == pytest.approx(whole.left_ratio, abs=1e-9)


@given(standby=standbys, exponent=exponents, usable=st.floats(min_value=0.3, max_value=1.0))
def test_the_smallest_battery_just_carries_the_standby(standby: list[Stage], exponent: float, usable: float) -> None:
    least_ah = smallest_capacity_ah(standby, peukert_exponent=exponent, usable_ratio=usable)
    if least_ah < 1e-6:
        return

    def battery(capacity_ah: float) -> Battery:
        return Battery(capacity_ah=capacity_ah, peukert_exponent=exponent, usable_ratio=usable)

    assert discharge(battery(least_ah * (1 + 1e-9)), standby).lasts
    assert not discharge(battery(least_ah * (1 - 1e-9)), standby).lasts
    plain_ah = sum(stage.current_a * stage.duration_h for stage in standby)
    assert least_ah >= plain_ah / usable * (1 - 1e-9)


@given(standby=standbys, practice=any_practice, more=real_amperes)
def test_a_practice_never_asks_less_than_the_plain_sum_nor_less_for_more(
    standby: list[Stage], practice: StandbyPractice, more: float
) -> None:
    asked = requirement(stages=standby, practice=practice)
    plain_ah = sum(stage.current_a * stage.duration_h for stage in standby)
    assert asked.required_ah >= plain_ah * (1 - 1e-12)
    assert asked.required_ah == pytest.approx(asked.margin_ratio * asked.charge_ah)
    assert len(asked.high_rate_ratios) == len(standby)
    # every stage takes more current
    heavier = [Stage(name=s.name, current_a=s.current_a + more, duration_h=s.duration_h) for s in standby]
    plainly = requirement(stages=heavier, practice=practices()["plain"])
    assert plainly.required_ah > requirement(stages=standby, practice=practices()["plain"]).required_ah


@given(warm_c=temperatures_c, cold_c=temperatures_c)
def test_no_battery_may_be_smaller_for_being_colder(warm_c: float, cold_c: float) -> None:
    warm_c, cold_c = max(warm_c, cold_c), min(warm_c, cold_c)
    assert cold_ratio(battery_c=cold_c) >= cold_ratio(battery_c=warm_c) >= 1.0


@given(battery_c=temperatures_c)
def test_a_hair_of_temperature_is_a_hair_of_capacity(battery_c: float) -> None:
    # the steepest line of the table is 0.19 over 5.6 K, 0.034 a kelvin
    step = cold_ratio(battery_c=battery_c) - cold_ratio(battery_c=battery_c + 0.01)
    assert 0.0 <= step <= 0.00035
