"""DNS zones (RFC 1035 §5) by which units find their SIP server: NAPTR and SRV as RFC 3263 asks for them."""

from collections.abc import Iterator
from ipaddress import IPv4Address
from typing import Final

from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.ranges import address_of
from doorwright.model.walk import Walk
from doorwright.render.services.served import Served, ServerFile
from doorwright.render.services.spelling import host_label, is_host_name, note, notes, unlike

TTL_S: Final = 3600
"""How long an answer is kept: after a server moves, units look for it this long at the old address. Our choice."""

_SERVICES: Final = (("SIP+D2U", "_sip._udp"), ("SIP+D2T", "_sip._tcp"))
"""Transports by preference, with their services (RFC 3263 §4.1); the servers' own files listen on both."""
_RESERVED: Final = ("ns", "hostmaster", "ntp")


def zone_files(walk: Walk, title: str, revision: int) -> Served:
    """Return one zone for each realm that is a host name; ``revision`` becomes its serial number (RFC 1035 §3.3.13)."""
    zones: dict[str, list[tuple[SipServer, IPv4Address]]] = {}
    remarks: list[str] = []
    for server in sorted(walk.all(SipServer), key=lambda one: (natural_key(one.name), one.id)):
        address = address_of(server.address or "")
        realm = (server.realm or "").casefold()
        if address is None:
            remarks.append(f"No DNS for {note(server.name)}: it has no address")
        elif not is_host_name(realm):
            remarks.append(f"No DNS for {note(server.name)}: its realm is no host name")
        elif not 0 < server.port < 65536:
            remarks.append(f"No DNS for {note(server.name)}: its port is none")
        else:
            zones.setdefault(realm, []).append((server, address))
    if not zones and not remarks:
        remarks.append("No DNS: the site has no SIP server")
    files = []
    for realm, servers in zones.items():
        told = []
        if len(servers) > 1:
            told.append(f"{realm} has {len(servers)} servers: by name, units find the first, whichever knows them")
        files.append(ServerFile(name=f"{realm}.zone", text="\n".join(_lines(realm, servers, title, told, revision))))
        remarks += told
    return Served(files=tuple(files), remarks=tuple(remarks))


def _lines(
    realm: str, servers: list[tuple[SipServer, IPv4Address]], title: str, told: list[str], revision: int
) -> Iterator[str]:
    used = set(_RESERVED)
    hosts = [unlike(host_label(server.name, "sip"), used) for server, _ in servers]
    first = servers[0][1]
    yield notes([title, "The name server is taken to run beside the first SIP server; else alter ns.", *told], ";")
    yield f"$ORIGIN {realm}."
    yield f"$TTL {TTL_S}"
    yield f"@ IN SOA ns hostmaster {revision} 7200 900 1209600 300"
    yield "@ IN NS ns"
    yield f"ns IN A {first}"
    yield f"ntp IN A {first}"
    for order, (service, name) in enumerate(_SERVICES, start=1):
        yield f'@ IN NAPTR {10 * order} 50 "s" "{service}" "" {name}'
    for _, name in _SERVICES:
        for priority, ((server, _), host) in enumerate(zip(servers, hosts, strict=True), start=1):
            yield f"{name} IN SRV {10 * priority} 0 {server.port} {host}"
    # a unit that knows neither NAPTR nor SRV asks for the address of the realm itself (RFC 3263 §4.2)
    yield f"@ IN A {first}"
    for (server, address), host in zip(servers, hosts, strict=True):
        yield notes([server.name], ";")
        yield f"{host} IN A {address}"
    yield ""
