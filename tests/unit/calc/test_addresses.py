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
