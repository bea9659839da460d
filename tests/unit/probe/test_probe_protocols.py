"""SIP, HTTP, TLS and RTSP against servers on loopback: those that behave, lose, keep silent and talk nonsense."""

import asyncio
from collections.abc import Awaitable, Callable, Iterator, Sequence
from datetime import UTC, date, datetime, timedelta
from email.utils import format_datetime
from pathlib import Path
from socket import SOCK_DGRAM

import pytest

from doorwright.probe.reach import Outcome
from doorwright.probe.rtsp import ask_rtsp
from doorwright.probe.sip import Sip, ask_options
from doorwright.probe.web import ask_web
from doorwright.sip.message import Request, response_to
from tests.unit.probe.loopback import (
    Building,
    Respond,
    certificate,
    closed_port,
    http_answer,
    says,
    sip_answer,
    takes_and_waits,
)

HOUR = timedelta(hours=1)
SHORT_S = 0.3  # patience with who never answers: all is on one machine


@pytest.fixture
def building() -> Iterator[Building]:
    with Building() as one:
        yield one


def now() -> datetime:
    return datetime.now(UTC)


async def at_once() -> None:
    """No pace: one part is asked here."""


def options(port: int, *, patience_s: float = 5.0, turn: Callable[[], Awaitable[None]] = at_once) -> Sip:
    work = ask_options("127.0.0.1", port, patience_s=patience_s, now=now, chance=bytes, turn=turn)
    return asyncio.run(work)


# SIP


def test_a_unit_that_answers_tells_its_code_and_clock(building: Building) -> None:
    asked = building.udp("127.0.0.1", 0, sip_answer(ahead=-HOUR))
    port = asked.port
    heard = options(port)
    assert (heard.outcome, heard.code) == (Outcome.ANSWERED, 200)
    assert heard.ahead_s is not None
    assert abs(heard.ahead_s + 3600) <= 2
    (request,) = asked.requests
    assert (request.method, request.body) == ("OPTIONS", b"")
    assert request.headers.max_forwards == 70  # RFC 3261 §8.1.1.6
    assert request.headers.via.wants_rport


def test_a_refusal_is_an_answer(building: Building) -> None:
    port = building.udp("127.0.0.1", 0, sip_answer(486)).port
    assert options(port).code == 486


def test_a_request_lost_on_the_way_is_sent_again_as_it_was(building: Building) -> None:
    asked = building.udp("127.0.0.1", 0, sip_answer(after=2))
    port = asked.port
    turns: list[None] = []

    async def turn() -> None:
        turns.append(None)

    assert options(port, turn=turn).code == 200
    assert len(asked.requests) == len(turns) == 2  # each datagram has its turn
    assert asked.requests[0] == asked.requests[1]  # RFC 3261 §17.1.2.2


def test_who_is_silent_is_given_up(building: Building) -> None:
    port = building.udp("127.0.0.1", 0, lambda _count, _request: ()).port
    assert options(port, patience_s=SHORT_S) == Sip(outcome=Outcome.SILENT)


def test_a_closed_port_says_that_somebody_is_there() -> None:
    assert options(closed_port(SOCK_DGRAM)) == Sip(outcome=Outcome.REFUSED)


NONSENSE: dict[str, Respond] = {
    "no message": lambda _count, _request: (b"\x00\xff" * 40, b"", b"hello"),
    "a head cut off": lambda _count, request: (response_to(request, 200).to_bytes()[:40],),
    "a code beyond all": lambda _count, request: (
        response_to(request, 200).to_bytes().replace(b"SIP/2.0 200", b"SIP/2.0 999"),
    ),
}


@pytest.mark.parametrize("respond", NONSENSE.values(), ids=NONSENSE.keys())
def test_nonsense_is_told_as_such(building: Building, respond: Respond) -> None:
    port = building.udp("127.0.0.1", 0, respond).port
    assert options(port, patience_s=SHORT_S) == Sip(outcome=Outcome.ANSWERED)


def test_an_answer_among_nonsense_and_echoes_counts(building: Building) -> None:

    def respond(_: int, request: Request) -> Sequence[bytes]:
        stranger = response_to(request, 404).to_bytes().replace(b"z9hG4bK", b"z9hG4bKother")
        provisional = response_to(request, 100).to_bytes()
        return b"junk", request.to_bytes(), stranger, provisional, response_to(request, 200, to_tag="u").to_bytes()

    port = building.udp("127.0.0.1", 0, respond).port
    assert options(port).code == 200


def test_an_answer_for_another_call_is_none(building: Building) -> None:

    def respond(_: int, request: Request) -> Sequence[bytes]:
        return (response_to(request, 200).to_bytes().replace(b"Call-ID: ", b"Call-ID: not-"),)

    port = building.udp("127.0.0.1", 0, respond).port
    assert options(port, patience_s=SHORT_S) == Sip(outcome=Outcome.SILENT)


def test_a_name_is_never_looked_up() -> None:
    with pytest.raises(ValueError, match=r"unit\.example"):
        asyncio.run(ask_options("unit.example", 5060, patience_s=1, now=now, chance=bytes, turn=at_once))


# HTTP and TLS


def test_an_expired_certificate_is_read_and_no_reason_to_stop(building: Building, tmp_path: Path) -> None:
    tls = certificate(tmp_path, first=datetime(2019, 1, 1, tzinfo=UTC), last=datetime(2020, 1, 1, tzinfo=UTC))
    port = building.tcp("127.0.0.1", 0, http_answer(ahead=2 * HOUR), tls=tls)
    heard = asyncio.run(ask_web("127.0.0.1", port, tls=True, patience_s=5, now=now))
    assert (heard.outcome, heard.status) == (Outcome.ANSWERED, 200)
    assert heard.valid == (date(2019, 1, 1), date(2020, 1, 1))
    assert heard.ahead_s is not None
    assert abs(heard.ahead_s - 7200) <= 2


def test_no_redirection_is_followed(building: Building) -> None:
    came: list[bytes] = []

    async def trap(reader: asyncio.StreamReader, _: asyncio.StreamWriter) -> None:
        came.append(await reader.read(100))

    elsewhere = building.tcp("127.0.0.1", 0, trap)
    port = building.tcp(
        "127.0.0.1", 0, says(f"HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:{elsewhere}/\r\n\r\n".encode())
    )
    assert asyncio.run(ask_web("127.0.0.1", port, tls=False, patience_s=5, now=now)).status == 302
    assert came == []


@pytest.mark.parametrize(
    "data",
    [b"", b"SSH-2.0-unit\r\n", b"HTTP/1.1 999 x\r\n\r\n", b"\xff" * 200_000, b"HTTP/1.1 200"],
    ids=["nothing", "another protocol", "no status", "without end", "cut off"],
)
@pytest.mark.parametrize("tls", [False, True], ids=["plain", "tls"])
def test_a_web_server_that_talks_nonsense_is_there_and_tells_nothing(
    building: Building, data: bytes, tls: bool
) -> None:
    port = building.tcp("127.0.0.1", 0, says(data))
    heard = asyncio.run(ask_web("127.0.0.1", port, tls=tls, patience_s=1, now=now))
    assert (heard.outcome, heard.status, heard.valid, heard.ahead_s) == (Outcome.ANSWERED, None, None, None)


@pytest.mark.parametrize("tls", [False, True], ids=["plain", "tls"])
def test_a_web_server_that_never_speaks_is_left(building: Building, tls: bool) -> None:
    port = building.tcp("127.0.0.1", 0, takes_and_waits)
    heard = asyncio.run(ask_web("127.0.0.1", port, tls=tls, patience_s=SHORT_S, now=now))
    assert (heard.outcome, heard.status) == (Outcome.ANSWERED, None)


def test_a_closed_web_port_is_a_refusal() -> None:
    heard = asyncio.run(ask_web("127.0.0.1", closed_port(), tls=False, patience_s=5, now=now))
    assert heard.outcome is Outcome.REFUSED


def test_a_date_that_cannot_be_read_is_no_clock(building: Building) -> None:
    port = building.tcp("127.0.0.1", 0, says(b"HTTP/1.1 401 No\r\nDate: the day before yesterday\r\n\r\n"))
    heard = asyncio.run(ask_web("127.0.0.1", port, tls=False, patience_s=5, now=now))
    assert (heard.status, heard.ahead_s) == (401, None)


# RTSP


@pytest.mark.parametrize(
    ("data", "status"),
    [
        (b"RTSP/1.0 200 OK\r\nCSeq: 1\r\nPublic: OPTIONS, DESCRIBE\r\n\r\n", 200),
        (b"RTSP/1.0 401 Unauthorized\r\nCSeq: 1\r\n\r\n", 401),
        (b"RTSP/1.0 200 OK\r\nCSeq: 7\r\n\r\n", None),  # RFC 2326 §12.17: an answer to another question
        (b"HTTP/1.1 400 Bad Request\r\n\r\n", None),
    ],
)
def test_a_picture_server_tells_its_status(building: Building, data: bytes, status: int | None) -> None:
    port = building.tcp("127.0.0.1", 0, says(data))
    heard = asyncio.run(ask_rtsp("127.0.0.1", port, patience_s=5, now=now))
    assert (heard.outcome, heard.status) == (Outcome.ANSWERED, status)


def test_a_picture_server_may_tell_its_clock_too(building: Building) -> None:
    told = format_datetime(now() + HOUR, usegmt=True)
    port = building.tcp("127.0.0.1", 0, says(f"RTSP/1.0 200 OK\r\nCSeq: 1\r\nDate: {told}\r\n\r\n".encode()))
    heard = asyncio.run(ask_rtsp("127.0.0.1", port, patience_s=5, now=now))
    assert heard.ahead_s is not None
    assert abs(heard.ahead_s - 3600) <= 5
