"""Who registers with whom. Primaries, secondaries and their limits are the trade's (common practice)."""

from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.groups import entrance_groups, plan_groups
from tests.unit.plan.block import block, drafted, plus, put, server, set_profile, unit

TWO_CORES = {"A": {1: ["1", "2"]}, "B": {1: ["3"]}}


def draft_of(site: Site) -> Draft:
    return plan_groups(Walk(site))


def gated() -> Site:
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block",), calls_desk=True)
    return plus(block(TWO_CORES), gate, unit("vcu gate", entrance="gate"), unit("smu desk"))


def test_a_group_of_one_registers_its_dwellings_with_its_only_unit() -> None:
    draft = draft_of(block({"A": {1: ["1"]}}))
    assert drafted(draft, "position") == {"vcu A": 0, "uru A/1": 0}
    assert drafted(draft, "registrar") == {"uru A/1": "vcu A"}


def test_entrances_that_serve_nobody_in_common_are_groups_of_their_own() -> None:
    walk = Walk(block(TWO_CORES))
    assert [[entrance.id for entrance in group] for group in entrance_groups(walk)] == [["at A"], ["at B"]]
    registrars = drafted(plan_groups(walk), "registrar")
    assert registrars == {"uru A/1": "vcu A", "uru A/2": "vcu A", "uru B/3": "vcu B"}


def test_a_gate_joins_the_cores_and_is_primary_because_it_reaches_most() -> None:
    draft = draft_of(gated())
    positions = drafted(draft, "position")
    assert positions["vcu gate"] == 0
    assert sorted((positions["vcu A"], positions["vcu B"])) == [1, 2]
    registrars = drafted(draft, "registrar")
    assert set(registrars) == {"vcu A", "vcu B", "smu desk", "uru A/1", "uru A/2", "uru B/3"}
    assert set(registrars.values()) == {"vcu gate"}


def test_of_two_that_reach_as_many_the_one_that_registers_more_is_primary() -> None:
    site = plus(block({"A": {1: ["1"]}}, vcu="vcu-direct"), unit("vcu big", entrance="at A"))
    assert drafted(draft_of(site), "position")["vcu big"] == 0


def test_everything_but_secondary_urus_registers_with_a_server() -> None:
    site = plus(gated(), server(), unit("uru second", dwelling="A/1"))
    registrars = drafted(draft_of(site), "registrar")
    assert registrars.pop("uru second") == "uru A/1"
    assert set(registrars) == {"vcu gate", "vcu A", "vcu B", "smu desk", "uru A/1", "uru A/2", "uru B/3"}
    assert set(registrars.values()) == {"server"}


def test_secondary_urus_are_numbered_and_register_with_their_primary() -> None:
    site = plus(block({"A": {1: ["1"]}}), unit("uru second", dwelling="A/1"), unit("uru third", dwelling="A/1"))
    draft = draft_of(site)
    positions = drafted(draft, "position")
    assert [positions[name] for name in ("uru A/1", "uru second", "uru third")] == [0, 1, 2]
    registrars = drafted(draft, "registrar")
    assert (registrars["uru second"], registrars["uru third"]) == ("uru A/1", "uru A/1")


def test_positions_already_issued_stay_and_free_ones_are_filled() -> None:
    site = plus(block({"A": {1: ["1"]}}), unit("uru second", dwelling="A/1", position=0), unit("uru z", dwelling="A/1"))
    site = put(site, "uru z", position=2)
    draft = draft_of(site)
    assert drafted(draft, "position") == {"vcu A": 0, "uru A/1": 1}
    assert drafted(draft, "registrar") == {"uru second": "vcu A", "uru A/1": "uru second", "uru z": "uru second"}


def test_a_full_registrar_is_told_of_and_takes_what_it_can() -> None:
    site = set_profile(block({"A": {1: ["1", "2", "3"]}}), "vcu-directory", registrations_max_count=2)
    draft = draft_of(site)
    assert drafted(draft, "registrar") == {"uru A/1": "vcu A", "uru A/2": "vcu A"}
    (trouble,) = draft.troubles
    assert "takes 2 registrations; 1 more" in trouble.problem
    assert [subject.id for subject in trouble.subjects] == ["vcu A", "uru A/3"]


def test_registrations_already_issued_count_against_the_limit() -> None:
    site = plus(block({"A": {1: ["1", "2"]}}), server(registrations_max=2))
    site = put(put(site, "uru A/2", registrar="server"), "vcu A", registrar="server")
    draft = draft_of(site)
    assert drafted(draft, "registrar") == {}
    assert "Server takes 2 registrations; 1 more" in draft.troubles[0].problem


def test_a_gate_added_later_makes_no_primary_a_secondary_unasked() -> None:
    site = put(put(gated(), "vcu A", position=0), "vcu B", position=0)
    draft = draft_of(site)
    registrars = drafted(draft, "registrar")
    assert "vcu A" not in registrars
    assert "vcu B" not in registrars
    (trouble,) = draft.troubles
    assert [subject.id for subject in trouble.subjects] == ["vcu A", "vcu B"]
    assert "are all primaries" in trouble.problem


def test_two_primaries_in_one_dwelling_are_told_of() -> None:
    site = plus(put(block({"A": {1: ["1"]}}), "uru A/1", position=0), unit("uru x", dwelling="A/1", position=0))
    draft = draft_of(site)
    assert drafted(draft, "registrar") == {"uru A/1": "vcu A"}
    assert "are all primaries" in draft.troubles[0].problem


def test_dwellings_that_no_unit_serves_register_with_nobody() -> None:
    draft = draft_of(block({"A": {1: ["1"]}}, vcu=None))
    assert drafted(draft, "registrar") == {}
