"""The trace of a rehearsal: a line for each packet and each happening. Headers and secrets stay out of it."""

import re
from collections.abc import Mapping
from typing import Final, TypeAlias

from doorwright.rehearse.journal import Entry
from doorwright.rehearse.wire import Carried, Spot
from doorwright.sip.dtmf import TelephoneEvent, key_of, parse_event
from doorwright.sip.errors import PeerError
from doorwright.sip.rtcp import ReceiverReport, SenderReport, parse_rtcp
from doorwright.sip.rtp import RtpPacket, parse_rtp

Line: TypeAlias = dict[str, str | float | bool]

_DYNAMIC_FROM: Final = 96
"""Events have no number of their own: theirs is one of those agreed call by call (RFC 3551 §3, RFC 4733 §2.4)."""
_OF_SPEECH: Final = frozenset(bytes([first]) for first in range(128, 192))
"""Bytes that a packet of RTP may begin with (RFC 7983 §7; RFC 3550 §5.1: version 2 in the first two bits)."""
_OF_REPORTS: Final = range(192, 224)
"""Kinds of report; they stand where a packet of RTP has a payload type, none of which is used there (RFC 5761 §4)."""
_CREDENTIALS: Final = re.compile(
    rb"^((?:proxy-)?authorization|(?:proxy-)?authentication-info)[ \t]*:[^\r\n]*(?:\r\n[ \t][^\r\n]*)*",
    re.IGNORECASE | re.MULTILINE,
)
"""A header with what was reckoned from a secret, its folded lines with it (RFC 3261 §7.3.1, RFC 7616 §3)."""
_RECKONED: Final = re.compile(rb'(\b(?:response|rspauth)\s*=\s*)("[^"]*"|[^\s,;]+)', re.IGNORECASE)


def packet_line(carried: Carried) -> Line:
    """Return the line of a packet: its start line alone, which holds no credentials."""
    source, to = _spot(carried.source), _spot(carried.to)
    line: Line = {"at_s": round(carried.at_s, 6), "from": source, "to": to, "packet": told_packet(carried)}
    if not carried.arrived:
        line["lost"] = True
    return line


def entry_line(entry: Entry, names: Mapping[str, str]) -> Line:
    """Return the line of what happened."""
    line: Line = {"at_s": round(entry.at_s, 6), "at": names.get(entry.part, entry.part), "happened": entry.deed.value}
    if entry.about:
        line["about"] = entry.about
    return line


def told_packet(carried: Carried) -> str:
    """Return a packet in a few words: the start line of a message, that it is speech, a key or a report in it."""
    if not is_media(carried):
        return carried.data.partition(b"\r\n")[0].decode("utf-8", "replace")
    if is_report(carried):
        return told_report(carried)
    event = event_of(carried)
    return "speech" if event is None else f"key {key_of(event.code)} in the speech"


def is_media(carried: Carried) -> bool:
    """Say whether a packet is of the speech of a call: its first bits are those of RTP, which begin no message."""
    return carried.data[:1] in _OF_SPEECH


def is_report(carried: Carried) -> bool:
    """Say whether a packet of media is a report on it (RTCP)."""
    return is_media(carried) and len(carried.data) > 1 and carried.data[1] in _OF_REPORTS


def told_report(carried: Carried) -> str:
    """Return what a report says of the speech that came to whoever sends it."""
    try:
        packets = parse_rtcp(carried.data)
    except PeerError:
        return "report that cannot be read"
    blocks = [block for one in packets if isinstance(one, SenderReport | ReceiverReport) for block in one.reports]
    if not blocks:
        return "report: no speech came"
    lost_count = sum(max(block.lost_count, 0) for block in blocks)
    return f"report: speech came, {lost_count or 'none'} lost"


def event_of(carried: Carried) -> TelephoneEvent | None:
    """Return the event of a packet that tells a key in the speech; None for any other packet."""
    packet = _rtp(carried.data) if is_media(carried) and not is_report(carried) else None
    if packet is None or packet.payload_type < _DYNAMIC_FROM:
        return None
    try:
        return parse_event(packet.payload)
    except PeerError:
        return None


def without_credentials(data: bytes) -> bytes:
    """Return a message as long as before, with what was reckoned from a secret blanked in its head.

    From a response to a challenge a secret can be guessed, away from the registrar and as fast as a machine allows.
    The name, the realm and the nonce stay: without the response they tell nothing of the secret.
    """
    head, end, body = data.partition(b"\r\n\r\n")
    return _CREDENTIALS.sub(lambda found: _RECKONED.sub(_blanked, found[0]), head) + end + body


def _blanked(found: re.Match[bytes]) -> bytes:
    value = found[2]
    inside = len(value) - 2 if value.startswith(b'"') else len(value)
    blank = b"0" * inside
    return found[1] + (b'"' + blank + b'"' if value.startswith(b'"') else blank)


def _rtp(data: bytes) -> RtpPacket | None:
    try:
        return parse_rtp(data)
    except PeerError:
        return None


def _spot(spot: Spot) -> str:
    return f"{spot[0]}:{spot[1]}"
