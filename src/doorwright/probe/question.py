"""One question over SIP and its answer, on a socket of its own; every datagram that we send takes a turn of the pace.

The transaction is that of ``doorwright.sip``. Whoever is asked cannot make us send anything else: what they ask us is
passed over, and so is what answers another call.
"""

import asyncio
from collections import deque
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from ipaddress import ip_address
from typing import Final, TypeAlias

from doorwright.line.driver import Driver
from doorwright.line.udp import Address
from doorwright.probe.reach import Outcome, outcome_of
from doorwright.sip.errors import PeerError
from doorwright.sip.events import Replied
from doorwright.sip.message import Request, Response, parse
from doorwright.sip.stack import Endpoint
from doorwright.sip.validate import faults_for_client, validate

AGENT: Final = (("User-Agent", "Doorwright"),)
"""What says who asked, for whoever reads a unit's log."""
DEFAULT_PORT: Final = 5060
UNESCAPED: Final = "-_.!~*'()"
"""What stands in a user beside letters and digits without an escape (RFC 3261 §25.1 mark)."""

Begin: TypeAlias = Callable[[Address, float], Endpoint]
"""Makes an endpoint for our own address that has asked its question at a moment."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What came of a question.

    Attributes:
        outcome: whether anybody answered.
        response: the final response; None where there was none that could be read.
        asked_at, heard_at: when the last request went and when the response came, by this machine's clock.
    """

    outcome: Outcome
    response: Response | None = None
    asked_at: datetime | None = None
    heard_at: datetime | None = None


class Question:
    """An endpoint with one question, its datagrams held back until their turn comes. Time is an argument."""

    def __init__(self, *, patience_s: float, now: Callable[[], datetime]) -> None:
        """Prepare a question; ``put`` gives it the endpoint that asks it.

        Args:
            patience_s: how long to wait after each new request that went out; its repetitions count in.
            now: this machine's clock.
        """
        self._endpoint: Endpoint | None = None
        self._patience_s = patience_s
        self._now = now
        self._calls: set[str] = set()
        self._held: deque[tuple[bytes, Address]] = deque()
        self._last = b""
        self._turns_count = 1  # the question itself waited for its turn before it was made
        self._now_s = 0.0
        self.give_up_at_s: float | None = None
        self.was_unreadable = False
        self.failure: OSError | None = None
        self.answer: Answer | None = None
        self._asked_at: datetime | None = None
        self.news = asyncio.Event()
        self.wants_turn = asyncio.Event()

    def put(self, endpoint: Endpoint, *, now_s: float) -> None:
        """Take the endpoint that has asked."""
        self._endpoint, self._now_s = endpoint, now_s

    @property
    def is_over(self) -> bool:
        """Whether there is nothing more to wait for."""
        return self.answer is not None or self.failure is not None

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        """Take a datagram. What is no valid response to what was asked is passed over (RFC 3261 §17.1.3, §8.1.3)."""
        self._now_s = now_s
        try:
            message = parse(data)
            if isinstance(message, Request):
                return  # they ask us something: no answer to what we asked
            if validate(message) or faults_for_client(message):
                self.was_unreadable = True
                return
            is_ours = message.headers.call_id in self._calls
        except PeerError:
            self.was_unreadable = True
            return
        if is_ours and self._endpoint is not None:
            self._endpoint.receive_message(message, source=source, now_s=now_s)

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        """Return what has its turn. A repetition of what is still held back is none."""
        if self._endpoint is None:
            return []
        for datagram in self._endpoint.datagrams_to_send():
            if datagram not in self._held:
                self._held.append(datagram)
        out = []
        while self._held and self._turns_count:
            self._turns_count -= 1
            data, to = self._held.popleft()
            self._note(data)
            out.append((data, to))
        if self._held:
            if any(data != self._last for data, _ in self._held):
                self.give_up_at_s = None  # patience begins when it goes
            self.wants_turn.set()
        return out

    def _note(self, data: bytes) -> None:
        self._asked_at = self._now()
        if data != self._last:
            self._last = data
            self._calls.add(parse(data).headers.call_id)
            self.give_up_at_s = self._now_s + self._patience_s
            self.news.set()

    def turn(self, *, now_s: float) -> None:
        """Let one more datagram go."""
        self._now_s = now_s
        self._turns_count += 1

    def timer_at(self) -> float | None:
        """Return when ``handle_timer`` is wanted next."""
        return self._endpoint.timer_at() if self._endpoint is not None and not self.is_over else None

    def handle_timer(self, now_s: float) -> None:
        """Do what is due."""
        self._now_s = now_s
        if self._endpoint is not None:
            self._endpoint.handle_timer(now_s)

    def look(self) -> None:
        """See whether the endpoint has the answer."""
        while self._endpoint is not None and (event := self._endpoint.next_event()) is not None:
            if isinstance(event, Replied):
                heard = event.response
                outcome = Outcome.ANSWERED if heard is not None or self.was_unreadable else Outcome.SILENT
                self.answer = Answer(outcome=outcome, response=heard, asked_at=self._asked_at, heard_at=self._now())
                self.news.set()

    def fail(self, error: OSError) -> None:
        """Take what the network says instead of an answer: it ends the question (§17.1.4)."""
        if not self.is_over:
            self.failure = error
            self.news.set()

    def ended(self) -> Answer:
        """Return what came of it, also where patience ended first."""
        if self.answer is not None:
            return self.answer
        if self.failure is not None:
            return Answer(outcome=outcome_of(self.failure))
        return Answer(outcome=Outcome.ANSWERED if self.was_unreadable else Outcome.SILENT)


async def ask(
    peer: Address,
    begin: Begin,
    *,
    patience_s: float,
    now: Callable[[], datetime],
    turn: Callable[[], Awaitable[None]],
) -> Answer:
    """Ask one question and wait for its answer.

    The user of a transaction may give up before timer F of 32 s, so the patience is ours; with it the machine ends, as
    nothing is there to absorb what comes late with (timer K).

    Args:
        peer: an IP address and a UDP port.
        begin: makes the endpoint that asks.
        patience_s: how long to wait for the answer, and again where it asks for proof that we have.
        now: this machine's clock.
        turn: waits until one more datagram may go.

    Raises:
        ValueError: it is no IP address; names are never looked up.
    """
    ip_address(peer[0])
    await turn()
    question = Question(patience_s=patience_s, now=now)
    driver = Driver(question, happened=question.look)
    try:
        local = await driver.begin_with(peer, failed=question.fail)
    except OSError as error:
        return Answer(outcome=outcome_of(error))
    question.put(begin(local, driver.now_s), now_s=driver.now_s)
    turning = asyncio.create_task(_take_turns(question, driver, turn))
    try:
        driver.settle()
        with suppress(TimeoutError):
            while not question.is_over:
                question.news.clear()
                async with asyncio.timeout_at(question.give_up_at_s):
                    await question.news.wait()
    finally:
        driver.close()
        turning.cancel()
        await asyncio.gather(turning, return_exceptions=True)
    return question.ended()


async def _take_turns(question: Question, driver: Driver, turn: Callable[[], Awaitable[None]]) -> None:
    while True:
        await question.wants_turn.wait()
        question.wants_turn.clear()
        await turn()
        question.turn(now_s=driver.now_s)
        driver.settle()


def bracketed(host: str) -> str:
    """Return an IP address as an address of SIP has it."""
    return f"[{host}]" if ":" in host else host


def host_port(host: str, port: int = DEFAULT_PORT) -> str:
    """Return an IP address and port as an address of SIP has them, the usual port left out."""
    return bracketed(host) if port == DEFAULT_PORT else f"{bracketed(host)}:{port}"
