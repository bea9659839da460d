"""The solver's model against every order there is: its cost is the exact cost, and its bound is below all of them."""

from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations_with_replacement, product
from typing import Any

import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.firmware.hubs import bounds_by_start, hubs_of
from doorwright.plan.firmware.jobs import Task, task_of
from doorwright.plan.firmware.orders import ordered_schedules
from doorwright.plan.firmware.schedule import Schedule, outcome
from doorwright.plan.firmware.solve import alike_stations, solve
from doorwright.plan.firmware.steps import steps_to
from tests.unit.plan.block import block, plus, server, unit
from tests.unit.plan.firmware.stepping import TYPES, line, stepping

few = settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
QUICK: dict[str, Any] = {"restart_s": 0.0, "settle_s": 0.0}
SLOT_MIN = 10
SLOTS_COUNT = 5


def task_for(site: Site, targets: dict[str, str], technicians: int = 1) -> Task:
    walk = Walk(site)
    return task_of(walk, steps_to(walk, targets).steps, technicians)


def every_order(task: Task, slots_count: int) -> Iterator[Schedule]:
    """Yield every schedule that is done in time and in which nobody works in two places at once."""
    rows = [range(slots_count - one.timing.slots(SLOT_MIN) + 1) for one in task.stations.values()]
    visits: list[list[tuple[int, ...]]] = []
    for group in task.groups:
        may_start = range(slots_count - group.timing.slots(SLOT_MIN) + 1) if group.timing else range(0)
        count = len(group.dwellings) if group.timing else 0
        visits.append(list(combinations_with_replacement(may_start, count)))
    for starts in product(*rows):
        for by_group in product(*visits):
            busy = [0] * slots_count
            jobs = list(zip([one.timing for one in task.stations.values()], starts, strict=True))
            jobs += [
                (group.timing, start)
                for group, of_it in zip(task.groups, by_group, strict=True)
                for start in of_it
                if group.timing
            ]
            for timing, start in jobs:
                for offset, minutes in enumerate(timing.usage(SLOT_MIN)):
                    busy[start + offset] += minutes
            if max(busy) <= task.technicians_count * SLOT_MIN:
                yield Schedule(
                    slot_min=SLOT_MIN,
                    stations=dict(zip(task.stations, starts, strict=True)),
                    groups=tuple({start: of_it.count(start) for start in of_it} for of_it in by_group),
                )


@st.composite
def tasks(draw: st.DrawFn) -> Task:
    """Two or three dwellings, one to three entrances, a server or not, and a step of some of the types."""
    made = block({"A": {1: [str(n) for n in range(1, draw(st.integers(2, 3)) + 1)]}}, vcu="vcu-directory")
    for name in ("gate", "garage")[: draw(st.integers(0, 2))]:
        made = plus(
            made,
            Entrance(id=name, name=name, serves_buildings=("block",)),
            unit(f"vcu {name}", entrance=name, profile=draw(st.sampled_from(["vcu-directory", "vcu-keypad"]))),
        )
    if draw(st.booleans()):
        made = plus(made, server(address="192.0.2.9"))
    long_s = draw(st.sampled_from([300.0, 900.0]))
    last = line("2", draw(st.sampled_from([1, 2])), keeps=draw(st.booleans()), step_s=long_s)
    site = stepping(made, line("1", 1), last, now="1", **QUICK)
    site = replace(
        site, units=tuple(replace(one, firmware=draw(st.sampled_from(["1", "1", "2"]))) for one in site.units)
    )
    used = [key for key in TYPES if key in {one.profile for one in site.units}]
    # a type that is left behind may part dwellings for good
    targets = {key: "2" for key in used if draw(st.integers(0, 5))}
    return task_for(site, targets, draw(st.integers(1, 2)))


@few
@given(task=tasks())
def test_the_optimum_of_the_model_is_the_best_of_every_order(task: Task) -> None:
    begun = min(ordered_schedules(task, SLOT_MIN), key=lambda order: outcome(task, order).end_slot)
    assume(0 < outcome(task, begun).end_slot <= SLOTS_COUNT)
    orders = [outcome(task, one) for one in every_order(task, SLOTS_COUNT)]
    solved = solve(task, begun, SLOTS_COUNT, 5.0)
    assert solved is not None
    assert all(solved.lost_bound <= one.lost_slots for one in orders)
    assert solved.lost_bound == solved.outcome.lost_slots
    assert solved.outcome.rank == min(one.rank for one in orders)
    assert solved.end_bound == solved.outcome.end_slot


@few
@given(task=tasks())
def test_a_hubs_bound_is_below_every_order_with_its_start(task: Task) -> None:
    hubs = hubs_of(task)
    assert len({number for hub in hubs for number in hub.groups}) == sum(len(hub.groups) for hub in hubs)
    bounds = {hub: bounds_by_start(task, hub, SLOT_MIN, SLOTS_COUNT) for hub in hubs}
    for order in every_order(task, SLOTS_COUNT) if hubs else ():
        for hub in hubs:
            only = replace(
                task,
                groups=tuple(
                    one if number in hub.groups else replace(one, paths=frozenset())
                    for number, one in enumerate(task.groups)
                ),
            )
            exact = outcome(only, order)
            # bounds count to the last slot, an outcome until the last job is done
            lost = exact.lost_slots + exact.unreached_after * (SLOTS_COUNT - exact.end_slot)
            assert bounds[hub][order.stations[hub.ident]] <= lost


def test_dwellings_parted_for_good_are_counted_until_the_work_is_done() -> None:
    """Only the registrar steps, and leaves its two receivers behind.

    By hand: 1 minute to start, 5 to load, 2 for each end entered, of which it has three: 12 minutes, two slots of ten.
    Both dwellings are lost in both of them, and for good. A horizon of five slots must not add to that.
    """
    site = stepping(
        block({"A": {1: ["1", "2"]}}), line("1", 1), line("2", 2, keeps=False, step_s=300.0), now="1", **QUICK
    )
    task = task_for(site, {"vcu-directory": "2"})
    begun = Schedule(slot_min=SLOT_MIN, stations=dict.fromkeys(task.stations, 0), groups=({},))
    assert outcome(task, begun).unreached_after == 2
    solved = solve(task, begun, 5, 1.0)
    assert solved is not None
    assert (solved.outcome.lost_slots, solved.lost_bound, solved.end_bound) == (4, 4, 2)


def test_a_registrars_downtime_is_seen_without_search() -> None:
    """By hand: the registrar has 41 ends of two minutes, 1 to start and 5 to load: 88 minutes, nine slots of ten.

    Whenever it starts, all 40 dwellings are lost for these nine slots at least.
    """
    homes = [str(number) for number in range(1, 41)]
    site = stepping(block({"A": {1: homes}}), line("1", 1), line("2", 2, keeps=False, step_s=300.0), now="1", **QUICK)
    task = task_for(site, {"vcu-directory": "2", "uru-video": "2"})
    (hub,) = hubs_of(task)
    assert min(bounds_by_start(task, hub, SLOT_MIN, 40)) >= 40 * 9


def test_a_way_that_needs_more_than_another_is_left_out() -> None:
    made = plus(
        block({"A": {1: ["1", "2"]}}),
        Entrance(id="gate", name="Gate", serves_buildings=("block",)),
        unit("vcu gate", entrance="gate"),
    )
    site = stepping(made, line("1", 1), line("2", 2), now="1")
    task = task_for(site, {"vcu-directory": "2", "uru-video": "2"})
    # a call from the other entrance passes the registrar too: whenever it gets through, the registrar's own would
    ((way,),) = (group.paths for group in task.groups)
    assert way.moving == {one.registrar for one in site.units if one.dwelling}


@pytest.mark.parametrize(("by_server", "sets"), [(True, [2]), (False, [1, 1])])
def test_entrances_at_a_server_may_change_places(by_server: bool, sets: list[int]) -> None:
    made = plus(
        block({"A": {1: ["1", "2"]}}),
        Entrance(id="gate", name="Gate", serves_buildings=("block",)),
        unit("vcu gate", entrance="gate"),
    )
    if by_server:
        made = plus(made, server(address="192.0.2.9"))
    task = task_for(stepping(made, line("1", 1), line("2", 2), now="1"), {"vcu-directory": "2", "uru-video": "2"})
    assert [len(alike) for alike in alike_stations(task)] == sets
