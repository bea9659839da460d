"""Where the parts of a plan live on this machine: each planned address has a loopback address of its own.

Linux and Windows answer for all of 127.0.0.0/8 (RFC 1122 §3.2.1.3 keeps it from every network). There the last three
numbers stay: 10.20.3.7 becomes 127.20.3.7. Where two would meet, or one is special, the later one's second number
moves on. A system with 127.0.0.1 alone gives each part ports of its own there instead.
"""

import socket
from collections.abc import Iterable
from dataclasses import dataclass, field
from ipaddress import AddressValueError, IPv4Address
from typing import Final

from doorwright.model.network import SipServer, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rehearse.box import MEDIA_PORT, SIP_PORT

LOCAL: Final = "127.0.0.1"
"""The one address that every system has; kept for who asks, and for a part that is planned there."""
_SPECIAL: Final = frozenset({"127.0.0.0", LOCAL, "127.255.255.255"})
_OCTETS: Final = 256


@dataclass(frozen=True, slots=True, kw_only=True)
class Ports:
    """At which ports parts listen: SIP and media over UDP, web and picture server (RTSP) over TCP."""

    sip: int = SIP_PORT
    media: int = MEDIA_PORT
    http: int = 8080
    rtsp: int = 8554


@dataclass(frozen=True, slots=True)
class Place:
    """Where one part lives. ``alone`` says that no other has its address, so that a planned port can stay."""

    address: str
    ports: Ports
    alone: bool = True

    def sip_port(self, planned: int) -> int:
        """Return where it listens for SIP, with the port that the plan gives it."""
        return planned if self.alone and planned != SIP_PORT else self.ports.sip


@dataclass(slots=True)
class Places:
    """The place of every planned address: the same for the same addresses, whoever asks."""

    ports: Ports = field(default_factory=Ports)
    shared: bool = False
    _given: dict[str, Place] = field(default_factory=dict)
    _taken: set[str] = field(default_factory=lambda: set(_SPECIAL))

    def give(self, addresses: Iterable[str]) -> None:
        """Give places to addresses, in order of number; those that are loopback addresses already keep theirs."""
        read = {IPv4Address(address) for address in addresses if _is_ipv4(address)}
        for address in sorted(read, key=lambda one: (not one.is_loopback, one)):
            self.of(str(address))

    def of(self, address: str) -> Place:
        """Return the place of an IPv4 address; one that was not planned gets a place when it is first asked for.

        Raises:
            AddressValueError: it is no IPv4 address.
        """
        planned = IPv4Address(address)
        key = str(planned)
        if key not in self._given:
            self._given[key] = self._shared(len(self._given)) if self.shared else self._own(planned)
        return self._given[key]

    def _own(self, planned: IPv4Address) -> Place:
        address = str(planned) if planned.is_loopback else self._free(planned)
        self._taken.add(address)
        return Place(address, self.ports)

    def _free(self, planned: IPv4Address) -> str:
        _, second, third, last = planned.packed
        for more in range(_OCTETS):
            for step in range(_OCTETS):
                address = f"127.{(second + step) % _OCTETS}.{(third + more) % _OCTETS}.{last}"
                if address not in self._taken:
                    return address
        raise AddressValueError(f"there is no loopback address left that ends with {last}")

    def _shared(self, nth: int) -> Place:
        ports = self.ports
        # speech, pictures and what each may report take four ports (RFC 3550 §11); web and picture servers take turns,
        # so that neither range grows into the other
        own = Ports(
            sip=ports.sip + nth, media=ports.media + 4 * nth, http=ports.http + 2 * nth, rtsp=ports.http + 2 * nth + 1
        )
        return Place(LOCAL, own, alone=False)


def places_of(walk: Walk, ports: Ports, *, shared: bool | None = None) -> Places:
    """Return the places of a site.

    Args:
        walk: the site.
        ports: at which ports parts listen; the first of them where all share one address.
        shared: whether all share one address; None asks the system.
    """
    places = Places(ports, has_one_address() if shared is None else shared)
    parts: tuple[Unit | SipServer | Switch, ...] = (*walk.all(Unit), *walk.all(SipServer), *walk.all(Switch))
    places.give(part.address for part in parts if part.address is not None)
    return places


def has_one_address() -> bool:
    """Say whether this system has 127.0.0.1 alone: it lets nobody listen at another loopback address."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as one:
        try:
            one.bind(("127.0.0.2", 0))
        except OSError:
            return True
    return False


def _is_ipv4(address: str) -> bool:
    try:
        IPv4Address(address)
    except AddressValueError:
        return False
    return True
