"""Switches in one riser, worked out by hand; trees of uplinks, what exists, and what cannot be done."""

from dataclasses import replace
from decimal import Decimal

import pytest

from doorwright.kernel.errors import Refused
from doorwright.plan.placement import (
    Crossing,
    Cupboard,
    Demand,
    Existing,
    Impossible,
    Kept,
    Placement,
    Prices,
    Problem,
    Root,
    Routes,
    Spot,
    Status,
    SwitchType,
    place,
)
from doorwright.plan.placement.routes import Measure
from tests.unit.plan.placement.soundness import cost_of, faults

LEVELS = {str(number): 3.0 * number for number in range(41)}
ROUTES = Routes(
    heights_m=LEVELS, risers_m={"A": (0.0, 0.0), "B": (20.0, 10.0)}, crossings=(Crossing(level="0"),), slack_m=4.0
)
SMALL = SwitchType(key="24 ports", ports_count=24, uplinks_count=2, budget_w=370, port_w=30, cost=Decimal(400))
LARGE = replace(SMALL, key="48 ports", ports_count=48, budget_w=740, cost=Decimal(900))
PRICES = Prices(cable_per_m=Decimal(1), copper_uplink_per_m=Decimal(1), optical_uplink_per_m=Decimal(1))


def cupboard(level: str, core: str = "A", room_count: int | None = 2) -> Cupboard:
    return Cupboard(key=f"{core}{level}", spot=Spot(core=core, level=level), room_count=room_count)


def units(level: str, count: int, core: str = "A", power_w: float = 7.0, run_m: float = 10.0) -> tuple[Demand, ...]:
    spot = Spot(core=core, level=level, run_m=run_m)
    return tuple(Demand(key=f"{core}{level}-{number}", spot=spot, power_w=power_w) for number in range(1, count + 1))


def question(*demands: Demand, at: tuple[Cupboard, ...], types: tuple[SwitchType, ...] = (SMALL,)) -> Problem:
    return Problem(
        cupboards=at, demands=demands, types=types, routes=ROUTES, root=Root(cupboard=at[0].key), prices=PRICES
    )


def planned(problem: Problem) -> Placement:
    plan = place(problem, effort_s=8)
    assert isinstance(plan, Placement), plan
    assert faults(problem, plan) == []
    assert problem.prices is None or plan.cost == cost_of(problem, plan)
    return plan


def refused(problem: Problem) -> Impossible:
    answer = place(problem, effort_s=8)
    assert isinstance(answer, Impossible)
    return answer


def test_a_run_follows_riser_crossing_and_riser() -> None:
    # 5 m out, 6 m down from level 2, 20 + 10 m across on the ground, 9 m up to level 3, 1.5 m out, 4 m of slack
    start, end = Spot(core="A", level="2", run_m=5), Spot(core="B", level="3", run_m=1.5)
    assert Measure(ROUTES).run_cm(start, end) == 5550
    assert Measure(replace(ROUTES, crossings=())).run_cm(start, end) is None


def test_a_way_may_lead_through_a_third_core() -> None:
    routes = Routes(
        heights_m=LEVELS,
        risers_m={"A": (0, 0), "B": (10, 0), "C": (30, 0)},
        crossings=(Crossing(level="0", cores=frozenset("AB")), Crossing(level="2", cores=frozenset("BC"))),
    )
    # 10 m across on level 0, 6 m up in B, 20 m across on level 2, 3 m up to level 3
    assert Measure(routes).run_cm(Spot(core="A", level="0"), Spot(core="C", level="3")) == 3900


def test_one_switch_stands_where_the_cable_is_shortest() -> None:
    # 10 units on level 4, 3 on level 1. With the switch on level 4, ten runs of 14 m and three of 9 + 14 m: 209 m, and
    # an uplink of 12 + 4 m; on level 1 ten of 9 + 14 m and three of 14 m, with an uplink of 3 + 4 m: 272 + 7 m.
    plan = planned(question(*units("4", 10), *units("1", 3), at=(cupboard("0"), cupboard("1"), cupboard("4"))))
    assert [one.cupboard for one in plan.switches] == ["A4"]
    assert plan.cable_m == 209 + 16
    assert plan.cost == 400 + 209 + 16
    assert plan.status is Status.BEST
    assert plan.gap_ratio == 0


def test_twenty_units_and_their_spare_do_not_fit_24_ports() -> None:
    # a fifth of 24 ports stays free: 19 may be used
    plan = planned(question(*units("1", 20), at=(cupboard("0", room_count=0), cupboard("1"))))
    assert len(plan.switches) == 2
    second = plan.why["A1/2"]
    assert "ports: 20 units + 20% spare do not fit 24 ports (19 may be used)" in second
    assert len(planned(question(*units("1", 19), at=(cupboard("0"), cupboard("1")))).switches) == 1


def test_watts_ask_for_a_second_switch() -> None:
    # a fifth of 370 W stays free: 296 W, enough for 9 units at 30 W, not for 10
    plan = planned(question(*units("1", 10, power_w=30), at=(cupboard("0", room_count=0), cupboard("1"))))
    assert len(plan.switches) == 2
    assert any("PoE: 300 W + 20% spare do not fit" in line for line in plan.why["A1/2"])


def test_a_far_level_has_a_switch_of_its_own_and_is_told_why() -> None:
    # from level 0 to level 30: 90 m of riser, 10 m out, 4 m of slack; the fibre has 90 + 4 m
    takes_fibre = replace(SMALL, optical=True)
    plan = planned(question(*units("0", 4), *units("30", 2), at=(cupboard("0"), cupboard("30")), types=(takes_fibre,)))
    assert [one.cupboard for one in plan.switches] == ["A0", "A30"]
    assert "2 units of level 30 would be without: the next switch is 104.0 m away" in plan.why["A30/1"]
    far = next(link for link in plan.uplinks if link.switch == "A30/1")
    assert (far.optical, far.length_m) == (True, 94.0)


def test_without_prices_switches_count_before_cable() -> None:
    problem = question(*units("1", 19), *units("9", 19), at=(cupboard("1"), cupboard("9")), types=(SMALL, LARGE))
    plan = planned(replace(problem, prices=None))
    # 38 units fit the 38 usable ports of one large switch: 19 runs of 14 m, 19 of 24 + 14 m, no uplink on level 1
    assert [(one.type, one.cupboard) for one in plan.switches] == [("48 ports", "A1")]
    assert [aim.what for aim in plan.aims] == ["new switches", "cable"]
    assert [int(aim.value) for aim in plan.aims] == [int(aim.bound) for aim in plan.aims] == [1, 19 * 14 + 19 * 38]
    assert plan.cost is None


def test_a_root_with_one_port_is_reached_through_a_switch_that_distributes() -> None:
    at = (cupboard("0", room_count=0), replace(cupboard("5"), distributes=True), cupboard("9"))
    problem = question(*units("5", 19), *units("9", 19), at=at)
    tree = planned(replace(problem, root=Root(cupboard="A0", ports_count=1)))
    assert [(link.switch, link.to) for link in tree.uplinks] == [("A5/1", None), ("A9/1", "A5/1")]
    assert "feeds 1 more switch" in tree.why["A5/1"]
    no_tree = tuple(replace(one, distributes=False) for one in at)
    answer = refused(replace(problem, cupboards=no_tree, root=Root(cupboard="A0", ports_count=1)))
    assert answer.proven
    assert "with more ports at the root for uplinks there is a plan" in answer.reasons


def test_the_root_may_be_one_of_the_switches() -> None:
    problem = question(*units("0", 19), *units("1", 19), at=(cupboard("0"), cupboard("1")))
    plan = planned(replace(problem, root=Root(cupboard="A0", placed=True)))
    assert plan.root_switch == "A0/1"
    assert [(link.switch, link.to) for link in plan.uplinks] == [("A1/1", "A0/1")]
    assert "is the root that all uplinks lead to" in plan.why["A0/1"]


def tight(*powers_w: float, room_count: int) -> Problem:
    """Units on level 1 and switches of 10 W without spare."""
    kind = replace(SMALL, budget_w=10, port_w=10)
    at = (cupboard("0", room_count=0), cupboard("1", room_count=room_count))
    demands = tuple(replace(one, power_w=power_w) for one, power_w in zip(units("1", 9), powers_w, strict=False))
    return replace(question(*demands, at=at, types=(kind,)), spare_ports_ratio=0.0, spare_power_ratio=0.0)


def test_watts_that_fit_two_switches_together_but_neither_alone_want_a_third() -> None:
    # 7 + 5 + 4 + 4 W are the 20 W of two switches, but nothing joins 7 W within 10 W, and 13 W are too much for one
    assert len(planned(tight(7, 5, 4, 4, room_count=3)).switches) == 3
    assert refused(tight(7, 5, 4, 4, room_count=2)).proven


def test_units_are_shared_out_even_where_the_hungriest_first_does_not_fit() -> None:
    # 4 + 4 W on the first leaves 3 + 3 + 3 + 3 W, one too many for 10 W; 4 + 3 + 3 W on each of two fits
    plan = planned(tight(4, 4, 3, 3, 3, 3, room_count=2))
    assert len(plan.switches) == 2
    assert plan.status is Status.BEST


def existing_problem(count: int, on_it: int) -> Problem:
    there = Existing(
        key="old",
        type=SMALL.key,
        cupboard="A1",
        runs=tuple(Kept(demand=f"A1-{n}", port=n + 2) for n in range(1, on_it + 1)),
    )
    problem = question(*units("1", count), at=(cupboard("0", room_count=0), cupboard("1"), cupboard("2")))
    return replace(problem, existing=(there,))


def test_what_is_there_stays_and_new_units_take_its_free_ports() -> None:
    plan = planned(existing_problem(12, 10))
    assert [one.key for one in plan.switches] == ["old"]
    ports = {run.demand: run.port for run in plan.runs}
    assert [ports[f"A1-{n}"] for n in range(1, 11)] == list(range(3, 13))
    assert (ports["A1-11"], ports["A1-12"]) == (1, 2)
    assert plan.cost == 2 * 14  # two runs of 10 m and 4 m of slack


def test_runs_in_the_spare_stay_but_no_new_one_joins_them() -> None:
    plan = planned(existing_problem(22, 21))
    assert plan.moved == {}
    assert [run.demand for run in plan.runs if run.new] == ["A1-22"]
    assert {run.switch for run in plan.runs if run.new} == {"A1/1"}


def test_a_run_that_cannot_stay_moves_and_is_told() -> None:
    problem = existing_problem(3, 3)
    far = tuple(
        replace(one, spot=replace(one.spot, level="33")) if one.key == "A1-2" else one for one in problem.demands
    )
    types = (replace(SMALL, optical=True),)
    plan = planned(replace(problem, demands=far, cupboards=(*problem.cupboards, cupboard("30")), types=types))
    assert list(plan.moved) == ["A1-2"]
    assert "110.0 m from A1, more than 90 m" in plan.moved["A1-2"]  # 96 m of riser, 10 m out, 4 m of slack


def test_existing_runs_move_only_where_there_is_no_plan_otherwise() -> None:
    # Level 10 reaches both cupboards, level 31 only that of level 20: 33 and 93 m against 64 and 97 m of limit 90. The
    # switch of level 20 has its 2 usable ports taken by units of level 10, so one of them must leave for level 0's.
    kind = replace(SMALL, ports_count=2)
    runs = (Kept(demand="A10-1", port=1), Kept(demand="A10-2", port=2))
    at = (cupboard("0", room_count=1), cupboard("20", room_count=1))
    problem = replace(
        question(*units("10", 2), *units("31", 1), at=at, types=(kind,)),
        existing=(Existing(key="old", type=kind.key, cupboard="A20", runs=runs),), spare_ports_ratio=0.0,
    )  # fmt: skip
    plan = planned(problem)
    assert plan.aims[0].what == "existing runs moved"
    assert plan.aims[0].value == 1
    assert len(plan.moved) == 1
    assert "without it there is no plan" in plan.moved.values()


def test_asked_for_a_unit_may_move() -> None:
    problem = existing_problem(4, 4)
    assert planned(problem).cost == 0
    plan = planned(replace(problem, released=frozenset({"A1-2"})))
    assert set(plan.moved) <= {"A1-2"}


def test_every_unit_out_of_reach_is_named_with_its_nearest_cupboard() -> None:
    answer = refused(question(*units("1", 1), *units("30", 2), at=(cupboard("0"), cupboard("1"))))
    # 87 m of riser, 10 m out, 4 m of slack
    assert answer.reasons == tuple(
        f"A30-{n}: the nearest cupboard, A1, is 101.0 m away; a run may have 90 m" for n in (1, 2)
    )
    assert answer.proven


def test_units_that_share_too_few_ports_are_named_and_no_others() -> None:
    at = (cupboard("0", room_count=1), cupboard("40", room_count=3))
    types = (replace(SMALL, optical=True),)
    answer = refused(question(*units("0", 21), *units("40", 5), at=at, types=types))
    (reason,) = [line for line in answer.reasons if "together" in line]
    assert reason.startswith(
        "A0-1, A0-2, A0-3, A0-4, A0-5 and 16 more want 21 ports together and reach only A0: at most 19"
    )


def test_units_that_share_too_few_watts_are_named() -> None:
    answer = refused(question(*units("0", 10, power_w=30), at=(cupboard("0", room_count=1),)))
    assert any("want 300 W together and reach only A0: at most 296 W" in line for line in answer.reasons)


def test_a_unit_that_no_port_feeds_is_named() -> None:
    answer = refused(question(*units("0", 1, power_w=45), at=(cupboard("0"),)))
    assert "A0-1 draws 45 W" in answer.reasons[0]


def test_a_cupboard_without_mains_is_left_alone() -> None:
    dark = replace(cupboard("1"), mains=False)
    plan = planned(question(*units("1", 2), at=(cupboard("0"), dark)))
    assert [one.cupboard for one in plan.switches] == ["A0"]
    assert "mains" in refused(question(*units("1", 2), at=(dark,))).reasons[0]


def test_room_that_nobody_knows_is_told() -> None:
    plan = planned(question(*units("1", 2), at=(cupboard("1", room_count=None),)))
    assert any("not known in A1" in note for note in plan.notes)


def test_all_contradictions_are_told_at_once() -> None:
    problem = question(*units("1", 1), *units("77", 1), at=(cupboard("1"), cupboard("1")))
    runs = (Kept(demand="A1-1", port=99), Kept(demand="nobody", port=1))
    there = Existing(key="old", type=SMALL.key, cupboard="A1", runs=runs, fed_by="old")
    with pytest.raises(Refused) as told:
        place(replace(problem, existing=(there,), spare_ports_ratio=1.5, root=Root(cupboard="X")))
    problems = [one.problem for one in told.value.mistakes]
    assert "this cupboard is given more than once" in problems
    assert "the height of its level is not known" in problems
    assert "the spare part of the ports cannot be so" in problems
    assert "a run leads to a unit that is not given" in problems
    assert "it has the ports 1 to 24" in problems
    assert "its uplinks lead in a ring" in problems
    assert "its cupboard is not given" in problems


def test_no_units_want_no_switches() -> None:
    plan = planned(question(at=(cupboard("0"),)))
    assert plan.switches == ()
    assert plan.cost == 0
    assert plan.status is Status.BEST
