"""The wire of the rehearsed building as sockets: in each box for SIP, for speech and reports on it, for pictures.

On loopback every socket reaches every other. The planned network decides nevertheless: between two boxes goes only what
VLANs, masks and gateways would let through. Who is no box of ours stands beyond the gateways, and is met by boxes that
the gateways can find and that can find them.
"""

from collections.abc import Callable, Iterable
from ipaddress import AddressValueError, IPv4Address, IPv4Network

from doorwright.line.udp import Udp, open_udp
from doorwright.loopback.moving_in import Tenant
from doorwright.rehearse.box import Box
from doorwright.rehearse.wire import Jack, Net, Receiver, Spot, Wire
from doorwright.rehearse.world import Time


class Wired:
    """Carries packets over sockets."""

    def __init__(self, time: Time, nets: Iterable[Net]) -> None:
        """Lay the wire; ``nets`` are the subnets that the gateways know, as planned."""
        self._nets = tuple(nets)
        self._planned = Wire(_Clock(time), nets=self._nets, chance=time.chance("wire"))
        self._jacks: dict[Spot, Jack] = {}
        self._sockets: dict[Spot, Udp] = {}

    def plug(self, tenant: Tenant, receiver: Receiver) -> None:
        """Hang a box on the network; `open` gives it sockets."""
        self._planned.plug(tenant.planned.jack, receiver)
        for spot in _spots(tenant.box):
            self._jacks[spot] = tenant.planned.jack

    async def open(self, tenant: Tenant, receiver: Receiver) -> None:
        """Give a box that has a link its sockets.

        Raises:
            OSError: the address is not of this machine, or the port is taken. Its ``filename`` tells which.
        """
        jack = tenant.planned.jack
        for spot in _spots(tenant.box) if jack.link else ():
            try:
                self._sockets[spot] = await open_udp(spot, self._taking(jack, receiver, spot[1]))
            except OSError as error:
                raise OSError(error.errno, error.strerror, f"{spot[0]}, UDP port {spot[1]}") from error

    def close(self) -> None:
        """Close all sockets."""
        for one in self._sockets.values():
            one.close()
        self._sockets.clear()

    def send(self, data: bytes, *, jack: Jack, source_port: int, to: Spot) -> None:
        """Send a packet, where the planned network carries it. What it does not is lost without a word."""
        spot = (jack.address, source_port)
        sender, way_out = self._jacks.get(spot), self._sockets.get(spot)
        if sender is None or way_out is None:
            return
        taker = self._jacks.get(to)
        if self.meets_others(sender) if taker is None else taker in self._planned.takers(sender, taker.address):
            way_out.send(data, to)

    def reaches(self, one: Box, other: Box) -> bool:
        """Say whether an echo from one box, as planned, to another comes back."""
        return self._planned.reaches(one.jack, other.jack.address)

    def meets_others(self, jack: Jack) -> bool:
        """Say whether whoever is beyond the gateways reaches a box and hears from it."""
        net = next((net for net in self._nets if _lies_in(jack.address, net.cidr)), None)
        found = net is None or (net.segment == jack.segment and net.gateway == jack.gateway)
        return jack.link and found

    def _taking(self, jack: Jack, receiver: Receiver, port: int) -> Callable[[bytes, Spot], None]:
        def take(data: bytes, source: Spot) -> None:
            if source in self._jacks or self.meets_others(jack):
                receiver.receive(data, source=source, port=port)

        return take


class _Clock:
    """The moment, for a wire that carries nothing itself."""

    def __init__(self, time: Time) -> None:
        self.now_s = 0.0
        self.at = time.at


def _spots(box: Box) -> tuple[Spot, ...]:
    """Return where a box listens: pictures come to those that can show or take them."""
    ports = (box.sip_port, box.media_port, box.report_port, *((box.picture_port,) if box.video else ()))
    return tuple((box.jack.address, port) for port in ports)


def _lies_in(address: str, cidr: str) -> bool:
    try:
        return IPv4Address(address) in IPv4Network(cidr, strict=False)
    except (AddressValueError, ValueError):
        return False
