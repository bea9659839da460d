"""Packets of speech and video (RFC 3550), and what their receiver counts: order, loss, jitter."""

import struct
from dataclasses import dataclass

from doorwright.sip.errors import LocalError, PeerError

VERSION = 2
_SEQUENCES = 1 << 16
_TIMESTAMPS = 1 << 32

# RFC 3550 §A.1 suggests these three.
MAX_DROPOUT = 3000
"""A step ahead of up to this many packets is loss; a greater one is a restart of the sender."""
MAX_MISORDER = 100
"""A packet up to this many behind is late; one further behind is a restart of the sender."""
MIN_SEQUENTIAL = 2
"""This many packets in order prove that a stream is one."""

_LOST_MAX = 0x7FFFFF  # §6.4.1: cumulative loss is a signed 24-bit number
_LOST_MIN = -0x800000


@dataclass(frozen=True, slots=True)
class Extension:
    """A header extension (RFC 3550 §5.3.1): 16 bits of a profile's own, and whole 32-bit words."""

    profile: int
    data: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class RtpPacket:
    """One packet (RFC 3550 §5.1). `padding_count` counts the octets of padding, the last one included."""

    payload_type: int
    sequence: int
    timestamp: int
    source: int
    payload: bytes = b""
    marker: bool = False
    contributors: tuple[int, ...] = ()
    extension: Extension | None = None
    padding_count: int = 0

    def __bytes__(self) -> bytes:
        """Return the packet as it goes out; what does not fit its fields is a LocalError."""
        if len(self.contributors) > 15 or not 0 <= self.payload_type < 128 or not 0 <= self.padding_count < 256:
            raise LocalError(
                "a packet has at most 15 contributing sources, a payload type below 128 and 255 octets of padding"
            )
        first = (
            VERSION << 6 | bool(self.padding_count) << 5 | (self.extension is not None) << 4 | len(self.contributors)
        )
        second = self.marker << 7 | self.payload_type
        try:
            head = struct.pack("!BBHII", first, second, self.sequence, self.timestamp, self.source)
            head += struct.pack(f"!{len(self.contributors)}I", *self.contributors)
            if self.extension is not None:
                words_count, odd_count = divmod(len(self.extension.data), 4)
                if odd_count:
                    raise LocalError("a header extension is whole 32-bit words (RFC 3550 §5.3.1)")
                head += struct.pack("!HH", self.extension.profile, words_count) + self.extension.data
        except struct.error as error:
            raise LocalError(f"a field of the packet is out of its bounds: {error}") from error
        padding = bytes(self.padding_count - 1) + bytes([self.padding_count]) if self.padding_count else b""
        return head + self.payload + padding


def parse_rtp(data: bytes) -> RtpPacket:
    """Return the packet in a datagram; raise a PeerError where RFC 3550 §A.1 calls the header invalid.

    What stands in the padding is not kept (its last octet, the count, is).
    """
    if len(data) < 12:
        raise PeerError(
            f"a packet of {len(data)} octets is shorter than the fixed header of 12", clause="RFC 3550 §5.1"
        )
    first, second, sequence, timestamp, source = struct.unpack_from("!BBHII", data)
    if first >> 6 != VERSION:
        raise PeerError(f"version {first >> 6} is not {VERSION}", clause="RFC 3550 §5.1")
    contributors_count = first & 0x0F
    at = 12 + 4 * contributors_count
    if len(data) < at:
        raise PeerError(
            f"{contributors_count} contributing sources are promised, not all are there", clause="RFC 3550 §5.1"
        )
    contributors = struct.unpack_from(f"!{contributors_count}I", data, 12)
    extension = None
    if first & 0x10:
        extension, at = _extension(data, at)
    padding_count = 0
    if first & 0x20:
        padding_count = data[-1]
        if not 1 <= padding_count <= len(data) - at:
            raise PeerError(f"padding of {padding_count} octets does not fit the packet", clause="RFC 3550 §5.1")
    return RtpPacket(
        payload_type=second & 0x7F,
        sequence=sequence,
        timestamp=timestamp,
        source=source,
        payload=data[at : len(data) - padding_count],
        marker=bool(second & 0x80),
        contributors=contributors,
        extension=extension,
        padding_count=padding_count,
    )


def _extension(data: bytes, at: int) -> tuple[Extension, int]:
    if len(data) < at + 4:
        raise PeerError("a header extension is promised and not there", clause="RFC 3550 §5.3.1")
    profile, words_count = struct.unpack_from("!HH", data, at)
    end = at + 4 + 4 * words_count
    if len(data) < end:
        raise PeerError(f"the header extension of {words_count} words is cut short", clause="RFC 3550 §5.3.1")
    return Extension(profile, data[at + 4 : end]), end


def later_by(timestamp: int, earlier: int) -> int:
    """Return how many ticks a timestamp lies after another, negative when before, across the turn at 2^32."""
    return (timestamp - earlier + (_TIMESTAMPS >> 1)) % _TIMESTAMPS - (_TIMESTAMPS >> 1)


class SequenceCount:
    """Counts one source's packets by their sequence numbers (RFC 3550 §A.1 and §A.3).

    A source counts only after `sequential_count` packets in order; the first ones before that are not in the figures.
    """

    def __init__(self, first_sequence: int, *, sequential_count: int = MIN_SEQUENTIAL) -> None:
        self._restart(first_sequence)
        self._highest = (first_sequence - 1) % _SEQUENCES
        self._probation = sequential_count
        self._sequential_count = sequential_count
        if sequential_count == 0:
            self._highest = first_sequence

    def _restart(self, sequence: int) -> None:
        self._base = sequence
        self._highest = sequence
        self._bad: int | None = None
        self._cycles = 0
        self._received_count = 0
        self._expected_before = 0
        self._received_before = 0

    def update(self, sequence: int) -> bool:
        """Take the next packet's number; return whether the packet is a valid part of the stream."""
        ahead = (sequence - self._highest) % _SEQUENCES
        if self._probation:
            return self._prove(sequence, ahead)
        if ahead < MAX_DROPOUT:  # in order, with a gap that may be loss
            if sequence < self._highest:
                self._cycles += _SEQUENCES
            self._highest = sequence
        elif ahead <= _SEQUENCES - MAX_MISORDER:  # a great jump: two in order mean that the sender restarted
            if sequence != self._bad:
                self._bad = (sequence + 1) % _SEQUENCES
                return False
            self._restart(sequence)
        # else late or doubled: counted as received (§A.3: so the loss may become negative)
        self._received_count += 1
        return True

    def _prove(self, sequence: int, ahead: int) -> bool:
        # The C of §A.1 compares `seq == s->max_seq + 1` as int, which never holds across the turn from 65535 to 0; its
        # text says "in sequence", so the comparison here is modulo 2^16.
        if ahead == 1:
            self._probation -= 1
            self._highest = sequence
            if self._probation:
                return False
            self._restart(sequence)
            self._received_count = 1
            return True
        self._probation = max(self._sequential_count - 1, 1)
        self._highest = sequence
        return False

    @property
    def proven(self) -> bool:
        """Whether enough packets came in order to call this a source."""
        return self._probation == 0

    @property
    def received_count(self) -> int:
        """Packets received, late and doubled ones included."""
        return self._received_count

    @property
    def extended_highest(self) -> int:
        """The highest sequence number, with the count of its turns above the low 16 bits."""
        return self._cycles + self._highest

    @property
    def expected_count(self) -> int:
        """Packets from the first to the highest number."""
        return self.extended_highest - self._base + 1 if self.proven else 0

    @property
    def lost_count(self) -> int:
        """Expected less received, held within 24 bits with a sign (§A.3); negative when packets came twice."""
        return max(_LOST_MIN, min(self.expected_count - self._received_count, _LOST_MAX))

    def close_interval(self) -> int:
        """Return the share lost since the last call in 256ths (§A.3), and begin the next interval."""
        expected_count = self.expected_count - self._expected_before
        lost_count = expected_count - (self._received_count - self._received_before)
        self._expected_before = self.expected_count
        self._received_before = self._received_count
        if expected_count <= 0 or lost_count <= 0:
            return 0
        return min((lost_count << 8) // expected_count, 255)  # all lost would be 256, which eight bits cannot hold


class Jitter:
    """The mean deviation of the distance between packets (RFC 3550 §6.4.1 and §A.8), in ticks of the media clock."""

    def __init__(self) -> None:
        self.ticks = 0.0
        self._transit_ticks: float | None = None
        self._unrolled = 0

    def update(self, *, arrival_ticks: float, timestamp: int) -> float:
        """Take one packet's arrival, on the media clock, and its timestamp; return the jitter after it.

        D(i-1, i) = (R(i) - R(i-1)) - (S(i) - S(i-1)); J += (|D| - J) / 16.
        """
        # unrolled beyond 32 bits, so that the turn of the timestamp is no jump in transit
        self._unrolled += later_by(timestamp, self._unrolled % _TIMESTAMPS)
        transit_ticks = arrival_ticks - self._unrolled
        if self._transit_ticks is not None:
            self.ticks += (abs(transit_ticks - self._transit_ticks) - self.ticks) / 16.0
        self._transit_ticks = transit_ticks
        return self.ticks


class Reception:
    """What one receiver knows of one source: order, loss and jitter. Time is an argument."""

    def __init__(self, first: RtpPacket, *, clock_hz: int, sequential_count: int = MIN_SEQUENTIAL) -> None:
        """Begin with the first packet; ``sequential_count`` is that of `SequenceCount`."""
        if clock_hz <= 0:
            raise LocalError("a media clock runs at a positive rate")
        self.source = first.source
        self.clock_hz = clock_hz
        self.sequences = SequenceCount(first.sequence, sequential_count=sequential_count)
        self.jitter = Jitter()

    def receive(self, packet: RtpPacket, *, now_s: float, beside: bool = False) -> bool:
        """Take a packet (the first one too); return whether it is a valid part of the stream.

        One ``beside`` the speech, such as a key, has a time stamp of its own kind (RFC 4733 §2.2.1): no jitter follows.
        """
        if packet.source != self.source:
            raise LocalError("a packet of another source has a reception of its own (RFC 3550 §8.2)")
        valid = self.sequences.update(packet.sequence)
        if valid and not beside:
            self.jitter.update(arrival_ticks=now_s * self.clock_hz, timestamp=packet.timestamp)
        return valid

    @property
    def jitter_s(self) -> float:
        """The jitter in seconds."""
        return self.jitter.ticks / self.clock_hz
