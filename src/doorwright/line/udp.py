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

DRAIN_COUNT: Final = 64
ROOM_BYTES: Final = 4 * 1024 * 1024
"""Room asked of the system for what was not read yet: the usual 208 KiB overflow when 500 units register at once."""
_LONGEST_BYTES: Final = 65_535


class Udp(Protocol):
    """A socket that is open."""

    @property
    def address(self) -> Address:
        """Where it listens, with the port that the system gave."""

    def send(self, data: bytes, to: Address) -> None:
        """Send a datagram. What the system does not take is lost without a word, as datagrams are."""

    def close(self) -> None:
        """Close the socket; nothing more is told."""


async def open_udp(address: Address, took: Took, *, after: Callable[[], None] = lambda: None) -> Udp:
    """Open a socket.

    Args:
        address: an IP address of this machine, and a port; 0 lets the system choose.
        took: is told of every datagram.
        after: is called when all datagrams of a wake-up were told.

    Raises:
        OSError: the address is not of this machine, or the port is taken.
    """
    family = socket.AF_INET6 if ip_address(address[0]).version == 6 else socket.AF_INET
    raw = socket.socket(family, socket.SOCK_DGRAM)
    try:
        raw.setblocking(False)
        for side in (socket.SO_RCVBUF, socket.SO_SNDBUF):
            with suppress(OSError):  # less room is no reason to give up
                raw.setsockopt(socket.SOL_SOCKET, side, ROOM_BYTES)
        raw.bind(address)
        return await _watched(raw, took, after)
    except BaseException:
        raw.close()
        raise


async def _watched(raw: socket.socket, took: Took, after: Callable[[], None]) -> Udp:
    loop = asyncio.get_running_loop()
    drained = _Drained(raw, took, after)
    try:
        loop.add_reader(raw, drained.drain)
    except NotImplementedError:
        transport, _ = await loop.create_datagram_endpoint(lambda: _OneByOne(took, after), sock=raw)
        return _Handed(transport)
    return drained


class _Drained:
    """A socket that the loop watches."""

    def __init__(self, raw: socket.socket, took: Took, after: Callable[[], None]) -> None:
        self._raw = raw
        self._took = took
        self._after = after
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
                except OSError:  # word of an earlier datagram that nobody took
                    if self._raw.fileno() < 0:
                        return
                    continue
                took(data, source[:2])
        finally:
            self._after()

    def send(self, data: bytes, to: Address) -> None:
        """Send a datagram."""
        with suppress(OSError):
            self._raw.sendto(data, to)

    def close(self) -> None:
        """Close the socket."""
        if self._raw.fileno() >= 0:
            self._loop.remove_reader(self._raw)
            self._raw.close()


class _OneByOne(asyncio.DatagramProtocol):
    def __init__(self, took: Took, after: Callable[[], None]) -> None:
        self._took = took
        self._after = after

    def datagram_received(self, data: bytes, addr: tuple[Any, ...]) -> None:
        self._took(data, (addr[0], addr[1]))
        self._after()


class _Handed:
    """A socket that the loop reads itself."""

    def __init__(self, transport: asyncio.DatagramTransport) -> None:
        self._transport = transport
        name = transport.get_extra_info("sockname")
        self.address: Address = (name[0], name[1])

    def send(self, data: bytes, to: Address) -> None:
        """Send a datagram."""
        if not self._transport.is_closing():
            self._transport.sendto(data, to)

    def close(self) -> None:
        """Close the socket."""
        self._transport.close()
