"""What a stream of speech or pictures takes of a link, header by header."""

from dataclasses import dataclass
from functools import cache
from typing import Final

from doorwright import data
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

RTP_BYTE: Final = 12
"""RTP header without contributing sources or extension (RFC 3550 section 5.1)."""
UDP_BYTE: Final = 8
"""UDP header (RFC 768)."""
IPV4_BYTE: Final = 20
"""IPv4 header without options (RFC 791)."""
ETHERNET_BYTE: Final = 18
"""Ethernet header and frame check sequence (IEEE 802.3)."""
TAG_BYTE: Final = 4
"""VLAN tag (IEEE 802.1Q)."""
GAP_BYTE: Final = 20
"""Preamble with start delimiter, and the gap between frames (IEEE 802.3)."""
LEAST_FRAME_BYTE: Final = 64
"""The shortest Ethernet frame, header and check sequence counted (IEEE 802.3)."""
PICTURE_PAYLOAD_BYTE: Final = 1400
"""Picture data in a packet, chosen below the 1500 bytes that Ethernet carries: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpeechRate:
    """What a speech codec sends while it speaks."""

    key: str
    title: str
    payload_kbps: float
    source: str
    place: str


@cache
def speech_rate(key: str) -> SpeechRate:
    """Return the payload rate of a speech codec by its SDP name.

    Raises:
        LookupError: there is no rate for this codec.
    """
    row = data.table("codecs")["rate"].get(key)
    if row is None:
        raise LookupError(f"no payload rate for the codec {key!r}")
    return SpeechRate(key=key, **row)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """One stream in one direction. ``line_kbps`` is what it takes of a link; the others leave headers out.

    ``network_kbps`` counts from the IP header on, ``frame_kbps`` adds Ethernet's header, check and tag, ``line_kbps``
    preamble and gap as well.
    """

    payload_byte: float
    packets_per_s: float
    network_kbps: float
    frame_kbps: float
    line_kbps: float


@calculation(
    "Speech stream on the wire",
    Cite("rfc3550", "section 5.1"),
    Cite("rfc3551", "section 4.2"),
    Cite("ieee8023", "clause 3, frame format"),
)
def speech_stream(*, payload_kbps: float, packet_ms: float, tagged: bool = True) -> Stream:
    """Return what one direction of speech takes.

    Formula: packets per second = 1/packet time; each is payload + 12 RTP + 8 UDP + 20 IPv4 + 18 Ethernet (+ 4 tag),
    at least 64 bytes, and 20 more on the line.

    Valid when: a codec of constant rate that sends all the time; no SRTP, no header compression.

    Args:
        payload_kbps: rate of the codec, kilobits per second.
        packet_ms: speech in one packet, milliseconds.
        tagged: whether frames carry a VLAN tag.

    Returns:
        The stream.
    """
    return _stream(payload_kbps * packet_ms / 8.0, 1000.0 / packet_ms, tagged)


@calculation(
    "Picture stream on the wire",
    Cite("rfc3550", "section 5.1"),
    Cite("rfc6184", "section 5.8"),
    Cite("ieee8023", "clause 3, frame format"),
)
def picture_stream(*, payload_kbps: float, payload_byte: float = PICTURE_PAYLOAD_BYTE, tagged: bool = True) -> Stream:
    """Return what one direction of a picture takes, H.264 or H.265, at the bit rate that the unit is set to.

    Formula: packets per second = rate/payload; headers as for speech.

    Valid when: packets are full. A unit that cuts each picture into slices sends smaller ones and takes more; ``rate``
    is the encoder's, and peaks after a change of scene are above it.

    Args:
        payload_kbps: bit rate of the encoder with the headers of RFC 6184 or RFC 7798 in it, kilobits per second.
        payload_byte: data in one packet behind the RTP header, bytes.
        tagged: whether frames carry a VLAN tag.

    Returns:
        The stream.
    """
    return _stream(payload_byte, payload_kbps * 1000.0 / 8.0 / payload_byte, tagged)


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkUse:
    """How full a link is in its fuller direction. ``calls_most_count`` is how many such calls it would carry."""

    down_kbps: float
    up_kbps: float
    use_ratio: float
    calls_most_count: int


@calculation(
    "Use of a link by calls at once",
    Cite("ieee8023", "full duplex: each direction has the rate of the link"),
    Cite("practice", "fill a link to half of its rate"),
)
def link_use(*, down_kbps: float, up_kbps: float, link_mbps: float, limit_ratio: float, call_kbps: float) -> LinkUse:
    """Return how full a link is, each direction on its own.

    Formula: use = max(down, up)/rate; calls at most = ⌊limit·rate/rate of one call⌋.

    Valid when: the link is full duplex. Signalling, discovery and whatever else shares the network are not counted: the
    limit leaves room for them.

    Args:
        down_kbps: all streams away from the root of the network, kilobits per second.
        up_kbps: all streams towards it, kilobits per second.
        link_mbps: rate of the link, megabits per second.
        limit_ratio: the part of the rate that may be used.
        call_kbps: the fuller direction of one call, kilobits per second.

    Returns:
        The use of the link.
    """
    rate_kbps = link_mbps * 1000.0
    # a hair below a whole number is that number: 0.5·100 Mb/s holds 25 streams of 2 Mb/s
    calls = int(limit_ratio * rate_kbps / call_kbps + 1e-9) if call_kbps > 0.0 else 0
    return LinkUse(
        down_kbps=down_kbps,
        up_kbps=up_kbps,
        use_ratio=max(down_kbps, up_kbps) / rate_kbps,
        calls_most_count=calls,
    )


def _stream(payload_byte: float, packets_per_s: float, tagged: bool) -> Stream:
    network_byte = payload_byte + RTP_BYTE + UDP_BYTE + IPV4_BYTE
    least_byte = LEAST_FRAME_BYTE + (TAG_BYTE if tagged else 0)
    frame_byte = max(network_byte + ETHERNET_BYTE + (TAG_BYTE if tagged else 0), least_byte)
    return Stream(
        payload_byte=payload_byte,
        packets_per_s=packets_per_s,
        network_kbps=network_byte * packets_per_s * 8.0 / 1000.0,
        frame_kbps=frame_byte * packets_per_s * 8.0 / 1000.0,
        line_kbps=(frame_byte + GAP_BYTE) * packets_per_s * 8.0 / 1000.0,
    )
