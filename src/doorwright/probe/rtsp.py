"""What a unit's picture server says to OPTIONS."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from doorwright.probe.clock import ahead_s
from doorwright.probe.head import Head, head_of
from doorwright.probe.reach import Outcome

_STATUS: Final = re.compile(r"RTSP/[0-9]\.[0-9] ([1-5][0-9]{2})(?: .*)?")  # RFC 2326 §7.1
_NUMBER: Final = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Rtsp:
    """What came of OPTIONS: the status, None where it could not be read, and the other clock's lead."""

    outcome: Outcome
    status: int | None = None
    ahead_s: int | None = None


async def ask_rtsp(address: str, port: int, *, patience_s: float, now: Callable[[], datetime]) -> Rtsp:
    """Ask what it can do. OPTIONS does not influence the server's state (RFC 2326 §10.1) and starts no stream.

    Args:
        address: an IP address.
        port: the TCP port.
        patience_s: how long to wait for the connection, and again for the answer.
        now: this machine's clock.
    """
    question = f"OPTIONS * RTSP/1.0\r\nCSeq: {_NUMBER}\r\nUser-Agent: Doorwright\r\n\r\n"
    return read_rtsp(await head_of(address, port, question.encode(), tls=False, patience_s=patience_s, now=now))


def read_rtsp(head: Head) -> Rtsp:
    """Read what came back; an answer to another number is none to us (RFC 2326 §12.17)."""
    found = _STATUS.fullmatch(head.start)
    if found is None or head.fields.get("cseq") != _NUMBER:
        return Rtsp(outcome=head.outcome)
    ahead = None
    if head.asked_at and head.heard_at and "date" in head.fields:
        ahead = ahead_s(head.fields["date"], asked_at=head.asked_at, heard_at=head.heard_at)
    return Rtsp(outcome=head.outcome, status=int(found[1]), ahead_s=ahead)
