"""Power, cables, locks and what meddles between subnets: figures by hand, from the invented data in wired_yard.py."""

from dataclasses import replace
from math import inf

import pytest

from doorwright.calc.poe import poe_class, poe_type
from doorwright.model.walk import Walk
from doorwright.rehearse.actors import Mood
from doorwright.rehearse.building import Building
from doorwright.rehearse.cable import SOUND, Draw, Link, carries, link_over
from doorwright.rehearse.faults import with_faults
from doorwright.rehearse.lock import Lock, voltage_v
from doorwright.rehearse.outage import LAMPS_AFTER_S, NIGHT_S
from doorwright.rehearse.picture import lost_whole
from doorwright.rehearse.planned import Planned, planned
from doorwright.rehearse.power import feeds
from doorwright.rehearse.rehearsal import outcome_of
from doorwright.rehearse.world import World
from tests.rehearsal.wired_yard import WIRED_YARD

PLAN = planned(Walk(WIRED_YARD))
POOR = 15.0


def built(plan: Planned) -> Building:
    building = Building(plan.boxes.values(), plan.nets, plant=plan.plant, power_cut_min=plan.power_cut_min, seed=2)
    building.come_up()
    return building


def put(name: str, at: str) -> Planned:
    return with_faults(PLAN, ((name, at),), chance=World(seed=2).chance("faults"))[0]


def lock_at(door: str) -> Lock:
    return next(one.lock for box in PLAN.boxes.values() for one in box.releases if one.door == door and one.lock)


# ports and budgets


def test_a_budget_is_given_in_order_of_the_ports() -> None:
    # each unit asks for 9.5 W and 0.18 W for its cable, (9.5/44)² · 3.75 Ω; three of them for 29.0 W, four for 38.7 W
    hubs = {**PLAN.plant.hubs, "switch-b": replace(PLAN.plant.hubs["switch-b"], budget_w=30.0)}
    got = feeds(replace(PLAN.plant, hubs=hubs))
    assert [unit for unit, feed in got.items() if not feed.powered] == ["uru-3", "uru-4", "smu"]


def test_a_port_that_is_off_leaves_its_power_to_the_others() -> None:
    hubs = {**PLAN.plant.hubs, "switch-b": replace(PLAN.plant.hubs["switch-b"], budget_w=30.0)}
    ports = {**PLAN.plant.ports, "uru-1": replace(PLAN.plant.ports["uru-1"], on=False)}
    got = feeds(replace(PLAN.plant, hubs=hubs, ports=ports))
    assert [unit for unit, feed in got.items() if not feed.up] == ["uru-1", "uru-4", "smu"]


# cables


@pytest.mark.parametrize(
    ("contacts_ohm", "planned_mbps", "mbps", "loses"),
    [
        # IEEE 802.3: 100 Mb/s over the pairs 1-2 and 3-6 (clause 25), 1000 over all four (clause 40)
        (SOUND, 1000.0, 1000.0, False),
        ((0.0, 0.0, inf, 0.0), 1000.0, 100.0, False),
        ((0.0, 0.0, inf, 0.0), 100.0, 100.0, False),
        ((inf, 0.0, 0.0, 0.0), 100.0, 0.0, False),
        ((0.0, inf, 0.0, 0.0), 1000.0, 0.0, False),
        ((POOR, 0.0, 0.0, 0.0), 1000.0, 100.0, True),
        ((POOR, 0.0, 0.0, 0.0), 100.0, 10.0, True),
    ],
)
def test_what_the_pairs_carry(contacts_ohm: tuple[float, ...], planned_mbps: float, mbps: float, loses: bool) -> None:
    link = link_over(contacts_ohm, planned_mbps)
    assert (link.mbps, link.lost_ratio > 0.0) == (mbps, loses)
    assert isinstance(link, Link)


def test_a_contact_lets_by_what_it_lets_by() -> None:
    # class 3 is Type 1: 44 V at the port, 37 V at the unit (IEEE 802.3 clause 33). 9.5 W at 37 V is 0.257 A, so 7 V may
    # be lost over 27.3 Ω; 5.7 W is 0.154 A: 45.4 Ω. The cable has 5 Ω.
    assert (poe_class(3).port_min_v, poe_type(1).device_min_v) == (44.0, 37.0)
    draw = Draw(poe_class=3, day_w=5.7, night_w=9.5, loop_ohm=5.0)
    for ohm, by_day, by_night in [(22.0, True, True), (22.5, True, False), (40.0, True, False), (40.5, False, False)]:
        contacts_ohm = (0.0, ohm, 0.0, 0.0)
        assert carries(draw, contacts_ohm, night=False) is by_day
        assert carries(draw, contacts_ohm, night=True) is by_night


def test_a_unit_on_a_bad_pair_restarts_all_night_and_is_back_in_the_morning() -> None:
    building = built(put("bad-pair", "vcu-porch"))
    every_s = 60.0 + LAMPS_AFTER_S  # its data sheet's start, and then its lamps
    assert building.restarts == {"vcu-porch": -(-NIGHT_S // every_s)}
    assert building.actors["vcu-porch"].starts_count == building.restarts["vcu-porch"]
    assert building.actors["vcu-porch"].registered


def test_receivers_have_no_lamps_and_stay_up() -> None:
    assert built(put("bad-pair", "uru-3")).restarts == {}


# locks


def test_the_voltage_at_a_lock() -> None:
    # 10 m of 1.5 mm² at 20 °C, 13.3 Ω/km for a conductor of class 5 (IEC 60228): 0.266 Ω there and back, 0.5 A
    circuit = lock_at("door-porch").circuit
    assert circuit is not None
    assert voltage_v(circuit) == pytest.approx(12.0 - 0.5 * 0.266, abs=0.001)


@pytest.mark.parametrize(
    ("altered", "opens"),
    [
        ({}, True),
        ({"minimum_v": 11.8}, True),
        ({"minimum_v": 11.9}, False),  # there are 11.867 V
        ({"minimum_v": 11.9, "current_frees": False}, True),  # a magnet is freed by taking its current away
        ({"side_load_ratio": 1.2}, True),  # 10.8 · √1.2 = 11.83 V
        ({"side_load_ratio": 1.21}, False),  # 10.8 · 1.1 = 11.88 V
        ({"release_s": 3.0}, True),  # the visitor pushes after 3 s
        ({"release_s": 2.9}, False),
        ({"circuit": None, "minimum_v": 99.0}, True),  # what the plan does not know is taken as sound
    ],
)
def test_whether_a_freed_door_opens(altered: dict[str, float], opens: bool) -> None:
    assert replace(lock_at("door-porch"), **altered).opens() is opens  # type: ignore[arg-type]


def test_a_door_that_holds_was_freed_all_the_same() -> None:
    building = built(put("strike-misaligned", "vcu-porch"))
    happened = outcome_of(building.visit("vcu-porch", "03", minute=420, moods={"uru-3": Mood.ANSWERS}))
    assert happened.freed == happened.held == {("1", "door-porch")}


# pictures


def test_a_picture_comes_where_there_is_a_camera_and_a_screen() -> None:
    moods = {"uru-3": Mood.ANSWERS}
    assert outcome_of(built(PLAN).visit("vcu-porch", "03", minute=420, moods=moods)).picture
    blind = replace(PLAN, boxes={**PLAN.boxes, "uru-3": replace(PLAN.boxes["uru-3"], video=())})
    happened = outcome_of(built(blind).visit("vcu-porch", "03", minute=420, moods=moods))
    assert (happened.picture, happened.both_heard) == (False, True)


def test_of_a_full_link_what_finds_no_room_is_lost() -> None:
    uplink = next(iter(PLAN.plant.uplinks.values()))
    assert not uplink.is_full
    full = replace(uplink, mbps=1.0, down_kbps=1500.0, others_kbps=500.0, up_kbps=100.0)
    # 2000 kb/s on 1000: half is lost; 600 on 1000: nothing
    assert (full.lost_ratio(down=True), full.lost_ratio(down=False)) == (0.5, 0.0)
    # a whole picture of eight packets comes in one of 2⁸ cases
    assert lost_whole(0.5) == pytest.approx(255 / 256)


# the mains fail


def test_in_a_power_cut_the_battery_carries_what_hangs_on_it() -> None:
    building = built(replace(PLAN, power_cut_min=60.0))
    outage = building.outage
    assert outage is not None
    # switch B has a battery of 100 Ah for some 7 A: 60 minutes are nothing; switch A has the mains alone
    assert outage.dark_s == {"vcu-gate": 0.0, "vcu-porch": 0.0}
    assert outage.locks == {}
    # switch A starts in 60 s, then its units in 60 s: the gate is up when somebody looks after 3 minutes at the latest
    assert outage.back_s["vcu-gate"] <= 180.0
    # those that stayed up do not know that the gate forgot them; they register anew within the hour
    assert 0.0 < max(outage.back_s.values()) <= 3600.0
    assert set(outage.back_s) == set(building.actors)
    happened = outcome_of(building.visit("vcu-porch", "03", minute=420, moods={"uru-3": Mood.ANSWERS}))
    assert (happened.took, happened.both_heard) == ("uru-3", True)


def test_calls_fail_while_the_registrar_has_forgotten_who_stayed_up() -> None:
    building = Building(PLAN.boxes.values(), PLAN.nets, plant=PLAN.plant, seed=2)
    building.power_up()
    building.switch_off("vcu-gate")
    building.world.run_until(building.world.now_s + 600.0)
    building.switch_on("vcu-gate")
    building.world.run_until(building.world.now_s + 60.0)
    assert building.actors["uru-3"].registered  # or so it thinks
    assert outcome_of(building.visit("vcu-gate", "03", minute=420, moods={"uru-3": Mood.ANSWERS})).rang == ()


def test_a_unit_without_power_calls_nobody() -> None:
    building = built(PLAN)
    building.switch_off("vcu-porch")
    assert outcome_of(building.visit("vcu-porch", "03", minute=420, moods={})).rang == ()


# a router that meddles


def answered(building: Building) -> bool:
    happened = outcome_of(building.visit("vcu-gate", "03", minute=420, moods={"uru-3": Mood.ANSWERS}))
    return happened.took == "uru-3"


def test_a_router_that_forgets_lets_calls_in_for_two_minutes() -> None:
    plan = put("router-forgets", "uru-3")
    building = Building(plan.boxes.values(), plan.nets, plant=plan.plant, seed=2)
    for actor in building.actors.values():
        actor.begin()
    building.world.run_until(60.0)
    assert building.actors["uru-3"].registered
    assert answered(building)
    building.world.run_until(building.world.now_s + 130.0)
    assert building.actors["uru-3"].registered
    assert not answered(building)


def test_a_router_that_rewrites_lets_no_call_in() -> None:
    building = built(put("router-rewrites", "uru-3"))
    assert building.actors["uru-3"].registered
    assert not answered(building)


# what is told when registering


def test_the_serial_number_itself_is_not_sent() -> None:
    sent: list[bytes] = []
    building = Building(PLAN.boxes.values(), PLAN.nets, plant=PLAN.plant, heard=lambda one: sent.append(one.data))
    building.power_up()
    serial = PLAN.boxes["uru-3"].serial
    assert serial is not None
    assert not any(serial.encode() in data for data in sent)
    assert any(b"+sip.instance" in data for data in sent)
