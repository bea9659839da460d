"""Where a line cannot carry its load, and the edges of the class table."""

import pytest

from doorwright.calc import dc, poe


def test_a_current_that_needs_more_than_the_source_has_collapses() -> None:
    # 10 ohm and 1.3 A would drop 13 V of 12 V; into a dead short flow 12/10 = 1.2 A (hand arithmetic)
    found = dc.constant_current_feed(source_v=12.0, load_a=1.3, loop_ohm=10.0)
    assert isinstance(found, dc.Collapse)
    assert found.short_a == pytest.approx(1.2)
    assert found.most_w == pytest.approx(3.6)


def test_a_power_just_below_the_most_is_fed_at_half_the_voltage() -> None:
    # the most through 20 ohm from 44 V is 24.2 W, at 1.1 A and 22 V (44²/80; hand arithmetic)
    found = dc.constant_power_feed(source_v=44.0, load_w=24.2, loop_ohm=20.0)
    assert isinstance(found, dc.Feed)
    assert found.far_v == pytest.approx(22.0, abs=1e-4)
    assert isinstance(dc.constant_power_feed(source_v=44.0, load_w=24.2001, loop_ohm=20.0), dc.Collapse)


def test_a_line_without_resistance_loses_nothing() -> None:
    found = dc.constant_power_feed(source_v=12.0, load_w=6.0, loop_ohm=0.0)
    assert found == dc.Feed(current_a=0.5, drop_v=0.0, far_v=12.0, sent_w=6.0, delivered_w=6.0, lost_w=0.0)


def test_a_port_that_would_lose_half_its_voltage_feeds_no_device() -> None:
    # 15.4 W at 44 V is 0.35 A; 70 ohm would drop 24.5 V, more than 22 V (hand arithmetic)
    found = poe.port_feed(port_w=15.4, port_v=44.0, loop_ohm=70.0)
    assert isinstance(found, dc.Collapse)
    assert found.most_w == pytest.approx(44.0**2 / 280.0)


@pytest.mark.parametrize("number", [-1, 9, 30])
def test_no_such_class(number: int) -> None:
    with pytest.raises(LookupError, match="the classes are 0 to 8"):
        poe.poe_class(number)


@pytest.mark.parametrize("number", [0, 5])
def test_no_such_type(number: int) -> None:
    with pytest.raises(LookupError, match="the types are 1 to 4"):
        poe.poe_type(number)


def test_class_currents_stay_within_their_type() -> None:
    # IEEE 802.3: 350 mA, 600 mA, and per pair-set 600 mA and 960 mA (secondary)
    for number in poe.CLASSES:
        row = poe.poe_class(number)
        limits = poe.poe_type(row.type)
        assert row.port_w / row.port_min_v <= limits.pairset_a * row.pairs_count / 2 + 1e-9
        assert row.port_min_v == limits.port_min_v
