"""The network of the rehearsed building: ports, VLANs, masks, gateways, delay and loss, and who answers for an address.

A packet finds its way as in a real building. The sender asks within its own VLAN for an address that its mask says is
near, else it hands the packet to its gateway, which knows in which VLAN each subnet lies (RFC 1122 §3.3.1.1). An
address that two boxes have is answered for by one and then by the other (RFC 5227 §1 tells what that looks like).
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from enum import StrEnum
from functools import lru_cache, partial
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
    ``mbps`` is the rate of the link where it is not the planned one, ``lost_ratio`` the share of packets that its cable
    loses.
    """

    address: str
    cidr: str
    gateway: str | None
    segment: Segment
    mac: str
    link: bool = True
    mbps: float | None = None
    lost_ratio: float = 0.0


class Flaw(StrEnum):
    """What a router that others share does to SIP."""

    REWRITES = "writes its own address into messages"
    FORGETS = "forgets where packets go"


@dataclass(frozen=True, slots=True)
class Net:
    """A subnet that the gateways know: where it lies, and the address of the gateway in it.

    ``flaw`` is there where its gateway is a shared router that hides the subnet behind an address of its own,
    ``outside`` the subnet in which it has that address.
    """

    cidr: str
    gateway: str | None
    segment: Segment
    flaw: Flaw | None = None
    outside: str | None = None


class Receiver(Protocol):
    """Whoever hangs on the wire."""

    def receive(self, data: bytes, *, source: Spot, port: int) -> None:
        """Take a packet that came to one of its ports."""


class Carrier(Protocol):
    """What an actor needs of a wire."""

    def send(self, data: bytes, *, jack: Jack, source_port: int, to: Spot) -> None:
        """Send a packet. Where nobody can be found it is lost without a word, as datagrams are."""


class Clock(Protocol):
    """Of the world, what the wire needs."""

    now_s: float

    def at(self, when_s: float, act: Callable[[], None]) -> None:
        """Arrange that something happens."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Carried:
    """A packet as it was sent.

    ``jack`` is the sender's. ``taker`` is the jack that it comes to, None where nobody was found for the address;
    one that the wire loses on the way has a taker and did not arrive. A router that others share takes and sends
    packets itself: what passes it is two packets, each with the addresses that it has there. ``says`` is the address
    that a packet from a router says it comes from, where that is not the router's own.
    """

    at_s: float
    jack: Jack
    source_port: int
    to: Spot
    data: bytes
    taker: Jack | None
    arrived: bool
    says: str | None = None

    @property
    def source(self) -> Spot:
        """The address and port that it says it comes from."""
        return self.says or self.jack.address, self.source_port


class Passage(Protocol):
    """A router that meddles with what passes it."""

    def takes(self, jack: Jack, address: str) -> bool:
        """Say whether a packet from a jack to an address is its business."""

    def taken_at(self, jack: Jack) -> Jack | None:
        """Return its own jack, at which packets from a jack come to it; None where that one does not find it."""

    def pass_on(self, data: bytes, *, jack: Jack, source_port: int, to: Spot) -> None:
        """Take a packet from inside to outside."""


LostOn: TypeAlias = Callable[[Jack, Jack, int], float]
"""Returns the share of packets lost on the way from one jack to another, to a port."""
Heard: TypeAlias = Callable[[Carried], None]
"""Told of every packet."""


@lru_cache(maxsize=4096)
def _inside(address: str, cidr: str) -> bool:
    try:
        return IPv4Address(address) in IPv4Network(cidr, strict=False)
    except (AddressValueError, ValueError):
        return False


def is_near(jack: Jack, address: str) -> bool:
    """Say whether the mask at a jack calls an address near: in the same subnet."""
    return _inside(address, jack.cidr)


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
        self.lost_on: LostOn | None = None
        self.passages: list[Passage] = []

    def plug(self, jack: Jack, receiver: Receiver) -> None:
        """Hang a box on the network."""
        self._at.setdefault(jack.address, []).append((jack, receiver))
        self._routes.clear()

    def unplug(self, jack: Jack, receiver: Receiver) -> None:
        """Take a box off the network; one that is not on it is passed over."""
        self._at[jack.address] = [one for one in self._at.get(jack.address, ()) if one[1] is not receiver]
        self._routes.clear()

    def holders(self, address: str) -> tuple[Jack, ...]:
        """Return the jacks that have an address and a link."""
        return tuple(jack for jack, _ in self._at.get(address, ()) if jack.link)

    def send(self, data: bytes, *, jack: Jack, source_port: int, to: Spot) -> None:
        """Send a packet. Where nobody can be found it is lost without a word, as datagrams are."""
        for passage in self.passages:
            if passage.takes(jack, to[0]):
                self._hand_over(passage, data, jack=jack, source_port=source_port, to=to)
                return
        now_s = self._clock.now_s
        found = self._found(jack, to[0], now_s)
        arrived = found is not None and not self._loses(jack, found[0], to[1])
        self._tell(data, jack, source_port, to, taker=found[0] if found is not None else None, arrived=arrived)
        if found is not None and arrived:
            source, taker = (jack.address, source_port), found[1]
            self._clock.at(now_s + self._delay_s, lambda: taker.receive(data, source=source, port=to[1]))

    def _hand_over(self, passage: Passage, data: bytes, *, jack: Jack, source_port: int, to: Spot) -> None:
        """Carry a packet to a router that takes it: the first step where one is on the way."""
        taker = passage.taken_at(jack) if jack.link else None
        arrived = taker is not None and not self._is_lost_by_cable(jack)
        self._tell(data, jack, source_port, to, taker=taker, arrived=arrived)
        if arrived:
            going = partial(passage.pass_on, data, jack=jack, source_port=source_port, to=to)
            self._clock.at(self._clock.now_s + self._delay_s, going)

    def deliver(self, data: bytes, *, jack: Jack, source: Spot, to: Spot) -> None:
        """Hand a packet to who has an address, whoever it says it comes from: the last step behind a router.

        ``jack`` is the router's own, in the subnet of whoever gets the packet.
        """
        near = next(((one, taker) for one, taker in self._at.get(to[0], ()) if one.segment == jack.segment), None)
        if near is None or not near[0].link:
            self._tell(data, jack, source[1], to, taker=None, arrived=False, says=source[0])
            return
        arrived = not self._is_lost_by_cable(near[0])
        self._tell(data, jack, source[1], to, taker=near[0], arrived=arrived, says=source[0])
        if arrived:
            arrives_s = self._clock.now_s + self._delay_s
            self._clock.at(arrives_s, partial(near[1].receive, data, source=source, port=to[1]))

    def _tell(
        self,
        data: bytes,
        jack: Jack,
        source_port: int,
        to: Spot,
        *,
        taker: Jack | None,
        arrived: bool,
        says: str | None = None,
    ) -> None:
        if self.heard is not None:
            self.heard(
                Carried(
                    at_s=self._clock.now_s, jack=jack, source_port=source_port, to=to, data=data, taker=taker,
                    arrived=arrived, says=says,
                )
            )  # fmt: skip

    def _is_lost_by_cable(self, jack: Jack) -> bool:
        return jack.lost_ratio > 0.0 and self._chance.random() < jack.lost_ratio

    def _loses(self, jack: Jack, taker: Jack, port: int) -> bool:
        ratios = [ratio for ratio in (self._loss_ratio, jack.lost_ratio, taker.lost_ratio) if ratio]
        if self.lost_on is not None:
            ratios.append(self.lost_on(jack, taker, port))
        return any(ratio > 0.0 and self._chance.random() < ratio for ratio in ratios)

    def takers(self, jack: Jack, address: str) -> tuple[Jack, ...]:
        """Return the jacks to which a packet for an address finds its way; none where it is lost."""
        return tuple(other for other, _ in self._way(jack, address))

    def reaches(self, jack: Jack, address: str) -> bool:
        """Say whether an echo comes back: the way there and the way home are looked for each on its own."""
        return any(self._way(other, jack.address) for other, _ in self._way(jack, address))

    def _found(self, jack: Jack, address: str, now_s: float) -> tuple[Jack, Receiver] | None:
        found = self._way(jack, address)
        if not found:
            return None
        return found[int(now_s / ANSWERS_FOR_S) % len(found)]

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
        if is_near(jack, address):
            return jack.segment
        here = any(net.gateway == jack.gateway and net.segment == jack.segment for net in self._nets)
        if jack.gateway is None or not here:
            return _LOST
        return next((net.segment for net in self._nets if _inside(address, net.cidr)), _LOST)


class _Lost:
    """Nowhere."""


_LOST: Final = _Lost()
