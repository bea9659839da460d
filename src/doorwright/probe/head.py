"""One question on a connection of its own and the head of its answer, as HTTP and RTSP give it."""

import asyncio
import re
import ssl
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from functools import cache
from typing import Final

from doorwright.probe.reach import Outcome, connected

MOST_BYTES: Final = 16 * 1024
"""What a head may be long; who talks on without end is not listened to."""
_FIELD: Final = re.compile(r"([!#$%&'*+\-.^_`|~0-9A-Za-z]+):[ \t]*(.*)")  # RFC 9110 §5.1, §5.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What came back.

    Attributes:
        outcome: whether anybody is at that port. Who takes the connection has answered, even if nothing can be read.
        start: the first line, without its end; nothing where there was none in letters.
        fields: the header fields by name in small letters, of several the first.
        certificate: the certificate shown, DER (RFC 5280); None without TLS or where the handshake failed.
        asked_at, heard_at: between which moments of this machine's clock the answer was made.
    """

    outcome: Outcome
    start: str = ""
    fields: Mapping[str, str] = field(default_factory=dict)
    certificate: bytes | None = None
    asked_at: datetime | None = None
    heard_at: datetime | None = None


async def head_of(
    address: str, port: int, question: bytes, *, tls: bool, patience_s: float, now: Callable[[], datetime]
) -> Head:
    """Connect, ask, read the head of the answer, and hang up.

    Args:
        address: an IP address.
        port: the TCP port.
        question: the whole request.
        tls: whether to speak TLS. Any certificate is taken, as it is what we came to see; no secret is ever sent.
        patience_s: how long to wait for the connection, and again for the answer.
        now: this machine's clock.
    """
    line = await connected(address, port, patience_s=patience_s, most_bytes=MOST_BYTES)
    if isinstance(line, Outcome):
        return Head(outcome=line)
    reader, writer = line
    certificate: bytes | None = None
    said = b""
    asked_at = heard_at = None
    try:
        async with asyncio.timeout(patience_s):
            if tls:
                await writer.start_tls(_any_certificate())
                shown = writer.get_extra_info("ssl_object")
                certificate = shown.getpeercert(binary_form=True) if shown is not None else None
            asked_at = now()
            writer.write(question)
            await writer.drain()
            said = await _until_blank(reader)
            heard_at = now()
    except (OSError, TimeoutError):  # SSLError is an OSError: they took the connection, and that is all we learn
        pass
    finally:
        writer.transport.abort()
    start, fields = read_head(said)
    return Head(
        outcome=Outcome.ANSWERED,
        start=start,
        fields=fields,
        certificate=certificate,
        asked_at=asked_at,
        heard_at=heard_at,
    )


async def _until_blank(reader: asyncio.StreamReader) -> bytes:
    try:
        return await reader.readuntil(b"\r\n\r\n")
    except (asyncio.IncompleteReadError, asyncio.LimitOverrunError):
        return b""  # a head that is cut off or has no end is none


def read_head(said: bytes) -> tuple[str, dict[str, str]]:
    """Return the first line and the header fields of a head; what is no field is passed over."""
    start, *lines = said.decode("latin-1").split("\r\n")
    fields: dict[str, str] = {}
    for line in lines:
        found = _FIELD.fullmatch(line)
        if found is not None:
            fields.setdefault(found[1].lower(), found[2].strip(" \t"))
    return start, fields


@cache
def _any_certificate() -> ssl.SSLContext:
    """Return a context that takes every certificate and old ciphers: we look at a unit, we trust it with nothing."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    context.minimum_version = ssl.TLSVersion.MINIMUM_SUPPORTED
    context.set_ciphers("ALL:@SECLEVEL=0")
    return context
