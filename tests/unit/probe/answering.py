"""A unit on loopback that takes calls, and whose line loses and delays speech on purpose."""

import asyncio
import os
from collections.abc import Collection
from dataclasses import dataclass, field

from doorwright.line.driver import Driver
from doorwright.line.udp import Address, open_pair
from doorwright.sip.events import Ended, Happening, Invited, Why
from doorwright.sip.formats import STATIC
from doorwright.sip.offer import Agreed, Stream, agree, make_answer
from doorwright.sip.rtcp import Rtcp, SenderReport, ntp_of, parse_rtcp, print_rtcp, report_on
from doorwright.sip.rtp import Reception, RtpPacket, parse_rtp
from doorwright.sip.sdp import Connection, Origin, parse_description
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri


@dataclass(kw_only=True)
class Line:
    """What the line does to speech, by number of the packet from 0: lost on the way there and back.

    ``speaks`` and ``reports`` say whether the unit says and reports anything; ``speech_at`` is where it wants speech
    sent, if not where it is.
    """

    lost_there: Collection[int] = ()
    lost_back: Collection[int] = ()
    speaks: bool = True
    reports: bool = True
    speech_at: str | None = None


@dataclass(kw_only=True)
class Answering:
    """The unit: ``code`` is what it answers, None lets it ring on."""

    code: int | None = 200
    line: Line = field(default_factory=Line)
    codecs: tuple[int, ...] = (0,)
    events: list[Happening] = field(default_factory=list)
    reported: list[Rtcp] = field(default_factory=list)
    came: list[int] = field(default_factory=list)
    hung_up: asyncio.Event = field(default_factory=asyncio.Event)

    async def begin(self, address: Address) -> Address:
        """Listen."""
        self._driver = Driver(self, happened=self._look)
        self._endpoint: Endpoint | None = None
        local = await self._driver.begin(address)
        self._host = local[0]
        uri = SipUri(user="unit", host=local[0], port=local[1])
        self._endpoint = Endpoint(Identity(uri=uri, address=local), chance=os.urandom)
        self._speech, self._control = await open_pair(self._host, self._hear, self._hear_report)
        self._agreed: Agreed | None = None
        self._reception: Reception | None = None
        self._first: int | None = None
        self._last_sr: tuple[int, float] | None = None
        self._talking: asyncio.Task[None] | None = None
        return local

    def close(self) -> None:
        """Leave the line."""
        if self._talking is not None:
            self._talking.cancel()
        for one in (self._driver, self._speech, self._control):
            one.close()

    @property
    def ends(self) -> list[Why]:
        """Why calls ended."""
        return [one.why for one in self.events if isinstance(one, Ended)]

    # What the driver drives

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        if self._endpoint is not None:
            self._endpoint.receive_datagram(data, source=source, now_s=now_s)

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        return self._endpoint.datagrams_to_send() if self._endpoint is not None else []

    def timer_at(self) -> float | None:
        return self._endpoint.timer_at() if self._endpoint is not None else None

    def handle_timer(self, now_s: float) -> None:
        if self._endpoint is not None:
            self._endpoint.handle_timer(now_s)

    def _look(self) -> None:
        assert self._endpoint is not None
        while (event := self._endpoint.next_event()) is not None:
            self.events.append(event)
            if isinstance(event, Invited):
                self._take(self._endpoint, event)
            elif isinstance(event, Ended):
                self.hung_up.set()
                if self._talking is not None:
                    self._talking.cancel()

    def _take(self, endpoint: Endpoint, event: Invited) -> None:
        now_s = self._driver.now_s
        self._reception = self._first = self._last_sr = None
        endpoint.ring(event.call, now_s=now_s)
        if self.code is None:
            return
        if self.code >= 300:
            endpoint.refuse(event.call, now_s=now_s, code=self.code)
            return
        offer = parse_description(event.request.body)
        stream = Stream(
            kind="audio", port=self._speech.address[1], codecs=tuple(STATIC[number] for number in self.codecs)
        )
        answer = make_answer(
            offer, [stream], origin=Origin(session=1, version=1, address=self._host),
            connection=Connection(address=self.line.speech_at or self._host),
        )  # fmt: skip
        self._agreed = agree(answer, offer)[0]
        endpoint.answer(event.call, now_s=now_s, body=bytes(answer))
        if self.line.speaks:
            self._talking = asyncio.get_running_loop().create_task(self._talk())

    # Speech

    async def _talk(self) -> None:
        agreed, loop = self._agreed, asyncio.get_running_loop()
        assert agreed is not None
        begin_s = loop.time()
        for nth in range(100_000):
            packet = RtpPacket(
                payload_type=agreed.codec[0], sequence=nth, timestamp=nth * 160, source=7, payload=b"\xff" * 160
            )
            if nth not in self.line.lost_back:
                self._speech.send(bytes(packet), (agreed.address, agreed.port))
            if nth % 10 == 9 and self.line.reports and self._reception is not None:
                self._report(agreed, loop.time(), nth)
            await asyncio.sleep(max(begin_s + (nth + 1) * 0.02 - loop.time(), 0))

    def _report(self, agreed: Agreed, now_s: float, sent_count: int) -> None:
        assert self._reception is not None
        report = SenderReport(
            source=7, ntp=ntp_of(unix_s=now_s), timestamp=0, packets_count=sent_count, octets_count=sent_count * 160,
            reports=(report_on(self._reception, now_s=now_s, last_sr=self._last_sr),),
        )  # fmt: skip
        self._control.send(print_rtcp((report,)), (agreed.address, agreed.control_port))

    def _hear(self, data: bytes, source: Address) -> None:
        del source
        packet = parse_rtp(data)
        if self._first is None:
            self._first = packet.sequence
        nth = packet.sequence - self._first
        if nth in self.line.lost_there:
            return
        self.came.append(nth)
        if self._reception is None:
            self._reception = Reception(packet, clock_hz=8000)
        self._reception.receive(packet, now_s=self._driver.now_s)

    def _hear_report(self, data: bytes, source: Address) -> None:
        del source
        packets = parse_rtcp(data)
        self.reported += packets
        for one in packets:
            if isinstance(one, SenderReport):
                self._last_sr = one.ntp, self._driver.now_s
