"""The network of the rehearsed building: ports, VLANs, masks, gateways, delay and loss, and who answers for an address.

A packet finds its way as in a real building. The sender asks within its own VLAN for an address that its mask says is
near, else it hands the packet to its gateway, which knows in which VLAN each subnet lies (RFC 1122 §3.3.1.1). An
address that two boxes have is answered for by one and then by the other (RFC 5227 §1 tells what that looks like).
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache
from ipaddress import AddressValueError, IPv4Address, IPv4Network
from random import Random
from typing import Final, Protocol, TypeAlias

Segment: TypeAlias = int | None
"""A VLAN by its number; None is where no VLANs are planned."""
Spot: TypeAlias = tuple[str, int]
"""An address and a port."""

ANSWERS_FOR_S: Final = 7.0
"""How long one of two boxes with the same address answers for it, until the other does (our own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Jack:
    """How a box hangs on the network: what is entered in it, and what its port gives.

    ``cidr`` is its subnet as its mask makes it, ``segment`` the VLAN of the port, ``link`` whether there is one.
    """

    address: str
    cidr: str
    gateway: str | None
    segment: Segment
    mac: str
    link: bool = True


@dataclass(frozen=True, slots=True)
class Net:
    """A subnet that the gateways know: where it lies, and the address of the gateway in it."""

    cidr: str
    gateway: str | None
    segment: Segment


class Receiver(Protocol):
    """Whoever hangs on the wire."""

    def receive(self, data: bytes, *, source: Spot, port: int) -> None:
        """Take a packet that came to one of its ports."""


class Clock(Protocol):
    """Of the world, what the wire needs."""

    now_s: float

    def at(self, when_s: float, act: Callable[[], None]) -> None:
        """Arrange that something happens."""


Heard: TypeAlias = Callable[[float, Spot, Spot, bytes, bool], None]
"""Told of every packet: when, from where, to where, what, and whether it arrived."""


@lru_cache(maxsize=4096)
def _inside(address: str, cidr: str) -> bool:
    try:
        return IPv4Address(address) in IPv4Network(cidr, strict=False)
    except (AddressValueError, ValueError):
        return False


class Wire:
    """Carries packets between jacks."""

    def __init__(
        self,
        clock: Clock,
        *,
        nets: Iterable[Net],
        chance: Random,
        delay_s: float = 0.001,
        loss_ratio: float = 0.0,
    ) -> None:
        """Lay the network.

        Args:
            clock: of the world.
            nets: the subnets that the gateways know.
            chance: for what is lost.
            delay_s: from jack to jack.
            loss_ratio: of packets lost.
        """
        self._clock = clock
        self._nets = tuple(nets)
        self._chance = chance
        self._delay_s = delay_s
        self._loss_ratio = loss_ratio
        self._at: dict[str, list[tuple[Jack, Receiver]]] = {}
        self._routes: dict[tuple[str, str, Segment], tuple[tuple[Jack, Receiver], ...]] = {}
        self.heard: Heard | None = None

    def plug(self, jack: Jack, receiver: Receiver) -> None:
        """Hang a box on the network."""
        self._at.setdefault(jack.address, []).append((jack, receiver))
        self._routes.clear()

    def holders(self, address: str) -> tuple[Jack, ...]:
        """Return the jacks that have an address and a link."""
        return tuple(jack for jack, _ in self._at.get(address, ()) if jack.link)

    def send(self, data: bytes, *, jack: Jack, source_port: int, to: Spot) -> None:
        """Send a packet. Where nobody can be found it is lost without a word, as datagrams are."""
        now_s = self._clock.now_s
        receiver = self._found(jack, to[0], now_s)
        if receiver is not None and self._loss_ratio and self._chance.random() < self._loss_ratio:
            receiver = None
        source = (jack.address, source_port)
        if self.heard is not None:
            self.heard(now_s, source, to, data, receiver is not None)
        if receiver is not None:
            taker = receiver
            self._clock.at(now_s + self._delay_s, lambda: taker.receive(data, source=source, port=to[1]))

    def reaches(self, jack: Jack, address: str) -> bool:
        """Say whether an echo comes back: the way there and the way home are looked for each on its own."""
        return any(self._way(other, jack.address) for other, _ in self._way(jack, address))

    def _found(self, jack: Jack, address: str, now_s: float) -> Receiver | None:
        found = self._way(jack, address)
        if not found:
            return None
        return found[int(now_s / ANSWERS_FOR_S) % len(found)][1]

    def _way(self, jack: Jack, address: str) -> tuple[tuple[Jack, Receiver], ...]:
        if not jack.link:
            return ()
        key = (f"{jack.cidr} {jack.gateway}", address, jack.segment)
        if key not in self._routes:
            segment = self._segment(jack, address)
            self._routes[key] = tuple(
                one
                for one in self._at.get(address, ())
                if segment is not _LOST and one[0].segment == segment and one[0].link
            )
        return self._routes[key]

    def _segment(self, jack: Jack, address: str) -> "Segment | _Lost":
        """Return the VLAN in which the packet ends up."""
        if _inside(address, jack.cidr):
            return jack.segment
        here = any(net.gateway == jack.gateway and net.segment == jack.segment for net in self._nets)
        if jack.gateway is None or not here:
            return _LOST
        return next((net.segment for net in self._nets if _inside(address, net.cidr)), _LOST)


class _Lost:
    """Nowhere."""


_LOST: Final = _Lost()
