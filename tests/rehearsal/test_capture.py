"""A capture by its bytes, held to draft-ietf-opsawg-pcapng-02 (block types, lengths, options) and to the RFCs' sums."""

import struct
from dataclasses import replace
from datetime import UTC, datetime
from ipaddress import IPv4Address

import pytest

from doorwright.rehearse.wire import Carried, Jack
from doorwright.render.capture import capture_head, captured, frames
from tests.rehearsal.shared_router import GATE, OUTSIDE, RECEIVER_3, call_behind_it

JACK = Jack(address="192.0.2.2", cidr="192.0.2.0/25", gateway="192.0.2.1", segment=20, mac="00-00-5E-00-53-02")
TAKER = replace(JACK, address="192.0.2.3", mac="00-00-5E-00-53-03")
ONE = Carried(
    at_s=1.000001, jack=JACK, source_port=5060, to=("192.0.2.3", 5062), data=b"odd", taker=TAKER, arrived=True
)


def blocks(data: bytes) -> list[tuple[int, bytes]]:
    """Return type and body of each block (§3.1: type, length, body, length again; whole 32-bit words)."""
    found = []
    while data:
        kind, length = struct.unpack_from("<II", data)
        assert length % 4 == 0
        assert struct.unpack_from("<I", data, length - 4) == (length,)
        found.append((kind, data[8 : length - 4]))
        data = data[length:]
    return found


def options(data: bytes) -> dict[int, bytes]:
    """Return the options by their numbers (§3.5: number, length, value filled up to 32 bits; 0 ends them)."""
    found: dict[int, bytes] = {}
    while True:
        number, length = struct.unpack_from("<HH", data)
        if number == 0:
            assert (length, len(data)) == (0, 4)
            return found
        found[number] = data[4 : 4 + length]
        data = data[4 + (length + 3) // 4 * 4 :]


def summed(data: bytes) -> int:
    """Return the sum of RFC 1071 §1 over data that holds its own check: all ones where it is right."""
    data += b"\0" * (len(data) % 2)
    total = sum(int.from_bytes(data[at : at + 2], "big") for at in range(0, len(data), 2))
    return total % 0xFFFF or 0xFFFF


def test_the_head() -> None:
    (section, body), (interface, about) = blocks(capture_head())
    assert section == 0x0A0D0D0A  # §4.1
    assert struct.unpack_from("<IHHq", body) == (0x1A2B3C4D, 1, 0, -1)  # byte order, version 1.0, length not given
    assert set(options(body[16:])) == {4}  # shb_userappl
    assert interface == 1  # §4.2
    assert struct.unpack_from("<HHI", about) == (1, 0, 0)  # LINKTYPE_ETHERNET, reserved, no limit
    assert options(about[8:]) == {2: b"rehearsed building", 9: b"\x06"}  # if_name; if_tsresol 10^-6 s


def test_a_packet_and_its_moment() -> None:
    """Second 0 is Monday 2001-01-01 00:00:00 UTC: 978 307 200 s after 1970 (11 323 days of 86 400 s)."""
    ((kind, body),) = blocks(captured(ONE))
    assert kind == 6  # §4.3
    number, high, low, kept, whole = struct.unpack_from("<IIIII", body)
    assert (number, kept, whole) == (0, 60, 60)
    assert (high << 32) + low == 978_307_201_000_001
    assert datetime(2001, 1, 1, tzinfo=UTC).weekday() == 0
    assert body[20:80] == next(frames(ONE))
    assert body[80:] == b""


def test_a_frame() -> None:
    """By hand: 802.1Q tag 0x8100 and VLAN 20; IPv4 of 20 + 8 + 3 = 31 bytes; filled up to 60 bytes of Ethernet."""
    (frame,) = frames(ONE)
    assert frame[:18].hex() == "00005e005303" + "00005e005302" + "8100" + "0014" + "0800"
    packet = frame[18 : 18 + 31]
    assert packet[:4].hex() == "4500001f"  # version 4, five words, no service, 31 bytes (RFC 791 §3.1)
    assert packet[6:10].hex() == "00004011"  # whole, 64 hops, UDP is 17
    assert packet[12:20].hex() == "c0000202" + "c0000203"
    assert packet[20:26].hex() == "13c4" + "13c6" + "000b"  # ports 5060 and 5062, 11 bytes (RFC 768)
    assert packet[28:] == b"odd"
    assert frame[49:] == bytes(11)
    assert summed(packet[:20]) == 0xFFFF
    assert summed(packet[12:20] + struct.pack("!HH", 17, 11) + packet[20:]) == 0xFFFF


def test_without_vlans_there_is_no_tag() -> None:
    (frame,) = frames(replace(ONE, jack=replace(JACK, segment=None)))
    assert frame[12:14].hex() == "0800"


def test_a_sum_of_nought_is_written_as_all_ones() -> None:
    """RFC 768: an all zero sum means that there is none. Two bytes are chosen so that the sum comes out as 0."""
    (frame,) = frames(replace(ONE, data=b"\0\0"))
    left = int.from_bytes(frame[18 + 26 : 18 + 28], "big")
    (frame,) = frames(replace(ONE, data=left.to_bytes(2, "big")))
    assert frame[18 + 26 : 18 + 28] == b"\xff\xff"


@pytest.mark.parametrize(
    ("taker", "to", "mac_is_known"),
    [(TAKER, "192.0.2.3", True), (None, "192.0.2.9", False), (TAKER, "198.51.100.7", False)],
)
def test_a_part_whose_mac_is_not_planned_has_a_local_one(taker: Jack | None, to: str, mac_is_known: bool) -> None:
    (frame,) = frames(replace(ONE, taker=taker, to=(to, 5060)))
    assert (frame[:6].hex() == "00005e005303") is mac_is_known
    assert mac_is_known or frame[0] & 0b11 == 0b10  # IEEE 802: the second bit is "local", the first "group"


@pytest.mark.parametrize(
    ("taker", "comment"),
    [
        (TAKER, b"lost on the way"),
        (None, b"nobody there: no port that the sender reaches has this address"),
    ],
)
def test_why_a_packet_did_not_arrive_is_said(taker: Jack | None, comment: bytes) -> None:
    ((_, body),) = blocks(captured(replace(ONE, taker=taker, arrived=False)))
    assert options(body[80:]) == {1: comment}  # §3.5: opt_comment


def test_each_hop_past_a_shared_router_is_a_frame_of_its_own_in_its_own_vlan() -> None:
    """Doors are in VLAN 20, homes in VLAN 21 (yard.py): the packet keeps its source, the frame does not."""
    _, packets = call_behind_it()
    outer, inner = (next(frames(one)) for one in packets if one.data.startswith(b"INVITE "))
    assert [int.from_bytes(frame[14:16], "big") for frame in (outer, inner)] == [20, 21]
    assert outer[30:34] == inner[30:34] == IPv4Address(GATE).packed
    assert [str(IPv4Address(frame[34:38])) for frame in (outer, inner)] == [OUTSIDE, RECEIVER_3]
    assert outer[0:6] == inner[6:12]  # the router: it took the one and sent the other
    answer = next(next(frames(one)) for one in packets if one.data.startswith(b"SIP/2.0 180 "))
    assert answer[0:6] == inner[6:12]
    assert answer[6:12] == inner[0:6]
