"""The speech of a test call: silence sent every 20 ms, what comes counted, reports both ways (RFC 3550). No sockets.

Time is an argument, seconds on the clock of whoever drives it. The media clock is that of G.711: 8 000 a second.
"""

from collections.abc import Callable
from dataclasses import dataclass
from itertools import groupby
from statistics import mean, median
from typing import Final

from doorwright.sip.errors import PeerError
from doorwright.sip.formats import STATIC, Codec
from doorwright.sip.offer import Agreed
from doorwright.sip.rtcp import (
    CNAME,
    Bye,
    Described,
    ReceiverReport,
    ReportBlock,
    SenderReport,
    SourceDescription,
    ntp_of,
    parse_rtcp,
    print_rtcp,
    report_on,
    round_trip_s,
)
from doorwright.sip.rtp import MAX_DROPOUT, Reception, RtpPacket, parse_rtp

PACKET_S: Final = 0.02
"""Speech in one packet (RFC 3551 §4.2: 20 ms unless something else is said)."""
CLOCK_HZ: Final = 8000
REPORT_EVERY_S: Final = 1.0
"""How often we report. The 5 s of RFC 3550 §6.2 are recommended; between two, in a call of seconds, a report of some
100 octets a second stays below the 5 % of 64 kbit/s that reports may take."""
_UNHEARD_COUNT: Final = 25
"""So many packets we have sent, half a second, when a report that tells of none of them counts."""
_STREAMS_MOST: Final = 8
"""Sources listened to; who sends as more is not."""
SPOKEN: Final[tuple[Codec, ...]] = (STATIC[0], STATIC[8])
"""What is spoken here: PCMU and PCMA, which every unit of SIP knows."""
_TICKS: Final = round(PACKET_S * CLOCK_HZ)
_SILENCE: Final = {"pcmu": b"\xff" * _TICKS, "pcma": b"\xd5" * _TICKS}
"""The least amplitude of ITU-T G.711 (from memory): nobody is startled."""
_SEQUENCES: Final = 1 << 16


@dataclass(frozen=True, slots=True, kw_only=True)
class Heard:
    """What came of their speech.

    Attributes:
        expected_count: packets from the first to the last that came, by their numbers.
        lost_count: those that never came; below 0 where some came twice (RFC 3550 §A.3).
        late_count: those that came later than the jitter buffer waits.
        jitter_ms: the mean deviation of their distances at the end (§6.4.1).
        gone_ratio: share of the packets that could not be played: lost, or too late.
        burst_ratio: mean length of the bursts of these over that under random loss (ITU-T G.107), at least 1.
    """

    expected_count: int
    lost_count: int
    late_count: int
    jitter_ms: float
    gone_ratio: float
    burst_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Told:
    """What they reported of our speech: how many packets they expected and lost, and the jitter.

    None expected: they reported, and not of us, as whoever has heard nothing does (RFC 3550 §6.4.1).
    """

    expected_count: int
    lost_count: int
    jitter_ms: float

    @property
    def gone_ratio(self) -> float:
        """Share of the packets that never came."""
        return max(self.lost_count, 0) / self.expected_count if self.expected_count else 0.0


class Conversation:
    """One end of the speech of one call, from when it was agreed."""

    def __init__(
        self,
        agreed: Agreed,
        *,
        begins_s: float,
        begins_unix_s: float,
        chance: Callable[[int], bytes],
        report_every_s: float = REPORT_EVERY_S,
        jitter_buffer_s: float,
    ) -> None:
        """Begin to speak.

        Args:
            agreed: the stream as both sides have it.
            begins_s: the moment.
            begins_unix_s: the same moment counted from 1970, for the reports.
            chance: gives so many octets which nobody can foresee.
            report_every_s: how often a report is sent.
            jitter_buffer_s: how long a receiver waits for what is late.
        """
        self._number, codec = agreed.codec
        self._beside = {number for number, one in agreed.receive if one.beside}
        self._known = {number for number, _ in agreed.receive}
        self._strange: set[int] = set()
        self._payload = _SILENCE[codec.encoding.lower()]
        self._sends = agreed.direction.sends
        self._begins_s, self._unix_s = begins_s, begins_unix_s
        self._source = int.from_bytes(chance(4), "big")
        self._first = int.from_bytes(chance(2), "big") >> 1  # §5.1: by chance; below the middle, so it turns later
        self._timestamp = int.from_bytes(chance(4), "big")
        self._name = chance(12).hex().encode()  # RFC 7022 §4.2: 96 bits of chance name an endpoint for one session
        self._report_every_s = report_every_s
        self._report_at_s = begins_s + report_every_s
        self._jitter_buffer_s = jitter_buffer_s
        self._sent_count = 0
        self._streams: dict[int, _Stream] = {}
        self._last_reports: dict[int, tuple[int, float]] = {}
        self._round_trips_s: list[float] = []
        self._told: ReportBlock | None = None
        self._is_unheard = False

    # What goes out

    def due_s(self) -> float:
        """Return when `packets_to_send` or `report_to_send` is wanted next."""
        speaks_s = self._begins_s + self._sent_count * PACKET_S
        return min(speaks_s, self._report_at_s) if self._sends else self._report_at_s

    def packets_to_send(self, now_s: float) -> list[bytes]:
        """Return the packets that are due: one each 20 ms since the beginning, also where we woke late."""
        out = []
        while self._sends and self._begins_s + self._sent_count * PACKET_S <= now_s:
            packet = RtpPacket(
                payload_type=self._number,
                sequence=(self._first + self._sent_count) % _SEQUENCES,
                timestamp=(self._timestamp + self._sent_count * _TICKS) % (1 << 32),
                source=self._source,
                payload=self._payload,
                marker=self._sent_count == 0,  # RFC 3551 §4.1: the first of a talkspurt
            )
            out.append(bytes(packet))
            self._sent_count += 1
        return out

    def report_to_send(self, now_s: float) -> bytes | None:
        """Return our report where one is due."""
        if now_s < self._report_at_s:
            return None
        self._report_at_s = now_s + self._report_every_s
        return print_rtcp(self._report(now_s))

    def farewell(self, now_s: float) -> bytes:
        """Return our last report, with the word that we leave (§6.6)."""
        return print_rtcp((*self._report(now_s), Bye(sources=(self._source,))))

    def _report(self, now_s: float) -> tuple[SenderReport | ReceiverReport, SourceDescription]:
        blocks = tuple(
            report_on(one.reception, now_s=now_s, last_sr=self._last_reports.get(source))
            for source, one in self._streams.items()
        )
        named = SourceDescription(chunks=(Described(source=self._source, items=((CNAME, self._name),)),))
        if not self._sent_count:
            return ReceiverReport(source=self._source, reports=blocks), named
        since_s = now_s - self._begins_s
        report = SenderReport(
            source=self._source,
            ntp=self._ntp(now_s),
            timestamp=(self._timestamp + round(since_s * CLOCK_HZ)) % (1 << 32),
            packets_count=self._sent_count,
            octets_count=self._sent_count * _TICKS,
            reports=blocks,
        )
        return report, named

    def _ntp(self, now_s: float) -> int:
        return ntp_of(unix_s=self._unix_s + now_s - self._begins_s)

    # What comes in

    def receive(self, data: bytes, *, now_s: float) -> None:
        """Take a datagram that came to our port for speech; what is no packet of it is passed over."""
        try:
            packet = parse_rtp(data)
        except PeerError:
            return
        if packet.payload_type not in self._known:
            self._strange.add(packet.payload_type)
            return
        stream = self._streams.get(packet.source)
        if stream is None and len(self._streams) >= _STREAMS_MOST:
            return
        if stream is None:
            stream = self._streams[packet.source] = _Stream(packet)
        stream.receive(packet, now_s=now_s, beside=packet.payload_type in self._beside)

    def receive_report(self, data: bytes, *, now_s: float) -> None:
        """Take a datagram that came to our port for reports; what is none is passed over."""
        try:
            packets = parse_rtcp(data)
        except PeerError:
            return
        for packet in packets:
            if isinstance(packet, SenderReport):
                self._last_reports[packet.source] = packet.ntp, now_s
            if isinstance(packet, SenderReport | ReceiverReport):
                ours = [block for block in packet.reports if block.source == self._source]
                self._is_unheard |= not ours and self._sent_count >= _UNHEARD_COUNT
                for block in ours:
                    self._told = block
                    trip_s = round_trip_s(block, arrival_ntp=self._ntp(now_s))
                    self._round_trips_s += [trip_s] if trip_s is not None else []

    # What it comes to

    @property
    def sent_count(self) -> int:
        """Packets that we sent."""
        return self._sent_count

    @property
    def heard(self) -> Heard | None:
        """What came of their speech; None where nothing came. Of several sources the one that said most counts."""
        speaking = [one for one in self._streams.values() if one.speaks]
        most = max(speaking, key=lambda one: one.reception.sequences.received_count, default=None)
        return most.heard(self._jitter_buffer_s) if most is not None else None

    @property
    def strange(self) -> tuple[int, ...]:
        """Payload types that came and were not agreed: whoever plays only what was agreed hears nothing of them."""
        return tuple(sorted(self._strange))

    @property
    def told(self) -> Told | None:
        """What they reported of ours last; None where they reported nothing."""
        block = self._told
        if block is None:
            return Told(expected_count=0, lost_count=0, jitter_ms=0.0) if self._is_unheard else None
        expected_count = max(block.extended_highest - self._first + 1, 0)
        return Told(
            expected_count=min(expected_count, self._sent_count),
            lost_count=block.lost_count,
            jitter_ms=block.jitter_ticks * 1000.0 / CLOCK_HZ,
        )

    @property
    def round_trip_ms(self) -> float | None:
        """The time there and back by their reports, the middle one of several; None where they tell none."""
        return median(self._round_trips_s) * 1000.0 if self._round_trips_s else None


class _Stream:
    """One source that speaks to us."""

    def __init__(self, first: RtpPacket) -> None:
        # Who may speak was agreed, so the first packet counts: no probation (§A.1).
        self.reception = Reception(first, clock_hz=CLOCK_HZ, sequential_count=0)
        self._first = self._highest = first.sequence
        self._begins = first.timestamp
        self._transit_s: dict[int, float | None] = {}
        self.speaks = False

    def receive(self, packet: RtpPacket, *, now_s: float, beside: bool) -> None:
        """Take a packet of the speech, or one ``beside`` it."""
        self.speaks |= not beside
        self.reception.receive(packet, now_s=now_s, beside=beside)
        ahead = (packet.sequence - self._highest + _SEQUENCES // 2) % _SEQUENCES - _SEQUENCES // 2
        if abs(ahead) >= MAX_DROPOUT:
            return  # a restart of the sender, or none of its packets (§A.1)
        number = self._highest + ahead
        self._highest = max(self._highest, number)
        spoken_s = ((packet.timestamp - self._begins + (1 << 31)) % (1 << 32) - (1 << 31)) / CLOCK_HZ
        self._transit_s.setdefault(number, None if beside else now_s - spoken_s)

    def heard(self, jitter_buffer_s: float) -> Heard:
        """Return what came of it."""
        sequences = self.reception.sequences
        known = [transit_s for transit_s in self._transit_s.values() if transit_s is not None]
        quickest_s = min(known, default=0.0)
        late = {
            number
            for number, transit_s in self._transit_s.items()
            if transit_s is not None and transit_s - quickest_s > jitter_buffer_s
        }
        gone = [number not in self._transit_s or number in late for number in range(self._first, self._highest + 1)]
        ratio = sum(gone) / len(gone)
        bursts = [sum(1 for _ in run) for is_gone, run in groupby(gone) if is_gone]
        # G.107 §3: under random loss the mean length is 1/(1 - loss); its range begins at 1 (from memory)
        burst_ratio = max(mean(bursts) * (1.0 - ratio), 1.0) if bursts else 1.0
        return Heard(
            expected_count=sequences.expected_count,
            lost_count=sequences.lost_count,
            late_count=len(late),
            jitter_ms=self.reception.jitter_s * 1000.0,
            gone_ratio=ratio,
            burst_ratio=burst_ratio,
        )
