"""Each edit: what it changes, what it tells, what it refuses."""

import pytest

from doorwright.kernel.errors import Refused
from doorwright.model.calling import Divert, DivertCause
from doorwright.model.change import apply
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.place import Core, Dwelling, Entrance, Level
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import called
from doorwright.plan.edits.dwellings import merge_dwellings, remove_dwelling
from doorwright.plan.edits.edit import Edit, left_without_registrar
from doorwright.plan.edits.moving import move_unit
from doorwright.plan.edits.renaming import rename
from doorwright.plan.edits.renewing import new_subnet
from doorwright.plan.edits.replacing import replace_unit
from doorwright.store.profiles import load_profiles
from tests.unit.plan.block import block, planned, plus, put, server, subnet, unit

PROFILES = load_profiles()


def carried_out(site: Site, edit: Edit) -> Walk:
    return Walk(planned(apply(site, edit.changes), prefix="later ").site)


def test_labels_that_several_parts_have_are_told_apart() -> None:
    walk = Walk(block({"A": {0: ["1", "2"]}, "B": {0: ["1"], 2: ["3"]}}))
    assert called(walk, "B/1", Dwelling).id == "B/1"
    assert called(walk, " block/a/1 ", Dwelling).id == "A/1"
    assert called(walk, "level 2", Dwelling, Level).id == "L2"
    with pytest.raises(Refused, match="2 parts are called '1'") as ambiguous:
        called(walk, "1", Dwelling)
    assert "'A/1'" in ambiguous.value.remedy
    assert "'B/1'" in ambiguous.value.remedy
    with pytest.raises(Refused, match="2 parts are called '2'") as kinds:
        called(walk, "2", Dwelling, Level)
    assert "'dwelling 2'" in kinds.value.remedy
    assert "'level 2'" in kinds.value.remedy
    with pytest.raises(Refused, match="no core is called 'AA'"):
        called(walk, "AA", Core)


def test_a_merged_home_takes_receivers_up_to_its_primarys_limit() -> None:
    # uru-audio takes 5 secondaries by its data sheet; there is 1 already, so 4 of the other home's 6 find room
    site = block({"A": {0: ["1", "2"]}}, vcu="vcu-direct")
    site = put(site, "uru A/1", profile="uru-audio")
    site = plus(site, unit("uru 1b", dwelling="A/1"), *(unit(f"uru 2{n}", dwelling="A/2") for n in "bcdef"))
    site = planned(site).site
    edit = merge_dwellings(Walk(site), "1", ["2"])
    after = carried_out(site, edit)
    assert sorted(one.position or 0 for one in after.units_in("A/1")) == [0, 1, 2, 3, 4, 5]
    assert len([one for one in after.all(Unit) if one.dwelling is None and one.entrance is None]) == 2
    (trouble,) = edit.troubles
    assert "takes 5 secondaries" in trouble.problem
    assert after.dwellings_numbered("2") == ()
    assert after.keys_ringing("A/2") == ()


def test_a_removed_dwelling_leaves_no_trace_and_no_door_falls_to_all() -> None:
    site = plus(
        block({"A": {0: ["1", "2"]}}),
        Entrance(id="side", name="Side", serves_dwellings=("A/2",)),
        Door(id="yard", name="Yard", entrance="at A"),
        Divert(id="divert", cause=DivertCause.BUSY, dwelling="A/1", to_dwelling="A/2"),
        ReleaseRight(id="right", door="yard", dwellings=("A/2",)),
    )
    edit = remove_dwelling(Walk(site), "2")
    after = carried_out(site, edit)
    assert [unit.id for unit in after.all(Unit) if unit.dwelling] == ["uru A/1"]
    assert after.diverts_to("A/2") == ()
    # without any right the door would be free to all whom its entrance serves: the empty right stays
    assert [right.dwellings for right in after.rights_to("yard")] == [()]
    assert [trouble.problem for trouble in edit.troubles] == ["Side serves nobody now"]


def test_a_primary_that_moves_leaves_an_heir() -> None:
    site = planned(
        plus(block({"A": {0: ["1", "2"]}}), unit("uru b", dwelling="A/1"), unit("uru c", dwelling="A/1"))
    ).site
    edit = move_unit(Walk(site), "uru A/1", "2")
    after = carried_out(site, edit)
    positions = {one.name: (one.position, one.registrar) for one in after.all(Unit) if one.dwelling}
    assert positions == {
        "uru b": (0, "vcu A"), "uru c": (2, "uru b"), "uru A/2": (0, "vcu A"), "uru A/1": (1, "uru A/2"),
    }  # fmt: skip
    assert left_without_registrar(edit, after, ()) == ()


def test_a_panel_that_goes_leaves_homes_without_a_registrar_and_says_so() -> None:
    site = plus(
        block({"A": {0: ["1"]}, "B": {0: ["2"]}}), Door(id="front", name="Front", entrance="at A", freed_by="vcu A")
    )
    site = planned(site).site
    edit = move_unit(Walk(site), "vcu A", "Entrance B")
    after = carried_out(site, edit)
    (trouble,) = left_without_registrar(edit, after, ())
    assert "uru A/1" in trouble.problem
    assert any("Front" in trouble.problem and "escape route" in trouble.remedy for trouble in edit.troubles)


def test_a_larger_range_keeps_the_addresses_that_it_can_have() -> None:
    site = planned(plus(block({"A": {0: ["1", "2"]}}), subnet("192.0.2.0/26", gateway="192.0.2.1"))).site
    edit = new_subnet(Walk(site), "net", cidr="192.0.2.0/25")
    assert {one.address for one in carried_out(site, edit).all(Unit)} == {one.address for one in site.units}
    # issued in rising order past the gateway, the three units have .2, .3 and .4; .2 becomes the gateway's
    edit = new_subnet(Walk(site), "net", cidr="192.0.2.0/26", gateway="192.0.2.2")
    assert sorted(one.address or "" for one in carried_out(site, edit).all(Unit)) == [
        "192.0.2.1",
        "192.0.2.3",
        "192.0.2.4",
    ]
    assert any(text.startswith("1 address must be issued anew") for text in edit.told)


def test_a_server_in_a_range_given_up_is_told_of() -> None:
    site = plus(block({"A": {0: ["1"]}}), subnet("192.0.2.0/26"), server(address="192.0.2.60"))
    edit = new_subnet(Walk(site), "net", cidr="203.0.113.0/26")
    assert [trouble.problem for trouble in edit.troubles] == [
        "Server has 192.0.2.60, an address of the range that was given up"
    ]


def test_a_type_that_does_less_is_told_of() -> None:
    site = planned(block({"A": {0: [str(n) for n in range(1, 8)]}}, vcu="vcu-direct")).site
    edit = replace_unit(Walk(site), "vcu A", serial="A00000001", profile="vcu-keypad", profiles=PROFILES)
    after = carried_out(site, edit)
    assert after.keys_of("vcu A") == ()  # a keypad type has no keys by its data sheet
    assert any("7 keys of vcu A are given up" in text for text in edit.told)


def test_a_serial_number_of_another_form_is_told_of_but_taken() -> None:
    site = block({"A": {0: ["1"]}})
    edit = replace_unit(Walk(site), "uru A/1", serial="12-345", profiles=PROFILES)
    (trouble,) = edit.troubles
    assert "12-345" in trouble.problem


def test_a_renamed_dwelling_keeps_its_number() -> None:
    site = planned(block({"A": {0: ["1"]}, "B": {0: ["5"]}})).site
    edit = rename(Walk(site), "dwelling 1", "5")  # another core's 5 is no clash
    dwelling = carried_out(site, edit).get(Dwelling, "A/1")
    assert (dwelling.door_label, dwelling.call_number) == ("5", "1")
    assert any("stays 1" in text for text in edit.told)
    with pytest.raises(Refused, match="empty"):
        rename(Walk(site), "A/1", " ")
