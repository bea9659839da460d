"""Test calls to a unit of our own on loopback: what its line loses on purpose is what the call tells; it is hung up."""

import asyncio
import os
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import replace
from datetime import UTC, datetime
from socket import SOCK_DGRAM

import pytest

from doorwright.probe.call import Called, Callee, CallManner, call
from doorwright.probe.reach import Outcome
from doorwright.sip.events import Invited, Why
from doorwright.sip.rtcp import Bye, SenderReport
from doorwright.sip.sdp import parse_description
from tests.unit.probe.answering import Answering, Line
from tests.unit.probe.loopback import closed_port

BRIEF = CallManner(patience_s=2.0, ring_s=5.0, talk_s=1.0)
HERE = "127.0.0.1"


def now() -> datetime:
    return datetime.now(UTC)


@asynccontextmanager
async def answering(unit: Answering) -> AsyncIterator[Callee]:
    at = await unit.begin((HERE, 0))
    try:
        yield Callee(user="101", at=at, speech_to=frozenset({HERE}))
    finally:
        unit.close()


async def called_at(unit: Answering, manner: CallManner = BRIEF) -> Called:
    async with asyncio.timeout(30), answering(unit) as callee:
        called = await call(callee, manner, now=now, chance=os.urandom)
        if any(isinstance(one, Invited) for one in unit.events) and unit.code in (200, None):
            await unit.hung_up.wait()
        return called


def test_what_the_line_loses_is_what_the_call_tells() -> None:
    # from the unit: 5, 6, 7 and 20 lost; to the unit: 10 and 11 lost
    unit = Answering(line=Line(lost_back={5, 6, 7, 20}, lost_there={10, 11}))
    called = asyncio.run(called_at(unit))
    assert (called.outcome, called.rang, called.taken, called.code) == (Outcome.ANSWERED, True, True, 200)
    assert (called.codec, called.trouble) == ("PCMU", "")
    assert 40 <= called.sent_count <= 50  # 1 s of 20 ms; a machine that is busy at the end sends the last ones no more
    heard, told = called.heard, called.told
    assert heard is not None
    assert heard.lost_count == 4
    assert 30 <= heard.expected_count <= 52
    # bursts of 3 and 1: 2 on average, times what came (ITU-T G.107); late packets of a busy machine may add to it
    if heard.late_count == 0:
        assert heard.gone_ratio == pytest.approx(4 / heard.expected_count)
        assert heard.burst_ratio == pytest.approx(2 * (1 - 4 / heard.expected_count))
    assert told is not None
    assert told.lost_count == 2
    assert called.round_trip_ms is not None
    assert 0 <= called.round_trip_ms < 1000
    assert unit.ends == [Why.THEY_HUNG_UP]
    assert sorted(unit.came) == [nth for nth in range(called.sent_count) if nth not in {10, 11}]
    assert isinstance(unit.reported[0], SenderReport)
    assert any(isinstance(one, Bye) for one in unit.reported)  # RFC 3550 §6.6


def test_a_unit_that_hears_and_never_speaks_is_told() -> None:
    called = asyncio.run(called_at(Answering(line=Line(speaks=False)), replace(BRIEF, talk_s=0.5)))
    assert (called.taken, called.heard, called.told, called.round_trip_ms) == (True, None, None, None)


def test_the_other_law_is_spoken_where_it_alone_is_known() -> None:
    called = asyncio.run(called_at(Answering(codecs=(8,)), replace(BRIEF, talk_s=0.5)))
    assert called.codec == "PCMA"  # RFC 3551 table 4: payload type 8


@pytest.mark.parametrize("code", [486, 480, 603, 488])
def test_a_refusal_is_told(code: int) -> None:
    unit = Answering(code=code)
    called = asyncio.run(called_at(unit))
    assert (called.taken, called.code, called.heard) == (False, code, None)
    assert called.rang


def test_nobody_who_takes_it_is_taken_back() -> None:
    unit = Answering(code=None)
    called = asyncio.run(called_at(unit, replace(BRIEF, ring_s=0.3)))
    assert (called.outcome, called.rang, called.taken, called.code) == (Outcome.ANSWERED, True, False, None)
    assert unit.ends == [Why.THEY_CANCELLED]


def test_silence_is_told_as_such() -> None:
    async def asked() -> Called:
        callee = Callee(user="101", at=(HERE, closed_port(SOCK_DGRAM)), speech_to=frozenset({HERE}))
        return await call(callee, replace(BRIEF, patience_s=0.2), now=now, chance=os.urandom)

    called = asyncio.run(asked())
    assert (called.outcome, called.rang, called.code) == (Outcome.SILENT, False, None)


def test_speech_goes_to_no_address_outside_the_plan() -> None:
    unit = Answering(line=Line(speech_at="192.0.2.99"))
    called = asyncio.run(called_at(unit))
    assert called.taken
    assert "not in the plan" in called.trouble
    assert (called.sent_count, unit.came) == (0, [])
    assert unit.ends == [Why.THEY_HUNG_UP]


def test_whoever_stops_it_hangs_up() -> None:
    async def stopped(unit: Answering) -> None:
        async with asyncio.timeout(30), answering(unit) as callee:
            calling = asyncio.create_task(call(callee, replace(BRIEF, talk_s=60), now=now, chance=os.urandom))
            async with asyncio.timeout(10):
                while not unit.came:
                    await asyncio.sleep(0.01)
            calling.cancel()
            with pytest.raises(asyncio.CancelledError):
                await calling
            await unit.hung_up.wait()

    unit = Answering()
    asyncio.run(stopped(unit))
    assert unit.ends == [Why.THEY_HUNG_UP]


def test_whoever_stops_it_while_it_rings_takes_it_back() -> None:
    async def stopped(unit: Answering) -> None:
        async with asyncio.timeout(30), answering(unit) as callee:
            rang = asyncio.Event()
            calling = asyncio.create_task(call(callee, BRIEF, now=now, chance=os.urandom, listen=lambda _: rang.set()))
            await rang.wait()
            calling.cancel()
            with pytest.raises(asyncio.CancelledError):
                await calling
            await unit.hung_up.wait()

    unit = Answering(code=None)
    asyncio.run(stopped(unit))
    assert unit.ends == [Why.THEY_CANCELLED]


def test_the_offer_is_of_what_can_be_spoken() -> None:
    unit = Answering(code=486)
    asyncio.run(called_at(unit))
    invited = next(one for one in unit.events if isinstance(one, Invited))
    (media,) = parse_description(invited.request.body).media
    assert media.formats[:2] == ("0", "8")
    assert invited.request.headers.get("User-Agent") == "Doorwright"
