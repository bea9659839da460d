"""Who is asked: the units, switches and servers of the plan, each at its planned address and at no other."""

from collections import Counter
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network

from doorwright.kernel.verdict import Subject
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk

_MANY_HOSTS_PREFIX = 31  # RFC 3021: with 31 bits or more there is neither a network's nor a broadcast address


@dataclass(frozen=True, slots=True, kw_only=True)
class Ports:
    """The ports at which is asked; None where a protocol is not asked for. A SIP server's own port is in the plan."""

    http: int | None = 80
    https: int | None = 443
    rtsp: int | None = 554
    sip: int | None = 5060


@dataclass(frozen=True, slots=True, kw_only=True)
class Target:
    """One part of the plan that is asked, its address, and the ports that are right for it."""

    subject: Subject
    name: str
    address: str
    ports: Ports


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftOut:
    """One part of the plan that cannot be asked, and why."""

    subject: Subject
    name: str
    reason: str


def targets(walk: Walk, ports: Ports) -> tuple[tuple[Target, ...], tuple[LeftOut, ...]]:
    """Return whom to ask, servers and switches first, and who is left out.

    Servers and switches come first because what is behind a dead switch explains itself. An address that names no
    single host, or that lies on the public internet outside every subnet of the plan, is a slip of the pen and not
    asked: it may be a stranger's. Nor is one that the plan gives to several, as nobody could say whose answer it is.
    """
    parts: list[Unit | Switch | SipServer] = [
        *sorted(walk.all(SipServer), key=lambda one: natural_key(one.label)),
        *sorted(walk.all(Switch), key=lambda one: natural_key(one.label)),
        *sorted(walk.all(Unit), key=lambda one: natural_key(one.label)),
    ]
    networks = [network for subnet in walk.all(Subnet) if (network := _network(subnet)) is not None]
    read = [_read(part.address) for part in parts]
    holders = Counter(address for address in read if address is not None)
    asked: list[Target] = []
    left_out: list[LeftOut] = []
    for part, address in zip(parts, read, strict=True):
        reason = _unfit(part, address, networks)
        if not reason and address is not None and holders[address] > 1:
            reason = f"{address} is planned for several: correct the plan first"
        if reason or address is None:
            left_out.append(LeftOut(subject=part.subject, name=part.label, reason=reason))
        else:
            asked.append(
                Target(subject=part.subject, name=part.label, address=str(address), ports=_ports_of(part, ports))
            )
    return tuple(asked), tuple(left_out)


def _ports_of(part: Unit | Switch | SipServer, ports: Ports) -> Ports:
    """Return what is asked of a part: SIP of units and servers, RTSP of what has a camera."""
    return Ports(
        http=ports.http,
        https=ports.https,
        rtsp=ports.rtsp if isinstance(part, Unit) and part.kind is UnitKind.VCU else None,
        sip=part.port if isinstance(part, SipServer) else ports.sip if isinstance(part, Unit) else None,
    )


def _read(address: str | None) -> IPv4Address | IPv6Address | None:
    try:
        return ip_address(address) if address is not None else None
    except ValueError:
        return None


def _network(subnet: Subnet) -> IPv4Network | IPv6Network | None:
    try:
        return ip_network(subnet.cidr, strict=False)
    except ValueError:
        return None


def _unfit(
    part: Unit | Switch | SipServer,
    address: IPv4Address | IPv6Address | None,
    networks: list[IPv4Network | IPv6Network],
) -> str:
    """Return why an address is not asked, or nothing."""
    if part.address is None:
        return "it has no address in the plan"
    if address is None:
        return f"{part.address} is no IP address"
    around = [network for network in networks if address in network]
    many = any(
        network.prefixlen < _MANY_HOSTS_PREFIX
        and address in (network.network_address, network.broadcast_address)
        and isinstance(network, IPv4Network)
        for network in around
    )
    if many or address.is_multicast or address.is_unspecified or address.is_reserved:
        return f"{address} is not the address of one host"
    if not around and address.is_global:
        return f"{address} is on the public internet and in no subnet of the plan"
    return ""
