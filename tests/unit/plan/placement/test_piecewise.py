"""A plan is bettered piece by piece to what is best by hand, and one whose units do not share out is put right."""

from dataclasses import replace

from doorwright.plan.placement import Cupboard, Demand, Placement, Problem, Root, Routes, Spot, SwitchType, place
from doorwright.plan.placement.figures import Figures
from doorwright.plan.placement.piecewise import better, mended
from doorwright.plan.placement.program import Goal, Program
from doorwright.plan.placement.routes import Crossing
from doorwright.plan.placement.rows import row, total
from doorwright.plan.placement.search import search
from tests.unit.plan.placement.soundness import faults

KIND = SwitchType(key="24 ports", ports_count=24, uplinks_count=2, budget_w=370, port_w=30)


def riser(levels_count: int, *, room_count: int = 2, cores: str = "A", per_level_count: int = 3) -> Problem:
    """Storeys of 3 m, a cupboard and units 10 m out on each, 4 m of slack; the root stands on level 0."""
    levels = [str(number) for number in range(levels_count + 1)]
    return Problem(
        cupboards=tuple(
            Cupboard(key=f"{core}{level}", spot=Spot(core=core, level=level), room_count=room_count)
            for core in cores
            for level in levels
        ),
        demands=tuple(
            Demand(key=f"{core}{level}-{number}", spot=Spot(core=core, level=level, run_m=10.0), power_w=7.0)
            for core in cores
            for level in levels[1:]
            for number in range(per_level_count)
        ),
        types=(KIND,),
        routes=Routes(
            heights_m={level: 3.0 * int(level) for level in levels},
            risers_m={core: (20.0 * number, 0.0) for number, core in enumerate(cores)},
            crossings=(Crossing(level="0"),),
            slack_m=4.0,
        ),
        root=Root(cupboard="A0"),
    )


def test_from_any_plan_the_pieces_lead_to_the_least_cable() -> None:
    program = Program(Figures(riser(12), {}, may_move=False))
    count, cable = program.goals()
    worst = Goal("most cable", tuple((-factor, at) for factor, at in cable.terms))
    two = [row(count.terms, high=2)]
    begun = search(program.rows, worst, extra=two, hint=None, effort_s=2).values
    assert begun is not None
    done = better(program, cable, two, begun, effort_s=20, enough=0, stop=lambda: False)
    # 36 units on 19 + 19 usable ports. Six levels each, from level 3 and from level 9: 2 + 1 + 0 + 1 + 2 + 3 storeys of
    # 3 m for three units each are 81 m, twice; 36 times 10 + 4 m; uplinks of 9 + 4 m and 27 + 4 m: 162 + 504 + 44 m.
    assert total(cable.terms, begun) + cable.constant > 71000
    assert total(cable.terms, done.values) + cable.constant == 71000
    assert program.rows.holds(done.values)


def test_near_enough_ends_it_and_so_does_being_stopped() -> None:
    program = Program(Figures(riser(12), {}, may_move=False))
    count, cable = program.goals()
    begun = search(program.rows, count, hint=None, effort_s=2).values
    assert begun is not None
    known = total(cable.terms, begun) + cable.constant
    assert better(program, cable, (), begun, effort_s=20, enough=known, stop=lambda: False).values == begun
    assert better(program, cable, (), begun, effort_s=20, enough=0, stop=lambda: True).values == begun
    assert better(program, cable, (), begun, effort_s=0, enough=0, stop=lambda: False).values == begun


def test_units_that_do_not_share_out_are_put_right_where_they_are() -> None:
    # 7 + 5 + 4 + 4 W are the 20 W of two switches, but nothing joins 7 W within 10 W, and 13 W are too much for one
    problem = riser(1, room_count=3, per_level_count=4)
    powers_w = (7.0, 5.0, 4.0, 4.0)
    problem = replace(
        problem,
        cupboards=(replace(problem.cupboards[0], room_count=0), *problem.cupboards[1:]),
        demands=tuple(replace(one, power_w=power_w) for one, power_w in zip(problem.demands, powers_w, strict=True)),
        types=(replace(KIND, budget_w=10.0, port_w=10.0),),
        spare_ports_ratio=0.0,
        spare_power_ratio=0.0,
    )
    figures = Figures(problem, {}, may_move=False)
    plain = Program(figures)
    count = plain.goals()[0]
    together = search(plain.rows, count, hint=None, effort_s=2).values
    assert together is not None
    assert total(count.terms, together) == 2
    broken = frozenset(cupboard for (cupboard, _), at in plain.new.items() if together[at])
    single = Program(figures, broken)
    found = mended(single, count, (), together, broken)
    assert found is not None
    assert single.rows.holds(found)
    assert total(count.terms, found) == 3
    assert mended(single, count, [row(count.terms, high=2)], together, broken) is None


def test_risers_that_share_a_switch_across_are_planned_near_the_bound() -> None:
    # 27 units a riser on 19 usable ports: two switches each, or three for both with the last across the ground
    problem = riser(9, cores="AB")
    plan = place(problem, effort_s=6)
    assert isinstance(plan, Placement)
    assert faults(problem, plan) == []
    assert [int(aim.value) for aim in plan.aims][:1] == [3]
    assert all(aim.gap_ratio <= 0.02 for aim in plan.aims)
