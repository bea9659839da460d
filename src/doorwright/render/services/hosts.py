"""Which address a DHCP server keeps for which MAC address, subnet by subnet."""

import re
from collections import Counter
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Network
from typing import Final

from doorwright.model.label import natural_key
from doorwright.model.naming import named
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.ranges import address_of, network_of
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.render.services.spelling import host_label, note, unlike

LEASE_S: Final = 24 * 3600
"""How long an address is lent: a unit that was off for a day asks again. Common practice."""

_MAC: Final = re.compile(r"[0-9a-f]{12}")
_NAMED_MOST_COUNT: Final = 6
_UNICAST_BIT: Final = 0x01


@dataclass(frozen=True, slots=True, kw_only=True)
class Host:
    """One unit or switch with its own address: ``mac`` as ``02:00:5e:00:53:01``, ``host`` its label in host names."""

    mac: str
    address: IPv4Address
    host: str
    label: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SubnetHosts:
    """A subnet, and what has an address in it; ``time_server`` is where its units ask for the time."""

    number: int
    name: str
    network: IPv4Network
    gateway: IPv4Address | None
    time_server: IPv4Address | None
    hosts: tuple[Host, ...]


def subnets_with_hosts(walk: Walk) -> tuple[tuple[SubnetHosts, ...], tuple[str, ...]]:
    """Return the subnets with their hosts in order of address, and remarks on what is left out and why."""
    untold: dict[str, list[str]] = {}
    ranges: dict[str, IPv4Network] = {}
    for subnet in sorted(walk.all(Subnet), key=lambda one: (natural_key(one.name), one.id)):
        network = network_of(subnet.cidr)
        overlaps = network is not None and any(network.overlaps(other) for other in ranges.values())
        if network is None or overlaps:
            why = "overlap another subnet" if overlaps else "have no range that can be read"
            untold.setdefault(f"subnets that {why}", []).append(subnet.name)
        else:
            ranges[subnet.id] = network
    hosts = _hosts(walk, ranges, untold)
    time_server = time_server_of(walk)
    made = tuple(
        SubnetHosts(
            number=number,
            name=walk.get(Subnet, ident).name,
            network=network,
            gateway=_gateway(walk.get(Subnet, ident), network),
            time_server=time_server,
            hosts=tuple(sorted(hosts.get(ident, ()), key=lambda host: host.address)),
        )
        for number, (ident, network) in enumerate(ranges.items(), start=1)
    )
    return made, tuple(_told(why, names) for why, names in untold.items())


def time_server_of(walk: Walk) -> IPv4Address | None:
    """Return the address at which units are told to ask for the time: that of the first SIP server by name."""
    servers = sorted(walk.all(SipServer), key=lambda server: (natural_key(server.name), server.id))
    return next((found for server in servers if (found := address_of(server.address or "")) is not None), None)


def mac_of(text: str | None) -> str | None:
    """Return a MAC address as six pairs of small digits with colons, or None where it is none of one interface."""
    digits = re.sub(r"[\s:.-]", "", text or "").lower()
    if not _MAC.fullmatch(digits) or not int(digits, 16) or int(digits[:2], 16) & _UNICAST_BIT:
        return None
    return ":".join(digits[at : at + 2] for at in range(0, 12, 2))


def _hosts(walk: Walk, ranges: dict[str, IPv4Network], untold: dict[str, list[str]]) -> dict[str, list[Host]]:
    holders: list[Unit | Switch] = [*walk.all(Unit), *walk.all(Switch)]
    holders.sort(key=lambda one: (natural_key(one.name), one.id))
    macs = Counter(mac_of(one.mac) for one in holders)
    addresses = Counter(address_of(one.address or "") for one in holders)
    addresses.update(address_of(server.address or "") for server in walk.all(SipServer))
    used: set[str] = set()
    found: dict[str, list[Host]] = {}
    for holder in holders:
        mac, address = mac_of(holder.mac), address_of(holder.address or "")
        network = ranges.get(holder.subnet or "")
        reasons = (
            (not holder.mac, "have no MAC address yet"),
            (mac is None, "have a MAC address that cannot be one"),
            (macs[mac] > 1, "share a MAC address"),
            (address is None, "have no address yet"),
            (addresses[address] > 1, "share an address"),
            (network is None, "have no subnet that can be served"),
            (network is not None and address is not None and address not in network, "have an address outside theirs"),
        )
        why = next((reason for holds, reason in reasons if holds), None)
        if why is not None or mac is None or address is None:
            untold.setdefault(f"units and switches that {why}", []).append(named(walk, holder))
            continue
        host = unlike(host_label(holder.name, "unit" if isinstance(holder, Unit) else "switch"), used)
        found.setdefault(holder.subnet or "", []).append(
            Host(mac=mac, address=address, host=host, label=named(walk, holder))
        )
    return found


def _gateway(subnet: Subnet, network: IPv4Network) -> IPv4Address | None:
    gateway = address_of(subnet.gateway or "")
    return gateway if gateway is not None and gateway in network else None


def _told(why: str, names: list[str]) -> str:
    shown = ", ".join(note(name) for name in names[:_NAMED_MOST_COUNT])
    more = f" and {len(names) - _NAMED_MOST_COUNT} more" if len(names) > _NAMED_MOST_COUNT else ""
    return f"No DHCP for {why}: {shown}{more}"
