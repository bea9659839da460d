"""Visitors at entrances, callers of the desk, calls in a registrar. Expected figures by hand, the steps beside them.

The sound site: 4 dwellings, each called from 3 entrances; the default habits put 10/98 of a day's calls into its
busiest hour.
"""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.kernel.verdict import Missing
from doorwright.model.calling import Divert, DivertCause, RingMode
from doorwright.model.habits import CallHabits
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.example import Edit, both, plus, put, put_profile, put_site, without
from doorwright.rules.sound import sound_site
from doorwright.studies.desk_queue import DeskQueue, desk_queue
from doorwright.studies.entrance_traffic import EntranceTraffic, entrance_traffic
from doorwright.studies.registrar_calls import registrar_calls
from doorwright.studies.study import Study
from doorwright.studies.visiting import ring_limit_s

HABITS = CallHabits()


def around(*edits: Edit) -> Walk:
    return Walk(both(put_site(habits=HABITS, choices=Choices(ring_s=30)), *edits)(sound_site()))


def traffic_at(walk: Walk, ident: str) -> EntranceTraffic:
    found = entrance_traffic(walk, walk.get(Entrance, ident)).value
    assert found is not None
    return found


def desk(walk: Walk) -> DeskQueue:
    found = desk_queue(walk).value
    assert found is not None
    return found


def test_load_and_blocking_of_one_call_unit() -> None:
    found = traffic_at(around(), "entrance-rear")
    # hold: 0.7·(12 + 25) + 0.3·30 = 34.9 s; load: 4 dwellings · 3/3 calls · 10/98 · 34.9/3600 = 0.003956916 E
    assert found.assumed_hold_s == pytest.approx(34.9)
    assert found.assumed_calls_count == pytest.approx(1.0)
    assert found.offered_erl == pytest.approx(0.003956916, rel=1e-6)
    # one line: B = A/(1 + A); all wait: C = A
    assert found.taken_ratio == pytest.approx(0.003956916 / 1.003956916, rel=1e-6)
    assert found.taken_in_line_ratio == pytest.approx(0.003956916, rel=1e-6)
    assert (found.lines_count, found.needed_count) == (1, 1)


def test_calls_to_the_desk_hold_the_call_unit_as_long_as_the_desk_talks() -> None:
    # only the main entrance calls the desk: 0.9·34.9 + 0.1·60 = 37.41 s
    assert traffic_at(around(), "entrance-main").assumed_hold_s == pytest.approx(37.41)
    assert traffic_at(around(without(Unit, "smu-desk")), "entrance-main").assumed_hold_s == pytest.approx(34.9)


def test_a_second_call_unit_is_a_second_line() -> None:
    busy = put_site(habits=CallHabits(calls_per_dwelling_count=300.0))
    second = Unit(id="vcu-2", name="VCU second", kind=sound_site().units[0].kind, profile="vcu-keypad",
                  entrance="entrance-rear")  # fmt: skip
    one, two = traffic_at(around(busy), "entrance-rear"), traffic_at(around(busy, plus(second)), "entrance-rear")
    # A = 0.3956916: B(1) = 0.283509, B(2) = A·B(1)/(2 + A·B(1)) = 0.0531122
    assert one.taken_ratio == pytest.approx(0.283509, abs=1e-6)
    assert two.taken_ratio == pytest.approx(0.0531122, abs=1e-6)
    # 5.3 % is more than the 5 % allowed, so a third is needed whichever are planned
    assert (one.needed_count, two.needed_count, two.lines_count) == (3, 3, 2)


def test_a_registrar_that_holds_many_calls_is_still_one_call_unit() -> None:
    assert traffic_at(around(put_profile("vcu-direct", calls_max_count=8)), "entrance-main").lines_count == 1


def test_no_number_of_call_units_keeps_a_goal_of_nobody() -> None:
    found = traffic_at(around(put_site(habits=CallHabits(busy_ratio=0.0))), "entrance-main")
    assert found.needed_count is None


def test_the_question_does_not_arise_without_call_unit() -> None:
    walk = around(without(Unit, "vcu-rear"))
    assert entrance_traffic(walk, walk.get(Entrance, "entrance-rear")) == Study(
        walk.get(Entrance, "entrance-rear").subject, "Visitors at the entrance in the busiest hour (an estimate)"
    )
    # its visitors come to the two others: 3/2 calls a dwelling
    assert traffic_at(walk, "entrance-gate").assumed_calls_count == pytest.approx(1.5)


def test_receivers_that_ring_in_turn_hold_the_call_unit_longer() -> None:
    in_turn = around(put(Dwelling, "flat-1", ring_mode=RingMode.IN_TURN, ring_s=20))
    # two receivers in flat-1, one after the other
    assert ring_limit_s(in_turn, in_turn.get(Dwelling, "flat-1")) == 40.0
    assert ring_limit_s(in_turn, in_turn.get(Dwelling, "flat-2")) == 30.0
    # mean limit 32.5 s: 25.9 + 0.3·32.5 = 35.65 s
    assert traffic_at(in_turn, "entrance-rear").assumed_hold_s == pytest.approx(35.65)


@given(calls_count=st.floats(0.0, 500.0), more_count=st.floats(0.0, 500.0), goal_ratio=st.floats(0.001, 0.9))
def test_more_visitors_find_it_taken_more_often(calls_count: float, more_count: float, goal_ratio: float) -> None:
    fewer, more = (
        traffic_at(
            around(put_site(habits=CallHabits(calls_per_dwelling_count=count, busy_ratio=goal_ratio))), "entrance-main"
        )
        for count in (calls_count, calls_count + more_count)
    )
    assert fewer.taken_ratio <= more.taken_ratio <= more.taken_in_line_ratio
    assert (fewer.needed_count or 0) <= (more.needed_count or 0)


@given(st.sets(st.sampled_from(["vcu-main", "vcu-rear", "vcu-gate"]), max_size=2))
def test_all_visitors_come_to_some_entrance(gone: set[str]) -> None:
    walk = around(without(Unit, *gone))
    studies = [entrance_traffic(walk, entrance).value for entrance in walk.all(Entrance)]
    calls = sum(value.assumed_calls_count * value.dwellings_count for value in studies if value is not None)
    assert calls == pytest.approx(4 * 3.0)


def test_callers_of_the_desk() -> None:
    found = desk(around())
    # for the desk: 4 dwellings · 1 call from the main entrance · 0.1 = 0.4; 101 diverts there on no answer:
    # 1 · 0.9 · 0.3 = 0.27; together 0.67 calls a day, 0.67 · 10/98 · 60/3600 = 0.00113946 E
    assert found.assumed_calls_count == pytest.approx(0.67)
    assert found.offered_erl == pytest.approx(0.00113946, rel=1e-5)
    assert (found.positions_count, found.needed_count) == (1, 1)


def test_a_desk_that_takes_every_call() -> None:
    always = Divert(id="divert-all", cause=DivertCause.ALWAYS, to_desk="smu-desk")
    # all 12 calls of the day
    assert desk(around(plus(always))).assumed_calls_count == pytest.approx(12.0)


def test_no_desk_no_question_and_no_patience_no_answer() -> None:
    empty = desk_queue(around(without(Unit, "smu-desk")))
    assert (empty.value, empty.missing) == (None, ())
    hasty = desk_queue(around(put_site(habits=CallHabits(desk_patience_s=0.0))))
    assert hasty.missing == (Missing("site", "patience at the desk above 0 s"),)
    assert desk(around(put_site(habits=CallHabits(desk_within_ratio=1.0)))).needed_count is None


def test_a_registrar_with_fewer_calls_than_call_units() -> None:
    walk = around(put_profile("vcu-direct", calls_max_count=1))
    found = registrar_calls(walk, walk.get(Unit, "vcu-main")).value
    assert found is not None
    # 4 · 3 · 10/98 · 34.9/3600 = 0.01187075 E; one call: A/(1 + A) = 0.01173149
    assert found.offered_erl == pytest.approx(0.01187075, rel=1e-6)
    assert found.refused_ratio == pytest.approx(0.01173149, rel=1e-6)
    assert found.callers_count == 3


def test_a_registrar_refuses_none_where_it_holds_a_call_of_each_call_unit() -> None:
    walk = around(put_profile("vcu-direct", calls_max_count=3))
    found = registrar_calls(walk, walk.get(Unit, "vcu-main")).value
    assert found is not None
    assert found.refused_ratio == 0.0


def test_what_a_registrar_waits_for_and_who_is_none() -> None:
    walk = around(put_profile("vcu-direct", calls_max_count=None))
    assert registrar_calls(walk, walk.get(Unit, "vcu-main")).missing == (Missing("profile", "calls at once"),)
    # a receiver with which only another of its own dwelling registers
    alone = registrar_calls(walk, walk.get(Unit, "uru-1"))
    assert (alone.value, alone.missing) == (None, ())


def test_a_server_holds_the_calls_that_it_is_sized_for() -> None:
    server = SipServer(id="server", name="SIP 1", calls_max_count=1)
    walk = around(plus(server), put(Unit, "uru-2", registrar="server"), put(Unit, "uru-3", registrar="server"))
    found = registrar_calls(walk, server).value
    assert found is not None
    # 2 dwellings: 2 · 3 · 10/98 · 34.9/3600 = 0.00593537 E; one call: A/(1 + A) = 0.00590035
    assert (found.dwellings_count, found.callers_count, found.held_count) == (2, 3, 1)
    assert found.refused_ratio == pytest.approx(0.00590035, rel=1e-5)
    unsized = replace(server, calls_max_count=None)
    assert registrar_calls(walk, unsized).missing == (Missing("SIP server", "calls at once"),)
    idle = SipServer(id="idle", name="SIP 2")
    assert (registrar_calls(walk, idle).value, registrar_calls(walk, idle).missing) == (None, ())


def test_every_study_shows_its_workings() -> None:
    walk = around()
    made = entrance_traffic(walk, walk.get(Entrance, "entrance-main")).workings
    assert [one.calculation.id for one in made] == [
        "call_hold_s", "busy_erl", "needed_lines_count", "blocked_ratio", "waiting_ratio",
    ]  # fmt: skip
    assert [one.calculation.id for one in desk_queue(walk).workings] == [
        "busy_erl", "desk_service", "patient_positions_count",
    ]  # fmt: skip


def test_an_empty_site_asks_nothing() -> None:
    empty = desk_queue(Walk(Site(name="")))
    assert (empty.value, empty.missing) == (None, ())
