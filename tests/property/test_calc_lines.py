"""What must hold of every line, whatever its figures."""

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from doorwright.calc import cabling, conductor, dc, poe

volts = st.floats(min_value=5.0, max_value=60.0)
watts = st.floats(min_value=0.0, max_value=100.0)
amperes = st.floats(min_value=0.0, max_value=5.0)
ohms = st.floats(min_value=0.0, max_value=50.0)
metres = st.floats(min_value=0.0, max_value=200.0)
warmth_c = st.floats(min_value=-10.0, max_value=60.0)
pairs = st.sampled_from([2, 4])
classes = st.sampled_from(poe.CLASSES)
per_km = st.floats(min_value=10.0, max_value=140.0)


@given(source_v=volts, load_w=watts, loop_ohm=ohms)
def test_constant_power_satisfies_the_circuit_or_exceeds_its_limit(
    source_v: float, load_w: float, loop_ohm: float
) -> None:
    found = dc.constant_power_feed(source_v=source_v, load_w=load_w, loop_ohm=loop_ohm)
    if isinstance(found, dc.Collapse):
        assert load_w >= found.most_w * (1 - 1e-12)
        return
    # P = V·I - I²·R, on the branch above half the voltage
    assert source_v * found.current_a - found.current_a**2 * loop_ohm == pytest.approx(load_w, rel=1e-9, abs=1e-12)
    assert found.far_v >= source_v / 2 * (1 - 1e-6)


@given(source_v=volts, load_w=watts, load_a=amperes, loop_ohm=ohms)
def test_energy_is_kept(source_v: float, load_w: float, load_a: float, loop_ohm: float) -> None:
    for found in (
        dc.constant_power_feed(source_v=source_v, load_w=load_w, loop_ohm=loop_ohm),
        dc.constant_current_feed(source_v=source_v, load_a=load_a, loop_ohm=loop_ohm),
        poe.port_feed(port_w=load_w, port_v=source_v, loop_ohm=loop_ohm),
        poe.device_feed(port_v=source_v, device_w=load_w, loop_ohm=loop_ohm),
    ):
        if isinstance(found, dc.Feed):
            assert found.sent_w == pytest.approx(found.delivered_w + found.lost_w, rel=1e-9, abs=1e-12)
            assert found.lost_w == pytest.approx(found.current_a**2 * loop_ohm, rel=1e-9, abs=1e-12)
            assert 0.0 <= found.far_v <= source_v


@given(number=classes, ohm_per_km=per_km, lengths_m=st.tuples(metres, metres), temperature_c=warmth_c)
def test_longer_cable_never_gives_more(
    number: int, ohm_per_km: float, lengths_m: tuple[float, float], temperature_c: float
) -> None:
    shorter_m, longer_m = sorted(lengths_m)
    row = poe.poe_class(number)

    def delivered_w(length_m: float) -> float:
        loop_ohm = poe.powered_pairs_ohm(
            conductor_ohm_per_km=ohm_per_km,
            length_m=length_m,
            pairs_count=row.pairs_count,
            temperature_c=temperature_c,
        )
        found = poe.port_feed(port_w=row.port_w, port_v=row.port_min_v, loop_ohm=loop_ohm)
        return found.delivered_w if isinstance(found, dc.Feed) else found.most_w

    assert delivered_w(longer_m) <= delivered_w(shorter_m) * (1 + 1e-12)
    assert delivered_w(shorter_m) <= row.port_w


@given(port_w=watts, port_v=volts, loop_ohm=ohms)
def test_both_sides_of_the_cable_agree(port_w: float, port_v: float, loop_ohm: float) -> None:
    sent = poe.port_feed(port_w=port_w, port_v=port_v, loop_ohm=loop_ohm)
    assume(isinstance(sent, dc.Feed) and sent.drop_v < 0.49 * port_v)
    assert isinstance(sent, dc.Feed)
    taken = poe.device_feed(port_v=port_v, device_w=sent.delivered_w, loop_ohm=loop_ohm)
    assert isinstance(taken, dc.Feed)
    assert taken.sent_w == pytest.approx(port_w, rel=1e-6, abs=1e-9)


@given(ohm_per_km=per_km, length_m=metres, cooler_c=warmth_c, warmer_c=warmth_c, pairs_count=pairs)
def test_warmth_never_lowers_resistance(
    ohm_per_km: float, length_m: float, cooler_c: float, warmer_c: float, pairs_count: int
) -> None:
    assume(cooler_c <= warmer_c)
    two_wire = [
        conductor.two_wire_loop_ohm(conductor_ohm_per_km=ohm_per_km, length_m=length_m, temperature_c=temperature_c)
        for temperature_c in (cooler_c, warmer_c)
    ]
    assert two_wire[0] <= two_wire[1]
    powered_ohm = poe.powered_pairs_ohm(
        conductor_ohm_per_km=ohm_per_km, length_m=length_m, pairs_count=pairs_count, temperature_c=warmer_c
    )
    # n pairs in parallel have the loop of one wire pair, shared by n
    assert powered_ohm * pairs_count == pytest.approx(two_wire[1])


@given(length_m=st.floats(min_value=1.0, max_value=100.0), pairs_count=pairs)
def test_real_category_cable_stays_within_the_worst_channel(length_m: float, pairs_count: int) -> None:
    # TIA allows 9.38 ohm per 100 m at 20 °C (memory), IEEE 802.3 reckons with 12.5 ohm (secondary); up to 60 °C
    real_ohm = poe.powered_pairs_ohm(
        conductor_ohm_per_km=93.8, length_m=length_m, pairs_count=pairs_count, temperature_c=60.0
    )
    assert real_ohm <= poe.worst_channel_ohm(channel_ohm_per_km=125.0, length_m=length_m, pairs_count=pairs_count)


@given(cooler_c=warmth_c, warmer_c=warmth_c, screened=st.booleans())
def test_warm_links_are_shorter_and_screens_help(cooler_c: float, warmer_c: float, screened: bool) -> None:
    assume(cooler_c <= warmer_c)

    def length_m(temperature_c: float, *, screened: bool) -> float:
        return cabling.warm_link_m(reference_m=90.0, temperature_c=temperature_c, screened=screened)

    assert length_m(warmer_c, screened=screened) <= length_m(cooler_c, screened=screened) <= 90.0
    assert length_m(warmer_c, screened=False) <= length_m(warmer_c, screened=True)


@given(gauge_awg=st.integers(min_value=-3, max_value=40))
def test_six_gauges_halve_the_diameter(gauge_awg: int) -> None:
    # 92^(6/39) = 2.005: the rule of thumb of every wire table
    thick_mm = conductor.gauge_diameter_mm(gauge_awg=gauge_awg)
    thin_mm = conductor.gauge_diameter_mm(gauge_awg=gauge_awg + 6)
    assert thick_mm / thin_mm == pytest.approx(2.005, rel=1e-3)
    assert conductor.gauge_ohm_per_km(gauge_awg=gauge_awg) < conductor.gauge_ohm_per_km(gauge_awg=gauge_awg + 1)


@given(temperature_c=st.floats(min_value=5.0, max_value=70.0))
def test_the_forms_of_temperature_correction_agree(temperature_c: float) -> None:
    rounded = conductor.reduction_to_20_c_ratio(temperature_c=temperature_c)
    assert rounded * conductor.warm_ratio(temperature_c=temperature_c) == pytest.approx(1.0, abs=0.003)
    assert conductor.fine_reduction_to_20_c_ratio(temperature_c=temperature_c) == pytest.approx(rounded, abs=0.003)


@given(
    classes_w=st.lists(st.sampled_from([4.0, 7.0, 15.4, 30.0]), max_size=20),
    asked_w=st.lists(st.floats(min_value=0.5, max_value=60.0), max_size=20),
    lower=st.floats(min_value=0.0, max_value=1.0),
    higher=st.floats(min_value=0.0, max_value=1.0),
)
def test_diversity_only_lowers_a_budget_and_never_below_what_must_be_held(
    classes_w: list[float], asked_w: list[float], lower: float, higher: float
) -> None:
    lower, higher = min(lower, higher), max(lower, higher)
    reserved_w, varying_w, largest_w = sum(classes_w), sum(asked_w), max(asked_w, default=0.0)

    def held_w(diversity_ratio: float) -> float:
        return poe.diverse_w(
            reserved_w=reserved_w, varying_w=varying_w, largest_w=largest_w, diversity_ratio=diversity_ratio
        )

    assert reserved_w + largest_w <= held_w(lower) <= held_w(higher) <= held_w(1.0)
    assert held_w(1.0) == pytest.approx(reserved_w + varying_w)
