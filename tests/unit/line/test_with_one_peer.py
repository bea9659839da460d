"""Sockets with one peer, and pairs for a stream and its reports, on loopback."""

import asyncio
from socket import SOCK_DGRAM

import pytest

from doorwright.line.udp import Address, open_pair, open_udp, own_address
from tests.unit.probe.loopback import closed_port

HERE = "127.0.0.1"
PATIENCE_S = 10.0


class Ear:
    """Keeps what a socket tells."""

    def __init__(self) -> None:
        self.heard: list[bytes] = []
        self.errors: list[OSError] = []
        self.news = asyncio.Event()

    def take(self, data: bytes, source: Address) -> None:
        del source
        self.heard.append(data)
        self.news.set()

    def fail(self, error: OSError) -> None:
        self.errors.append(error)
        self.news.set()


def test_a_peer_that_is_not_there_is_told() -> None:
    async def talk() -> Ear:
        ear, peer = Ear(), (HERE, closed_port(SOCK_DGRAM))
        line = await open_udp(None, ear.take, peer=peer, failed=ear.fail)
        line.send(b"anybody?", peer)
        async with asyncio.timeout(PATIENCE_S):
            await ear.news.wait()
        line.close()
        return ear

    ear = asyncio.run(talk())
    assert isinstance(ear.errors[0], ConnectionRefusedError)
    assert ear.heard == []


def test_only_the_peer_is_heard_and_spoken_to() -> None:
    async def talk() -> tuple[list[bytes], list[bytes]]:
        ears = [Ear() for _ in range(3)]
        friend, stranger = [await open_udp((HERE, 0), ear.take) for ear in ears[:2]]
        line = await open_udp(None, ears[2].take, peer=friend.address)
        line.send(b"to a stranger", stranger.address)
        stranger.send(b"from a stranger", line.address)
        line.send(b"to the friend", friend.address)
        friend.send(b"from the friend", line.address)
        async with asyncio.timeout(PATIENCE_S):
            await ears[0].news.wait()
            await ears[2].news.wait()
        for one in (friend, stranger, line):
            one.close()
        return ears[0].heard + ears[1].heard, ears[2].heard

    assert asyncio.run(talk()) == ([b"to the friend"], [b"from the friend"])


def test_a_pair_stands_at_an_even_port_and_the_next() -> None:
    async def opened() -> list[tuple[Address, Address]]:
        pairs = [await open_pair(HERE, Ear().take, Ear().take) for _ in range(8)]
        found = [(one.address, other.address) for one, other in pairs]
        for pair in pairs:
            for one in pair:
                one.close()
        return found

    for first, second in asyncio.run(opened()):
        assert first[1] % 2 == 0  # RFC 3550 §11
        assert second == (HERE, first[1] + 1)


def test_a_socket_needs_an_address_or_a_peer() -> None:
    with pytest.raises(ValueError, match="address of its own, or a peer"):
        asyncio.run(open_udp(None, Ear().take))


def test_our_address_on_the_way_to_a_peer_is_found_without_a_word() -> None:
    assert own_address((HERE, 9)) == HERE
