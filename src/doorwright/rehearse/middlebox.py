"""A router that others share and that meddles: it hides a subnet behind an address of its own, and writes into SIP.

Packets from inside leave with the router's address and a port of its own, and what comes back to that port is let in
(address and port translation, RFC 2663 §4.1.2). So that SIP gets through, such a router often writes its address into
the messages as well. Done thoroughly, and for as long as it is needed, that works; it is mostly done badly. One that
puts its address where a unit said its own, but leaves the port, is called at a port where nobody is. One that forgets
where packets go some time after the last one left is called in vain ever after (RFC 4787 §4.3 asks for two minutes at
the least; units that register for longer are forgotten in between).
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from ipaddress import IPv4Address, IPv4Network
from itertools import count
from typing import Final

from doorwright.rehearse.wire import Clock, Flaw, Jack, Net, Spot, Wire

FORGETS_AFTER_S: Final = 120.0
"""How long a router that forgets remembers where packets go (RFC 4787 §4.3: not less than two minutes)."""
_PORTS_FROM: Final = 20_000
_VERSION: Final = b"SIP/2.0"
_MEDIA: Final = re.compile(rb"^(m=(?:audio|video) )(\d+)", re.MULTILINE)
_LENGTH: Final = re.compile(rb"^(Content-Length[ \t]*:[ \t]*)\d+", re.MULTILINE | re.IGNORECASE)


@dataclass(slots=True)
class _Mapping:
    """A port of the router, and the inside spot that it stands for."""

    port: int
    inside: Spot
    used_s: float


@dataclass(slots=True)
class SharedRouter:
    """The router between one subnet and all others."""

    net: Net
    inside: Jack
    outside: Jack
    clock: Clock
    wire: Wire
    _by_spot: dict[Spot, _Mapping] = field(default_factory=dict)
    _by_port: dict[int, _Mapping] = field(default_factory=dict)
    _ports: Iterator[int] = field(default_factory=lambda: count(_PORTS_FROM, 2))

    def takes(self, jack: Jack, address: str) -> bool:
        """Say whether a packet from a jack to an address leaves the subnet, or comes to it past the router."""
        return self._is_inside(jack.address) != self._is_inside(address)

    def taken_at(self, jack: Jack) -> Jack | None:
        """Return the jack at which packets come from inside; None for one from outside, or with another gateway.

        One from outside comes to the router's own address or not at all.
        """
        finds = jack.gateway == self.net.gateway and jack.segment == self.net.segment
        return self.inside if finds and self._is_inside(jack.address) else None

    def pass_on(self, data: bytes, *, jack: Jack, source_port: int, to: Spot) -> None:
        """Let a packet out."""
        mapping = self._mapping((jack.address, source_port))
        self.wire.send(self._written_out(data, mapping), jack=self.outside, source_port=mapping.port, to=to)

    def receive(self, data: bytes, *, source: Spot, port: int) -> None:
        """Let a packet in that comes to a port which stands for somebody inside; drop any other."""
        mapping = self._by_port.get(port)
        if mapping is None or self._is_forgotten(mapping):
            return
        self.wire.deliver(self._written_in(data, mapping), jack=self.inside, source=source, to=mapping.inside)

    def _is_inside(self, address: str) -> bool:
        return IPv4Address(address) in IPv4Network(self.net.cidr, strict=False)

    def _is_forgotten(self, mapping: _Mapping) -> bool:
        return self.net.flaw is Flaw.FORGETS and self.clock.now_s - mapping.used_s > FORGETS_AFTER_S

    def _mapping(self, inside: Spot) -> _Mapping:
        known = self._by_spot.get(inside)
        if known is None or self._is_forgotten(known):
            known = _Mapping(next(self._ports), inside, self.clock.now_s)
            self._by_spot[inside] = self._by_port[known.port] = known
        known.used_s = self.clock.now_s
        return known

    # what is written into messages

    def _written_out(self, data: bytes, mapping: _Mapping) -> bytes:
        if not _is_sip(data):
            return data
        inside, outside = mapping.inside[0].encode(), self.outside.address.encode()
        if self.net.flaw is not Flaw.REWRITES:
            data = _replaced(data, _spot(mapping.inside), _spot((self.outside.address, mapping.port)))
            data = _MEDIA.sub(lambda found: found[1] + self._media_port(mapping, int(found[2])), data)
        return _measured(_replaced(data, inside, outside))

    def _media_port(self, mapping: _Mapping, port: int) -> bytes:
        return str(self._mapping((mapping.inside[0], port)).port).encode() if port else b"0"

    def _written_in(self, data: bytes, mapping: _Mapping) -> bytes:
        if not _is_sip(data):
            return data
        data = _replaced(data, _spot((self.outside.address, mapping.port)), _spot(mapping.inside))
        if self.net.flaw is Flaw.REWRITES:
            data = _replaced(data, self.outside.address.encode(), mapping.inside[0].encode())
        return _measured(data)


def _is_sip(data: bytes) -> bool:
    start_line = data.partition(b"\r\n")[0]
    return start_line.startswith(_VERSION) or start_line.endswith(_VERSION)


def _replaced(data: bytes, old: bytes, new: bytes) -> bytes:
    """Return a message with one address for another; a longer one that begins with it is left alone."""
    return re.sub(rb"(?<![\d.])" + re.escape(old) + rb"(?![\d.])", new, data)


def _spot(spot: Spot) -> bytes:
    return f"{spot[0]}:{spot[1]}".encode()


def _measured(data: bytes) -> bytes:
    """Return a message whose length is told as it is now."""
    head, end, body = data.partition(b"\r\n\r\n")
    return _LENGTH.sub(lambda found: found[1] + str(len(body)).encode(), head) + end + body
