"""Ports. The generic 8-port switch has ports 1-8 for units and two uplinks, 9 and 10."""

from doorwright.model.power import Supply
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.ports import plan_ports
from tests.unit.plan.block import block, drafted, plus, run, switch


def draft_of(*parts: object) -> Draft:
    return plan_ports(Walk(plus(Site(name="", profiles=block({}).profiles), *parts)))  # type: ignore[arg-type]


def test_units_take_access_ports_in_order_of_the_runs_names() -> None:
    draft = draft_of(switch("S"), run("c10", "S", "u1"), run("c9", "S", "u2"), run("c1", "S", "u3"))
    assert drafted(draft, "near_port") == {"c1": 1, "c9": 2, "c10": 3}
    assert drafted(draft, "far_port") == {}


def test_switches_take_uplink_ports_at_both_ends() -> None:
    draft = draft_of(switch("S"), switch("T"), run("c1", "S", "T"), run("c2", "S", "u1"))
    assert drafted(draft, "near_port") == {"c1": 9, "c2": 1}
    assert drafted(draft, "far_port") == {"c1": 9}


def test_a_third_switch_takes_the_last_access_port() -> None:
    draft = draft_of(switch("S"), *(switch(name) for name in "TUV"), *(run(f"c{n}", "S", n) for n in "TUV"))
    assert drafted(draft, "near_port") == {"cT": 9, "cU": 10, "cV": 8}


def test_ports_written_down_stay_and_are_not_given_again() -> None:
    draft = draft_of(
        switch("S"), switch("T"), run("c1", "S", "u1", near_port=1), run("c2", "S", "u2"),
        run("c3", "T", "S", far_port=9), run("c4", "S", "T"),
    )  # fmt: skip
    assert drafted(draft, "near_port") == {"c2": 2, "c3": 9, "c4": 10}
    assert drafted(draft, "far_port") == {"c4": 10}


def test_a_full_switch_is_told_of() -> None:
    draft = draft_of(switch("S"), *(run(f"c{number}", "S", f"u{number}") for number in range(1, 10)))
    assert drafted(draft, "near_port") == {f"c{number}": number for number in range(1, 9)}
    (trouble,) = draft.troubles
    assert [subject.id for subject in trouble.subjects] == ["S", "c9"]


def test_power_takes_no_port() -> None:
    supply = Supply(id="P", name="P", profile="supply-24v-5a")
    draft = draft_of(switch("S"), supply, run("c1", "P", "S"), run("c2", "P", "door"))
    assert draft.changes == ()


def test_a_switch_of_unknown_type_gets_no_ports() -> None:
    assert draft_of(switch("S", "unheard-of"), run("c1", "S", "u1")).changes == ()
