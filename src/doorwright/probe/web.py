"""What a unit's web server says to HEAD, and the dates of its certificate."""

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime
from typing import Final

from cryptography import x509

from doorwright.probe.clock import ahead_s
from doorwright.probe.head import Head, head_of
from doorwright.probe.reach import Outcome

_STATUS: Final = re.compile(r"HTTP/[0-9]\.[0-9] ([1-5][0-9]{2})(?: .*)?")  # RFC 9112 §4


@dataclass(frozen=True, slots=True, kw_only=True)
class Web:
    """What came of HEAD: the status (None where it could not be read), certificate dates, the other clock's lead."""

    outcome: Outcome
    status: int | None = None
    valid: tuple[date, date] | None = None
    ahead_s: int | None = None


async def ask_web(address: str, port: int, *, tls: bool, patience_s: float, now: Callable[[], datetime]) -> Web:
    """Ask for the head of the first page. HEAD is safe (RFC 9110 §9.2.1); no redirection is followed.

    Args:
        address: an IP address.
        port: the TCP port.
        tls: whether it speaks TLS.
        patience_s: how long to wait for the connection, and again for the answer.
        now: this machine's clock.
    """
    host = f"[{address}]" if ":" in address else address
    named = host if port == (443 if tls else 80) else f"{host}:{port}"
    question = f"HEAD / HTTP/1.1\r\nHost: {named}\r\nUser-Agent: Doorwright\r\nConnection: close\r\n\r\n"
    return read_web(await head_of(address, port, question.encode(), tls=tls, patience_s=patience_s, now=now))


def read_web(head: Head) -> Web:
    """Read what came back."""
    found = _STATUS.fullmatch(head.start)
    ahead = None
    if found is not None and head.asked_at and head.heard_at and "date" in head.fields:
        ahead = ahead_s(head.fields["date"], asked_at=head.asked_at, heard_at=head.heard_at)
    return Web(
        outcome=head.outcome,
        status=int(found[1]) if found is not None else None,
        valid=_valid(head.certificate),
        ahead_s=ahead,
    )


def _valid(certificate: bytes | None) -> tuple[date, date] | None:
    """Return the first and the last day of a certificate (RFC 5280 §4.1.2.5), or None where it cannot be read."""
    if certificate is None:
        return None
    try:
        read = x509.load_der_x509_certificate(certificate)
        return read.not_valid_before_utc.date(), read.not_valid_after_utc.date()
    except ValueError:
        return None
