"""A UDP socket on the running event loop, drained in batches, with room for a burst.

A wake-up reads up to 64 datagrams, which carries several times what one wake-up for each does. Loops that cannot watch
a socket (on Windows, where watching also ends at 512 sockets) read one at a time.
"""

import asyncio
import socket
from collections.abc import Callable
from contextlib import suppress
from ipaddress import ip_address
from typing import Any, Final, Protocol, TypeAlias

Address: TypeAlias = tuple[str, int]
"""An IP address and a port."""
Took: TypeAlias = Callable[[bytes, Address], None]
"""Told of a datagram and where it came from."""
Failed: TypeAlias = Callable[[OSError], None]
"""Told of what the network says instead of an answer."""

DRAIN_COUNT: Final = 64
ROOM_BYTES: Final = 4 * 1024 * 1024
"""Room asked of the system for what was not read yet: the usual 208 KiB overflow when 500 units register at once."""
_LONGEST_BYTES: Final = 65_535
_PAIRS_TRIED: Final = 64


class Udp(Protocol):
    """A socket that is open."""

    @property
    def address(self) -> Address:
        """Where it listens, with the port that the system gave."""

    def send(self, data: bytes, to: Address) -> None:
        """Send a datagram. What the system does not take is lost without a word, as datagrams are."""

    def close(self) -> None:
        """Close the socket; nothing more is told."""


def _passed_over(_: OSError) -> None:
    """Say nothing of what the network says: with several peers nobody knows whom it is about."""


async def open_udp(
    address: Address | None,
    took: Took,
    *,
    after: Callable[[], None] = lambda: None,
    peer: Address | None = None,
    failed: Failed = _passed_over,
) -> Udp:
    """Open a socket.

    Args:
        address: an IP address of this machine, and a port; 0 lets the system choose. None, with a peer, lets the system
            choose the address on the way there as well.
        took: is told of every datagram.
        after: is called when all datagrams of a wake-up were told.
        peer: the only one to talk with; the system then tells what the network says of it.
        failed: is told of that, such as that nobody listens at its port.

    Raises:
        OSError: the address is not of this machine, the port is taken, or there is no way to the peer.
    """
    known = address or peer
    if known is None:
        raise ValueError("a socket has an address of its own, or a peer")
    family = socket.AF_INET6 if ip_address(known[0]).version == 6 else socket.AF_INET
    raw = socket.socket(family, socket.SOCK_DGRAM)
    try:
        raw.setblocking(False)
        for side in (socket.SO_RCVBUF, socket.SO_SNDBUF):
            with suppress(OSError):  # less room is no reason to give up
                raw.setsockopt(socket.SOL_SOCKET, side, ROOM_BYTES)
        if address is not None:
            raw.bind(address)
        if peer is not None:
            raw.connect(peer)
        return await _watched(raw, took, after, failed, peer)
    except BaseException:
        raw.close()
        raise


def own_address(peer: Address) -> str:
    """Return our own address on the way to a peer; nothing is sent.

    Raises:
        OSError: there is no way there.
    """
    family = socket.AF_INET6 if ip_address(peer[0]).version == 6 else socket.AF_INET
    with socket.socket(family, socket.SOCK_DGRAM) as raw:
        raw.connect(peer)
        return str(raw.getsockname()[0])


async def open_pair(host: str, took: Took, took_next: Took) -> tuple[Udp, Udp]:
    """Open two sockets at an even port and the next, for a stream and its reports (RFC 3550 §11).

    Args:
        host: an IP address of this machine.
        took: is told of every datagram at the even port.
        took_next: is told of those at the next.

    Raises:
        OSError: the address is not of this machine, or no such pair is free.
    """
    for _ in range(_PAIRS_TRIED):
        first = await open_udp((host, 0), took)
        if first.address[1] % 2 == 0:
            with suppress(OSError):  # the next is taken: another pair
                return first, await open_udp((host, first.address[1] + 1), took_next)
        first.close()
    raise OSError("no two ports beside each other are free")


async def _watched(
    raw: socket.socket, took: Took, after: Callable[[], None], failed: Failed, peer: Address | None
) -> Udp:
    loop = asyncio.get_running_loop()
    drained = _Drained(raw, took, after, failed, peer)
    try:
        loop.add_reader(raw, drained.drain)
    except NotImplementedError:
        transport, _ = await loop.create_datagram_endpoint(lambda: _OneByOne(took, after, failed), sock=raw)
        return _Handed(transport, peer)
    return drained


class _Drained:
    """A socket that the loop watches."""

    def __init__(
        self, raw: socket.socket, took: Took, after: Callable[[], None], failed: Failed, peer: Address | None
    ) -> None:
        self._raw = raw
        self._took = took
        self._after = after
        self._failed = failed
        self._peer = peer
        self._loop = asyncio.get_running_loop()
        self.address: Address = raw.getsockname()[:2]

    def drain(self) -> None:
        """Tell what has come."""
        receive, took = self._raw.recvfrom, self._took
        try:
            for _ in range(DRAIN_COUNT):
                try:
                    data, source = receive(_LONGEST_BYTES)
                except (BlockingIOError, InterruptedError):
                    break
                except OSError as error:  # word of an earlier datagram that nobody took
                    if self._raw.fileno() < 0:
                        return
                    self._failed(error)
                    continue
                took(data, source[:2])
        finally:
            self._after()

    def send(self, data: bytes, to: Address) -> None:
        """Send a datagram."""
        try:
            if self._peer is None:
                self._raw.sendto(data, to)
            elif to == self._peer:
                self._raw.send(data)
        except OSError as error:
            self._failed(error)

    def close(self) -> None:
        """Close the socket."""
        if self._raw.fileno() >= 0:
            self._loop.remove_reader(self._raw)
            self._raw.close()


class _OneByOne(asyncio.DatagramProtocol):
    def __init__(self, took: Took, after: Callable[[], None], failed: Failed) -> None:
        self._took = took
        self._after = after
        self._failed = failed

    def datagram_received(self, data: bytes, addr: tuple[Any, ...]) -> None:
        self._took(data, (addr[0], addr[1]))
        self._after()

    def error_received(self, exc: Exception) -> None:
        if isinstance(exc, OSError):
            self._failed(exc)
            self._after()


class _Handed:
    """A socket that the loop reads itself."""

    def __init__(self, transport: asyncio.DatagramTransport, peer: Address | None) -> None:
        self._transport = transport
        self._peer = peer
        name = transport.get_extra_info("sockname")
        self.address: Address = (name[0], name[1])

    def send(self, data: bytes, to: Address) -> None:
        """Send a datagram."""
        if not self._transport.is_closing() and self._peer in (None, to):
            self._transport.sendto(data, None if self._peer else to)

    def close(self) -> None:
        """Close the socket."""
        self._transport.close()
