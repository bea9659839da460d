"""The speech of a call as far as a rehearsal needs it: what both ends agree on, keys pressed within it, reports."""

from collections.abc import Callable

from doorwright.rehearse.session import End, answer_of, offer_of, settled
from doorwright.sip.dtmf import KeyListener, KeyPressed, key_packets
from doorwright.sip.errors import PeerError
from doorwright.sip.formats import EVENTS, STATIC, Codec, alike
from doorwright.sip.offer import Agreed
from doorwright.sip.rtcp import (
    CNAME,
    Described,
    ReceiverReport,
    SenderReport,
    SourceDescription,
    parse_rtcp,
    print_rtcp,
    report_on,
)
from doorwright.sip.rtp import Reception, RtpPacket, parse_rtp

_CLOCK_HZ = 8000
_PACKET_TICKS = 160  # 20 ms
_SILENCE = b"\xff" * _PACKET_TICKS  # of PCMU (ITU-T G.711, from memory)
_CALLER, _CALLED = 1, 2  # the sources of a call (RFC 3550 §5.1): chance is not needed where each call has two ends
_HEAD_OCTETS = 12  # RFC 3550 §5.1, as no packet here has more
SAID_COUNT = 3
"""How many packets each end says, one a second, for the other to hear: one that comes is enough."""
REPORTS_AFTER_S = SAID_COUNT - 1.0
"""When each end reports on what it heard, from when it begins to speak: with its last packet (our own choice, for the
5 s that RFC 3550 §6.2 recommends are longer than a rehearsed call)."""


class Speech:
    """One end of the speech of one call, and of its picture."""

    def __init__(self, end: End, *, insists_on: Codec | None = None) -> None:
        """Begin; ``end`` is what this end tells of itself, ``insists_on`` a codec that it sends whatever was agreed."""
        self._end = end
        self._insists_on = insists_on
        self._ours = b""
        self._listener = KeyListener()
        self.agreed: Agreed | None = None
        self.picture: Agreed | None = None
        self.other = ""
        self.heard_count = 0
        self._source = _CALLER
        self._sent_count = self._sent_octets = 0
        self._reception: Reception | None = None
        self._last_report: tuple[int, float] | None = None
        self.seen_count = 0

    def offer(self) -> bytes:
        """Return what this end offers."""
        self._ours, self._source = offer_of(self._end), _CALLER
        return self._ours

    def answer(self, offer: bytes) -> bytes | None:
        """Return the answer to an offer; None where there is nothing to agree on."""
        ours = answer_of(self._end, offer)
        if ours is not None:
            self._ours, self._source = ours, _CALLED
            self.answered(offer)
        return ours

    def answered(self, theirs: bytes) -> None:
        """Take what the other end says; what cannot be read settles nothing."""
        found = settled(self._ours, theirs)
        if found is None:
            self.agreed = self.picture = None
        else:
            self.other, self.agreed, self.picture = found.other, found.speech, found.picture

    def press(self, key: str, *, sequence: int, timestamp: int, send: Callable[[float, bytes], None]) -> None:
        """Send a key as events, each packet with its delay in seconds; nothing where none are agreed."""
        if self.agreed is None or self.agreed.events_number is None:
            return
        packets = key_packets(
            key,
            payload_type=self.agreed.events_number,
            source=self._source,
            sequence=sequence,
            timestamp=timestamp,
        )
        for after_s, packet in packets:
            send(after_s, bytes(packet))

    def say(self, send: Callable[[float, bytes], None]) -> None:
        """Send a little speech, each packet with its delay in seconds; nothing where nothing is agreed."""
        if self.agreed is None:
            return
        number = self.agreed.codec[0] if self._insists_on is None else _number_of(self._insists_on)
        for count in range(SAID_COUNT):
            packet = RtpPacket(
                payload_type=number,
                sequence=count,
                timestamp=count * _CLOCK_HZ,
                source=self._source,
                payload=_SILENCE,
            )
            send(float(count), bytes(packet))

    def numbered(self, packet: bytes) -> bytes:
        """Return a packet with the number that is its turn: speech and keys of one source count on (RFC 3550 §5.1)."""
        number, self._sent_count = self._sent_count % 65536, self._sent_count + 1
        self._sent_octets += len(packet) - _HEAD_OCTETS
        return packet[:2] + number.to_bytes(2, "big") + packet[4:]

    def heard(self, data: bytes, *, now_s: float) -> tuple[str, ...]:
        """Return the keys that a packet tells of."""
        if self.agreed is None:
            return ()
        known = dict(self.agreed.receive)
        numbers = {number for number, codec in known.items() if codec.encoding.lower() == EVENTS}
        try:
            packet = parse_rtp(data)
            events = self._listener.receive(packet, now_s=now_s) if packet.payload_type in numbers else ()
        except PeerError:
            return ()
        if packet.payload_type in known:
            self._count(packet, now_s=now_s, beside=packet.payload_type in numbers)
        return tuple(event.key for event in events if isinstance(event, KeyPressed) and event.key is not None)

    def _count(self, packet: RtpPacket, *, now_s: float, beside: bool) -> None:
        if self._reception is None or self._reception.source != packet.source:
            self._reception = Reception(packet, clock_hz=_CLOCK_HZ, sequential_count=0)  # who speaks was agreed
        self._reception.receive(packet, now_s=now_s, beside=beside)
        self.heard_count += not beside

    def report(self, after_s: float, *, now_s: float) -> bytes:
        """Return the report of this end, so many seconds after it began to speak (RFC 3550 §6.4).

        The time within is that since then, as of one who has no clock on the wall (§6.4.1).
        """
        heard = self._reception
        blocks = (report_on(heard, now_s=now_s, last_sr=self._last_report),) if heard is not None else ()
        named = SourceDescription(chunks=(Described(source=self._source, items=((CNAME, self._end.user.encode()),)),))
        sent = SenderReport(
            source=self._source,
            ntp=round(after_s * (1 << 32)),
            timestamp=round(after_s * _CLOCK_HZ),
            packets_count=self._sent_count,
            octets_count=self._sent_octets,
            reports=blocks,
        )
        return print_rtcp((sent if self._sent_count else ReceiverReport(source=self._source, reports=blocks), named))

    def take_report(self, data: bytes, *, now_s: float) -> None:
        """Take a report of the other end; what is none is passed over."""
        try:
            packets = parse_rtcp(data)
        except PeerError:
            return
        for packet in packets:
            if isinstance(packet, SenderReport):
                self._last_report = packet.ntp, now_s


def _number_of(codec: Codec) -> int:
    """Return the payload number that a codec always has (RFC 3551 §6)."""
    return next(number for number, each in STATIC.items() if alike(each, codec))
