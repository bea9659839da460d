"""From a site to the question and back to changes of the site: lengths, watts and costs are added up by hand."""

from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from itertools import count

import pytest

from doorwright.kernel.errors import Refused
from doorwright.model.change import apply
from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Building, Core, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.price import Price, PricedBy
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.placement import Impossible, Placement, Status, place
from doorwright.plan.placement.drafting import draft_placement
from doorwright.plan.placement.from_site import Question, Wish, question_of
from doorwright.plan.ports import plan_ports
from tests.unit.plan.placement.small_site import SMALL, WISH, receiver, small_site, with_home, with_switch
from tests.unit.plan.placement.soundness import faults


def ids(word: str = "new") -> Callable[[], str]:
    numbers = count(1)
    return lambda: f"{word}-{next(numbers)}"


def planned(site: Site, wish: Wish = WISH) -> tuple[Question, Placement]:
    question = question_of(Walk(site), wish)
    plan = place(question.problem, effort_s=4)
    assert isinstance(plan, Placement)
    assert faults(question.problem, plan) == []
    return question, plan


def carried_out(site: Site, wish: Wish = WISH, new_id: Callable[[], str] | None = None) -> Site:
    question, plan = planned(site, wish)
    drafted = draft_placement(Walk(site), question, plan, new_id or ids())
    after = apply(site, drafted.edit.changes)
    return apply(after, plan_ports(Walk(after)).changes)


def test_lengths_and_watts_are_those_of_the_building() -> None:
    question, plan = planned(small_site())
    lengths = {run.demand: run.length_m for run in plan.runs}
    # From Riser A, 1 m from its riser on G, with 5 m of slack: 101 is 3.2 m up and 6 m out; 201 is 10 + 4 m across,
    # 6.4 m up and 8.5 m out; the gate 20 m out on the same level.
    assert lengths == {"URU 101": 15.2, "URU 201": 34.9, "Panel": 26.0}
    # What a port gives: class 3 15.4 W, class 4 30 W (IEEE 802.3-2022, Table 145-26, from memory).
    assert {one.key: one.power_w for one in question.problem.demands} == {
        "Panel": 30.0, "URU 101": 15.4, "URU 201": 15.4
    }  # fmt: skip
    # 4 access ports less a fifth leave 3, 90 W leave 72 for 60.8 W: one switch does.
    assert [(one.type, one.cupboard) for one in plan.switches] == [("small", "Riser A")]
    assert plan.root_switch == plan.switches[0].key
    assert plan.status is Status.BEST


def test_the_plan_becomes_switches_and_runs_with_ports() -> None:
    after = carried_out(small_site())
    (switch,) = after.switches
    assert (switch.name, switch.profile, switch.place) == ("SW Riser A", "small", "ra")
    assert [(run.name, run.near, run.far, run.near_port, run.cable, run.length_m) for run in after.runs] == [
        ("C001", switch.id, "u-gate", 1, "cat6", 26.0),
        ("C002", switch.id, "u101", 2, "cat6", 15.2),
        ("C003", switch.id, "u201", 3, "cat6", 34.9),
    ]


def test_placing_again_changes_nothing() -> None:
    once = carried_out(small_site())
    question, plan = planned(once)
    assert draft_placement(Walk(once), question, plan, ids()).edit.changes == ()
    assert not any(one.new for one in plan.switches)
    assert not any(one.new for one in plan.runs)
    assert not plan.uplinks


def test_a_home_more_gets_a_run_and_what_is_there_stays() -> None:
    before = with_switch(
        small_site(),
        CableRun(id="r7", name="K007", near="sw-1", far="u101", near_port=3, cable="cat6", length_m=31.0),
        CableRun(id="r8", name="K008", near="sw-1", far="u-gate", near_port=1, cable="cat6", length_m=26.5),
    )
    after = carried_out(before)
    assert after.switches == before.switches
    assert after.runs[:2] == before.runs
    (new,) = after.runs[2:]
    assert (new.name, new.near, new.far, new.near_port, new.length_m) == ("K009", "sw-1", "u201", 2, 34.9)


def test_a_fourth_unit_needs_a_second_switch_with_an_uplink() -> None:
    site = small_site()
    site = replace(site, places=tuple(replace(one, switches_max_count=1) for one in site.places[:2]) + site.places[2:])
    once = carried_out(site)
    after = carried_out(with_home(once, "202", "c", "l2", 4.0), new_id=ids("later"))
    new = after.switches[1]
    assert after.runs[: len(once.runs)] == once.runs
    # Riser B: nobody has said how far it is from its riser, so it stands there: 4 m out and 5 m of slack. To Riser A
    # 6.4 m down, 14 m across, 1 m in and the slack.
    assert new.place == "rb"
    assert {(run.near, run.far, run.cable, run.length_m) for run in after.runs[len(once.runs) :]} == {
        (new.id, "u202", "cat6", 9.0),
        (once.switches[0].id, new.id, "cat6a", 26.4),
    }
    question, _ = planned(after)
    assert any("Riser B" in note and "stand at the riser" in note for note in question.notes)


def test_missing_facts_are_told_all_at_once() -> None:
    site = small_site()
    site = replace(
        site,
        levels=tuple(replace(one, height_m=None) for one in site.levels),
        cores=tuple(replace(one, x_m=None) for one in site.cores),
        dwellings=tuple(replace(one, run_m=None) for one in site.dwellings),
        places=tuple(replace(one, main=False, core=None if one.id == "gate" else one.core) for one in site.places),
        profiles=tuple(replace(one, poe_port_w=None, poe_class=None) for one in site.profiles),
    )
    with pytest.raises(Refused) as refused:
        question_of(Walk(site), WISH)
    told = [str(one) for one in refused.value.mistakes]
    for words in (
        "levels: the height is not known: 1, 2, G",
        "cores: the position of the riser on the plan is not known: A, B",
        "dwellings: the run of the cable from the riser of the core is not known: 101, 201",
        "places: the core is not known: Gate",
        "places: nobody has said where the network begins",
        "profiles: the PoE class is not known: panel, receiver",
    ):
        assert any(words in one for one in told), words


def test_positions_matter_only_where_cables_cross() -> None:
    site = small_site()
    apart = replace(
        site,
        cores=tuple(replace(one, x_m=None, y_m=None) for one in site.cores),
        levels=tuple(replace(one, crosses=False) for one in site.levels),
    )
    question = question_of(Walk(apart), WISH)
    assert question.problem.routes.crossings == ()
    answer = place(question.problem, effort_s=2)
    assert isinstance(answer, Impossible)  # core B has no way to where the network begins
    assert answer.proven


def test_without_a_port_power_a_switch_that_feeds_is_not_offered() -> None:
    wish = replace(WISH, profiles=(replace(SMALL, poe_port_w=None),))
    with pytest.raises(Refused) as refused:
        question_of(Walk(small_site()), wish)
    assert "poe_port_w" in str(refused.value.mistakes[0])


def test_a_unit_that_a_supply_feeds_draws_nothing_from_its_port() -> None:
    site = small_site()
    fed = replace(
        site,
        profiles=tuple(replace(one, dc_draw_w=18.0) if one.key == "panel" else one for one in site.profiles),
        supplies=(Supply(id="s", name="PSU", profile="psu", place="ra"),),
        runs=(CableRun(id="p", name="P1", near="s", far="u-gate", cable="2x1.5", length_m=20.0),),
    )
    question = question_of(Walk(fed), WISH)
    assert {one.key: one.power_w for one in question.problem.demands}["Panel"] == 0.0


def test_other_cables_take_ports_of_a_switch_that_is_there() -> None:
    site = with_switch(
        small_site(),
        CableRun(id="r1", name="C1", near="sw-1", far="u101", near_port=1, cable="cat6", length_m=15.0),
        CableRun(id="r2", name="C2", near="sw-1", far="sw-2", near_port=4, cable="cat6", length_m=26.0),
    )
    site = with_switch(site, name="SW-2", place="rb")
    question = question_of(Walk(site), WISH)
    above, below = question.problem.existing
    kinds = {one.key: one for one in question.problem.types}
    # The link to SW-2 is on port 4, one of the 4 access ports; the 2 uplink ports are free: 3 access, 3 for links.
    assert (kinds[above.type].ports_count, kinds[above.type].uplinks_count) == (3, 3)
    assert above.type == "small, what is left of SW-1"
    assert (below.key, below.type, below.fed_by) == ("SW-2", "small", None)  # None: fed by the root
    assert question.problem.root.switch == "SW-1"


def test_costs_are_counted_where_everything_has_a_price() -> None:
    prices = (
        Price(id="p1", item="small", amount=Decimal(310)),
        Price(id="p2", item="cat6", amount=Decimal("1.40"), per=PricedBy.METRE),
        Price(id="p3", item="cat6a", amount=Decimal(488), per=PricedBy.DRUM, drum_m=305.0),
    )
    _, plan = planned(replace(small_site(), prices=prices))
    # 310 for the switch, 15.2 + 34.9 + 26.0 = 76.1 m at 1.40 = 106.54
    assert plan.cost == Decimal("416.54")
    question, plan = planned(replace(small_site(), prices=prices[:2]))
    assert plan.cost is None
    assert question.unpriced == ("cat6a (a metre or a drum)",)
    assert [(aim.what, aim.value) for aim in plan.aims] == [("new switches", 1), ("cable", Decimal("76.1"))]


def tall_site() -> Site:
    """The small site with a home 120 m up and a cupboard beside it."""
    site = small_site()
    site = replace(
        site,
        levels=(*site.levels, Level(id="l40", building="b", name="40", order=40, height_m=120.0)),
        places=(*site.places, Place(id="ra40", name="Riser A40", kind=PlaceKind.RISER_CUPBOARD, core="a", level="l40")),
    )
    return with_home(site, "4001", "a", "l40", 3.0)


def test_what_copper_does_not_reach_is_linked_by_fibre() -> None:
    fibre = replace(WISH, profiles=(replace(SMALL, uplinks_optical=True),))
    after = carried_out(tall_site(), fibre)
    (uplink,) = [run for run in after.runs if run.far in {one.id for one in after.switches}]
    # 120 m down, 1 m from the riser to Riser A, 5 m of slack
    assert (uplink.cable, uplink.length_m) == ("fibre", 126.0)
    assert (uplink.near_port, uplink.far_port) == (5, 5)  # of 6 ports the last two lead to switches
    copper = question_of(Walk(tall_site()), WISH)
    assert isinstance(place(copper.problem, effort_s=2), Impossible)


def test_a_switch_that_hangs_on_nothing_gets_its_uplink() -> None:
    site = with_switch(carried_out(small_site()), name="SW-9", place="rb")
    after = carried_out(site, new_id=lambda: "uplink")
    (run,) = after.runs[len(site.runs) :]
    # 6.4 m down, 14 m across, 1 m in, 5 m of slack
    assert (run.near, run.far, run.cable, run.length_m) == (site.switches[0].id, "sw-9", "cat6a", 26.4)


def test_two_places_where_the_network_begins_are_one_too_many() -> None:
    site = small_site()
    both = replace(site, places=tuple(replace(one, main=one.id != "gate") for one in site.places))
    with pytest.raises(Refused) as refused:
        question_of(Walk(both), WISH)
    assert [one.problem for one in refused.value.mistakes] == [
        "the network can begin in one place only: Riser A, Riser B"
    ]


def test_without_a_main_cupboard_the_network_begins_at_the_top_of_its_tree() -> None:
    site = small_site()
    site = replace(site, places=tuple(replace(one, main=False) for one in site.places))
    site = with_switch(site, name="SW-2", place="ra")
    run = CableRun(id="r", name="C1", near="sw-1", far="sw-2", cable="cat6a", length_m=26.0)
    question = question_of(Walk(with_switch(site, run, place="rb")), WISH)
    assert (question.problem.root.cupboard, question.problem.root.switch) == ("Riser B", "SW-1")


def test_parts_of_the_same_name_are_told_apart() -> None:
    site = small_site()
    site = replace(
        site,
        buildings=(*site.buildings, Building(id="b2", name="Barn")),
        cores=(*site.cores, Core(id="a2", building="b2", name="A")),
        levels=(*site.levels, Level(id="g2", building="b2", name="G", order=0, height_m=0.0)),
        units=(*site.units, replace(receiver("101"), id="again")),
    )
    question = question_of(Walk(site), WISH)
    assert question.problem.routes.heights_m == {"Alder Yard G": 0.0, "1": 3.2, "2": 6.4}
    assert {one.key for one in question.problem.demands} == {
        "Panel", "URU 101 (u101)", "URU 101 (again)", "URU 201"
    }  # fmt: skip


def test_too_many_runs_on_a_switch_are_told() -> None:
    site = small_site()
    for label in ("102", "103", "104"):
        site = with_home(site, label, "a", "l1", 3.0)
    runs = [
        CableRun(id=f"r{unit.id}", name=f"C{at}", near="sw-1", far=unit.id, cable="cat6", length_m=9.0)
        for at, unit in enumerate(site.units)
    ]
    with pytest.raises(Refused) as refused:
        question_of(Walk(with_switch(site, *runs)), WISH)
    assert "6 units are on 4 ports: SW-1" in str(refused.value.mistakes[0])


def test_a_measured_cable_stays_where_the_plan_would_make_it_longer() -> None:
    # By the plan of the building the run would be 106 + 1 + 5 m; it was measured and is 84 m.
    site = small_site()
    site = replace(site, places=tuple(replace(one, run_m=106.0) if one.id == "gate" else one for one in site.places))
    run = CableRun(id="r", name="C1", near="sw-1", far="u-gate", near_port=1, cable="cat6", length_m=84.0)
    _, plan = planned(with_switch(site, run))
    assert plan.moved == {}
    assert {one.demand: (one.length_m, one.new) for one in plan.runs}["Panel"] == (84.0, False)


def test_new_switches_keep_their_kind_in_the_site() -> None:
    larger = replace(SMALL, key="larger", ports_count=12, poe_budget_w=200.0)
    after = carried_out(small_site(), replace(WISH, profiles=(larger,)))
    assert [one.profile for one in after.switches] == ["larger"]
    assert larger in after.profiles
    assert isinstance(after.switches[0], Switch)


def test_a_second_switch_in_a_cupboard_is_linked_by_a_patch_lead() -> None:
    once = carried_out(small_site())
    after = carried_out(with_home(once, "202", "c", "l2", 4.0), new_id=ids("later"))
    # From Riser A 1 + 14 + 6.4 + 4 + 5 = 30.4 m; a switch in Riser B would take 9 m and an uplink of 26.4 m.
    assert [(one.name, one.place) for one in after.switches] == [("SW Riser A", "ra"), ("SW Riser A 2", "ra")]
    assert [(run.far, run.length_m) for run in after.runs[len(once.runs) :]] == [
        (after.switches[1].id, 0.0),
        ("u202", 30.4),
    ]


def test_warm_cables_may_be_less_long() -> None:
    site = small_site()
    warm = replace(site, choices=replace(site.choices, ambient_c=40.0))
    question = question_of(Walk(warm), WISH)
    # The loss of unscreened cable rises by 0.4 % a degree from 20 to 40 °C (TIA-568-C.2, clause 6.4.7): 90 m / 1.08 =
    # 83.33 m.
    assert question.problem.routes.link_max_m == 83.33
    assert any("83.33 m at 40 °C" in note for note in question.notes)
    assert (
        question_of(
            Walk(warm), replace(WISH, cable="cat6-screened", uplink_cable="cat6-screened")
        ).problem.routes.link_max_m
        == 86.53
    )  # screened 0.2 % a degree: 90 m / 1.04 = 86.538 m
