"""Our endpoint and our server, on loopback sockets, with sipp: both must do what RFC 3665 shows of such calls.

Needs Debian's package ``sip-tester``.
"""

import asyncio
import os
from pathlib import Path

import pytest

from doorwright.line.driver import Driver
from doorwright.sip.digest import Account
from doorwright.sip.events import Answered, Connected, Ended, Invited, Progress, Refused, Why
from doorwright.sip.guard import Guard
from doorwright.sip.nonces import NonceBook
from doorwright.sip.offer import agree
from doorwright.sip.registrar import Registrar
from doorwright.sip.sdp import parse_description
from doorwright.sip.server import Registered, Server
from tests.interop.party import free_port, on_a_loop, party
from tests.interop.sipp_process import Sipp, need_sipp

HOST = "127.0.0.1"
REALM = "doors.example"
SECRET = "an-invented-secret"  # noqa: S105


@pytest.fixture(scope="module", autouse=True)
def _installed() -> None:
    need_sipp()


@on_a_loop
async def test_we_are_called_ring_answer_and_are_hung_up_on(tmp_path: Path) -> None:
    async with party() as ours:
        peer = await Sipp.begin("caller_hangs_up", folder=tmp_path, at=(HOST, free_port(HOST)), to=ours.address)
        invited = await ours.hears(Invited)
        ours.act(ours.endpoint.ring, invited.call)
        ours.act(ours.endpoint.answer, invited.call, body=ours.answer(invited.request.body))
        assert (await ours.hears(Connected)).call == invited.call
        assert await ours.hears(Ended) == Ended(call=invited.call, why=Why.THEY_HUNG_UP)
        await peer.ends_well()


@on_a_loop
async def test_we_are_called_and_hang_up(tmp_path: Path) -> None:
    async with party() as ours:
        peer = await Sipp.begin("caller_is_hung_up_on", folder=tmp_path, at=(HOST, free_port(HOST)), to=ours.address)
        invited = await ours.hears(Invited)
        ours.act(ours.endpoint.ring, invited.call)
        ours.act(ours.endpoint.answer, invited.call, body=ours.answer(invited.request.body))
        await ours.hears(Connected)
        ours.act(ours.endpoint.bye, invited.call)
        assert await ours.hears(Ended) == Ended(call=invited.call, why=Why.WE_HUNG_UP)
        await peer.ends_well()


@on_a_loop
async def test_who_calls_us_gives_up(tmp_path: Path) -> None:
    async with party() as ours:
        peer = await Sipp.begin("caller_gives_up", folder=tmp_path, at=(HOST, free_port(HOST)), to=ours.address)
        invited = await ours.hears(Invited)
        ours.act(ours.endpoint.ring, invited.call)
        assert await ours.hears(Ended) == Ended(call=invited.call, why=Why.THEY_CANCELLED)
        await peer.ends_well()


@on_a_loop
async def test_we_call_are_answered_and_hang_up(tmp_path: Path) -> None:
    async with party() as ours:
        at = (HOST, free_port(HOST))
        peer = await Sipp.begin("called_answers", folder=tmp_path, at=at)
        offer = ours.offer()
        call = ours.act(ours.endpoint.invite, f"sip:called@{at[0]}:{at[1]}", body=offer)
        assert (await ours.hears(Progress)).response.code == 180
        answered = await ours.hears(Answered)
        assert (answered.call, answered.acknowledged) == (call, True)
        (speech,) = agree(parse_description(offer), parse_description(answered.response.body))
        assert speech is not None
        # its answer names PCMU as 0 and the events as 96
        assert (speech.codec[0], speech.events_number) == (0, 96)
        ours.act(ours.endpoint.bye, call)
        assert await ours.hears(Ended) == Ended(call=call, why=Why.WE_HUNG_UP)
        await peer.ends_well()


@on_a_loop
async def test_we_call_and_it_is_busy(tmp_path: Path) -> None:
    async with party() as ours:
        at = (HOST, free_port(HOST))
        peer = await Sipp.begin("called_is_busy", folder=tmp_path, at=at)
        call = ours.act(ours.endpoint.invite, f"sip:called@{at[0]}:{at[1]}", body=ours.offer())
        refused = await ours.hears(Refused)
        assert (refused.call, refused.code, refused.over) == (call, 486, True)
        await peer.ends_well()


@on_a_loop
async def test_we_call_and_give_up(tmp_path: Path) -> None:
    async with party() as ours:
        at = (HOST, free_port(HOST))
        peer = await Sipp.begin("called_is_given_up", folder=tmp_path, at=at)
        call = ours.act(ours.endpoint.invite, f"sip:called@{at[0]}:{at[1]}", body=ours.offer())
        await ours.hears(Progress)
        ours.act(ours.endpoint.cancel, call)
        refused = await ours.hears(Refused)
        assert (refused.call, refused.code, refused.over) == (call, 487, True)
        await peer.ends_well()


@on_a_loop
async def test_who_we_called_hangs_up(tmp_path: Path) -> None:
    async with party() as ours:
        at = (HOST, free_port(HOST))
        peer = await Sipp.begin("called_hangs_up", folder=tmp_path, at=at)
        call = ours.act(ours.endpoint.invite, f"sip:called@{at[0]}:{at[1]}", body=ours.offer())
        await ours.hears(Answered)
        assert await ours.hears(Ended) == Ended(call=call, why=Why.THEY_HUNG_UP)
        await peer.ends_well()


@pytest.mark.parametrize(("password", "well"), [(SECRET, True), ("guessed", False)], ids=["its secret", "a guess"])
@on_a_loop
async def test_it_registers_at_our_server_with_the_right_secret_only(tmp_path: Path, password: str, well: bool) -> None:
    # MD5 alone is on offer: this release of sipp knows no other
    book = NonceBook(realm=REALM, key=os.urandom(32), algorithms=("MD5",))
    guard = Guard([Account(username="1001", password=SECRET)], book=book, chance=os.urandom)
    address = (HOST, free_port(HOST))
    registrar = Registrar(domains=(REALM,), users=("1001", "1002"), guard=guard)
    server = Server(registrar, address=address, chance=os.urandom)
    driver = Driver(server)
    await driver.begin(address)
    try:
        users = tmp_path / "users.csv"
        users.write_text(f"SEQUENTIAL\n1001;[authentication username=1001 password={password}]\n", encoding="utf-8")
        at = (HOST, free_port(HOST))
        # left alone, it signs the address that it sends to, and not the Request-URI as RFC 3261 §22.4 asks
        more = ("-inf", str(users), "-key", "realm", REALM, "-auth_uri", REALM)
        peer = await Sipp.begin("registers", folder=tmp_path, at=at, to=address, more=more)
        if well:
            await peer.ends_well()
            event = server.next_event()
            while event is not None and not isinstance(event, Registered):
                event = server.next_event()
            assert event is not None
            assert [str(each.uri) for each in event.bindings] == [f"sip:1001@{at[0]}:{at[1]}"]
        else:
            await peer.fails()
        bound = registrar.bindings_of("1001", now_s=asyncio.get_running_loop().time())
        assert len(bound) == (1 if well else 0)
    finally:
        driver.close()
