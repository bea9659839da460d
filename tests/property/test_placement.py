"""What must hold of any plan for switches: it is sound, none of all plans is better, and it stays when asked again."""

from dataclasses import replace
from decimal import Decimal
from fractions import Fraction
from unittest.mock import patch

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

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
from doorwright.plan.placement import bound as bounds
from tests.unit.plan.placement.brute import best_worth
from tests.unit.plan.placement.soundness import cost_of, faults

HEIGHTS = {"G": 0.0, "1": 3.1, "2": 20.0, "3": 52.25}
RISERS = {"A": (0.0, 0.0), "B": (14.5, 6.0)}
SPOTS = st.builds(
    Spot, core=st.sampled_from("AAB"), level=st.sampled_from(list(HEIGHTS)), run_m=st.sampled_from((0.0, 2.5, 21.0))
)


@st.composite
def questions(draw: st.DrawFn, units: int = 5, most_cupboards: int = 3) -> Problem:
    """Any small question: everything that can be tight is tight now and then."""
    cupboards = tuple(
        Cupboard(
            key=f"C{number}",
            spot=draw(SPOTS),
            room_count=draw(st.sampled_from((1, 1, 2) if number else (1, 2, 2))),
            mains=draw(st.sampled_from((True, True, True, False))),
            opening_cost=Decimal(draw(st.sampled_from((0, 15)))),
            distributes=draw(st.booleans()),
        )
        for number in range(draw(st.integers(2, most_cupboards)))
    )
    demands = tuple(
        Demand(key=f"U{number}", spot=draw(SPOTS), power_w=draw(st.sampled_from((0.0, 7.0, 7.0, 15.4))))
        for number in range(draw(st.integers(2, units)))
    )
    small = SwitchType(
        key="small", ports_count=draw(st.sampled_from((2, 3))), uplinks_count=draw(st.integers(1, 2)),
        budget_w=draw(st.sampled_from((19.0, 30.0))), port_w=draw(st.sampled_from((7.0, 15.4))),
        optical=draw(st.booleans()), needs_mains=draw(st.booleans()), cost=Decimal(40),
        at_most_count=draw(st.sampled_from((None, 1))),
    )  # fmt: skip
    large = SwitchType(
        key="large", ports_count=5, uplinks_count=draw(st.integers(1, 3)), budget_w=draw(st.sampled_from((30.0, 75.0))),
        port_w=30.0, optical=True, cost=Decimal(draw(st.sampled_from((60, 95, 300)))),
    )  # fmt: skip
    placed = draw(st.booleans())
    existing: tuple[Existing, ...] = ()
    if not placed and draw(st.booleans()):
        existing = (Existing(key="E", type="small", cupboard=draw(st.sampled_from(cupboards)).key),)
    root = Root(cupboard="C0", placed=placed, ports_count=None if placed else draw(st.sampled_from((None, 1, 1, 2))))
    prices = Prices(
        cable_per_m=Decimal("1.35"), copper_uplink_per_m=Decimal("1.2"), optical_uplink_per_m=Decimal("0.95"),
        optical_uplink_each=Decimal(30),
    )  # fmt: skip
    return Problem(
        cupboards=cupboards,
        demands=demands,
        types=(small, large),
        routes=Routes(
            heights_m=HEIGHTS,
            risers_m=RISERS,
            crossings=draw(
                st.sampled_from(
                    ((Crossing(level="2"),), (Crossing(level="G"),), (Crossing(level="1"), Crossing(level="3")))
                )
            ),
            slack_m=5.0,
            units_cross=draw(st.sampled_from((True, True, False))),
        ),
        root=root,
        existing=existing,
        prices=draw(st.sampled_from((prices, prices, None))),
        spare_ports_ratio=draw(st.sampled_from((0.0, 0.2))),
        spare_power_ratio=draw(st.sampled_from((0.0, 0.2))),
    )


def worth(problem: Problem, plan: Placement) -> tuple[Fraction, ...]:
    if problem.prices is not None:
        return (Fraction(cost_of(problem, plan)),)
    count = sum(one.new for one in plan.switches)
    lengths = [run.length_m for run in plan.runs if run.new] + [link.length_m for link in plan.uplinks if link.new]
    length = sum((Fraction(str(one)) for one in lengths), Fraction(0))
    return (Fraction(count), Fraction(length))


def kept(problem: Problem, plan: Placement) -> Problem:
    """The question after the plan was carried out."""
    up = {link.switch: link.to for link in plan.uplinks}
    existing = tuple(
        Existing(
            key=one.key,
            type=one.type,
            cupboard=one.cupboard,
            runs=tuple(Kept(demand=run.demand, port=run.port) for run in plan.runs if run.switch == one.key),
            fed_by=None if up.get(one.key) == plan.root_switch else up.get(one.key),
        )
        for one in plan.switches
    )
    return replace(problem, existing=existing, root=replace(problem.root, switch=plan.root_switch))


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow])
@given(questions(units=4))
def test_the_plan_is_sound_and_nothing_that_can_be_tried_is_better(problem: Problem) -> None:
    best = best_worth(problem)
    answer = place(problem, effort_s=8)
    if isinstance(answer, Impossible):
        assert best is None
        assert answer.proven
        assert answer.reasons
        return
    assert faults(problem, answer) == []
    assert answer.status is Status.BEST
    assert worth(problem, answer) == best
    assert [Fraction(aim.value) for aim in answer.aims] == list(best or ())


@settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow])
@given(questions(units=9, most_cupboards=4))
def test_the_simple_way_is_sound_and_never_below_the_bound(problem: Problem) -> None:
    simple = place(problem, effort_s=0)
    if isinstance(simple, Impossible):
        return
    assert faults(problem, simple) == []
    assert all(aim.bound <= aim.value for aim in simple.aims)
    better = place(problem, effort_s=8)
    assert isinstance(better, Placement)
    assert [aim.value for aim in better.aims] <= [aim.value for aim in simple.aims]
    assert better.aims[0].value >= simple.aims[0].bound
    with patch.object(bounds, "available", return_value=False):
        alone = place(problem)
    assert isinstance(alone, Placement)
    assert "ortools is not installed" in alone.made_by or alone.status is Status.BEST


@settings(max_examples=30, suppress_health_check=[HealthCheck.too_slow])
@given(questions(units=6), SPOTS)
def test_asked_again_nothing_changes_and_one_more_unit_moves_nobody(problem: Problem, spot: Spot) -> None:
    first = place(problem, effort_s=8)
    if isinstance(first, Impossible):
        return
    after = kept(problem, first)
    again = place(after, effort_s=8)
    assert isinstance(again, Placement)
    assert not any(one.new for one in again.switches)
    assert not any(one.new for one in again.runs)
    assert not any(one.new for one in again.uplinks)
    assert again.moved == {}
    assert sorted((run.demand, run.switch, run.port) for run in again.runs) == sorted(
        (run.demand, run.switch, run.port) for run in first.runs
    )
    more = replace(after, demands=(*after.demands, Demand(key="U99", spot=spot, power_w=7.0)))
    grown = place(more, effort_s=8)
    if isinstance(grown, Placement):
        assert faults(more, grown) == []
        if not grown.moved:
            assert [run.demand for run in grown.runs if run.new] == ["U99"]
