"""The order of work: replayed minute by minute, compared with every order there is, and made without a solver."""

from dataclasses import replace
from itertools import product
from typing import Any

import pytest

from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.firmware import waves
from doorwright.plan.firmware.jobs import Task, task_of
from doorwright.plan.firmware.orders import ordered_schedules
from doorwright.plan.firmware.schedule import outcome
from doorwright.plan.firmware.steps import steps_to
from doorwright.plan.firmware.waves import WavePlan, plan_waves
from tests.unit.plan.block import block, plus, put, server, unit
from tests.unit.plan.firmware.stepping import TYPES, busy_by_slot, line, stepping, unreached_by_minute

CROSSING = (line("1", 1), line("2", 2, keeps=False, step_s=300.0))
SIDEWAYS = (line("1", 1), line("2", 1, step_s=300.0))
QUICK: dict[str, Any] = {"restart_s": 60.0, "settle_s": 120.0}

ONE_ENTRANCE = block({"A": {1: ["1", "2", "3"]}})
TWO_ENTRANCES = plus(
    block({"A": {1: ["1", "2"]}}),
    Entrance(id="gate", name="Gate", serves_buildings=("block",)),
    unit("vcu gate", entrance="gate"),
)
TWO_BY_SERVER = plus(TWO_ENTRANCES, server(address="192.0.2.9"))


def all_to(site: Site, version: str = "2", technicians: int = 1) -> tuple[Walk, Task]:
    walk = Walk(site)
    used = {one.profile for one in site.units}
    return walk, task_of(walk, steps_to(walk, {key: version for key in TYPES if key in used}).steps, technicians)


def plan_of(site: Site, effort: float = 1.0, technicians: int = 1) -> tuple[Walk, WavePlan]:
    walk, task = all_to(site, technicians=technicians)
    return walk, plan_waves(walk, task, effort)


SITES = {
    "one entrance, generations cross": stepping(ONE_ENTRANCE, *CROSSING, now="1", **QUICK),
    "one entrance, generations stay": stepping(ONE_ENTRANCE, *SIDEWAYS, now="1", **QUICK),
    "embedded registrar and a second entrance": stepping(TWO_ENTRANCES, *CROSSING, now="1", **QUICK),
    "a server and two entrances": stepping(TWO_BY_SERVER, *SIDEWAYS, now="1", **QUICK),
    "a server, generations cross": stepping(TWO_BY_SERVER, *CROSSING, now="1", **QUICK),
    "half done": put(stepping(TWO_BY_SERVER, *CROSSING, now="1", **QUICK), "uru A/1", firmware="2"),
}


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("effort", [0.0, 0.5])
def test_the_count_is_what_a_replay_finds(name: str, effort: float) -> None:
    walk, plan = plan_of(SITES[name], effort)
    by_minute = unreached_by_minute(walk, plan)
    assert by_minute == [count for count in plan.unreached for _ in range(plan.slot_min)]
    assert plan.lost_dwelling_min == sum(by_minute)


@pytest.mark.parametrize("technicians", [1, 2])
def test_no_slot_has_more_work_than_technicians(technicians: int) -> None:
    for site in SITES.values():
        walk, plan = plan_of(site, 0.2, technicians)
        assert all(minutes <= technicians * plan.slot_min for minutes in busy_by_slot(walk, plan).values())
        assert sum(busy_by_slot(walk, plan).values()) == plan.work_min


def test_every_unit_that_steps_has_one_turn() -> None:
    for site in SITES.values():
        walk, plan = plan_of(site, 0.2)
        turns = [turn.step.unit.id for wave in plan.waves for turn in wave.turns]
        assert sorted(turns) == sorted(one.id for one in walk.site.units if one.firmware == "1")


@pytest.mark.parametrize("name", ["embedded registrar and a second entrance", "a server, generations cross"])
def test_no_order_of_all_is_better(name: str) -> None:
    """Every start of every job, each counted here by hand, slot by slot."""
    site = SITES[name]
    walk, task = all_to(site)
    found = plan_waves(walk, task, 5.0)
    slots_count = max(outcome(task, one).end_slot for one in ordered_schedules(task, found.slot_min))
    best = min(_every_order(walk, task, found.slot_min, slots_count))
    assert (found.lost_dwelling_min // found.slot_min, found.finish_min // found.slot_min) == best
    assert found.quality.lost_bound_min == found.lost_dwelling_min
    assert found.gap_ratio == 0.0


def _every_order(walk: Walk, task: Task, slot_min: int, slots_count: int) -> list[tuple[int, int]]:
    site = walk.site
    vcus = [one for one in site.units if one.entrance]
    homes = [one for one in site.units if one.dwelling]
    jobs = [*vcus, *homes]
    durations, hands = {}, {}
    for one in jobs:
        group = next((g for g in task.groups if one.dwelling in g.dwellings), None)
        timing = group.timing if group else task.stations[one.id].timing
        assert timing is not None
        durations[one.id], hands[one.id] = timing.slots(slot_min), timing.usage(slot_min)
    registrar = {one.id: one.registrar or one.id for one in jobs}
    ranges = [range(slots_count - durations[one.id] + 1) for one in jobs]
    results = []
    for starts in product(*ranges):
        at = {one.id: start for one, start in zip(jobs, starts, strict=True)}
        busy = [0] * slots_count
        for ident, start in at.items():
            for offset, minutes in enumerate(hands[ident]):
                busy[start + offset] += minutes
        if max(busy) > slot_min:
            continue
        end = max(start + durations[ident] for ident, start in at.items())
        lost = 0
        for slot in range(end):
            state = {
                ident: 1 if slot < start else 2 if slot >= start + durations[ident] else 0
                for ident, start in at.items()
            }
            for home in homes:
                ways = [
                    {state[vcu.id], state[home.id], state.get(registrar[vcu.id], state[vcu.id])}
                    for vcu in vcus
                    if registrar[vcu.id] == registrar[home.id]
                ]
                lost += not any(len(way) == 1 and 0 not in way for way in ways)
        results.append((lost, end))
    return results


def test_with_a_server_and_two_entrances_only_the_own_receiver_is_missed() -> None:
    _, plan = plan_of(SITES["a server and two entrances"])
    # by hand: each of two receivers is down once for 1 + 6 + 2 minutes, two slots of five; the entrances take turns
    assert plan.lost_dwelling_min == 2 * 10
    assert plan.quality.lost_bound_min == 20
    assert max(plan.unreached) <= 2


def test_visits_to_one_dwelling_are_one() -> None:
    site = stepping(plus(ONE_ENTRANCE, unit("uru second", dwelling="A/2")), *CROSSING, now="1", **QUICK)
    _, plan = plan_of(site, 0.0)
    turns = plan.turns
    assert turns["uru second"].start_min == turns["uru A/2"].start_min
    assert turns["uru second"].end_min == turns["uru A/2"].end_min


def test_dwellings_that_need_the_same_are_one_group() -> None:
    site = stepping(
        block({"A": {level: [f"{level}{n}" for n in range(50)] for level in range(1, 11)}}), *CROSSING, now="1"
    )
    _, task = all_to(site)
    assert [len(group.dwellings) for group in task.groups] == [500]


def test_what_stays_behind_is_cut_off_for_good() -> None:
    site = SITES["one entrance, generations cross"]
    walk = Walk(site)
    plan = plan_waves(walk, task_of(walk, steps_to(walk, {"vcu-directory": "2"}).steps, 1), 0.0)
    assert plan.unreached_after == 3
    assert plan_of(site)[1].unreached_after == 0


def test_who_cannot_be_judged_is_told_and_not_counted() -> None:
    site = put(SITES["one entrance, generations cross"], "uru A/1", firmware=None)
    _, task = all_to(site)
    assert dict(task.unjudged) == {"A/1": "the pairing generation of uru A/1 is not known"}
    assert task.counted == 2
    elsewhere = put(site, "uru A/2", registrar=None)
    assert "A/2" in all_to(elsewhere)[1].unjudged


def test_the_same_site_gives_the_same_plan() -> None:
    site = SITES["embedded registrar and a second entrance"]
    assert plan_of(site, 0.3)[1] == plan_of(site, 0.3)[1]


def test_without_a_solver_the_plan_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    walk, task = all_to(SITES["one entrance, generations cross"])
    monkeypatch.setattr(waves, "available", lambda: False)
    plan = plan_waves(walk, task, 1.0)
    assert plan.quality.how == "the best of six fixed orders, because the solver is not installed"
    assert plan.gap_ratio is None


def test_a_site_too_big_is_said_to_be(monkeypatch: pytest.MonkeyPatch) -> None:
    walk, task = all_to(SITES["one entrance, generations cross"])
    monkeypatch.setattr(waves, "LARGEST_COUNT", 10)
    assert plan_waves(walk, task, 1.0).quality.how.endswith("the site is too big for the solver")


def test_a_solver_that_finds_nothing_is_said_to(monkeypatch: pytest.MonkeyPatch) -> None:
    walk, task = all_to(SITES["one entrance, generations cross"])
    monkeypatch.setattr(waves, "solve", lambda *_: None)
    assert plan_waves(walk, task, 1.0).quality.how.endswith("found nothing in the time it was given")


def test_nothing_to_step_is_no_work() -> None:
    site = replace(SITES["one entrance, generations cross"])
    walk = Walk(site)
    plan = plan_waves(walk, task_of(walk, (), 1), 1.0)
    assert (plan.waves, plan.finish_min, plan.work_min, plan.waiting_min) == ((), 0, 0, 0)


def test_hours_of_work_are_counted_in_longer_slots() -> None:
    site = stepping(block({"A": {1: [str(n) for n in range(1, 201)]}}), *CROSSING, now="1")
    _, plan = plan_of(site, 0.0)
    # 200 visits of three minutes and a registrar with 201 ends of two: more than sixteen hours for one
    assert plan.work_min == 200 * 3 + 1 + 201 * 2
    assert plan.slot_min > 5
    assert plan.waiting_min == plan.finish_min - plan.work_min >= 0
