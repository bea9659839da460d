"""Groups that outgrow their primary, and sites where some buildings have a server. Figures are worked out by hand."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.model.network import SipServer
from doorwright.model.place import Building, Entrance
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.groups import entrance_groups, plan_groups
from doorwright.plan.split import Bundle, Split, Station, least_split
from tests.unit.plan.block import Labels, block, drafted, plus, put, set_profile, unit

THREE_CORES: Labels = {"A": {1: ["1", "2", "3"]}, "B": {1: ["4", "5", "6"]}, "C": {1: ["7", "8"]}}


def draft_of(site: Site) -> Draft:
    return plan_groups(Walk(site))


def gated(labels: Labels) -> Site:
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block",))
    return plus(block(labels), gate, unit("vcu gate", entrance="gate"))


def bundle(entrances: str, wanting: int, registered: int) -> Bundle:
    return Bundle(frozenset(entrances.split()), wanting, registered)


def station(
    name: str, *, registrations: int | None = None, secondaries: int | None = None, registered: bool = True
) -> Station:
    return Station(f"vcu {name}", name, registrations, secondaries, registered)


def test_the_split_takes_out_the_core_that_touches_the_fewest_units() -> None:
    # gate: primary of three cores, 8 receivers and 3 call units, 11 registrations; it takes 9
    bundles = [bundle("gate A", 3, 3), bundle("gate B", 3, 3), bundle("gate C", 2, 2)]
    stations = [station("gate", registrations=9), *(station(core, registrations=9) for core in "ABC")]
    split = least_split(bundles, stations, "vcu gate")
    assert split is not None
    # out goes C: 2 receivers and its call unit change registrar, and the gate needs a second call unit: 4 touched;
    # 6 receivers and 2 call units stay, 8 of 9
    assert split.touched_count == 4
    assert split.exact
    assert [sorted(group.bundles) for group in split.groups] == [[0, 1], [2]]
    assert split.groups[1].moved == ("vcu C",)
    assert split.groups[1].added_at == ("gate",)


def test_dwellings_not_registered_yet_cost_nothing_to_place_elsewhere() -> None:
    bundles = [bundle("gate A", 3, 3), bundle("gate B", 3, 0), bundle("gate C", 2, 2)]
    stations = [station("gate", registrations=9), *(station(core, registrations=9) for core in "ABC")]
    split = least_split(bundles, stations, "vcu gate")
    assert split is not None
    # B: nothing but its call unit and the second one at the gate
    assert (split.touched_count, sorted(split.groups[1].bundles)) == (2, [1])


def test_too_many_secondaries_are_a_reason_to_split_too() -> None:
    bundles = [bundle("gate A", 1, 1), bundle("gate B", 1, 1)]
    stations = [station("gate", secondaries=1), station("A", secondaries=5), station("B", secondaries=5)]
    split = least_split(bundles, stations, "vcu gate")
    assert split is not None
    assert split.touched_count == 3  # one receiver, one call unit, one more at the gate


def test_where_one_bundle_alone_is_too_large_no_split_helps() -> None:
    assert least_split([bundle("A", 12, 9)], [station("A", registrations=9)], "vcu A") is None
    too_many = [bundle("gate A", 12, 9), bundle("gate B", 2, 2)]
    stations = [station(name, registrations=9) for name in ("gate", "A", "B")]
    assert least_split(too_many, stations, "vcu gate") is None


def test_desks_stay_with_the_primary_and_take_their_place() -> None:
    bundles = [bundle("gate A", 3, 3), bundle("gate B", 2, 2)]
    stations = [station(name, registrations=5) for name in ("gate", "A", "B")]
    # with A stay 3 receivers and its call unit, 4 of 5, with two desks 6: then A leaves, and B, its unit and they stay
    alone, desks = least_split(bundles, stations, "vcu gate"), least_split(bundles, stations, "vcu gate", 2)
    assert alone is not None
    assert desks is not None
    assert (sorted(alone.groups[1].bundles), sorted(desks.groups[1].bundles)) == ([1], [0])


def test_many_bundles_are_taken_out_one_after_the_other_and_that_is_said() -> None:
    names = [f"E{number}" for number in range(12)]
    bundles = [bundle(f"gate {name}", 2, 2) for name in names]
    stations = [station("gate", registrations=30), *(station(name, registrations=30) for name in names)]
    split = least_split(bundles, stations, "vcu gate")  # 24 receivers and 12 call units: 36 want to register
    assert split is not None
    assert not split.exact
    # each core takes 3 registrations; two must leave: 2 * 3 touched, and one call unit more at the gate
    assert split.touched_count == 7


def slowly(bundles: Sequence[Bundle], stations: Sequence[Station], limit: int) -> int | None:
    """Return the fewest units touched over all ways to colour bundles with as many colours as there are bundles."""
    best: int | None = None
    entrances = [one.entrance for one in stations]
    for colours in product(range(len(bundles)), repeat=len(bundles)):
        groups = set(colours)
        if len(groups) < 2:
            continue
        for keeper in groups:
            reach = {e: {c for c, b in zip(colours, bundles, strict=True) if e in b.entrances} for e in entrances}
            if keeper not in reach["gate"]:
                continue
            touched = sum(b.registered_count for c, b in zip(colours, bundles, strict=True) if c != keeper)
            touched += sum(1 for e in entrances if reach[e] and keeper not in reach[e])
            touched += sum(len(colours_at) - 1 for colours_at in reach.values() if colours_at)
            loads = {
                c: sum(b.wanting_count for k, b in zip(colours, bundles, strict=True) if k == c)
                + sum(1 for e in entrances if c in reach[e] or (c == keeper and not reach[e]))
                - 1
                for c in groups
            }
            if all(load <= limit for load in loads.values()) and (best is None or touched < best):
                best = touched
    return best


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.sets(st.sampled_from("ABC"), max_size=2), st.integers(0, 5)), min_size=2, max_size=4),
    st.integers(3, 9),
)
def test_no_way_to_split_touches_fewer_units(homes: list[tuple[set[str], int]], limit: int) -> None:
    bundles = [Bundle(frozenset({"gate", *names}), count, count) for names, count in homes]
    stations = [station(name, registrations=limit) for name in ("gate", "A", "B", "C")]
    found = least_split(bundles, stations, "vcu gate")
    assert (found.touched_count if found else None) == slowly(bundles, stations, limit)


def test_the_trouble_of_a_full_primary_proposes_the_split_in_words() -> None:
    site = set_profile(gated(THREE_CORES), "vcu-directory", registrations_max_count=9)
    draft = draft_of(site)
    (trouble,) = draft.troubles
    assert "vcu gate takes 9 registrations; 2 more are wanted" in trouble.problem
    # both that found no place are core C's, so nothing registers twice: its call unit, and one more at the gate
    assert "the receivers of 2 dwellings (7, 8) register" in trouble.remedy
    assert "a visitor call unit is added for it at Gate" in trouble.remedy
    assert "touches 2 units (the fewest: every way to split was tried)" in trouble.remedy


def test_dwellings_of_one_entrance_that_are_too_many_for_it_are_shared_by_a_second_call_unit() -> None:
    # one core of eight dwellings whose call unit takes five: five register, and three go to a second unit beside it
    labels: Labels = {"A": {1: ["1", "2", "3", "4"], 2: ["5", "6", "7", "8"]}}
    (trouble,) = draft_of(set_profile(block(labels), "vcu-directory", registrations_max_count=5)).troubles
    assert "vcu A takes 5 registrations; 3 more are wanted" in trouble.problem
    assert "vcu A stays the primary for Entrance A" in trouble.remedy
    assert "a further visitor call unit at Entrance A becomes a primary" in trouble.remedy
    assert "the receivers of 3 dwellings (6, 7, 8) register" in trouble.remedy
    assert "touches 1 unit (not every way to split was tried)" in trouble.remedy


def test_a_core_that_is_too_large_behind_a_gate_goes_apart() -> None:
    # each call unit takes seven; four of them stand in the group, so five dwellings at most go with one primary
    labels: Labels = {"A": {1: ["1", "2", "3", "4", "5", "6", "7"]}, "B": {1: ["8", "9"]}}
    (trouble,) = draft_of(set_profile(gated(labels), "vcu-directory", registrations_max_count=7)).troubles
    assert "Split the group: vcu gate stays the primary" in trouble.remedy
    assert "not every way to split was tried" in trouble.remedy


def test_where_no_call_unit_takes_even_one_dwelling_beside_the_others_there_is_no_split() -> None:
    # three call units: with the two others registered at it, a primary for two has no place for a receiver
    site = set_profile(gated({"A": {1: ["1", "2"]}, "B": {1: ["3"]}}), "vcu-directory", registrations_max_count=2)
    (trouble,) = draft_of(site).troubles
    assert trouble.remedy.startswith("No split of its entrances fits")


def test_secondaries_beyond_the_limit_get_neither_position_nor_registrar() -> None:
    site = set_profile(gated(THREE_CORES), "vcu-directory", secondaries_max_count=2)
    draft = draft_of(site)
    assert {name for name in drafted(draft, "position") if name.startswith("vcu")} == {"vcu gate", "vcu A", "vcu B"}
    assert "vcu C" not in drafted(draft, "registrar")
    (trouble,) = draft.troubles
    assert trouble.problem == "vcu gate takes 2 secondaries; 1 more are wanted"
    assert "vcu C (Entrance C) becomes a primary" in trouble.remedy
    within = put(site, "vcu C", position=2)  # issued already: it stays, and takes one of the two places
    assert "position" not in {change.field for change in draft_of(within).changes if change.id == "vcu C"}  # type: ignore[union-attr]


def two_buildings(*parts: SipServer) -> Site:
    """Return core A in the building "block" and core B in the building "annex"."""
    site = block({"A": {1: ["1"]}, "B": {1: ["2"]}})
    annex = Building(id="annex", name="Annex")
    cores = (site.cores[0], replace(site.cores[1], building="annex"))
    return plus(replace(site, buildings=(*site.buildings, annex), cores=cores), *parts)


def server_for(*buildings: str, name: str = "Server") -> SipServer:
    return SipServer(id=name.casefold(), name=name, realm="example.org", serves_buildings=buildings)


def test_one_building_registers_with_its_server_and_the_other_with_its_own_primary() -> None:
    registrars = drafted(draft_of(two_buildings(server_for("annex"))), "registrar")
    assert registrars == {"uru A/1": "vcu A", "vcu B": "server", "uru B/2": "server"}


def test_a_server_named_for_a_building_goes_before_one_for_all() -> None:
    site = two_buildings(server_for(name="All"), server_for("annex", name="Zone"))
    registrars = drafted(draft_of(site), "registrar")
    assert registrars == {"vcu A": "all", "uru A/1": "all", "vcu B": "zone", "uru B/2": "zone"}


def test_an_entrance_to_both_systems_is_told_of_and_gets_no_registrar() -> None:
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block", "annex"))
    site = plus(two_buildings(server_for("annex")), gate, unit("vcu gate", entrance="gate"))
    draft = draft_of(site)
    assert "vcu gate" not in drafted(draft, "registrar") | drafted(draft, "position")
    assert drafted(draft, "registrar") == {"uru A/1": "vcu A", "vcu B": "server", "uru B/2": "server"}
    (trouble,) = draft.troubles
    assert "Server and their own primary units" in trouble.problem
    assert [[entrance.id for entrance in group] for group in entrance_groups(Walk(site))] == [["at A"], ["at B"]]


def test_a_desk_called_from_two_systems_registers_with_the_server_and_is_told_of() -> None:
    site = put(
        put(plus(two_buildings(server_for("annex")), unit("smu desk")), "at A", calls_desk=True),
        "at B",
        calls_desk=True,
    )
    draft = draft_of(site)
    assert drafted(draft, "registrar")["smu desk"] == "server"
    assert "vcu A" in draft.troubles[0].problem


@pytest.mark.parametrize("how", ["registrations_max_count", "secondaries_max_count"])
def test_what_is_issued_never_moves_when_a_group_outgrows(how: str) -> None:
    walk = Walk(gated(THREE_CORES))
    issued = walk.after(plan_groups(walk).changes).site
    full = set_profile(issued, "vcu-directory", **{how: 2})
    assert draft_of(full).changes == ()


def test_a_split_is_a_value_that_tells_apart_what_stays_and_what_moves() -> None:
    split = least_split(
        [bundle("A", 2, 2), bundle("B", 2, 2)], [station("A", registrations=3), station("B", registrations=3)], "vcu A"
    )
    assert isinstance(split, Split)
    assert split.groups[0].moved == ()
    assert split.groups[1].primary == "vcu B"
