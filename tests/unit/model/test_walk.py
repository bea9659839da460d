"""The way around a site: look-ups, what they record, and what an edit touches."""

from dataclasses import replace
from decimal import Decimal

import pytest

from doorwright.model.change import Add, Remove, Set
from doorwright.model.network import CableRun, SipServer, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance
from doorwright.model.price import Price
from doorwright.model.site import PARTS
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.rules.sound import sound_site
from tests.unit.model.small import SITE


def ids(parts: tuple[Part, ...]) -> set[str]:
    return {part.id for part in parts}


def test_parts_by_identifier() -> None:
    walk = Walk(SITE)
    assert walk.get(Unit, "v1").name == "Gate panel"
    assert walk.find(Unit, "gone") is None
    assert walk.find(Unit, None) is None
    with pytest.raises(LookupError, match="the site has no unit 'gone'"):
        walk.get(Unit, "gone")


@pytest.mark.parametrize("kind", PARTS)
def test_a_part_of_any_kind_is_found_by_its_identifier_alone(kind: type[Part]) -> None:
    price = Price(id="price", item="cat6", amount=Decimal("0.48"))
    site = replace(sound_site(), servers=(SipServer(id="sip", name="Server"),), prices=(price,))
    assert site.table(kind)  # with a server and a price, the sound site has every kind
    assert [Walk(site).part(part.id) for part in site.table(kind)] == list(site.table(kind))


def test_no_part_is_found_by_an_identifier_that_nothing_has() -> None:
    assert Walk(SITE).part("gone") is None
    assert Walk(SITE).part(None) is None


def test_an_entrance_serves_buildings_cores_and_dwellings_each_dwelling_once() -> None:
    walk = Walk(SITE)
    assert ids(walk.dwellings_served(walk.get(Entrance, "e1"))) == {"d1", "d2", "d3"}
    served = walk.dwellings_served(walk.get(Entrance, "e2"))
    assert sorted(dwelling.id for dwelling in served) == ["d1", "d2", "d3"]  # "gone" is nowhere, d2 is named twice
    assert ids(walk.entrances_serving(walk.get(Dwelling, "d2"))) == {"e1", "e2"}


def test_labels_are_found_in_any_case() -> None:
    assert ids(Walk(SITE).dwellings_labelled("G01")) == {"d1", "d2"}


def test_holders_of_an_address_or_serial_may_be_of_several_kinds() -> None:
    walk = Walk(SITE)
    assert ids(walk.holders_of_address("192.0.2.10")) == {"v1", "w"}
    assert ids(walk.holders_of_serial("A1")) == {"v1", "m1"}
    assert walk.holders_of_mac("00-00-5E-00-53-01") == ()


def test_keys_units_and_runs() -> None:
    walk = Walk(SITE)
    assert ids(walk.keys_ringing("d1")) == {"k1"}
    assert ids(walk.keys_ringing("s1")) == {"k2"}
    assert ids(walk.units_of_kind(UnitKind.URU)) == {"u1"}
    assert ids(walk.units_registered_with("v1")) == {"u1"}
    assert ids(walk.runs_from("w")) == ids(walk.runs_to("v1")) == {"r1"}


def test_a_reference_may_point_at_several_kinds() -> None:
    walk = Walk(SITE)
    assert isinstance(walk.part("w"), Switch)
    assert isinstance(walk.part("d1"), Dwelling)
    assert walk.part("gone") is None
    assert walk.part(None) is None


def test_recording_keeps_every_look_up_and_nothing_from_outside() -> None:
    walk = Walk(SITE)
    walk.get(Unit, "v1")
    with walk.recording() as looks:
        walk.holders_of_address("192.0.2.10")
        with walk.recording() as inner:
            walk.all(Core)
    walk.get(Unit, "s1")
    assert inner == {("core", "")}
    assert looks == {
        ("units with address", "192.0.2.10"),
        ("switches with address", "192.0.2.10"),
        ("servers with address", "192.0.2.10"),
        ("core", ""),
    }


def test_an_edit_touches_the_look_ups_under_which_a_part_was_and_is_found() -> None:
    walk = Walk(SITE)
    looks = Walk.touched_by(walk, [Set("unit", "u1", "address", "192.0.2.11", "192.0.2.12")])
    assert {("unit", "u1"), ("units with address", "192.0.2.11"), ("units with address", "192.0.2.12")} <= looks
    assert ("units with address", "192.0.2.10") not in looks
    assert ("site", "") not in looks
    assert ("site", "") in Walk.touched_by(walk, [Set("site", "", "name", SITE.name, "Other")])


def test_the_walk_after_an_edit_finds_what_a_fresh_walk_finds() -> None:
    walk = Walk(SITE)
    for address in ("192.0.2.10", "192.0.2.11", "192.0.2.12"):
        walk.holders_of_address(address)
    walk.runs_to("v1")
    added = replace(SITE.dwellings[0], id="d4", call_number="4")
    changes = (
        Set("unit", "u1", "address", "192.0.2.11", "192.0.2.12"),
        Remove(SITE.runs[0], 0),
        Add(added, 3),
    )
    after = walk.after(changes)
    fresh = Walk(after.site)
    for address in ("192.0.2.10", "192.0.2.11", "192.0.2.12"):
        assert after.holders_of_address(address) == fresh.holders_of_address(address)
    assert after.runs_to("v1") == ()
    assert after.find(CableRun, "r1") is None
    assert ids(after.dwellings_numbered("4")) == {"d4"}
    assert ids(walk.holders_of_address("192.0.2.11")) == {"u1"}, "the walk around the site before is as it was"


ASKED: list[tuple[str, str]] = []


def address_of(walk: Walk, unit: Unit) -> str | None:
    ASKED.append(("address", unit.id))
    return walk.get(Unit, unit.id).address


def is_addressed(walk: Walk, unit: Unit) -> bool:
    ASKED.append(("addressed", unit.id))
    return walk.once(address_of, unit) is not None


def who_is_addressed(walk: Walk, switch: Switch) -> tuple[str, ...]:
    ASKED.append(("who", switch.id))
    return tuple(run.far for run in walk.runs_from(switch.id) if walk.once_of(is_addressed, Unit, run.far))


@pytest.fixture
def asked() -> list[tuple[str, str]]:
    """Return the questions that the walks of one test had to work out."""
    ASKED.clear()
    return ASKED


def with_address(address: str | None) -> tuple[Set, ...]:
    return (Set("unit", "v1", "address", "192.0.2.10", address),)


def test_a_question_is_answered_once_and_counts_as_one_look_up(asked: list[tuple[str, str]]) -> None:
    walk = Walk(SITE)
    unit = walk.get(Unit, "v1")
    assert walk.once(address_of, unit) == walk.once(address_of, unit) == "192.0.2.10"
    assert asked == [("address", "v1")]
    with walk.recording() as first:
        walk.once(address_of, unit)
    with walk.recording() as second:
        walk.once(address_of, unit)
    # once more for the first who notes what is looked at, since what it rests on was not noted before
    assert asked == [("address", "v1")] * 2
    assert first == second == {(address_of, "v1")}


def test_a_question_about_an_identifier_does_not_look_at_the_part_itself(asked: list[tuple[str, str]]) -> None:
    walk = Walk(SITE)
    with walk.recording() as looks:
        assert walk.once_of(address_of, Unit, "v1") == "192.0.2.10"
        assert walk.once_of(address_of, Unit, "gone") is None
    assert looks == {(address_of, "v1"), ("unit", "gone")}
    assert asked == [("address", "v1")]


def test_an_answer_that_an_edit_leaves_alone_is_not_worked_out_again(asked: list[tuple[str, str]]) -> None:
    walk = Walk(SITE)
    with walk.recording():
        walk.once_of(address_of, Unit, "u1")
    after = walk.after(with_address("192.0.2.99"))
    with after.recording():
        assert after.once_of(address_of, Unit, "u1") == "192.0.2.11"
    assert asked == [("address", "u1")]
    assert (address_of, "u1") not in after.altered


def test_who_relies_on_an_answer_that_stays_the_same_is_not_asked_again(asked: list[tuple[str, str]]) -> None:
    walk = Walk(SITE)
    with walk.recording():
        assert walk.once_of(who_is_addressed, Switch, "w") == ("v1",)
    asked.clear()
    after = walk.after(with_address("192.0.2.99"))
    assert asked == [("address", "v1"), ("addressed", "v1")]
    assert (address_of, "v1") in after.altered
    assert not after.altered & {(is_addressed, "v1"), (who_is_addressed, "w")}

    asked.clear()
    without = walk.after(with_address(None))
    assert {(address_of, "v1"), (is_addressed, "v1"), (who_is_addressed, "w")} <= without.altered
    assert sorted(asked) == [("address", "v1"), ("addressed", "v1"), ("who", "w")]
    assert walk.once_of(who_is_addressed, Switch, "w") == ("v1",), "the walk around the site before is as it was"


def test_the_answer_about_a_part_that_is_gone_has_altered() -> None:
    walk = Walk(SITE)
    with walk.recording():
        walk.once_of(who_is_addressed, Switch, "w")
    unit = walk.get(Unit, "v1")
    after = walk.after((Remove(unit, SITE.units.index(unit)),))
    assert {(is_addressed, "v1"), (who_is_addressed, "w")} <= after.altered
    with after.recording():
        assert after.once_of(who_is_addressed, Switch, "w") == ()


def test_a_question_that_fails_rests_on_what_it_had_looked_at() -> None:
    def first_address(walk: Walk, switch: Switch) -> str:
        (run,) = walk.runs_from(switch.id)
        address = walk.get(Unit, run.far).address
        if address is None:
            raise ValueError("no address")
        return address

    walk = Walk(SITE)
    with walk.recording():
        assert walk.once_of(first_address, Switch, "w") == "192.0.2.10"
    after = walk.after(with_address(None))
    assert (first_address, "w") in after.altered
    with after.recording() as looks, pytest.raises(ValueError, match="no address"):
        after.once_of(first_address, Switch, "w")
    assert {("runs from", "w"), ("unit", "v1")} <= looks
    mended = after.after((Set("unit", "v1", "address", None, "192.0.2.12"),))
    with mended.recording():
        assert mended.once_of(first_address, Switch, "w") == "192.0.2.12"
