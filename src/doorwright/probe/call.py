"""One test call: it rings, and where somebody takes it, speech goes both ways for some seconds and is measured.

However it ends, by time, by a refusal, by whoever stops it, the call is taken back or hung up before the line closes.
"""

import asyncio
from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from typing import Final
from urllib.parse import quote

from doorwright.line.driver import Driver
from doorwright.line.udp import Address, Udp, open_pair, own_address
from doorwright.probe.conversation import CLOCK_HZ, PACKET_S, REPORT_EVERY_S, SPOKEN, Conversation, Heard, Told
from doorwright.probe.question import AGENT, DEFAULT_PORT, UNESCAPED, bracketed
from doorwright.probe.reach import Outcome, outcome_of
from doorwright.probe.registrant import Entered
from doorwright.sip.digest import Account
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.events import Answered, Ended, Invited, Progress, Refused, Reinvited
from doorwright.sip.formats import EVENTS, Codec
from doorwright.sip.message import Response
from doorwright.sip.offer import Agreed, Stream, agree, faults_of, make_offer
from doorwright.sip.sdp import Connection, Description, Origin, parse_description
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri

HANGING_UP_S: Final = 4.0
"""How long is waited until the other end has confirmed that the call is over: the BYE goes four times in it (T1)."""
_LEAST_REPORTS: Final = 4
_CALLER: Final = "doorwright"


@dataclass(frozen=True, slots=True, kw_only=True)
class CallManner:
    """How long to wait for any answer, to let it ring, and to speak, seconds; how long a receiver waits for packets."""

    patience_s: float = 5.0
    ring_s: float = 30.0
    talk_s: float = 10.0
    jitter_buffer_s: float = 0.04


@dataclass(frozen=True, slots=True, kw_only=True)
class Callee:
    """Whom to call.

    Attributes:
        user: who is called there.
        at: the unit's address and port, or those of the registrar through which it is called.
        caller: user and secret of the unit as which is called; None calls as nobody known.
        codecs: what is offered, the most wanted first.
        speech_to: the addresses to which speech may go. Who names another in the answer gets none.
    """

    user: str
    at: Address
    caller: Entered | None = None
    codecs: tuple[Codec, ...] = SPOKEN
    speech_to: frozenset[str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Called:
    """What came of a test call.

    Attributes:
        outcome: whether anything answered.
        at: when it was over.
        rang: whether it was told that it rings.
        code: the code of the final response; None where none came in time.
        taken: whether somebody, or something, took the call.
        trouble: why no speech was measured though it was taken.
        strays: whether that is because it wants its speech sent to an address to which none may go.
        codec: what was spoken.
        sent_count: packets of speech that we sent.
        heard: what came of their speech; None where nothing came.
        strange: payload types of what came that was not agreed, and so is no speech.
        told: what they reported of ours; None where they reported nothing.
        round_trip_ms: by their reports.
    """

    outcome: Outcome
    at: datetime
    rang: bool = False
    code: int | None = None
    taken: bool = False
    trouble: str = ""
    strays: bool = False
    codec: str | None = None
    sent_count: int = 0
    heard: Heard | None = None
    strange: tuple[int, ...] = ()
    told: Told | None = None
    round_trip_ms: float | None = None

    @property
    def both_ways(self) -> bool:
        """Whether it was taken and speech came through both ways, as far as their reports tell."""
        is_unheard = self.told is not None and not self.told.expected_count
        return self.taken and not self.trouble and self.heard is not None and not is_unheard


async def call(
    callee: Callee,
    manner: CallManner,
    *,
    now: Callable[[], datetime],
    chance: Callable[[int], bytes],
    listen: Callable[[str], None] = lambda _: None,
) -> Called:
    """Call, speak, measure, hang up.

    Args:
        callee: whom.
        manner: with how much patience, for how long.
        now: this machine's clock.
        chance: gives so many octets which nobody can foresee.
        listen: is told how far the call is.
    """
    test = _TestCall(callee, manner, now=now, chance=chance, listen=listen)
    try:
        await test.begin(own_address(callee.at))
    except OSError as error:
        test.close()
        return Called(outcome=outcome_of(error), at=now())
    try:
        await test.ring()
        await test.talk()
    finally:  # also where somebody stops it: nobody's unit is left ringing or off its hook
        try:
            await test.hang_up()
        finally:
            test.close()
    return test.called()


class _TestCall:
    """One call on its sockets."""

    def __init__(
        self,
        callee: Callee,
        manner: CallManner,
        *,
        now: Callable[[], datetime],
        chance: Callable[[int], bytes],
        listen: Callable[[str], None],
    ) -> None:
        self._callee, self._manner = callee, manner
        self._now, self._chance, self._listen = now, chance, listen
        self._endpoint: Endpoint | None = None
        self._driver = Driver(self, happened=self._look)
        self._news = asyncio.Event()
        self._call = 0
        self._offer: Description | None = None
        self._speech: Udp | None = None
        self._reports: Udp | None = None
        self._conversation: Conversation | None = None
        self._agreed: Agreed | None = None
        self._came = self._rang = self._is_over = False
        self._answer: Response | None = None
        self._refused: Refused | None = None
        self._trouble = ""
        self._strays = False

    # What the driver drives

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        """Take a datagram of SIP."""
        if self._endpoint is not None:
            self._came = True
            self._endpoint.receive_datagram(data, source=source, now_s=now_s)
            self._news.set()

    def datagrams_to_send(self) -> Sequence[tuple[bytes, Address]]:
        """Return what is to be sent."""
        return self._endpoint.datagrams_to_send() if self._endpoint is not None else ()

    def timer_at(self) -> float | None:
        """Return when ``handle_timer`` is wanted."""
        return self._endpoint.timer_at() if self._endpoint is not None else None

    def handle_timer(self, now_s: float) -> None:
        """Do what is due."""
        if self._endpoint is not None:
            self._endpoint.handle_timer(now_s)

    def _look(self) -> None:
        while self._endpoint is not None and (event := self._endpoint.next_event()) is not None:
            match event:
                case Progress(response=response):
                    if response.code == 180 and not self._rang:
                        self._rang = True
                        self._listen("it rings")
                case Answered(response=response):
                    self._answer = response
                case Refused(over=True):
                    self._refused, self._is_over = event, True
                case Ended(call=number) if number == self._call:
                    self._is_over = True
                case Reinvited(call=number):  # the stream stays as it was agreed
                    self._endpoint.refuse(number, now_s=self._driver.now_s, code=488)
                case Invited(call=number):  # we came to call, and are busy with it
                    self._endpoint.refuse(number, now_s=self._driver.now_s)
        self._news.set()

    # The call

    async def begin(self, host: str) -> None:
        """Send the INVITE.

        Raises:
            OSError: no port is free.
        """
        local = await self._driver.begin((host, 0))
        self._speech, self._reports = await open_pair(host, self._hear, self._hear_report)
        stream = Stream(
            kind="audio",
            port=self._speech.address[1],
            codecs=(*self._callee.codecs, Codec(EVENTS, CLOCK_HZ, parameters="0-15")),
            packet_ms=PACKET_S * 1000,
        )
        kind = "IP6" if ":" in host else "IP4"
        session = int.from_bytes(self._chance(4), "big")
        self._offer = make_offer(
            [stream],
            origin=Origin(session=session, version=1, address=host, address_kind=kind),
            connection=Connection(address=host, address_kind=kind),
        )
        caller, (address, port) = self._callee.caller, self._callee.at
        own, there = bracketed(host), bracketed(address)
        told_port = None if port == DEFAULT_PORT else port
        identity = SipUri(user=_CALLER, host=own, port=local[1])
        if caller is not None:
            identity = SipUri(user=quote(caller.user, safe=UNESCAPED), host=there, port=told_port)
        self._endpoint = Endpoint(
            Identity(uri=identity, address=local),
            chance=self._chance,
            accounts=[Account(username=caller.user, password=caller.secret)] if caller is not None else [],
        )
        target = SipUri(user=quote(self._callee.user, safe=UNESCAPED), host=there, port=told_port)
        self._call = self._endpoint.invite(
            str(target), now_s=self._driver.now_s, body=bytes(self._offer), through=self._callee.at, headers=AGENT
        )
        self._driver.settle()

    async def ring(self) -> None:
        """Wait until it is taken or refused, or nobody does either in time."""
        await self._until(lambda: self._came or self._is_settled, self._manner.patience_s)
        if self._came:
            await self._until(lambda: self._is_settled, self._manner.ring_s)

    @property
    def _is_settled(self) -> bool:
        return self._is_over or self._answer is not None

    async def _until(self, holds: Callable[[], bool], patience_s: float) -> None:
        with suppress(TimeoutError):
            async with asyncio.timeout(patience_s):
                while not holds():
                    self._news.clear()
                    await self._news.wait()

    async def talk(self) -> None:
        """Speak and listen, until the time is over or they hang up."""
        if self._answer is None or self._is_over or self._speech is None or self._reports is None:
            return
        self._agreed = agreed = self._agreement(self._answer)
        if agreed is None:
            return
        self._listen("somebody took it")
        loop, manner = asyncio.get_running_loop(), self._manner
        begins_s = loop.time()
        self._conversation = conversation = Conversation(
            agreed,
            begins_s=begins_s,
            begins_unix_s=self._now().timestamp(),
            chance=self._chance,
            report_every_s=min(REPORT_EVERY_S, manner.talk_s / _LEAST_REPORTS),
            jitter_buffer_s=manner.jitter_buffer_s,
        )
        to, to_reports = (agreed.address, agreed.port), (agreed.address, agreed.control_port)
        while (now_s := loop.time()) < begins_s + manner.talk_s and not self._is_over:
            for packet in conversation.packets_to_send(now_s):
                self._speech.send(packet, to)
            report = conversation.report_to_send(now_s)
            if report is not None:
                self._reports.send(report, to_reports)
            await asyncio.sleep(max(min(conversation.due_s(), begins_s + manner.talk_s) - loop.time(), 0.0))
        self._reports.send(conversation.farewell(loop.time()), to_reports)

    def _agreement(self, answer: Response) -> Agreed | None:
        """Return the stream as both have it; None, with the trouble, where there is none or it would lead elsewhere."""
        if self._offer is None:
            return None
        try:
            theirs = parse_description(answer.body)
            faults = faults_of(theirs, offer=self._offer)
            agreed = agree(self._offer, theirs)[0] if not faults else None
        except (PeerError, LocalError) as fault:
            self._trouble = f"its answer describes no speech that can be read: {fault}"
            return None
        if agreed is None:
            self._trouble = f"its answer fits no offer: {faults[0]}" if faults else "it took the call without speech"
        elif agreed.address not in self._callee.speech_to:
            self._trouble = f"it wants speech sent to {agreed.address}, which is not in the plan; none was sent"
            self._strays = True
            return None
        return agreed

    def _hear(self, data: bytes, source: Address) -> None:
        if self._conversation is not None and self._agreed is not None and source[0] == self._agreed.address:
            self._conversation.receive(data, now_s=self._driver.now_s)

    def _hear_report(self, data: bytes, source: Address) -> None:
        if self._conversation is not None and self._agreed is not None and source[0] == self._agreed.address:
            self._conversation.receive_report(data, now_s=self._driver.now_s)

    async def hang_up(self) -> None:
        """Take the call back, or hang up, and wait a little until the other end has confirmed it."""
        if self._endpoint is None or self._is_over:
            return
        with suppress(LocalError):  # it ended meanwhile
            if self._answer is not None:
                self._endpoint.bye(self._call, now_s=self._driver.now_s)
            else:
                self._endpoint.cancel(self._call, now_s=self._driver.now_s)
        self._driver.settle()
        self._look()
        await self._until(lambda: self._is_over, HANGING_UP_S)

    def close(self) -> None:
        """Close the sockets."""
        self._driver.close()
        for one in (self._speech, self._reports):
            if one is not None:
                one.close()

    def called(self) -> Called:
        """Return what came of it."""
        conversation, refused = self._conversation, self._refused
        code = 200 if self._answer is not None else None
        if refused is not None and refused.response is not None and refused.code != 487:  # 487: we took it back
            code = refused.code
        return Called(
            outcome=Outcome.ANSWERED if self._came else Outcome.SILENT,
            at=self._now(),
            rang=self._rang,
            code=code,
            taken=self._answer is not None,
            trouble=self._trouble,
            strays=self._strays,
            codec=self._agreed.codec[1].encoding if self._agreed is not None else None,
            sent_count=conversation.sent_count if conversation is not None else 0,
            heard=conversation.heard if conversation is not None else None,
            strange=conversation.strange if conversation is not None else (),
            told=conversation.told if conversation is not None else None,
            round_trip_ms=conversation.round_trip_ms if conversation is not None else None,
        )
