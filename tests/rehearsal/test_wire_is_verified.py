"""`verify --rehearsed` asks a building that holds faults on purpose: it tells those that a real one would show."""

import asyncio
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path

import pytest

from doorwright.app.means import Means
from doorwright.app.verify_book import Verified, is_permitted
from doorwright.app.verify_rehearsed import verify_rehearsed
from doorwright.kernel.observation import Stage, what_counts
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import Aspect
from doorwright.probe.ask import Asker, Manner
from doorwright.probe.heard import Heard
from doorwright.probe.neighbours import Neighbourhood
from doorwright.probe.reach import Outcome
from doorwright.probe.target import Ports as Asked
from doorwright.probe.target import Target
from doorwright.store.book import Book
from tests.rehearsal import on_wire
from tests.rehearsal.yard import YARD

PORTS = on_wire.ports()
MEANS = Means(who="A. Fitter")
MANNER = Manner(asks_per_s=1000, patience_s=5, sip_patience_s=5)
FAULTS = ("port-off:Receiver 1", "wrong-secret:Receiver 2", "clock-wrong:Gate unit", "settings-cleared:Receiver 3")
EVERYBODY = {
    "Gate unit",
    "Porch unit",
    "Desk",
    "Receiver 1",
    "Receiver 2",
    "Receiver 2 bedroom",
    "Receiver 3",
    "Receiver 4",
}
AN_HOUR_S = 3600  # the fault "clock-wrong": an hour late


@dataclass
class World:
    """A building with faults that was asked."""

    book: Path
    wire: on_wire.OnWire
    verified: Verified

    def heard(self, name: str) -> Heard:
        return next(one for one in self.verified.heard if one.target.name == name)


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> Iterator[World]:
    on_wire.need_loopback_addresses()
    book = on_wire.book_of(YARD, tmp_path_factory.mktemp("faulty"))
    faults = [text for fault in FAULTS for text in ("--fault", fault)]
    with on_wire.OnWire(book, PORTS, *faults) as wire:
        yield World(book, wire, verify_rehearsed(book, MEANS, manner=MANNER, ports=PORTS))


def ask_at(address: str) -> Heard:
    """Ask at an address whatever is there."""
    target = Target(
        subject=Subject("unit", "x"), name="x", address=address,
        ports=Asked(http=PORTS.http, https=None, rtsp=None, sip=PORTS.sip),
    )  # fmt: skip
    manner = Manner(asks_per_s=1000, patience_s=5, sip_patience_s=5, pings=False)

    async def asked() -> Heard:
        asker = Asker(manner, Neighbourhood(frozenset()), now=MEANS.now, chance=MEANS.random_bytes)
        return await asker.ask(target)

    return asyncio.run(asked())


def test_all_are_asked_and_two_are_silent_one_dark_one_elsewhere(world: World) -> None:
    assert {one.target.name for one in world.verified.heard} == EVERYBODY
    assert set(world.verified.silent) == {"Receiver 1", "Receiver 3"}
    assert {one.target.address for one in world.verified.heard} == {unit.address for unit in YARD.units}


def test_whoever_is_there_answers_sip_and_web_and_call_units_rtsp(world: World) -> None:
    for name in EVERYBODY - {"Receiver 1", "Receiver 3"}:
        heard = world.heard(name)
        assert heard.sip is not None
        assert heard.sip.code == 200
        assert heard.web is not None
        assert heard.web.code == 200
        assert (heard.rtsp is not None and heard.rtsp.code == 200) == (name in {"Gate unit", "Porch unit"})


def test_cleared_settings_answer_at_the_address_of_the_factory(world: World) -> None:
    there = ask_at("127.168.1.100")  # 192.168.1.100, docs/explain/rehearsal.md
    assert there.sip is not None
    assert (there.sip.outcome, there.sip.code) == (Outcome.ANSWERED, 200)
    gone = ask_at("127.51.100.13")
    assert gone.sip is not None
    assert gone.sip.outcome is not Outcome.ANSWERED


def test_each_clock_is_its_own(world: World) -> None:
    off_s = {one.target.name: one.ahead_s for one in world.verified.heard if one.is_there}
    late_s = off_s.pop("Gate unit")
    assert late_s is not None
    assert abs(late_s + AN_HOUR_S) <= 2
    assert all(ahead_s is not None and abs(ahead_s) <= 2 for ahead_s in off_s.values())


def test_what_differs_is_told_with_what_to_do(world: World) -> None:
    lines = {(line.part.name, line.aspect) for line in world.verified.compared.lines}
    assert lines == {
        ("Gate unit", Aspect.CLOCK),
        ("Receiver 1", Aspect.ANSWERED),
        ("Receiver 3", Aspect.ANSWERED),
    }
    assert all(line.to_do and line.at == (Stage.REHEARSED,) for line in world.verified.compared.lines)


def test_a_wrong_secret_never_registers(world: World) -> None:
    assert world.wire.said("Receiver 2  not registered", "answered 401")
    assert not world.wire.said("Receiver 2  registered")


def test_nothing_of_it_counts_as_found_nor_as_permission(world: World) -> None:
    with Book.open(world.book, read_only=True) as book:
        observations = book.observations()
    assert {one.stage for one in observations} == {Stage.REHEARSED}
    assert what_counts(observations, Stage.FOUND) == {}
    assert not is_permitted(world.book)


def test_only_some_are_asked_where_only_some_are_named(world: World) -> None:
    again = verify_rehearsed(world.book, MEANS, manner=MANNER, ports=PORTS, only=["desk"])
    assert [one.target.name for one in again.heard] == ["Desk"]


def test_a_head_says_the_time_of_the_unit_and_nothing_else(world: World) -> None:
    async def said(question: bytes, port: int) -> str:
        reader, writer = await asyncio.open_connection("127.0.2.10", port)
        writer.write(question)
        async with asyncio.timeout(on_wire.OVER_WITHIN_S):
            head = await reader.read()
        writer.close()
        return head.decode()

    head = asyncio.run(said(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", PORTS.http))
    assert head.startswith("HTTP/1.1 200 OK\r\n")
    date = next(line for line in head.split("\r\n") if line.startswith("Date: "))
    late = datetime.now(UTC) - parsedate_to_datetime(date.removeprefix("Date: "))
    assert abs(late - timedelta(seconds=AN_HOUR_S)) < timedelta(seconds=5)
    assert asyncio.run(said(b"POST / HTTP/1.1\r\nHost: x\r\n\r\n", PORTS.http)).startswith("HTTP/1.1 405 ")
    described = asyncio.run(said(b"DESCRIBE * RTSP/1.0\r\nCSeq: 7\r\n\r\n", PORTS.rtsp))
    assert described.startswith("RTSP/1.0 405 ")
    assert "\r\nCSeq: 7\r\n" in described  # RFC 2326 §12.17
