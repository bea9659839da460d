"""Ranges as users write them. Hosts of a prefix: RFC 4632 for the ends, RFC 3021 for /31."""

from ipaddress import IPv4Address, IPv4Network

import pytest

from doorwright.model.ranges import address_of, hosts_of, network_of, span_of


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("192.0.2.7", "192.0.2.7", "192.0.2.7"),
        ("192.0.2.7 - 192.0.2.9", "192.0.2.7", "192.0.2.9"),
    ],
)
def test_a_range_holds_both_its_ends(text: str, low: str, high: str) -> None:
    assert span_of(text) == (IPv4Address(low), IPv4Address(high))


@pytest.mark.parametrize("text", ["", "192.0.2", "192.0.2.9-192.0.2.7", "a-b"])
def test_other_text_is_no_range(text: str) -> None:
    assert span_of(text) is None


@pytest.mark.parametrize(
    ("cidr", "low", "high"),
    [
        ("192.0.2.0/24", "192.0.2.1", "192.0.2.254"),
        ("192.0.2.0/31", "192.0.2.0", "192.0.2.1"),
        ("192.0.2.7/32", "192.0.2.7", "192.0.2.7"),
    ],
)
def test_hosts_of_a_subnet(cidr: str, low: str, high: str) -> None:
    assert hosts_of(IPv4Network(cidr)) == (IPv4Address(low), IPv4Address(high))


def test_text_that_is_no_address_is_none() -> None:
    assert network_of("192.0.2.0/33") is None
    assert network_of("192.0.2.5/24") == IPv4Network("192.0.2.0/24")
    assert address_of("192.0.2.256") is None
