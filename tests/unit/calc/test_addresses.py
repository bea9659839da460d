from ipaddress import ip_address

import pytest

from doorwright.calc import addresses


def test_documentation_is_not_private_use() -> None:
    # RFC 5737 and RFC 1918 name different ranges, whatever ipaddress.is_private says
    address = ip_address("198.51.100.20")
    assert address.is_private
    assert addresses.is_documentation(address)
    assert not addresses.is_private_use(address)


def test_ranges_do_not_overlap() -> None:
    networks = [known.network for known in addresses.RANGES]
    for i, first in enumerate(networks):
        for second in networks[i + 1 :]:
            assert first.version != second.version or not first.overlaps(second)


@pytest.mark.parametrize("mac", ["", "00-00-5E-00-53", "00-00-5E-00-53-0G", "not a MAC", "00-00-5E-00-53-00-00"])
def test_text_that_is_no_mac_is_none_for_documentation(mac: str) -> None:
    assert not addresses.is_documentation_mac(mac)


@pytest.mark.parametrize("prefix_bit", [-1, 33])
def test_no_such_prefix(prefix_bit: int) -> None:
    with pytest.raises(ValueError, match="0 to 32 bits"):
        addresses.usable_hosts_count(prefix_bit=prefix_bit)


@pytest.mark.parametrize(
    ("mac", "is_for_documentation"),
    # RFC 7042, section 2.1.2 (RFC 9542 keeps it): 00-00-5E-00-53-00 to -FF, and multicast 01-00-5E-90-10-00 to -FF
    [
        ("00-00-5E-00-53-00", True), ("00:00:5e:00:53:ff", True), ("00-00-5E-00-52-FF", False),
        ("00-00-5E-00-54-00", False), ("01-00-5E-90-10-00", True), ("01-00-5E-90-10-FF", True),
        ("01-00-5E-90-0F-FF", False), ("01-00-5E-90-11-00", False), ("0-00-00-5E-00-53-00", False),
    ],
)  # fmt: skip
def test_both_ends_of_the_macs_for_documentation(mac: str, *, is_for_documentation: bool) -> None:
    assert addresses.is_documentation_mac(mac) is is_for_documentation


@pytest.mark.parametrize(("prefix_bit", "count"), [(0, 4_294_967_294), (24, 254), (30, 2), (31, 2), (32, 1)])
def test_hosts_of_the_shortest_and_longest_prefixes(prefix_bit: int, count: int) -> None:
    """RFC 4632 and RFC 3021: 2³² - 2 in all; 2² - 2; both ends of a link; one host."""
    assert addresses.usable_hosts_count(prefix_bit=prefix_bit) == count


@pytest.mark.parametrize("address", ["192.0.3.0", "192.0.1.255", "2001:db9::1"])
def test_what_no_document_has_set_aside_has_no_range(address: str) -> None:
    known = ip_address(address)
    assert addresses.range_of(known) is None
    assert not addresses.is_documentation(known)
    assert not addresses.is_private_use(known)
