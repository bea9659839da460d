"""Circuits of a supply: junctions, inrush, the end of standby, fuses and contacts. Expected figures by hand."""

from dataclasses import replace

import pytest

from doorwright.calc.dc import Feed, constant_current_feed, constant_power_feed
from doorwright.calc.loading import Moment
from doorwright.calc.protection import CoilCaution
from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door, FailMode, LockKind, LockTakes
from doorwright.model.network import CableRun, Junction, Switch
from doorwright.model.power import Supply
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.rules.example import both, plus, put_profile
from doorwright.rules.sound import sound_site
from doorwright.studies.contact_load import contact_load
from doorwright.studies.fuse_load import fuse_load
from doorwright.studies.lock_voltage import lock_voltage
from doorwright.studies.supply_load import supply_load
from doorwright.studies.supply_network import supply_network
from doorwright.studies.switch_power import switch_power

# 2x1.0 is flexible, IEC 60228 class 5: 19.5 Ω/km. At 20 °C 50 m there and back have 2 × 19.5 × 0.05 = 1.95 Ω.


def run(ident: str, near: str, far: str, length_m: float | None = 50.0, fuse_a: float | None = None) -> CableRun:
    return CableRun(
        id=ident, name=ident, near=near, far=far, cable="2x1.0", length_m=length_m, temperature_c=20.0, fuse_a=fuse_a
    )


def strike(ident: str, **facts: object) -> Door:
    door = Door(
        id=ident, name=ident, entrance="e", lock=LockKind.STRIKE, fail_mode=FailMode.SECURE, lock_rated_v=24.0,
        lock_operate_a=0.5, lock_minimum_v=20.0,
    )  # fmt: skip
    return replace(door, **facts)  # type: ignore[arg-type]


SUPPLY = Profile(
    key="supply", title="s", kind=ProfileKind.SUPPLY, output_v=24.0, output_a=5.0, output_fuse_a=2.0, battery_end_v=21.0
)
UNIT = Profile(
    key="unit", title="u", kind=ProfileKind.VCU, dc_draw_w=12.0, dc_minimum_v=18.0, outputs_count=1,
    output_contact_a=1.0, output_contact_v=30.0,
)  # fmt: skip


def site(
    doors: tuple[Door, ...], runs: tuple[CableRun, ...], *, supply: Profile = SUPPLY, battery_ah: float | None = 7.0
) -> Site:
    return Site(
        name="Invented House",
        profiles=(supply, UNIT),
        doors=doors,
        units=(Unit(id="unit", name="Unit", kind=UnitKind.VCU, profile="unit"),),
        supplies=(Supply(id="supply", name="Supply", profile="supply", battery_ah=battery_ah),),
        junctions=(Junction(id="box", name="Box"), Junction(id="box-2", name="Box 2")),
        runs=runs,
    )


SHARED = site(
    (strike("left"), strike("right", lock_inrush_a=2.0)),
    (run("trunk", "supply", "box"), run("to-left", "box", "left"), run("to-right", "box", "right")),
)


def test_two_locks_behind_a_junction_share_the_drop_of_the_trunk() -> None:
    walk = Walk(SHARED)
    found = lock_voltage(walk, walk.get(Door, "left")).value
    assert found is not None
    # trunk: 1.0 A × 1.95 Ω = 1.95 V; own run: 0.5 A × 1.95 Ω = 0.975 V; 24 - 2.925 = 21.075 V
    assert found.lock_v == pytest.approx(21.075)
    assert (found.length_m, found.runs_count) == (100.0, 2)
    assert found.loop_ohm == pytest.approx(3.9)
    assert found.enough


def test_the_states_of_a_supply() -> None:
    study = supply_network(Walk(SHARED), SHARED.supplies[0])
    found = study.value
    assert found is not None
    left, right = found.loads
    assert (left.part, right.part) == ("left", "right")
    # the right starts with 2 A, the left works: trunk 2.5 A × 1.95 = 4.875 V; left 24 - 4.875 - 0.975 = 18.15 V
    assert left.starting_v == pytest.approx(18.15)
    # right: 24 - 4.875 - 2 × 1.95 = 15.225 V
    assert right.starting_v == pytest.approx(15.225)
    # end of standby: 21 - 2.925 = 18.075 V for both
    assert left.end_v == pytest.approx(18.075)
    assert right.end_v == pytest.approx(18.075)
    # fail-secure strikes take nothing standing; both operated 1 A, both starting 2.5 A
    assert (found.standing_a, found.operated_a, found.peak_a) == (0.0, 1.0, 2.5)
    assert found.spare_v == pytest.approx(1.075)
    assert found.end_spare_v == pytest.approx(-1.925)
    assert found.collapses == ()
    assert [working.calculation.id for working in study.workings] == ["two_wire_loop_ohm"] * 3


@pytest.mark.parametrize("takes", list(LockTakes))
@pytest.mark.parametrize("length_m", [1.0, 37.5, 120.0])
def test_one_lock_alone_is_the_closed_form_of_one_run(takes: LockTakes, length_m: float) -> None:
    lone = site((strike("left", lock_takes=takes),), (run("only", "supply", "left", length_m),))
    walk = Walk(lone)
    found = lock_voltage(walk, walk.get(Door, "left")).value
    assert found is not None
    loop_ohm = 2 * 19.5 * length_m / 1000
    if takes is LockTakes.RESISTANCE:
        expected_v = 24.0 * 48.0 / (48.0 + loop_ohm)  # 24 V / 0.5 A = 48 Ω, a divider of voltage
    else:
        feed = (
            constant_current_feed(source_v=24.0, load_a=0.5, loop_ohm=loop_ohm)
            if takes is LockTakes.CURRENT
            else constant_power_feed(source_v=24.0, load_w=12.0, loop_ohm=loop_ohm)
        )
        assert isinstance(feed, Feed)
        expected_v = feed.far_v
    assert found.lock_v == pytest.approx(expected_v, rel=1e-9)


def test_a_unit_of_constant_power_collapses_where_no_voltage_feeds_it() -> None:
    # 12 W from 24 V: V² < 4·R·P where R > 576 / 48 = 12 Ω, which is 307.7 m; at 21 V 441 / 48 = 9.19 Ω, 235.6 m
    for length_m, at_v in ((300.0, [21.0]), (310.0, [24.0, 21.0]), (230.0, [])):
        one = site((), (run("only", "supply", "unit", length_m),))
        found = supply_network(Walk(one), one.supplies[0]).value
        assert found is not None
        standing = [collapse for collapse in found.collapses if collapse.moment is Moment.STANDING]
        assert [collapse.output_v for collapse in standing] == at_v
        assert all(collapse.node == "unit" for collapse in standing)


def test_nothing_is_assumed_of_the_end_of_standby() -> None:
    without_end = replace(SHARED, profiles=(replace(SUPPLY, battery_end_v=None), UNIT))
    for walk in (Walk(without_end), Walk(replace(SHARED, supplies=(replace(SHARED.supplies[0], battery_ah=None),)))):
        found = supply_network(walk, walk.get(Supply, "supply")).value
        assert found is not None
        assert found.end_v is None
        assert [load.end_v for load in found.loads] == [None, None]


def test_another_branch_that_is_not_known_does_not_hold_up_a_lock() -> None:
    runs = (*SHARED.runs, run("other", "supply", "far", None))
    walk = Walk(replace(SHARED, doors=(*SHARED.doors, strike("far")), runs=runs))
    assert lock_voltage(walk, walk.get(Door, "left")).value is not None
    assert supply_network(walk, walk.get(Supply, "supply")).missing == (Missing("cable run", "length"),)


def test_runs_in_a_ring_end() -> None:
    ring = (*SHARED.runs, run("back", "box", "box-2"), run("round", "box-2", "box"))
    walk = Walk(replace(SHARED, runs=ring))
    found = lock_voltage(walk, walk.get(Door, "left")).value
    assert found is not None
    assert found.lock_v == pytest.approx(21.075)
    lost = Walk(replace(SHARED, runs=(run("a", "box", "box-2"), run("b", "box-2", "box"), run("c", "box", "left"))))
    assert lock_voltage(lost, lost.get(Door, "left")).missing == (Missing("cable run", "run to the door"),)


def test_load_of_a_supply_counts_units_and_inrush() -> None:
    walk = Walk(replace(SHARED, runs=(*SHARED.runs, run("to-unit", "box", "unit"))))
    found = supply_load(walk, walk.get(Supply, "supply")).value
    assert found is not None
    assert (found.locks_count, found.others_count) == (2, 1)
    assert found.load_a == pytest.approx(1.5)  # two locks of 0.5 A, and 12 W / 24 V
    assert found.standing_a == pytest.approx(0.5)
    assert found.starting_a == pytest.approx(3.0)  # 0.5 + 2.0 + 0.5


def test_fuses_at_the_output_and_behind_a_junction() -> None:
    walk = Walk(
        replace(SHARED, runs=(SHARED.runs[0], SHARED.runs[1], replace(SHARED.runs[2], fuse_a=0.4), *SHARED.runs[3:]))
    )
    trunk = fuse_load(walk, walk.get(CableRun, "trunk")).value
    assert trunk is not None
    # output fuse of 2 A: 1 A for long is half of it, 2.5 A at the inrush 1.25 times
    assert (trunk.fuse_a, trunk.at_supply) == (2.0, True)
    assert (trunk.duty.standing_ratio, trunk.duty.peak_ratio) == (0.5, 1.25)
    assert trunk.duty.carries
    assert trunk.duty.rides_peak
    right = fuse_load(walk, walk.get(CableRun, "to-right")).value
    assert right is not None
    # 0.5 A through 0.4 A: 1.25 times; 2 A: 5 times
    assert (right.duty.standing_ratio, right.duty.peak_ratio) == (1.25, 5.0)
    assert not right.duty.carries
    assert right.duty.rides_peak is None
    unfused = fuse_load(walk, walk.get(CableRun, "to-left"))
    assert (unfused.value, unfused.missing) == (None, ())


def test_a_fuse_that_nobody_named_is_missing() -> None:
    walk = Walk(replace(SHARED, profiles=(replace(SUPPLY, output_fuse_a=None), UNIT)))
    assert fuse_load(walk, walk.get(CableRun, "trunk")).missing == (Missing("profile", "output fuse"),)


def test_the_contact_that_frees_a_door() -> None:
    freed = replace(SHARED, doors=(SHARED.doors[0], replace(SHARED.doors[1], freed_by="unit", output=1)))
    walk = Walk(freed)
    found = contact_load(walk, walk.get(Door, "right")).value
    assert found is not None
    # 24 V of 30 V, 0.5 A of 1 A, an inrush of 2 A on a contact whose sheet names none: held to its 1 A
    assert found.duty.voltage_ratio == pytest.approx(0.8)
    assert found.duty.carried_ratio == pytest.approx(0.5)
    assert found.duty.closing_ratio == pytest.approx(2.0)
    assert not found.inrush_named
    assert not found.duty.within
    assert found.coil is CoilCaution.UNKNOWN
    assert contact_load(walk, walk.get(Door, "left")).value is None


def test_the_inrush_of_a_motor_must_be_known() -> None:
    motor = strike("left", lock=LockKind.MOTOR, freed_by="unit", output=1)
    walk = Walk(replace(SHARED, doors=(motor, SHARED.doors[1])))
    assert contact_load(walk, motor).missing == (Missing("door", "inrush current"),)


def test_a_switch_loads_its_supply_with_what_its_ports_give() -> None:
    edit = both(
        put_profile("switch-8", own_draw_w=8.0, dc_minimum_v=20.0),
        plus(CableRun(id="dc", name="L9", near="supply-1", far="switch-2", cable="2x1.0", length_m=10.0)),
    )
    walk = Walk(edit(sound_site()))
    power = switch_power(walk, walk.get(Switch, "switch-2")).value
    assert power is not None
    assert power.drawn_w is not None
    # two receivers, no diversity, the assumed efficiency of 0.85
    taken_w = 8.0 + power.drawn_w / 0.85
    study = supply_network(walk, walk.get(Supply, "supply-1"))
    (step,) = [one for one in study.workings if one.calculation.id == "switch_draw_w"]
    assert step.results[0].value == pytest.approx(taken_w)
    load = supply_load(walk, walk.get(Supply, "supply-1")).value
    assert load is not None
    # three locks of 0.25 A, and the switch at 24 V
    assert load.load_a == pytest.approx(0.75 + taken_w / 24.0)
