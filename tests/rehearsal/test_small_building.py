"""A small building end to end: what each call does there is said by hand in this file, from the words in yard.py."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from doorwright.kernel.observation import Stage
from doorwright.model.aspect import Aspect
from doorwright.model.calling import DivertCause
from doorwright.model.rehearsed import apart_of
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse.actors import Mood
from doorwright.rehearse.building import Building
from doorwright.rehearse.observed import observations
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import Rehearsal, outcome_of, rehearse
from doorwright.rehearse.script import Outcome
from doorwright.rehearse.symptoms import symptoms
from tests.rehearsal.yard import YARD

MONDAY_0700, MONDAY_0900 = 7 * 60, 9 * 60
ANSWERS, BUSY = Mood.ANSWERS, Mood.IS_BUSY
GATE = frozenset({("1", "door-gate")})
PORCH = frozenset({("1", "door-porch")})
BOTH = frozenset({("1", "door-porch"), ("2", "door-store")})


@pytest.fixture(scope="module")
def building() -> Building:
    plan = planned(Walk(YARD))
    made = Building(plan.boxes.values(), plan.nets)
    made.power_up()
    return made


def call(building: Building, unit: str, number: str, minute: int, **moods: Mood) -> Outcome:
    named = {ident.replace("_", "-"): mood for ident, mood in moods.items()}
    return outcome_of(building.visit(unit, number, minute=minute, moods=named))


def rang(*groups: str, took: str | None = None, freed: frozenset[tuple[str, str]] = frozenset()) -> Outcome:
    groups_rung = tuple(frozenset(group.split()) for group in groups)
    return Outcome(rang=groups_rung, took=took, freed=freed, both_heard=took is not None)


def test_everything_registers(building: Building) -> None:
    assert {actor.box.id: actor.registered for actor in building.actors.values()} == {
        "vcu-gate": None, "vcu-porch": True, "smu": True, "uru-1": True, "uru-2": True, "uru-2b": True, "uru-3": True,
        "uru-4": True,
    }  # fmt: skip


def test_a_home_answers_and_frees_its_doors(building: Building) -> None:
    assert call(building, "vcu-gate", "01", MONDAY_0700, uru_1=ANSWERS) == rang("uru-1", took="uru-1", freed=GATE)
    # 01 may free the store, 03 may not
    assert call(building, "vcu-porch", "01", MONDAY_0700, uru_1=ANSWERS) == rang("uru-1", took="uru-1", freed=BOTH)
    assert call(building, "vcu-porch", "03", MONDAY_0700, uru_3=ANSWERS) == rang("uru-3", took="uru-3", freed=PORCH)


def test_receivers_ring_in_turn(building: Building) -> None:
    took = call(building, "vcu-porch", "02", MONDAY_0700, uru_2b=ANSWERS)
    assert took == rang("uru-2", "uru-2b", took="uru-2b", freed=PORCH)


def test_the_desk_takes_the_calls_of_the_gate_in_its_hours(building: Building) -> None:
    # The gate does not call the desk, so its door's holders are the homes alone: the desk frees nothing there.
    assert call(building, "vcu-gate", "01", MONDAY_0900, smu=ANSWERS) == rang("smu", took="smu")


def test_nobody_answers_at_the_porch_so_the_desk_rings(building: Building) -> None:
    assert call(building, "vcu-porch", "01", MONDAY_0700, smu=ANSWERS) == rang("uru-1", "smu", took="smu", freed=BOTH)
    assert call(building, "vcu-gate", "01", MONDAY_0700, smu=ANSWERS) == rang("uru-1")


def test_a_busy_home_is_not_rung_elsewhere(building: Building) -> None:
    assert call(building, "vcu-porch", "01", MONDAY_0700, uru_1=BUSY, smu=ANSWERS) == rang()


def test_calls_to_one_home_go_to_another(building: Building) -> None:
    assert call(building, "vcu-porch", "04", MONDAY_0700, uru_3=ANSWERS) == rang("uru-3", took="uru-3", freed=PORCH)


def test_a_receiver_whose_registration_lapsed_does_not_ring(building: Building) -> None:
    entries = building.visit("vcu-porch", "03", minute=MONDAY_0700, moods={"uru-3": ANSWERS}, lapsed=["uru-3"])
    assert outcome_of(entries) == rang()


# the whole script


def rehearsed(site_walk: Walk, *, seed: int = 0, loss_ratio: float = 0.0) -> Rehearsal:
    plan = planned(site_walk, seed=seed)
    building = Building(plan.boxes.values(), plan.nets, seed=seed, loss_ratio=loss_ratio)
    return rehearse(site_walk, prove(site_walk), plan, building)


@pytest.fixture(scope="module")
def rehearsal() -> Rehearsal:
    return rehearsed(Walk(YARD))


def test_every_key_and_number_is_played_and_goes_as_proved(rehearsal: Rehearsal) -> None:
    assert not rehearsal.differing
    assert not rehearsal.not_played
    assert symptoms(planned(Walk(YARD)), rehearsal) == ()
    calls = {(one.play.unit, one.play.key, one.play.called) for one in rehearsal.played}
    homes = [f"home-{number}" for number in (1, 2, 3, 4)]
    by_key = {("vcu-porch", f"key 0.{slot}", called) for slot, called in enumerate([*homes, "smu"], start=1)}
    assert calls == {*(("vcu-gate", None, home) for home in homes), *by_key}


def test_both_edges_of_the_desks_hours_are_played_at_the_gate(rehearsal: Rehearsal) -> None:
    minutes = {one.play.minute for one in rehearsal.played if one.play.unit == "vcu-gate"}
    # Monday 00:00, the last minute before 08:00, 08:00 itself, the last minute before 18:00
    assert minutes == {0, 8 * 60 - 1, 8 * 60, 18 * 60 - 1}


def test_the_ways_of_a_call_from_the_porch_are_played(rehearsal: Rehearsal) -> None:
    ways = {one.play.way for one in rehearsal.played if one.play.key == "key 0.1"}
    assert ways == {(), (DivertCause.NO_ANSWER,)}


def test_the_same_seed_gives_the_same_rehearsal_to_the_microsecond() -> None:
    one, other = rehearsed(Walk(YARD), seed=3, loss_ratio=0.02), rehearsed(Walk(YARD), seed=3, loss_ratio=0.02)
    assert one.building.world.now_s == other.building.world.now_s
    assert one.played == other.played


def test_calls_survive_a_network_that_loses_packets() -> None:
    # RFC 3261 §17 sends again, RFC 4733 §2.5.1.4 ends each key three times: one packet in fifty is nothing to them
    assert not rehearsed(Walk(YARD), seed=1, loss_ratio=0.02).differing


def test_what_the_plan_lacks_is_left_out_and_said() -> None:
    units = tuple(replace(unit, address=None) if unit.id == "uru-1" else unit for unit in YARD.units)
    walk = Walk(YARD.with_tables({Unit: units}))
    plan = planned(walk)
    assert [(one.id, one.lacks) for one in plan.left_out] == [("uru-1", "its IPv4 address")]
    made = rehearse(walk, prove(walk), plan, Building(plan.boxes.values(), plan.nets))
    assert not made.differing
    assert {one.called for one in made.not_played} == {"home-1"}
    assert all("Receiver 1" in one.why for one in made.not_played)


def test_what_was_seen_becomes_observations(rehearsal: Rehearsal) -> None:
    numbers = iter(range(10_000))
    seen = observations(
        Walk(YARD), rehearsal, new_id=lambda: f"seen-{next(numbers)}", seen_at=datetime(2031, 5, 5, tzinfo=UTC),
        seen_by="A. Planner",
    )  # fmt: skip
    assert {one.stage for one in seen} == {Stage.REHEARSED}
    of_uru = {one.aspect: one.value for one in seen if one.subject.id == "uru-2b"}
    assert of_uru == {
        Aspect.ADDRESS: "198.51.100.22", Aspect.GATEWAY: "198.51.100.1", Aspect.VLAN: "21",
        Aspect.REGISTRAR: "198.51.100.12", Aspect.CALL_NUMBER: "02", Aspect.REGISTERED: "yes",
    }  # fmt: skip
    made_count = sum(one.play.unit == "vcu-porch" for one in rehearsal.played)
    calls = {one.aspect: one.value for one in seen if one.subject.id == "vcu-porch" and "call" in one.aspect}
    assert calls == {"calls": f"{made_count} of {made_count} as proved"}


def test_calls_that_went_otherwise_are_summed_up_by_key(rehearsal: Rehearsal) -> None:
    astray = [
        replace(one, happened=Outcome(rang=(frozenset({"uru-3"}),)))
        if one.play.unit == "vcu-porch" and one.play.called == "home-1"
        else one
        for one in rehearsal.played
    ]
    seen = observations(
        Walk(YARD), replace(rehearsal, played=tuple(astray)), new_id=lambda: "seen", seen_by="A. Planner",
        seen_at=datetime(2031, 5, 5, tzinfo=UTC),
    )  # fmt: skip
    (value,) = (one.value for one in seen if one.aspect == "call: key 0.1 to 01")
    apart = apart_of(value)
    assert apart is not None
    # taken at once; nobody answers (then the desk takes it): one call each, at one stretch of the week
    assert (apart.count, apart.of_count, apart.when) == (2, 2, "Mon 00:00")
    assert apart.happened == "Receiver 3 rang"
    assert apart.proved.startswith("Receiver 1 rang; Receiver 1 took it; digit 1 freed Porch door; digit 2 freed Store")
