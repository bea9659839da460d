"""The speech of a call as far as a rehearsal needs it: what both ends agree on, and keys pressed within it."""

from collections.abc import Callable
from urllib.parse import quote, unquote

from doorwright.sip.dtmf import KeyListener, KeyPressed, key_packets
from doorwright.sip.errors import PeerError
from doorwright.sip.formats import EVENTS, Codec
from doorwright.sip.offer import Agreed, Stream, agree, make_answer, make_offer
from doorwright.sip.rtp import RtpPacket, parse_rtp
from doorwright.sip.sdp import Connection, Description, Origin, parse_description

MEDIA_PORT = 40000
_CLOCK_HZ = 8000
_PACKET_TICKS = 160  # 20 ms
_SILENCE = b"\xff" * _PACKET_TICKS  # of PCMU (ITU-T G.711, from memory)
SAID_COUNT = 3
"""How many packets each end says, one a second, for the other to hear: one that comes is enough."""
_SPEECH = Stream(
    kind="audio", port=MEDIA_PORT, codecs=(Codec("PCMU", _CLOCK_HZ), Codec(EVENTS, _CLOCK_HZ, parameters="0-15"))
)


class Speech:
    """One end of the speech of one call."""

    def __init__(self, *, user: str, address: str) -> None:
        """Begin; ``user`` is who this end says it is, ``address`` where it listens."""
        self._origin = Origin(username=quote(user) or "-", session=1, version=1, address=address)
        self._connection = Connection(address=address)
        self._ours: Description | None = None
        self._listener = KeyListener()
        self.agreed: Agreed | None = None
        self.other = ""
        self.heard_count = 0

    def offer(self) -> bytes:
        """Return what this end offers."""
        self._ours = make_offer([_SPEECH], origin=self._origin, connection=self._connection)
        return bytes(self._ours)

    def answer(self, offer: bytes) -> bytes | None:
        """Return the answer to an offer; None where there is nothing to agree on."""
        try:
            theirs = parse_description(offer)
            self._ours = make_answer(theirs, [_SPEECH], origin=self._origin, connection=self._connection)
        except PeerError:
            return None
        self._settle(theirs)
        return bytes(self._ours)

    def answered(self, answer: bytes) -> None:
        """Take the answer to our offer; one that cannot be read settles nothing."""
        try:
            self._settle(parse_description(answer))
        except PeerError:
            self.agreed = None

    def _settle(self, theirs: Description) -> None:
        self.other = unquote(theirs.origin.username)
        streams = agree(self._ours, theirs) if self._ours is not None else ()
        self.agreed = streams[0] if streams else None

    def press(self, key: str, *, sequence: int, timestamp: int, send: Callable[[float, bytes], None]) -> None:
        """Send a key as events, each packet with its delay in seconds; nothing where none are agreed."""
        if self.agreed is None or self.agreed.events_number is None:
            return
        packets = key_packets(
            key, payload_type=self.agreed.events_number, source=1, sequence=sequence, timestamp=timestamp
        )
        for after_s, packet in packets:
            send(after_s, bytes(packet))

    def say(self, send: Callable[[float, bytes], None]) -> None:
        """Send a little speech, each packet with its delay in seconds; nothing where nothing is agreed."""
        if self.agreed is None:
            return
        number = self.agreed.codec[0]
        for count in range(SAID_COUNT):
            packet = RtpPacket(
                payload_type=number, sequence=count, timestamp=count * _CLOCK_HZ, source=1, payload=_SILENCE
            )
            send(float(count), bytes(packet))

    def heard(self, data: bytes, *, now_s: float) -> tuple[str, ...]:
        """Return the keys that a packet tells of."""
        if self.agreed is None:
            return ()
        numbers = {number for number, codec in self.agreed.receive if codec.encoding.lower() == EVENTS}
        try:
            packet = parse_rtp(data)
            events = self._listener.receive(packet, now_s=now_s) if packet.payload_type in numbers else ()
        except PeerError:
            return ()
        if packet.payload_type not in numbers:
            self.heard_count += 1
        return tuple(event.key for event in events if isinstance(event, KeyPressed) and event.key is not None)
