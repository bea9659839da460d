"""Sockets on the loop: what comes is told in order, in batches, and what the network says of a peer reaches us."""

import asyncio
import errno
import socket
from collections.abc import Callable
from unittest import mock

import pytest

from doorwright.line.udp import DRAIN_COUNT, Address, Udp, open_udp

PATIENCE_S = 10.0
"""What works takes no thousandth of it."""
HOST = "127.0.0.1"


async def until(holds: Callable[[], bool]) -> None:
    """Let the loop run until something holds."""
    async with asyncio.timeout(PATIENCE_S):
        while not holds():
            await asyncio.sleep(0)


class Heard:
    """What one socket was told."""

    def __init__(self) -> None:
        self.came: list[tuple[bytes, Address]] = []
        self.batches: list[int] = []
        self.failed: list[OSError] = []

    async def begin(self, host: str = HOST) -> Udp:
        return await open_udp((host, 0), self.take, after=self.end_batch)

    def take(self, data: bytes, source: Address) -> None:
        self.came.append((data, source))

    def end_batch(self) -> None:
        self.batches.append(len(self.came))


async def sent_and_heard(host: str) -> None:
    heard, other = Heard(), Heard()
    receiver, sender = await heard.begin(host), await other.begin(host)
    try:
        assert receiver.address[0] == host
        for number in range(3):
            sender.send(str(number).encode(), receiver.address)
        await until(lambda: len(heard.came) == 3)
        assert heard.came == [(str(number).encode(), sender.address) for number in range(3)]
        assert heard.batches[-1] == 3
        receiver.send(b"back", sender.address)
        await until(lambda: bool(other.came))
        assert other.came == [(b"back", receiver.address)]
    finally:
        receiver.close()
        sender.close()
        await asyncio.sleep(0)


@pytest.mark.parametrize("host", [HOST, "::1"])
def test_what_is_sent_is_told_with_where_it_came_from(host: str) -> None:
    if host == "::1" and not _has_ipv6():
        pytest.skip("this machine has no IPv6")
    asyncio.run(sent_and_heard(host))


def _has_ipv6() -> bool:
    try:
        with socket.socket(socket.AF_INET6, socket.SOCK_DGRAM) as tried:
            tried.bind(("::1", 0))
    except OSError:
        return False
    return True


def test_a_loop_that_cannot_watch_sockets_tells_the_same() -> None:
    async def run() -> None:
        # the loop itself watches nothing else with it once it runs
        with mock.patch.object(asyncio.get_running_loop(), "add_reader", side_effect=NotImplementedError):
            await sent_and_heard(HOST)

    asyncio.run(run())


def test_a_batch_ends_so_that_others_have_their_turn() -> None:
    async def run() -> None:
        heard = Heard()
        receiver = await heard.begin()
        sender = await Heard().begin()
        try:
            for _ in range(DRAIN_COUNT + 1):
                sender.send(b"x", receiver.address)
            await until(lambda: len(heard.came) == DRAIN_COUNT + 1)
            assert heard.batches == [DRAIN_COUNT, DRAIN_COUNT + 1]
        finally:
            receiver.close()
            sender.close()

    asyncio.run(run())


def test_closing_within_a_batch_ends_it() -> None:
    async def run() -> None:
        came: list[bytes] = []

        def take(data: bytes, _source: Address) -> None:
            came.append(data)
            receiver.close()

        receiver = await open_udp((HOST, 0), take)
        sender = await Heard().begin()
        try:
            sender.send(b"1", receiver.address)
            sender.send(b"2", receiver.address)
            await until(lambda: bool(came))
            await asyncio.sleep(0)
            assert came == [b"1"]
            receiver.send(b"3", sender.address)  # no error: it is lost, as datagrams are
        finally:
            receiver.close()
            sender.close()

    asyncio.run(run())


def test_an_address_that_is_not_ours_and_a_port_that_is_taken_are_errors() -> None:
    async def run() -> None:
        heard = Heard()
        with pytest.raises(OSError) as found:  # noqa: PT011  (its words are the system's)
            await heard.begin("192.0.2.1")  # RFC 5737: no machine has it
        assert found.value.errno == errno.EADDRNOTAVAIL
        taken = await heard.begin()
        try:
            with pytest.raises(OSError) as found:  # noqa: PT011  (as above)
                await open_udp(taken.address, heard.take)
            assert found.value.errno == errno.EADDRINUSE
        finally:
            taken.close()

    asyncio.run(run())


def test_a_datagram_that_nobody_takes_spoils_nothing() -> None:
    async def run() -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as gone:
            gone.bind((HOST, 0))
            nobody: Address = gone.getsockname()
        heard = Heard()
        receiver, sender = await heard.begin(), await Heard().begin()
        try:
            receiver.send(b"lost", nobody)
            receiver.send(b"x" * 70_000, sender.address)  # larger than any datagram
            sender.send(b"heard", receiver.address)
            await until(lambda: bool(heard.came))
            assert heard.came == [(b"heard", sender.address)]
        finally:
            receiver.close()
            sender.close()

    asyncio.run(run())


def test_with_one_peer_the_network_tells_that_nobody_listens() -> None:
    async def run() -> None:
        with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as gone:
            gone.bind((HOST, 0))
            nobody: Address = gone.getsockname()
        heard = Heard()
        asking = await open_udp(None, heard.take, peer=nobody, failed=heard.failed.append)
        try:
            asking.send(b"is anybody there?", nobody)
            await until(lambda: bool(heard.failed))
            assert isinstance(heard.failed[0], ConnectionRefusedError)
        finally:
            asking.close()

    asyncio.run(run())


def test_a_socket_without_address_and_peer_is_a_mistake_of_ours() -> None:
    with pytest.raises(ValueError, match="an address of its own, or a peer"):
        asyncio.run(open_udp(None, lambda _data, _source: None))
