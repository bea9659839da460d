"""Addresses: how many a subnet has, and what the registers have set ranges aside for."""

from dataclasses import dataclass
from enum import StrEnum
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_network
from typing import Final, TypeAlias

from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

Address: TypeAlias = IPv4Address | IPv6Address
Network: TypeAlias = IPv4Network | IPv6Network


class AddressUse(StrEnum):
    """What a range of addresses is set aside for."""

    PRIVATE = "private use"
    LINK_LOCAL = "link-local"
    DOCUMENTATION = "documentation"
    SHARED = "shared by carriers"


@dataclass(frozen=True, slots=True)
class AddressRange:
    """A range of addresses, what it is set aside for, and by which document."""

    network: Network
    use: AddressUse
    cite: Cite


# Not ipaddress.is_private: that counts the documentation ranges among the private ones, and RFC 1918 does not.
RANGES: Final = (
    AddressRange(ip_network("10.0.0.0/8"), AddressUse.PRIVATE, Cite("rfc1918", "section 3")),
    AddressRange(ip_network("172.16.0.0/12"), AddressUse.PRIVATE, Cite("rfc1918", "section 3")),
    AddressRange(ip_network("192.168.0.0/16"), AddressUse.PRIVATE, Cite("rfc1918", "section 3")),
    AddressRange(ip_network("169.254.0.0/16"), AddressUse.LINK_LOCAL, Cite("rfc3927", "section 2.1")),
    AddressRange(ip_network("192.0.2.0/24"), AddressUse.DOCUMENTATION, Cite("rfc5737", "section 3")),
    AddressRange(ip_network("198.51.100.0/24"), AddressUse.DOCUMENTATION, Cite("rfc5737", "section 3")),
    AddressRange(ip_network("203.0.113.0/24"), AddressUse.DOCUMENTATION, Cite("rfc5737", "section 3")),
    AddressRange(ip_network("2001:db8::/32"), AddressUse.DOCUMENTATION, Cite("rfc3849", "section 2")),
    AddressRange(ip_network("100.64.0.0/10"), AddressUse.SHARED, Cite("rfc6598", "section 7")),
)

DOCUMENTATION_MACS: Final = ((0x00005E005300, 0x00005E0053FF), (0x01005E901000, 0x01005E9010FF))
"""First and last of the unicast and multicast MAC addresses for documentation (RFC 7042, section 2.1.2)."""


@calculation("Usable addresses of a subnet", Cite("rfc4632", "section 3.1"), Cite("rfc3021", "section 2.1"))
def usable_hosts_count(*, prefix_bit: int) -> int:
    """Return how many hosts an IPv4 subnet can address.

    Formula: 2^(32 - n) - 2, for the network's own address and broadcast; 2 for a prefix of 31, 1 for one of 32.

    Valid when: the prefix lies between 0 and 32. A prefix of 31 is a link between two routers: no switch of units.

    Args:
        prefix_bit: length of the prefix, bit.

    Returns:
        Number of addresses that hosts may have.

    Raises:
        ValueError: the prefix is not between 0 and 32.
    """
    if not 0 <= prefix_bit <= 32:
        raise ValueError(f"an IPv4 prefix has 0 to 32 bits, not {prefix_bit}")
    addresses_count: int = 1 << (32 - prefix_bit)
    return addresses_count if prefix_bit >= 31 else addresses_count - 2


def range_of(address: Address) -> AddressRange | None:
    """Return the range that an address lies in, or None where no document has set it aside."""
    return next((known for known in RANGES if address in known.network), None)


def is_private_use(address: Address) -> bool:
    """Say whether an address is one of RFC 1918's."""
    known = range_of(address)
    return known is not None and known.use is AddressUse.PRIVATE


def is_documentation(address: Address) -> bool:
    """Say whether an address is set aside for documentation (RFC 5737, RFC 3849)."""
    known = range_of(address)
    return known is not None and known.use is AddressUse.DOCUMENTATION


def is_documentation_mac(mac: str) -> bool:
    """Say whether a MAC address, in pairs of hexadecimal digits, is set aside for documentation (RFC 7042)."""
    digits = "".join(sign for sign in mac if sign not in ":-. ")
    try:
        number = int(digits, 16)
    except ValueError:
        return False
    return len(digits) == 12 and any(first <= number <= last for first, last in DOCUMENTATION_MACS)
