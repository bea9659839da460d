"""Addresses and ranges read from the text that users wrote, IPv4."""

from functools import lru_cache
from ipaddress import IPv4Address, IPv4Network


@lru_cache(maxsize=4096)
def network_of(cidr: str) -> IPv4Network | None:
    """Return the IPv4 range of a text in prefix form, whatever its host bits, or None where it is none."""
    try:
        return IPv4Network(cidr, strict=False)
    except ValueError:
        return None


def address_of(text: str) -> IPv4Address | None:
    """Return the IPv4 address of a text, or None where it is none."""
    try:
        return IPv4Address(text)
    except ValueError:
        return None


def span_of(text: str) -> tuple[IPv4Address, IPv4Address] | None:
    """Return both ends of a range ``a-b`` or of a single address; None for other text or a range turned round."""
    low_text, _, high_text = text.partition("-")
    low, high = address_of(low_text.strip()), address_of((high_text or low_text).strip())
    return (low, high) if low and high and low <= high else None


def hosts_of(network: IPv4Network) -> tuple[IPv4Address, IPv4Address]:
    """Return the first and last address of a subnet that a host may have.

    The ends of a subnet are its own address and its broadcast, but for /31 (RFC 3021) and /32.
    """
    edge = 0 if network.prefixlen >= 31 else 1
    return network.network_address + edge, network.broadcast_address - edge
