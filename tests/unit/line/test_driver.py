"""The driver: what is driven gets its datagrams and its time, and what it wants sent is sent."""

import asyncio
from collections.abc import Callable

from doorwright.line.driver import Driver
from doorwright.line.udp import Address, open_udp

HOST = "127.0.0.1"
PATIENCE_S = 10.0
"""What works takes no thousandth of it."""


class Repeater:
    """Sends back what comes in, when its wake is due; remembers the moments it was given."""

    def __init__(self, *, wait_s: float = 0.0) -> None:
        self.wait_s = wait_s
        self.out: list[tuple[bytes, Address]] = []
        self.held: list[tuple[bytes, Address]] = []
        self.due_s: float | None = None
        self.took_at_s: list[float] = []
        self.woken_at_s: list[float] = []

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        self.took_at_s.append(now_s)
        self.held.append((data, source))
        self.due_s = now_s + self.wait_s

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        out, self.out = self.out, []
        return out

    def timer_at(self) -> float | None:
        return self.due_s

    def handle_timer(self, now_s: float) -> None:
        self.woken_at_s.append(now_s)
        if self.due_s is not None and self.due_s <= now_s:
            self.out, self.held, self.due_s = self.out + self.held, [], None


async def until(holds: Callable[[], bool]) -> None:
    """Let the loop run until something holds."""
    async with asyncio.timeout(PATIENCE_S):
        while not holds():
            await asyncio.sleep(0)


def test_what_comes_in_goes_back_when_it_is_due() -> None:
    async def run() -> None:
        repeater, told, back = Repeater(wait_s=0.02), [], []
        driver = Driver(repeater, happened=lambda: told.append(len(repeater.held)))
        address = await driver.begin((HOST, 0))
        other = await open_udp((HOST, 0), lambda data, source: back.append((data, source)))
        try:
            begun_s = driver.now_s
            other.send(b"hello", address)
            await until(lambda: bool(back))
            assert back == [(b"hello", address)]
            assert begun_s <= repeater.took_at_s[0] <= driver.now_s
            assert repeater.woken_at_s[0] >= repeater.took_at_s[0] + repeater.wait_s
            assert told == [1, 0]  # after the datagram, and after the wake
        finally:
            driver.close()
            other.close()

    asyncio.run(run())


def test_an_earlier_wake_takes_the_place_of_a_later_one() -> None:
    async def run() -> None:
        repeater = Repeater()
        driver = Driver(repeater)
        await driver.begin((HOST, 0))
        try:
            repeater.due_s = driver.now_s + 1000.0
            driver.settle()
            repeater.due_s = driver.now_s
            driver.settle()
            await until(lambda: bool(repeater.woken_at_s))
            assert len(repeater.woken_at_s) == 1
        finally:
            driver.close()

    asyncio.run(run())


def test_a_wake_that_was_put_off_looks_again_and_one_that_was_called_off_never_comes() -> None:
    async def run() -> None:
        repeater = Repeater()
        driver = Driver(repeater)
        await driver.begin((HOST, 0))
        try:
            first_s = driver.now_s + 0.005
            repeater.due_s = first_s
            driver.settle()
            repeater.due_s = last_s = first_s + 0.02
            driver.settle()
            await until(lambda: repeater.due_s is None)
            assert repeater.woken_at_s[-1] >= last_s
            woken_count = len(repeater.woken_at_s)
            repeater.due_s = driver.now_s
            driver.settle()
            repeater.due_s = None
            driver.settle()
            for _ in range(10):
                await asyncio.sleep(0)
            assert len(repeater.woken_at_s) == woken_count
        finally:
            driver.close()

    asyncio.run(run())


def test_closed_it_sends_and_wakes_no_more() -> None:
    async def run() -> None:
        repeater = Repeater()
        driver = Driver(repeater)
        address = await driver.begin((HOST, 0))
        repeater.due_s = driver.now_s
        driver.settle()
        driver.close()
        repeater.out.append((b"late", address))
        driver.settle()
        for _ in range(10):
            await asyncio.sleep(0)
        assert repeater.woken_at_s == []
        assert repeater.out == [(b"late", address)]
        driver.close()  # again does no harm

    asyncio.run(run())


def test_with_one_peer_it_has_the_address_on_the_way_there() -> None:
    async def run() -> None:
        repeater, came = Repeater(), []
        other = await open_udp((HOST, 0), lambda data, source: came.append((data, source)))
        driver = Driver(repeater)
        failed: list[OSError] = []
        try:
            address = await driver.begin_with(other.address, failed=failed.append)
            assert address[0] == HOST
            repeater.out.append((b"hello", other.address))
            driver.settle()
            await until(lambda: bool(came))
            assert came == [(b"hello", address)]
            assert failed == []
        finally:
            driver.close()
            other.close()

    asyncio.run(run())
