"""Power over data cable, and the budget of a switch. Expected figures by hand, the steps beside them."""

from dataclasses import replace

import pytest

from doorwright.calc.dc import Collapse
from doorwright.kernel.verdict import Missing
from doorwright.model.network import CableRun, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.dc_duty import converter_w
from doorwright.studies.poe_at_unit import poe_at_unit
from doorwright.studies.switch_power import switch_power
from tests.unit.studies.building import SITE, part, walk_with, walk_with_profile, walk_without


def test_power_at_a_unit() -> None:
    study = poe_at_unit(Walk(SITE), part(Unit, "desk"))
    found = study.value
    assert found is not None
    assert found.port_w is not None
    assert study.missing == ()
    # 24 AWG: 84.21 ohm/km × 0.08 km = 6.737 ohm for two pairs at 20 °C
    assert found.loop_ohm == pytest.approx(6.737, abs=0.001)
    # class 3: 15.4 W at 44 V is 0.35 A; 0.35² × 6.737 = 0.825 W lost, 14.575 W arrive
    assert found.available_w == pytest.approx(14.575, abs=0.001)
    assert found.class_w == 12.95
    # 10 W: D = 1936 - 4 × 6.737 × 10 = 1666.5, √D = 40.823; I = (44 - 40.823)/(13.474) = 0.2358 A
    assert found.current_a == pytest.approx(0.2358, abs=0.0002)
    assert found.device_v == pytest.approx((44 + 40.823) / 2, abs=0.001)
    assert found.port_w == pytest.approx(44 * 0.2358, abs=0.01)
    assert found.lost_w == pytest.approx(found.port_w - 10.0)
    assert found.enough


def test_the_workings_are_the_calculations_made() -> None:
    study = poe_at_unit(Walk(SITE), part(Unit, "desk"))
    assert study.value is not None
    ids = [working.calculation.id for working in study.workings]
    assert ids == ["powered_pairs_ohm", "port_feed", "device_feed"]
    assert study.workings[0].results[0].value == study.value.loop_ohm
    assert {quantity.name: quantity.value for quantity in study.workings[2].inputs} == {
        "port_v": 44.0,
        "device_w": 10.0,
        "loop_ohm": study.value.loop_ohm,
    }


def test_a_draw_above_what_arrives_is_not_enough() -> None:
    found = poe_at_unit(walk_with_profile("desk", poe_draw_w=14.6), part(Unit, "desk")).value
    assert found is not None
    assert found.port_w is not None
    assert not found.enough


def test_a_draw_that_cannot_be_fed_collapses() -> None:
    # 500 m: 42.1 ohm; the most from 44 V is 1936/(4 × 42.1) = 11.5 W
    walk = walk_with(CableRun, "to-desk", length_m=500.0)
    found = poe_at_unit(walk, part(Unit, "desk")).value
    assert found is not None
    assert found.enough
    found = poe_at_unit(
        Walk(walk_with_profile("desk", poe_draw_w=12.0).site.with_tables({CableRun: walk.site.runs})),
        part(Unit, "desk"),
    ).value
    assert found is not None
    assert isinstance(found.drawn, Collapse)
    assert found.drawn.most_w == pytest.approx(11.495, abs=0.01)
    assert (found.port_w, found.device_v, found.current_a, found.lost_w) == (None, None, None, None)
    assert not found.enough


def test_warm_cable_from_the_run_or_else_the_site() -> None:
    cool = poe_at_unit(Walk(SITE), part(Unit, "desk")).value
    warm = poe_at_unit(walk_with(CableRun, "to-desk", temperature_c=60.0), part(Unit, "desk")).value
    assert cool is not None
    assert warm is not None
    assert (cool.temperature_c, warm.temperature_c) == (20.0, 60.0)
    assert warm.loop_ohm / cool.loop_ohm == pytest.approx(1.1572)  # 1 + 0.00393 × 40


@pytest.mark.parametrize(
    ("walk", "missing"),
    [
        (walk_without(CableRun, "to-desk"), [("cable run", "run to the unit")]),
        (walk_with(CableRun, "to-desk", length_m=None), [("cable run", "length")]),
        (walk_with(CableRun, "to-desk", length_m=None, cable=None), [("cable run", "cable"), ("cable run", "length")]),
        (walk_with(CableRun, "to-desk", cable="string"), [("cable run", "cable")]),
        (walk_with(CableRun, "to-desk", cable="2x1.0"), [("cable run", "cable")]),
        (walk_with_profile("desk", poe_draw_w=None), [("profile", "PoE draw")]),
        (walk_with_profile("desk", poe_class=None), [("profile", "PoE class")]),
        (walk_with_profile("desk", poe_class=12), [("profile", "PoE class")]),
        (walk_with_profile("desk", key="other"), [("unit", "profile")]),
    ],
)
def test_what_is_missing_is_named(walk: Walk, missing: list[tuple[str, str]]) -> None:
    study = poe_at_unit(walk, part(Unit, "desk"))
    assert study.value is None
    assert study.missing == tuple(Missing(*pair) for pair in missing)


def test_a_unit_without_poe_raises_no_question() -> None:
    study = poe_at_unit(Walk(SITE), part(Unit, "home"))
    assert (study.value, study.missing) == (None, ())


def test_the_budget_of_a_switch() -> None:
    found = switch_power(Walk(SITE), part(Switch, "low")).value
    assert found is not None
    assert (found.fed_count, found.allocated_w, found.budget_w) == (1, 15.4, 40.0)
    assert found.power_spare_ratio == pytest.approx(0.615)  # 1 - 15.4/40
    desk = poe_at_unit(Walk(SITE), part(Unit, "desk")).value
    assert desk is not None
    assert found.drawn_w == desk.port_w
    # four ports for units; the riser sits on the fifth, an uplink
    assert (found.ports_used_count, found.ports_count) == (2, 4)
    assert found.ports_spare_ratio == pytest.approx(0.5)


def test_a_link_on_a_port_for_units_takes_that_port() -> None:
    walk = walk_with(CableRun, "riser", near_port=3, far_port=4)
    for ident, used_count in (("low", 3), ("high", 1)):
        found = switch_power(walk, part(Switch, ident)).value
        assert found is not None
        assert found.ports_used_count == used_count


def test_more_than_there_is_gives_negative_spare() -> None:
    walk = walk_with_profile("switch", poe_budget_w=11.0, ports_count=3)
    found = switch_power(walk, part(Switch, "low")).value
    assert found is not None
    assert found.power_spare_ratio == pytest.approx(-0.4)  # 1 - 15.4/11
    assert found.ports_spare_ratio == pytest.approx(-1.0)  # two runs, one port


def test_the_draw_of_a_switch_is_unknown_while_a_length_is() -> None:
    found = switch_power(walk_with(CableRun, "to-desk", length_m=None), part(Switch, "low")).value
    assert found is not None
    assert found.allocated_w == 15.4
    assert found.drawn_w is None


@pytest.mark.parametrize(
    ("walk", "missing"),
    [
        (walk_with_profile("switch", poe_budget_w=None), Missing("profile", "PoE budget")),
        (walk_with_profile("switch", key="other"), Missing("switch", "profile")),
        (walk_with_profile("desk", poe_class=None), Missing("profile", "PoE class")),
        (walk_with_profile("desk", key="other"), Missing("unit", "profile")),
    ],
)
def test_what_a_switch_waits_for(walk: Walk, missing: Missing) -> None:
    study = switch_power(walk, part(Switch, "low"))
    assert study.value is None
    assert missing in study.missing


def test_a_switch_without_budget_that_feeds_nothing_is_judged_for_its_ports() -> None:
    found = switch_power(walk_with_profile("switch", poe_budget_w=None), part(Switch, "high")).value
    assert found is not None
    assert (found.allocated_w, found.budget_w, found.power_spare_ratio) == (0.0, 0.0, 0.0)


def asking(**switch: object) -> Walk:
    """Return the way around the site with a desk that asks for its draw by LLDP, and facts of the switch changed."""
    profiles = tuple(
        replace(known, poe_by_lldp=True) if known.key == "desk" else replace(known, **switch)  # type: ignore[arg-type]
        if known.key == "switch" else known
        for known in SITE.profiles
    )  # fmt: skip
    return Walk(replace(SITE, profiles=profiles))


def test_a_switch_that_listens_sets_aside_the_draw_and_the_loss_of_the_cable() -> None:
    found = switch_power(asking(poe_by_lldp=True, poe_port_w=30.0), part(Switch, "low")).value
    assert found is not None
    # 10 W over 6.737 Ω from 44 V: I = 0.2358 A, 44 × 0.2358 = 10.375 W
    assert (found.fed_count, found.lldp_count, found.port_w) == (1, 1, 30.0)
    assert found.allocated_w == pytest.approx(10.375, abs=0.01)
    assert found.ports_w == {"desk": found.allocated_w}


def test_both_must_speak_of_power_or_the_class_counts() -> None:
    deaf = switch_power(asking(poe_by_lldp=False), part(Switch, "low")).value
    mute = switch_power(walk_with_profile("switch", poe_by_lldp=True), part(Switch, "low")).value
    unmeasured = asking(poe_by_lldp=True).site
    runs = tuple(replace(run, length_m=None) for run in unmeasured.runs)
    blind = switch_power(Walk(replace(unmeasured, runs=runs)), part(Switch, "low")).value
    for found in (deaf, mute, blind):
        assert found is not None
        assert (found.lldp_count, found.allocated_w) == (0, 15.4)


def two_desks(diversity_ratio: float, *, asks: bool = True) -> Walk:
    """Return the way around a site with two desks of 10 W on one switch, and a site that takes a diversity."""
    site = asking(poe_by_lldp=True).site if asks else SITE
    desk, run = part(Unit, "desk"), part(CableRun, "to-desk")
    return Walk(
        replace(
            site,
            units=(*site.units, replace(desk, id="desk-2")),
            runs=(*site.runs, replace(run, id="to-desk-2", far="desk-2")),
            choices=replace(site.choices, poe_diversity_ratio=diversity_ratio),
        )
    )


def test_diversity_counts_for_what_is_asked_for() -> None:
    # each port gives 10.375 W (above): 20.75 W asked for, 0.8 of them are 16.6 W
    found = switch_power(two_desks(0.8), part(Switch, "low"))
    assert found.value is not None
    assert found.value.allocated_w == pytest.approx(20.75, abs=0.02)
    assert found.value.needed_w == pytest.approx(16.6, abs=0.02)
    assert found.value.at_once_w == found.value.needed_w
    assert found.value.power_spare_ratio == pytest.approx(1 - 16.6 / 40.0, abs=0.001)
    assert [working.calculation.id for working in found.workings] == ["diverse_w"]


def test_diversity_never_goes_below_the_largest_unit() -> None:
    found = switch_power(two_desks(0.1), part(Switch, "low")).value
    assert found is not None
    assert found.needed_w == pytest.approx(10.375, abs=0.01)


def test_class_power_is_set_aside_whole_whatever_the_diversity() -> None:
    found = switch_power(two_desks(0.5, asks=False), part(Switch, "low")).value
    assert found is not None
    assert (found.allocated_w, found.needed_w) == (30.8, 30.8)
    # what the ports give at once is real: half of 20.75 W
    assert found.at_once_w == pytest.approx(10.375, abs=0.01)


def test_no_diversity_is_the_worst_case() -> None:
    found = switch_power(two_desks(1.0), part(Switch, "low")).value
    assert found is not None
    assert found.needed_w == pytest.approx(found.allocated_w)


def test_a_switch_takes_its_own_draw_and_what_its_ports_give() -> None:
    low = part(Switch, "low")
    # the site assumes 0.85: 8 + 10.375 / 0.85 = 20.206 W; with 0.9 of its own, 8 + 11.528 = 19.528 W
    assumed = converter_w(walk_with_profile("switch", own_draw_w=8.0), low)
    known = converter_w(walk_with_profile("switch", own_draw_w=8.0, poe_efficiency_ratio=0.9), low)
    assert assumed == pytest.approx(20.206, abs=0.01)
    assert known == pytest.approx(19.528, abs=0.01)
    # the other switch feeds nothing by PoE
    assert converter_w(walk_with_profile("switch", own_draw_w=8.0), part(Switch, "high")) == 8.0


def test_a_switch_of_which_only_the_whole_is_known_takes_that() -> None:
    low = part(Switch, "low")
    assert converter_w(walk_with_profile("switch", dc_draw_w=60.0), low) == 60.0
    assert converter_w(Walk(SITE), low) == (Missing("profile", "DC draw"),)


def test_what_the_draw_of_a_switch_waits_for() -> None:
    low = part(Switch, "low")
    lacking = walk_with_profile("switch", own_draw_w=8.0, poe_budget_w=None)
    assert converter_w(lacking, low) == (Missing("profile", "PoE budget"),)
    site = walk_with_profile("switch", own_draw_w=8.0).site
    nothing = Walk(replace(site, choices=replace(site.choices, poe_efficiency_ratio=0.0)))
    assert converter_w(nothing, low) == (Missing("profile", "PoE efficiency"),)
