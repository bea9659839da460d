"""Reports about media streams (RTCP, RFC 3550 §6): how they are packed, and what a receiver puts into them."""

import struct
from collections.abc import Callable
from dataclasses import dataclass
from math import e

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.rtp import Reception

SENDER_REPORT, RECEIVER_REPORT, SOURCE_DESCRIPTION, BYE, APPLICATION = 200, 201, 202, 203, 204  # §12.1
CNAME = 1  # §6.5.1, the one item that everybody must send
NTP_EPOCH_S = 2_208_988_800
"""Seconds from 1900, where NTP counts from, to 1970: 70 years of which 17 were leap years, (70·365 + 17)·86 400."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportBlock:
    """What a receiver says of one source (RFC 3550 §6.4.1)."""

    source: int
    fraction_lost_256ths: int
    lost_count: int
    extended_highest: int
    jitter_ticks: int
    last_sr_65536ths: int = 0
    since_last_sr_65536ths: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SenderReport:
    """A sender's report; `ntp` is 32 bits of seconds since 1900 and 32 bits of their fraction."""

    source: int
    ntp: int
    timestamp: int
    packets_count: int
    octets_count: int
    reports: tuple[ReportBlock, ...] = ()
    extension: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReceiverReport:
    """The report of one who sent nothing since the last."""

    source: int
    reports: tuple[ReportBlock, ...] = ()
    extension: bytes = b""


@dataclass(frozen=True, slots=True, kw_only=True)
class Described:
    """One source and the items said of it: kind (1 is the canonical name) and text as octets."""

    source: int
    items: tuple[tuple[int, bytes], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceDescription:
    """Who the sources are (RFC 3550 §6.5)."""

    chunks: tuple[Described, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Bye:
    """Sources that leave (RFC 3550 §6.6)."""

    sources: tuple[int, ...]
    cause: bytes | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OtherRtcp:
    """A packet of a kind that these pages do not read: kept as it came."""

    kind: int
    count: int
    body: bytes


Rtcp = SenderReport | ReceiverReport | SourceDescription | Bye | OtherRtcp


def ntp_of(*, unix_s: float) -> int:
    """Return the 64-bit NTP timestamp of a moment counted from 1970, turning with its 32 bits of seconds."""
    return round((unix_s + NTP_EPOCH_S) * (1 << 32)) % (1 << 64)


def middle_65536ths(ntp: int) -> int:
    """Return the middle 32 bits of an NTP timestamp: 16 bits of seconds, 16 of their fraction (RFC 3550 §4)."""
    return ntp >> 16 & 0xFFFFFFFF


def round_trip_s(block: ReportBlock, *, arrival_ntp: int) -> float | None:
    """Return the time there and back, A - LSR - DLSR (RFC 3550 §6.4.1); None if the other end saw no report of ours."""
    if block.last_sr_65536ths == 0:
        return None
    ticks = (middle_65536ths(arrival_ntp) - block.last_sr_65536ths - block.since_last_sr_65536ths) % (1 << 32)
    # clocks that drift can make a trip of no length negative: that is no trip of 18 hours
    return max((ticks ^ 1 << 31) - (1 << 31), 0) / 65536.0


def report_on(reception: Reception, *, now_s: float, last_sr: tuple[int, float] | None = None) -> ReportBlock:
    """Return the block about one source, and begin its next interval.

    Args:
        reception: what was received of the source.
        now_s: the moment of the report, seconds.
        last_sr: NTP timestamp and arrival (seconds, same clock as `now_s`) of the last sender's report, if any came.
    """
    since_65536ths = 0 if last_sr is None else min(max(round((now_s - last_sr[1]) * 65536), 0), 0xFFFFFFFF)
    return ReportBlock(
        source=reception.source,
        fraction_lost_256ths=reception.sequences.close_interval(),
        lost_count=reception.sequences.lost_count,
        extended_highest=reception.sequences.extended_highest % (1 << 32),
        jitter_ticks=min(int(reception.jitter.ticks), 0xFFFFFFFF),
        last_sr_65536ths=0 if last_sr is None else middle_65536ths(last_sr[0]),
        since_last_sr_65536ths=since_65536ths,
    )


def report_interval_s(
    *,
    members_count: int,
    senders_count: int,
    we_sent: bool,
    rtcp_octets_per_s: float,
    mean_octets: float,
    first: bool,
    chance: Callable[[], float],
) -> float:
    """Return the time to the next report (RFC 3550 §6.3.1, §A.7), seconds.

    Args:
        members_count: members of the session, ourselves among them.
        senders_count: those of them who send.
        we_sent: whether we are one.
        rtcp_octets_per_s: the bandwidth of all reports, 5 % of the session's.
        mean_octets: the mean size of a report with its UDP and IP headers.
        first: whether none was sent yet, which halves the least time of 5 s.
        chance: gives a number in [0, 1).
    """
    least_s = 2.5 if first else 5.0
    sharing_count = members_count
    if senders_count <= members_count * 0.25:  # a quarter of the bandwidth is the senders'
        rtcp_octets_per_s *= 0.25 if we_sent else 0.75
        sharing_count = senders_count if we_sent else members_count - senders_count
    interval_s = max(mean_octets * sharing_count / rtcp_octets_per_s, least_s)
    return interval_s * (chance() + 0.5) / (e - 1.5)  # §6.3.1: e - 3/2 makes good for timer reconsideration


def print_rtcp(packets: tuple[Rtcp, ...]) -> bytes:
    """Return a compound packet; the first must be a report (RFC 3550 §6.1)."""
    if not packets or not isinstance(packets[0], SenderReport | ReceiverReport):
        raise LocalError("a compound packet begins with a report (RFC 3550 §6.1)")
    try:
        return b"".join(map(_print_one, packets))
    except struct.error as error:
        raise LocalError(f"a field of a report is out of its bounds: {error}") from error


def _print_one(packet: Rtcp) -> bytes:
    match packet:
        case SenderReport():
            if not 0 <= packet.ntp < 1 << 64:
                raise LocalError("an NTP timestamp has 64 bits")
            figures = (packet.source, packet.ntp, packet.timestamp, packet.packets_count, packet.octets_count)
            body = struct.pack("!IQIII", *figures) + _print_blocks(packet.reports) + packet.extension
            return _framed(SENDER_REPORT, len(packet.reports), body)
        case ReceiverReport():
            body = struct.pack("!I", packet.source) + _print_blocks(packet.reports) + packet.extension
            return _framed(RECEIVER_REPORT, len(packet.reports), body)
        case SourceDescription():
            body = b"".join(map(_print_chunk, packet.chunks))
            return _framed(SOURCE_DESCRIPTION, len(packet.chunks), body)
        case Bye():
            body = struct.pack(f"!{len(packet.sources)}I", *packet.sources)
            if packet.cause is not None:
                body += struct.pack("!B", len(packet.cause)) + packet.cause
                body += bytes(-len(body) % 4)
            return _framed(BYE, len(packet.sources), body)
        case OtherRtcp():
            return _framed(packet.kind, packet.count, packet.body)


def _framed(kind: int, count: int, body: bytes) -> bytes:
    if not 0 <= count < 32 or len(body) % 4:
        raise LocalError("a report holds at most 31 parts and whole 32-bit words (RFC 3550 §6.4.1)")
    return struct.pack("!BBH", 2 << 6 | count, kind, len(body) // 4) + body


def _print_blocks(blocks: tuple[ReportBlock, ...]) -> bytes:
    printed = b""
    for block in blocks:
        if not -0x800000 <= block.lost_count <= 0x7FFFFF:
            raise LocalError("cumulative loss has 24 bits with a sign (RFC 3550 §6.4.1)")
        printed += struct.pack("!IB", block.source, block.fraction_lost_256ths)
        printed += block.lost_count.to_bytes(3, "big", signed=True)
        printed += struct.pack(
            "!IIII",
            block.extended_highest,
            block.jitter_ticks,
            block.last_sr_65536ths,
            block.since_last_sr_65536ths,
        )
    return printed


def _print_chunk(chunk: Described) -> bytes:
    printed = struct.pack("!I", chunk.source)
    for kind, text in chunk.items:
        if kind == 0:
            raise LocalError("an item of kind 0 ends the list (RFC 3550 §6.5)")
        printed += struct.pack("!BB", kind, len(text)) + text
    return printed + bytes(4 - len(printed) % 4)  # one null octet at the least ends the items


def parse_rtcp(data: bytes) -> tuple[Rtcp, ...]:
    """Return the packets of a compound one; raise a PeerError where RFC 3550 §A.2 calls it invalid."""
    packets: list[Rtcp] = []
    at = 0
    while at < len(data):
        if len(data) - at < 4:
            raise PeerError("what follows the last report is no header", clause="RFC 3550 §A.2")
        first, kind, words_count = struct.unpack_from("!BBH", data, at)
        end = at + 4 + 4 * words_count
        if first >> 6 != 2:
            raise PeerError(f"version {first >> 6} is not 2", clause="RFC 3550 §A.2")
        if end > len(data):
            raise PeerError(f"a report of {words_count + 1} words is cut short", clause="RFC 3550 §A.2")
        if not packets and kind not in {SENDER_REPORT, RECEIVER_REPORT}:
            raise PeerError(f"the first packet is of kind {kind}, not a report", clause="RFC 3550 §A.2")
        body = data[at + 4 : end]
        if first & 0x20:
            body = _without_padding(body, last=end == len(data))
        packets.append(_parse_one(kind, first & 0x1F, body))
        at = end
    if not packets:
        raise PeerError("the datagram is empty", clause="RFC 3550 §A.2")
    return tuple(packets)


def _without_padding(body: bytes, *, last: bool) -> bytes:
    # §A.2 asks that the first packet has no padding, because padding belongs to the last; a packet that is alone is
    # both, and is read.
    if not last:
        raise PeerError("padding stands before the last report", clause="RFC 3550 §6.4.1")
    if not body or not 4 <= body[-1] <= len(body) or body[-1] % 4:
        raise PeerError("the padding does not fit the report", clause="RFC 3550 §6.4.1")
    return body[: -body[-1]]


def _parse_one(kind: int, count: int, body: bytes) -> Rtcp:
    if kind == SENDER_REPORT:
        _long_enough(body, 24 + 24 * count)
        source, ntp, timestamp, packets_count, octets_count = struct.unpack_from("!IQIII", body)
        return SenderReport(
            source=source,
            ntp=ntp,
            timestamp=timestamp,
            packets_count=packets_count,
            octets_count=octets_count,
            reports=_parse_blocks(body[24:], count),
            extension=body[24 + 24 * count :],
        )
    if kind == RECEIVER_REPORT:
        _long_enough(body, 4 + 24 * count)
        return ReceiverReport(
            source=int.from_bytes(body[:4], "big"),
            reports=_parse_blocks(body[4:], count),
            extension=body[4 + 24 * count :],
        )
    if kind == SOURCE_DESCRIPTION:
        return SourceDescription(chunks=_parse_chunks(body, count))
    if kind == BYE:
        return _parse_bye(body, count)
    return OtherRtcp(kind=kind, count=count, body=body)


def _long_enough(body: bytes, octets_count: int) -> None:
    if len(body) < octets_count:
        raise PeerError(f"a report of {len(body)} octets should have {octets_count}", clause="RFC 3550 §6.4")


def _parse_blocks(body: bytes, count: int) -> tuple[ReportBlock, ...]:
    blocks = []
    for at in range(0, 24 * count, 24):
        highest, jitter_ticks, last_sr, since_last_sr = struct.unpack_from("!IIII", body, at + 8)
        blocks.append(
            ReportBlock(
                source=int.from_bytes(body[at : at + 4], "big"),
                fraction_lost_256ths=body[at + 4],
                lost_count=int.from_bytes(body[at + 5 : at + 8], "big", signed=True),
                extended_highest=highest,
                jitter_ticks=jitter_ticks,
                last_sr_65536ths=last_sr,
                since_last_sr_65536ths=since_last_sr,
            )
        )
    return tuple(blocks)


def _parse_chunks(body: bytes, count: int) -> tuple[Described, ...]:
    chunks = []
    at = 0
    for _ in range(count):
        _long_enough(body, at + 8)
        source = int.from_bytes(body[at : at + 4], "big")
        at += 4
        items = []
        while body[at]:
            _long_enough(body, at + 2)
            end = at + 2 + body[at + 1]
            _long_enough(body, end + 1)  # the item, and the null octet that ends the list
            items.append((body[at], body[at + 2 : end]))
            at = end
        at = (at // 4 + 1) * 4  # at the null octet: on to the next word
        _long_enough(body, at)
        chunks.append(Described(source=source, items=tuple(items)))
    return tuple(chunks)


def _parse_bye(body: bytes, count: int) -> Bye:
    _long_enough(body, 4 * count)
    sources = struct.unpack_from(f"!{count}I", body)
    rest = body[4 * count :]
    if not rest:
        return Bye(sources=sources)
    _long_enough(rest, 1 + rest[0])
    return Bye(sources=sources, cause=rest[1 : 1 + rest[0]])
