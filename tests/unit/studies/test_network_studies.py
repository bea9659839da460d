"""Room in subnets, length of links, strength of secrets, and all studies together."""

from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network

import pytest
from hypothesis import given
from hypothesis import strategies as st

from doorwright.kernel.verdict import Missing
from doorwright.model.network import CableRun, Subnet
from doorwright.model.profile import SecretPolicy
from doorwright.model.walk import Walk
from doorwright.studies.annex import all_studies
from doorwright.studies.link_length import TITLE as LINK_LENGTH
from doorwright.studies.link_length import link_length
from doorwright.studies.secret_strength import secret_strength
from doorwright.studies.subnet_room import subnet_room
from tests.unit.studies.building import SITE, part, walk_with


def test_room_in_a_subnet() -> None:
    study = subnet_room(Walk(SITE), part(Subnet, "net"))
    found = study.value
    assert found is not None
    # /26: 62 hosts; less the gateway and the SIP server 60; two units and a switch want one each
    assert (found.hosts_count, found.usable_count, found.holders_count, found.free_count) == (62, 60, 3, 57)
    assert [working.calculation.id for working in study.workings] == ["usable_hosts_count"]


numbers = st.integers(min_value=int(IPv4Address("192.0.1.240")), max_value=int(IPv4Address("192.0.3.16")))


def as_text(span: tuple[int, int]) -> str:
    return f"{IPv4Address(min(span))} - {IPv4Address(max(span))}"


@given(
    prefix_bit=st.integers(min_value=24, max_value=32),
    first=st.none() | numbers,
    last=st.none() | numbers,
    gateway=st.none() | numbers,
    reserved=st.lists(st.tuples(numbers, numbers), max_size=4),
)
def test_usable_addresses_are_those_that_counting_finds(
    *, prefix_bit: int, first: int | None, last: int | None, gateway: int | None, reserved: list[tuple[int, int]]
) -> None:
    network = IPv4Network((int(IPv4Address("192.0.2.0")), prefix_bit))
    subnet = Subnet(
        id="net",
        name="Net",
        cidr=str(network),
        first=None if first is None else str(IPv4Address(first)),
        last=None if last is None else str(IPv4Address(last)),
        gateway=None if gateway is None else str(IPv4Address(gateway)),
        reserved=tuple(as_text(span) for span in reserved),
    )
    expected = [
        host
        for host in map(int, network.hosts())
        if (first is None or host >= first)
        and (last is None or host <= last)
        and host != gateway
        and host != int(IPv4Address("192.0.2.2"))
        and not any(min(span) <= host <= max(span) for span in reserved)
    ]
    found = subnet_room(Walk(SITE.with_tables({Subnet: (subnet,)})), subnet).value
    assert found is not None
    assert found.usable_count == len(expected)


def test_a_large_subnet_is_counted_not_listed() -> None:
    subnet = Subnet(id="net", name="Net", cidr="10.0.0.0/8", reserved=("10.0.0.0-10.127.255.255",))
    found = subnet_room(Walk(SITE), subnet).value
    assert found is not None
    assert found.usable_count == 2**23 - 1  # the upper half, less the broadcast address


@pytest.mark.parametrize(
    ("facts", "missing"),
    [
        ({"cidr": "192.0.2.0 / hello"}, "range in CIDR form (IPv4)"),
        ({"cidr": "2001:db8::/64"}, "range in CIDR form (IPv4)"),
        ({"first": "192.0.2"}, "first"),
        ({"last": "?"}, "last"),
        ({"gateway": "192.0.2.256"}, "gateway"),
        ({"reserved": ("192.0.2.9-",)}, None),
        ({"reserved": ("printer",)}, "reserved"),
        ({"reserved": ("192.0.2.9-192.0.2.5",)}, "reserved"),
    ],
)
def test_text_that_is_no_address_is_asked_for(facts: dict[str, object], missing: str | None) -> None:
    study = subnet_room(Walk(SITE), replace(part(Subnet, "net"), **facts))
    assert study.missing == (() if missing is None else (Missing("subnet", missing),))
    assert (study.value is None) is (missing is not None)


def test_a_link_of_95_m_is_too_long_and_one_of_80_m_is_not_until_it_is_hot() -> None:
    walk = Walk(SITE)
    long, short = (link_length(walk, part(CableRun, ident)).value for ident in ("to-home", "to-desk"))
    assert long is not None
    assert short is not None
    assert (long.limit_m, long.within, short.within) == (90.0, False, True)
    hot = walk_with(CableRun, "to-desk", temperature_c=60.0)
    found = link_length(hot, hot.get(CableRun, "to-desk")).value
    assert found is not None
    # TIA-568-C.2 clause 6.4.7: 20 K × 0.4 % + 20 K × 0.6 % = 20 %; 90/1.2 = 75 m
    assert found.limit_m == pytest.approx(75.0)
    assert not found.within


def test_lock_cables_and_fibre_raise_no_question_of_link_length() -> None:
    for ident in ("to-front", "riser"):
        study = link_length(Walk(SITE), part(CableRun, ident))
        assert (study.value, study.missing) == (None, ())


def test_a_link_between_switches_waits_for_its_cable() -> None:
    walk = walk_with(CableRun, "riser", cable=None)
    assert link_length(walk, walk.get(CableRun, "riser")).missing == (Missing("cable run", "cable"),)


def test_strength_of_a_secret() -> None:
    policy = SecretPolicy(length_min_count=12, length_max_count=16, alphabet="letters and digits")
    found = secret_strength(policy).value
    assert found is not None
    assert found.alphabet_count == 62
    assert found.shortest_bit == pytest.approx(71.4504, abs=5e-5)  # 12 of 62: 12 × log2 62
    assert found.longest_bit == pytest.approx(95.2671, abs=5e-5)  # 71.4504 × 16/12
    unknown = secret_strength(replace(policy, alphabet="runes"))
    assert (unknown.value, unknown.missing) == (None, (Missing("secret policy", "alphabet"),))


def test_all_studies_answer_or_say_what_they_wait_for() -> None:
    studies = list(all_studies(walk_with(CableRun, "to-home", length_m=None)))
    assert all((study.value is None) is bool(study.missing) for study in studies)
    asked = {(study.subject.kind, study.subject.id) for study in studies}
    assert {("unit", "desk"), ("switch", "low"), ("switch", "high"), ("door", "front"), ("supply", "supply")} <= asked
    assert ("unit", "home") not in asked
    lengths = {study.subject.id for study in studies if study.title == LINK_LENGTH}
    assert "to-front" not in lengths
    waiting = [study.subject.id for study in studies if study.title == LINK_LENGTH and study.missing]
    assert waiting == ["to-home"]
    policies = [study.subject.id for study in studies if study.subject.kind == "secret policy"]
    assert policies == ["12 to 16 of letters and digits"]
