"""Whatever runs by the calls of ``doorwright.sip`` (an endpoint, a server), put on a socket and the loop's clock."""

import asyncio
from collections.abc import Callable, Iterable
from typing import Protocol

from doorwright.line.udp import Address, Failed, Udp, open_udp


class Driven(Protocol):
    """What is driven: it has neither socket nor clock."""

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        """Take a datagram."""

    def datagrams_to_send(self) -> Iterable[tuple[bytes, Address]]:
        """Return what is to be sent, once."""

    def timer_at(self) -> float | None:
        """Return when ``handle_timer`` is wanted."""

    def handle_timer(self, now_s: float) -> None:
        """Do what is due."""


class Driver:
    """Gives what is driven its datagrams and its time, and sends what it wants sent.

    After an action of its own on what is driven, its owner calls `settle`. All moments are those of the loop's clock.
    """

    def __init__(self, driven: Driven, *, happened: Callable[[], None] = lambda: None) -> None:
        """Prepare; ``happened`` is called whenever there may be events to fetch."""
        self._driven = driven
        self._happened = happened
        self._loop = asyncio.get_running_loop()
        self._udp: Udp | None = None
        self._wake: asyncio.TimerHandle | None = None

    async def begin(self, address: Address) -> Address:
        """Listen at an address, and return it with the port that the system gave.

        Raises:
            OSError: the address is not of this machine, or the port is taken.
        """
        self._udp = await open_udp(address, self._take, after=self._tell)
        self.settle()
        return self._udp.address

    async def begin_with(self, peer: Address, *, failed: Failed) -> Address:
        """Talk with this peer alone, and return our own address and port on the way there.

        Args:
            peer: its address and port.
            failed: is told of what the network says of it, such as that nobody listens at its port.

        Raises:
            OSError: there is no way there.
        """
        self._udp = await open_udp(None, self._take, after=self._tell, peer=peer, failed=failed)
        self.settle()
        return self._udp.address

    @property
    def now_s(self) -> float:
        """The moment, by the clock that everything here goes by."""
        return self._loop.time()

    def settle(self) -> None:
        """Send what is to be sent, and be woken in time."""
        if self._udp is None:
            return
        for data, to in self._driven.datagrams_to_send():
            self._udp.send(data, to)
        due_s = self._driven.timer_at()
        if self._wake is not None:
            if due_s is not None and self._wake.when() <= due_s:
                return  # it wakes early enough, and looks again then
            self._wake.cancel()
            self._wake = None
        if due_s is not None:
            self._wake = self._loop.call_at(due_s, self._on_time)

    def close(self) -> None:
        """Hang up the line; what is driven stays as it is."""
        if self._wake is not None:
            self._wake.cancel()
            self._wake = None
        if self._udp is not None:
            self._udp.close()
            self._udp = None

    def _take(self, data: bytes, source: Address) -> None:
        self._driven.receive_datagram(data, source=source, now_s=self._loop.time())

    def _tell(self) -> None:
        self._happened()
        self.settle()

    def _on_time(self) -> None:
        self._wake = None
        self._driven.handle_timer(self._loop.time())
        self._tell()
