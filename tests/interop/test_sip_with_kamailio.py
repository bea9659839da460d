"""Our endpoints with kamailio between them, as registrar with both digests and as forking proxy, by the files we write.

Needs Debian's package ``kamailio``, and a loopback net of which every address answers (Linux).
"""

import asyncio
from collections.abc import AsyncIterator, Iterator
from contextlib import AsyncExitStack, asynccontextmanager

import pytest

from doorwright.line.udp import Address, open_udp
from doorwright.sip.dtmf import INFO_RELAY, InfoKey, KeyListener, KeyPressed, key_packets, parse_info, print_info
from doorwright.sip.events import Answered, Connected, Ended, Informed, Invited, Progress, Refused, Replied, Why
from doorwright.sip.offer import agree
from doorwright.sip.rtp import parse_rtp
from doorwright.sip.sdp import parse_description
from tests.interop.kamailio_process import NET, need_kamailio, running_kamailio
from tests.interop.party import PATIENCE_S, Party, on_a_loop, party
from tests.interop.served_site import REALM, ServedSite, served_site

RELEASE_KEY = "5"
"""The key that opens the door, in these tests."""


@pytest.fixture(scope="module", autouse=True)
def _installed() -> None:
    need_kamailio()


@pytest.fixture(scope="module", params=["MD5", "SHA-256"])
def server(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[ServedSite, int]]:
    def site_of(port: int) -> ServedSite:
        return served_site(net=NET, port=port)

    with running_kamailio(tmp_path_factory.mktemp("kamailio"), digest=request.param, site_of=site_of) as running:
        yield running


class Units:
    """Units of the site at their planned addresses, registered with the server; all unregister at the end."""

    def __init__(self, site: ServedSite, port: int, leaving: AsyncExitStack) -> None:
        self._site = site
        self._leaving = leaving
        self.server: Address = (f"{NET}.1", port)

    async def unit(self, name: str, *, secret: str | None = None) -> Party:
        """Return a unit that is on the line and has not registered."""
        planned = next(one for one in self._site.site.units if one.name == name)
        dwelling = next((one for one in self._site.site.dwellings if one.id == planned.dwelling), None)
        number = planned.call_number or (dwelling.call_number if dwelling else None) or ""
        return await self._leaving.enter_async_context(
            party(user=number, host=planned.address or "", domain=REALM, secret=secret or self._site.secret_of(name))
        )

    async def register(self, unit: Party, *, expires_s: int = 300) -> Replied:
        """Register a unit, and return what came of it."""
        unit.act(unit.endpoint.register, f"sip:{REALM}", through=self.server, expires_s=expires_s)
        return await unit.hears(Replied, passing=(Ended,))

    async def registered(self, name: str) -> Party:
        """Return a unit that registered."""
        unit = await self.unit(name)
        replied = await self.register(unit)
        assert (replied.method, replied.code) == ("REGISTER", 200)

        async def leave() -> None:
            assert (await self.register(unit, expires_s=0)).code == 200

        self._leaving.push_async_callback(leave)
        return unit

    def call(self, caller: Party, number: str, *, body: bytes) -> int:
        """Call a number."""
        return caller.act(caller.endpoint.invite, f"sip:{number}@{REALM}", through=self.server, body=body)


@asynccontextmanager
async def units_of(server: tuple[ServedSite, int]) -> AsyncIterator[Units]:
    async with AsyncExitStack() as leaving:
        yield Units(*server, leaving)


async def rung(receiver: Party) -> Invited:
    """Return the call that comes in, once it rings."""
    invited = await receiver.hears(Invited)
    receiver.act(receiver.endpoint.ring, invited.call)
    return invited


async def talking(units: Units, panel: Party, receiver: Party, number: str) -> tuple[int, int]:
    """Let the panel call and the receiver answer; return the number that the call has at each."""
    called = units.call(panel, number, body=panel.offer())
    invited = await rung(receiver)
    receiver.act(receiver.endpoint.answer, invited.call, body=receiver.answer(invited.request.body))
    assert (await panel.hears(Answered)).acknowledged
    await receiver.hears(Connected)
    return called, invited.call


@on_a_loop
async def test_it_registers_us_with_the_right_secret_only(server: tuple[ServedSite, int]) -> None:
    async with units_of(server) as units:
        receiver = await units.registered("1001 0")
        # asked without a contact it tells what is bound, ours with the seconds that are left (RFC 3261 §10.2.3)
        receiver.act(receiver.endpoint.register, f"sip:{REALM}", through=units.server, contact="")
        told = await receiver.hears(Replied)
        assert told.response is not None
        (contact,) = told.response.headers.contacts
        assert str(contact.uri) == "sip:1001@{}:{}".format(*receiver.address)
        assert 0 < int(contact.params.get("expires") or "") <= 300
        guessing = await units.unit("1001 1", secret="guessed")  # noqa: S106
        assert (await units.register(guessing)).code == 403


@on_a_loop
async def test_three_ring_the_second_answers_and_the_others_are_told_to_stop(server: tuple[ServedSite, int]) -> None:
    async with units_of(server) as units:
        panel = await units.registered("Main panel")
        receivers = [await units.registered(f"1001 {n}") for n in range(3)]
        call = units.call(panel, "1001", body=panel.offer())
        invited = [await rung(receiver) for receiver in receivers]
        assert len({one.request.headers.via.branch for one in invited}) == 3  # RFC 3261 §16.6: a branch each
        taking = receivers[1]
        taking.act(taking.endpoint.answer, invited[1].call, body=taking.answer(invited[1].request.body))
        answered = await panel.hears(Answered)
        assert answered.call == call
        assert answered.response.headers.contacts[0].uri.host == taking.address[0]  # type: ignore[union-attr]
        for at in (0, 2):
            # our endpoint answers the CANCEL with 200 and its INVITE with 487 before it tells of this (§9.2)
            assert await receivers[at].hears(Ended) == Ended(call=invited[at].call, why=Why.THEY_CANCELLED)
        await taking.hears(Connected)
        panel.act(panel.endpoint.bye, call)
        assert await taking.hears(Ended) == Ended(call=invited[1].call, why=Why.THEY_HUNG_UP)
        assert await panel.hears(Ended) == Ended(call=call, why=Why.WE_HUNG_UP)
        assert all(receiver.heard_nothing() for receiver in receivers)


@on_a_loop
async def test_who_calls_gives_up_and_nobody_rings_on(server: tuple[ServedSite, int]) -> None:
    async with units_of(server) as units:
        panel = await units.registered("Main panel")
        receivers = [await units.registered(f"1001 {n}") for n in range(3)]
        call = units.call(panel, "1001", body=panel.offer())
        invited = [await rung(receiver) for receiver in receivers]
        await panel.hears(Progress)
        panel.act(panel.endpoint.cancel, call)
        for receiver, one in zip(receivers, invited, strict=True):
            assert await receiver.hears(Ended) == Ended(call=one.call, why=Why.THEY_CANCELLED)
        refused = await panel.hears(Refused)
        assert (refused.call, refused.code, refused.over) == (call, 487, True)


@on_a_loop
async def test_whom_we_call_hangs_up(server: tuple[ServedSite, int]) -> None:
    async with units_of(server) as units:
        panel, receiver = await units.registered("Main panel"), await units.registered("1005 0")
        ours, theirs = await talking(units, panel, receiver, "1005")
        receiver.act(receiver.endpoint.bye, theirs)
        assert await panel.hears(Ended) == Ended(call=ours, why=Why.THEY_HUNG_UP)
        assert await receiver.hears(Ended) == Ended(call=theirs, why=Why.WE_HUNG_UP)


@on_a_loop
async def test_a_key_is_told_by_info_through_the_server(server: tuple[ServedSite, int]) -> None:
    async with units_of(server) as units:
        panel, receiver = await units.registered("Main panel"), await units.registered("1005 0")
        ours, theirs = await talking(units, panel, receiver, "1005")
        pressed = InfoKey(key=RELEASE_KEY, duration_ms=160)
        errand = receiver.act(receiver.endpoint.info, theirs, body=print_info(pressed))
        informed = await panel.hears(Informed)
        assert informed.call == ours
        assert informed.request.headers.via.host == units.server[0]  # it came through the server
        assert parse_info(informed.request.body, content_type=INFO_RELAY) == pressed
        replied = await receiver.hears(Replied)
        assert (replied.errand, replied.method, replied.code) == (errand, "INFO", 200)
        panel.act(panel.endpoint.bye, ours)
        await receiver.hears(Ended)
        await panel.hears(Ended)


@on_a_loop
async def test_a_key_is_told_by_events_from_end_to_end(server: tuple[ServedSite, int]) -> None:
    async with units_of(server) as units, AsyncExitStack() as sockets:
        panel, receiver = await units.registered("Main panel"), await units.registered("1005 0")
        came: asyncio.Queue[bytes] = asyncio.Queue()
        hearing = await open_udp((panel.address[0], 0), lambda data, _: came.put_nowait(data))
        sockets.callback(hearing.close)
        pressing = await open_udp((receiver.address[0], 0), lambda _data, _source: None)
        sockets.callback(pressing.close)
        offer = panel.offer(port=hearing.address[1])
        ours = units.call(panel, "1005", body=offer)
        invited = await rung(receiver)
        answer = receiver.answer(invited.request.body, port=pressing.address[1])
        receiver.act(receiver.endpoint.answer, invited.call, body=answer)
        told = (await panel.hears(Answered)).response.body
        await receiver.hears(Connected)
        (as_answered,) = agree(parse_description(answer), parse_description(invited.request.body))
        (as_offered,) = agree(parse_description(offer), parse_description(told))
        assert as_answered is not None
        assert as_offered is not None
        assert as_answered.events_number is not None
        assert (as_answered.address, as_answered.port) == hearing.address  # the server leaves the speech alone
        packets = key_packets(RELEASE_KEY, payload_type=as_answered.events_number, source=1, sequence=1, timestamp=0)
        for _, packet in packets:
            pressing.send(bytes(packet), (as_answered.address, as_answered.port))
        assert await _keys_of(came, as_offered.receive[-1][0], len(packets)) == [RELEASE_KEY]
        panel.act(panel.endpoint.bye, ours)
        await receiver.hears(Ended)
        await panel.hears(Ended)


async def _keys_of(came: "asyncio.Queue[bytes]", events_number: int, packets_count: int) -> list[str | None]:
    """Return the keys in so many packets."""
    listener, now_s = KeyListener(), asyncio.get_running_loop().time
    keys: list[str | None] = []
    async with asyncio.timeout(PATIENCE_S):
        for _ in range(packets_count):
            packet = parse_rtp(await came.get())
            assert packet.payload_type == events_number
            keys += [event.key for event in listener.receive(packet, now_s=now_s()) if isinstance(event, KeyPressed)]
    return keys


@on_a_loop
async def test_a_number_that_is_not_planned_is_refused(server: tuple[ServedSite, int]) -> None:
    async with units_of(server) as units:
        panel = await units.registered("Main panel")
        call = units.call(panel, "1999", body=panel.offer())
        refused = await panel.hears(Refused)
        assert (refused.call, refused.code) == (call, 404)
