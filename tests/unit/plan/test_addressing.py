"""Addresses. Usable ones are counted by hand: RFC 4632 (first and last are no hosts), RFC 3021 for /31."""

import pytest

from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.addressing import plan_addresses
from doorwright.plan.draft import Draft
from tests.unit.plan.block import block, drafted, plus, put, server, subnet, switch, unit

ONE_EACH = {"A": {1: ["1"]}}


def draft_of(site: Site) -> Draft:
    return plan_addresses(Walk(site))


def addresses_of(draft: Draft) -> dict[str, str]:
    return drafted(draft, "address")


def test_switches_come_first_then_vcus_smus_and_urus_past_the_gateway() -> None:
    site = plus(block(ONE_EACH), unit("smu desk"), switch("S1"), subnet("192.0.2.0/24", gateway="192.0.2.2"))
    draft = draft_of(site)
    assert addresses_of(draft) == {
        "S1": "192.0.2.1",
        "vcu A": "192.0.2.3",
        "smu desk": "192.0.2.4",
        "uru A/1": "192.0.2.5",
    }
    assert set(drafted(draft, "subnet").values()) == {"net"}


def test_reserved_addresses_and_those_before_first_are_passed_over() -> None:
    net = subnet("192.0.2.0/24", first="192.0.2.10", reserved=("192.0.2.10", "192.0.2.12-192.0.2.14"))
    assert addresses_of(draft_of(plus(block(ONE_EACH), net))) == {"vcu A": "192.0.2.11", "uru A/1": "192.0.2.15"}


def test_a_full_subnet_is_told_of_and_what_fits_is_planned() -> None:
    # a /30 holds four addresses, two of them hosts; one is the gateway
    site = plus(block(ONE_EACH), subnet("192.0.2.0/30", gateway="192.0.2.1"))
    draft = draft_of(site)
    assert addresses_of(draft) == {"vcu A": "192.0.2.2"}
    (trouble,) = draft.troubles
    assert "is full: 1 units and switches" in trouble.problem
    assert [subject.id for subject in trouble.subjects] == ["net", "uru A/1"]


def test_last_closes_a_subnet_early() -> None:
    draft = draft_of(plus(block(ONE_EACH), subnet("192.0.2.0/24", last="192.0.2.1")))
    assert addresses_of(draft) == {"vcu A": "192.0.2.1"}


@pytest.mark.parametrize(
    ("cidr", "expected"),
    [
        ("192.0.2.6/31", {"vcu A": "192.0.2.6", "uru A/1": "192.0.2.7"}),  # RFC 3021: both are hosts
        ("192.0.2.7/32", {"vcu A": "192.0.2.7"}),
    ],
)
def test_the_smallest_subnets_give_all_they_have(cidr: str, expected: dict[str, str]) -> None:
    assert addresses_of(draft_of(plus(block(ONE_EACH), subnet(cidr)))) == expected


def test_nothing_taken_is_issued_again() -> None:
    site = plus(
        put(block(ONE_EACH), "uru A/1", address="192.0.2.2"),
        server(address="192.0.2.1"),
        subnet("192.0.2.0/28", gateway="192.0.2.3"),
    )
    draft = draft_of(site)
    assert addresses_of(draft) == {"vcu A": "192.0.2.4"}
    assert drafted(draft, "subnet")["uru A/1"] == "net"


def test_the_subnet_for_the_kind_goes_before_the_one_for_everything() -> None:
    site = plus(
        block(ONE_EACH),
        switch("S1"),
        subnet("198.51.100.0/24", "everything"),
        subnet("192.0.2.0/24", "homes", kinds=("URU",)),
        subnet("203.0.113.0/24", "network", kinds=("switch",)),
    )
    assert drafted(draft_of(site), "subnet") == {"S1": "network", "vcu A": "everything", "uru A/1": "homes"}


def test_a_subnet_already_chosen_stays() -> None:
    site = plus(
        put(block(ONE_EACH), "uru A/1", subnet="b"), subnet("192.0.2.0/24", "a"), subnet("198.51.100.0/24", "b")
    )
    draft = draft_of(site)
    assert addresses_of(draft)["uru A/1"] == "198.51.100.1"
    assert "uru A/1" not in drafted(draft, "subnet")


@pytest.mark.parametrize("nets", [(), (subnet("192.0.2.0/24", kinds=("switch",)),)])
def test_what_has_no_subnet_is_told_of(nets: tuple[()]) -> None:
    draft = draft_of(plus(block(ONE_EACH), *nets))
    assert draft.changes == ()
    (trouble,) = draft.troubles
    assert {subject.id for subject in trouble.subjects} == {"vcu A", "uru A/1"}


def test_an_address_outside_every_subnet_is_told_of() -> None:
    site = plus(put(block(ONE_EACH), "vcu A", address="198.51.100.9"), subnet("192.0.2.0/24"))
    (trouble,) = draft_of(site).troubles
    assert [subject.id for subject in trouble.subjects] == ["vcu A"]


@pytest.mark.parametrize(
    "net", [subnet("everywhere"), subnet("2001:db8::/64"), subnet("192.0.2.0/24", reserved=("a few",))]
)
def test_a_subnet_that_cannot_be_read_is_told_of(net: object) -> None:
    draft = draft_of(plus(block(ONE_EACH), net))  # type: ignore[arg-type]
    assert addresses_of(draft) == {}
    assert "subnet net gives no addresses" in draft.troubles[0].problem
