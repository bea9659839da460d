"""A capture of the packets of a rehearsal, as the form pcapng has it, for programs that show what is on a network.

Blocks after draft-ietf-opsawg-pcapng-02; frames after IEEE 802.3 and 802.1Q, packets after RFC 791 and RFC 768, all
sums right. Each packet stands there once, as it leaves its sender: with the VLAN of the sender's port, and addressed to
the taker where the sender's mask calls it near, else to the gateway. A packet that did not arrive is there too, and its
comment says so. What was reckoned from secrets is blanked.

Time is that of the rehearsal, which begins on Monday, 1 January 2001, at 00:00:00 UTC: any day would do, and the same
rehearsal is the same file.
"""

import re
import struct
from collections.abc import Iterator
from datetime import UTC, datetime
from hashlib import sha256
from ipaddress import IPv4Address
from typing import Final

from doorwright.rehearse.trace import is_media, without_credentials
from doorwright.rehearse.wire import Carried, is_near

BEGINS: Final = datetime(2001, 1, 1, tzinfo=UTC)
"""When second 0 of a rehearsal is, in a capture."""

# draft-ietf-opsawg-pcapng-02, sections 4.1 to 4.3 and 3.5
_SECTION: Final = 0x0A0D0D0A
_INTERFACE: Final = 1
_ENHANCED_PACKET: Final = 6
_BYTE_ORDER: Final = 0x1A2B3C4D
_LENGTH_UNKNOWN: Final = -1
_ETHERNET: Final = 1  # LINKTYPE_ETHERNET
_OPTION_END, _OPTION_COMMENT = 0, 1
_OPTION_NAME, _OPTION_RESOLUTION, _OPTION_APPLICATION = 2, 9, 4
_MICROSECONDS: Final = 6

_MTU_BYTES: Final = 1500
_FRAME_BYTES: Final = 60  # the least of IEEE 802.3, without its check sequence
_VLAN_TAG, _IPV4 = 0x8100, 0x0800
_IP_BYTES, _UDP_BYTES = 20, 8
_TIME_TO_LIVE: Final = 64
_UDP: Final = 17
_MORE_FRAGMENTS: Final = 0x2000
_MAC: Final = re.compile(r"(?:[0-9A-Fa-f]{2}[:-]){5}[0-9A-Fa-f]{2}")
_LOST: Final = "lost on the way"
_NOBODY: Final = "nobody there: no port that the sender reaches has this address"


def capture_head() -> bytes:
    """Return how a capture begins: the section, and the one interface on which all was heard."""
    section = struct.pack("<IHHq", _BYTE_ORDER, 1, 0, _LENGTH_UNKNOWN) + _options(
        (_OPTION_APPLICATION, b"doorwright, a rehearsal: virtual time, made-up packets")
    )
    interface = struct.pack("<HHI", _ETHERNET, 0, 0) + _options(
        (_OPTION_NAME, b"rehearsed building"), (_OPTION_RESOLUTION, bytes([_MICROSECONDS]))
    )
    return _block(_SECTION, section) + _block(_INTERFACE, interface)


def captured(carried: Carried) -> bytes:
    """Return a packet as it stands in a capture: one block for each frame that it takes."""
    comment = "" if carried.arrived else _LOST if carried.taker is not None else _NOBODY
    options = _options((_OPTION_COMMENT, comment.encode())) if comment else b""
    at_us = int(BEGINS.timestamp()) * 1_000_000 + round(carried.at_s * 1_000_000)
    blocks = []
    for frame in frames(carried):
        head = struct.pack("<IIIII", 0, at_us >> 32, at_us & 0xFFFFFFFF, len(frame), len(frame))
        blocks.append(_block(_ENHANCED_PACKET, head + _padded(frame) + options))
    return b"".join(blocks)


def frames(carried: Carried) -> Iterator[bytes]:
    """Yield the Ethernet frames of a packet, without their check sequences; more than one where it is cut (RFC 791)."""
    jack = carried.jack
    ether = _mac(_next_hop(carried)) + _mac(jack.mac)
    if jack.segment is not None:
        ether += struct.pack("!HH", _VLAN_TAG, jack.segment & 0x0FFF)
    ether += struct.pack("!H", _IPV4)
    for packet in _packets(carried):
        yield (ether + packet).ljust(_FRAME_BYTES, b"\0")


# blocks


def _block(kind: int, body: bytes) -> bytes:
    length = struct.pack("<I", len(body) + 12)
    return struct.pack("<I", kind) + length + body + length


def _options(*options: tuple[int, bytes]) -> bytes:
    told = b"".join(struct.pack("<HH", number, len(value)) + _padded(value) for number, value in options)
    return told + struct.pack("<HH", _OPTION_END, 0)


def _padded(value: bytes) -> bytes:
    return value + bytes(-len(value) % 4)


# frames


def _next_hop(carried: Carried) -> str:
    """Return whose MAC the frame is addressed to: the taker's, or the gateway's where the taker lies elsewhere."""
    jack, address, taker = carried.jack, carried.to[0], carried.taker
    if taker is not None and taker.address == jack.gateway:  # a gateway that takes packets itself
        return taker.mac
    if is_near(jack, address):
        return taker.mac if taker is not None else f"of {address}"
    return f"of {jack.gateway or address}"


def _mac(text: str) -> bytes:
    """Return a MAC; for a part whose MAC is not in the plan one that is administered locally (IEEE 802, bit 2)."""
    if _MAC.fullmatch(text):
        return bytes.fromhex(re.sub("[:-]", "", text))
    return b"\x02" + sha256(text.encode()).digest()[:5]


def _packets(carried: Carried) -> Iterator[bytes]:
    """Yield the IPv4 packets of a datagram: one, or fragments of it (RFC 791 §3.2)."""
    source, to = (IPv4Address(address).packed for address in (carried.source[0], carried.to[0]))
    data = carried.data if is_media(carried) else without_credentials(carried.data)
    datagram = _datagram(source, to, (carried.source_port, carried.to[1]), data)
    # names the fragments of one datagram; out of the datagram itself, so that it needs no count
    ident = int.from_bytes(sha256(datagram + struct.pack("!d", carried.at_s)).digest()[:2], "big")
    step = (_MTU_BYTES - _IP_BYTES) // 8 * 8
    for start in range(0, len(datagram), step):
        piece = datagram[start : start + step]
        more = _MORE_FRAGMENTS if start + step < len(datagram) else 0
        fields = struct.pack(
            "!BBHHHBBH4s4s", 4 << 4 | 5, 0, _IP_BYTES + len(piece), ident, more | start // 8, _TIME_TO_LIVE, _UDP, 0,
            source, to,
        )  # fmt: skip
        yield fields[:10] + struct.pack("!H", _sum(fields)) + fields[12:] + piece


def _datagram(source: bytes, to: bytes, ports: tuple[int, int], data: bytes) -> bytes:
    """Return a datagram (RFC 768): its sum covers addresses too, and one of 0 is written as 65 535."""
    length = _UDP_BYTES + len(data)
    pseudo = source + to + struct.pack("!BBH", 0, _UDP, length)
    head = struct.pack("!HHH", *ports, length)
    return head + struct.pack("!H", _sum(pseudo + head + b"\0\0" + data) or 0xFFFF) + data


def _sum(data: bytes) -> int:
    """Return the sum of RFC 1071: the complement of the sum of all 16-bit words, carries added in again."""
    words: tuple[int, ...] = struct.unpack(f"!{(len(data) + 1) // 2}H", data + bytes(len(data) % 2))
    total = sum(words)
    while total >> 16:
        total = (total & 0xFFFF) + (total >> 16)
    return ~total & 0xFFFF
