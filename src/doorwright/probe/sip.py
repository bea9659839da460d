"""One OPTIONS over UDP: the client's side of a transaction without INVITE, and the socket that carries it.

`OptionsClient` has neither socket nor clock nor chance; `ask_options` lends it all three.
"""

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import datetime
from ipaddress import ip_address
from typing import Any, Final

from doorwright.probe.clock import ahead_s
from doorwright.probe.reach import Outcome, outcome_of
from doorwright.sip.errors import PeerError
from doorwright.sip.headers import COOKIE, Headers
from doorwright.sip.message import Request, Response, parse
from doorwright.sip.timers import Times
from doorwright.sip.validate import faults_for_client, validate

TIMES: Final = Times()
"""The base figures of RFC 3261 Table 4, as nothing else is known."""
DEFAULT_PORT: Final = 5060
_WAITING_MOST_COUNT: Final = 64
"""Datagrams kept until they are read; who sends more is not listened to."""
_TOKEN_BYTES: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Sip:
    """What came of OPTIONS: the code of the final response, None where there was none that could be read."""

    outcome: Outcome
    code: int | None = None
    ahead_s: int | None = None


class OptionsClient:
    """The machine of RFC 3261 §17.1.2 for one OPTIONS over UDP.

    The user of a transaction may give up before timer F of 32 s: so ``patience_s`` is ours. Its end is the end of the
    machine, as we have nothing to absorb what comes late with (timer K).
    """

    def __init__(
        self, *, address: str, port: int, local: tuple[str, int], token: str, now_s: float, patience_s: float
    ) -> None:
        """Prepare the request; the first `handle_timer` says to send it.

        Args:
            address: the IP address asked.
            port: its UDP port.
            local: our own address and port on that way.
            token: letters and digits that nobody can foresee, for branch, tag and Call-ID.
            now_s: the time.
            patience_s: how long to wait in all.
        """
        own, theirs = _host_port(local[0], local[1]), _host_port(address, None if port == DEFAULT_PORT else port)
        self._branch = f"{COOKIE}{token}"
        self._call_id = f"{token}@{_host_port(local[0], None)}"
        self.request = Request(
            "OPTIONS",
            f"sip:{theirs}",
            Headers(
                [
                    ("Via", f"SIP/2.0/UDP {own};branch={self._branch};rport"),  # RFC 3581 §3
                    ("Max-Forwards", "70"),
                    ("From", f"<sip:doorwright@{own}>;tag={token}"),
                    ("To", f"<sip:{theirs}>"),
                    ("Call-ID", self._call_id),
                    ("CSeq", "1 OPTIONS"),
                    ("Contact", f"<sip:doorwright@{own}>"),
                    ("Accept", "application/sdp"),  # §11.1
                    ("User-Agent", "Doorwright"),
                ]
            ),
        ).to_bytes()
        self._send_at_s = now_s
        self._pause_s = TIMES.t1_s
        self._give_up_at_s = now_s + patience_s
        self.response: Response | None = None
        self.was_unreadable = False
        self.is_over = False

    def timer_at(self) -> float | None:
        """Return when `handle_timer` is wanted next; None when it is over."""
        return None if self.is_over else min(self._send_at_s, self._give_up_at_s)

    def handle_timer(self, now_s: float) -> bool:
        """Take note of the time, and return whether the request is to be sent (again) now."""
        if self.is_over or now_s < min(self._send_at_s, self._give_up_at_s):
            return False
        if now_s >= self._give_up_at_s:
            self.is_over = True  # timer F
            return False
        self._send_at_s = now_s + self._pause_s  # timer E: T1, 2 T1, 4 T1 ... up to T2
        self._pause_s = min(2 * self._pause_s, TIMES.t2_s)
        return True

    def receive(self, data: bytes) -> None:
        """Take a datagram. What is no valid response to this request is passed over (§17.1.3, §8.1.3)."""
        try:
            message = parse(data)
            if isinstance(message, Request):
                return  # they ask us something: no answer to what we asked
            if validate(message) or faults_for_client(message):
                self.was_unreadable = True
                return
            via, cseq = message.headers.via, message.headers.cseq
            is_ours = via.branch == self._branch and cseq.method == "OPTIONS"
            if not is_ours or message.headers.call_id != self._call_id:
                return
        except PeerError:
            self.was_unreadable = True
            return
        if message.is_final:
            self.response = message
            self.is_over = True
        else:
            self._pause_s = TIMES.t2_s  # proceeding: after the repetition that is due, every T2


def _host_port(host: str, port: int | None) -> str:
    shown = f"[{host}]" if ":" in host else host
    return shown if port is None else f"{shown}:{port}"


class _Wire(asyncio.DatagramProtocol):
    """What came in on a socket, in order, datagrams and errors."""

    def __init__(self) -> None:
        self.came: asyncio.Queue[bytes | OSError] = asyncio.Queue(_WAITING_MOST_COUNT)

    def datagram_received(self, data: bytes, addr: Any) -> None:
        """Keep a datagram; the socket is connected, so it is from whom we asked."""
        del addr
        if not self.came.full():
            self.came.put_nowait(data)

    def error_received(self, exc: Exception) -> None:
        """Keep what the network says, such as that nobody listens at that port."""
        if isinstance(exc, OSError) and not self.came.full():
            self.came.put_nowait(exc)


async def ask_options(
    address: str,
    port: int,
    *,
    patience_s: float,
    now: Callable[[], datetime],
    chance: Callable[[int], bytes],
    turn: Callable[[], Awaitable[None]],
) -> Sip:
    """Ask what it can do. OPTIONS neither rings nor changes anything (RFC 3261 §11).

    Args:
        address: an IP address.
        port: its UDP port for SIP.
        patience_s: how long to wait in all; the request is repeated meanwhile.
        now: this machine's clock.
        chance: gives so many octets which nobody can foresee.
        turn: waits until one more datagram may go.
    """
    ip_address(address)
    loop = asyncio.get_running_loop()
    await turn()
    try:
        transport, wire = await loop.create_datagram_endpoint(_Wire, remote_addr=(address, port))
    except OSError as error:
        return Sip(outcome=outcome_of(error))
    try:
        client = OptionsClient(
            address=address,
            port=port,
            local=transport.get_extra_info("sockname")[:2],
            token=chance(_TOKEN_BYTES).hex(),
            now_s=loop.time(),
            patience_s=patience_s,
        )
        return await _carried(client, transport, wire, now=now, turn=turn)
    finally:
        transport.abort()


async def _carried(
    client: OptionsClient,
    transport: asyncio.DatagramTransport,
    wire: _Wire,
    *,
    now: Callable[[], datetime],
    turn: Callable[[], Awaitable[None]],
) -> Sip:
    loop = asyncio.get_running_loop()
    asked_at, is_first = now(), True
    while (due_s := client.timer_at()) is not None:
        if due_s <= loop.time():
            if client.handle_timer(loop.time()):
                if not is_first:
                    await turn()
                is_first = False
                asked_at = now()
                transport.sendto(client.request)
            continue
        try:
            async with asyncio.timeout_at(due_s):
                came = await wire.came.get()
        except TimeoutError:
            continue
        if isinstance(came, OSError):
            return Sip(outcome=outcome_of(came))  # §17.1.4: an error of the transport ends it
        client.receive(came)
    heard_at = now()
    if client.response is None:
        return Sip(outcome=Outcome.ANSWERED if client.was_unreadable else Outcome.SILENT)
    date = client.response.headers.get("Date")
    ahead = ahead_s(date, asked_at=asked_at, heard_at=heard_at) if date is not None else None
    return Sip(outcome=Outcome.ANSWERED, code=client.response.code, ahead_s=ahead)
