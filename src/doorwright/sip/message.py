"""Requests and responses as values; reading them from bytes and writing them as bytes (RFC 3261 §7).

`parse` is tolerant: what it can split it returns, and what was wrong stands in `faults`, so that the other side can be
told. Only where nothing can be answered (no start line, a response with no code) it raises PeerError.
"""

import re
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from typing import Self

from doorwright.sip.codes import reason_of
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import SPACE, is_token
from doorwright.sip.headers import Headers
from doorwright.sip.names import SPELLINGS, known_name
from doorwright.sip.uri import NameAddr, Uri, parse_uri
from doorwright.sip.view import View

VERSION = "SIP/2.0"
_KEPT = frozenset(("Via", "From", "To", "Call-ID", "CSeq"))  # §8.2.6.2
LARGEST_DATAGRAM_BYTES = 65535  # §18.1.1: what every receiver must take
MOST_HEADERS = 256  # our own: some ten times what a call through several proxies carries
_VERSION = re.compile(r"SIP/[0-9]{1,9}\.[0-9]{1,9}", re.IGNORECASE | re.ASCII)  # §7.1: in any case
_STATUS = re.compile(
    r"(?P<version>SIP/[0-9]{1,9}\.[0-9]{1,9}) (?P<code>[0-9]++)(?: (?P<reason>.*))?",
    re.IGNORECASE | re.ASCII | re.DOTALL,
)
_LEADING = re.compile(rb"[\r\n]*+")
_LONE_LINE_END = re.compile(r"\r(?!\n)|(?<!\r)\n")


def _encoded(text: str) -> bytes:
    try:
        return text.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError:
        raise LocalError("the message holds a letter that has no bytes") from None


def _printed(start: str, headers: Headers, body: bytes) -> bytes:
    if "\r" in start or "\n" in start:
        raise LocalError("a line break in the start line")
    lines = [start]
    told = False
    for name, value in headers.pairs:
        if name != "Content-Length":
            lines.append(f"{name}: {value}")
        elif not told:
            lines.append(f"Content-Length: {len(body)}")
            told = True
    if not told:
        lines.append(f"Content-Length: {len(body)}")
    return _encoded("\r\n".join(lines) + "\r\n\r\n") + body


@dataclass(frozen=True)
class Request:
    """A request (§7.1).

    Attributes:
        method: as written; methods know capitals from small letters.
        target: the Request-URI as written; `uri` reads it.
        version: "SIP/2.0" but where the other side claims another.
        faults: what reading found wrong, the gravest first; no part of equality.
    """

    method: str
    target: str
    headers: Headers = field(default_factory=Headers)
    body: bytes = field(default=b"", repr=False)
    version: str = VERSION
    faults: tuple[PeerError, ...] = field(default=(), compare=False)

    @View
    def uri(self) -> Uri:
        """The address that the request is for; PeerError if it cannot be read."""
        return parse_uri(self.target)

    def to_bytes(self) -> bytes:
        """The bytes that say it, Content-Length always true; LocalError if they would say something else."""
        return self._bytes

    @View
    def _bytes(self) -> bytes:
        if not is_token(self.method) or not self.target or " " in self.target:
            raise LocalError("the method or the target would break the request line")
        return _printed(f"{self.method} {self.target} {self.version}", self.headers, self.body)

    def with_headers(self, headers: Headers) -> Self:
        """The same with other headers."""
        return type(self)(self.method, self.target, headers, self.body, self.version, self.faults)


@dataclass(frozen=True)
class Response:
    """A response (§7.2).

    Attributes:
        code: 100 to 699 where it is valid; three digits always.
        reason: any text, also none.
        faults: what reading found wrong; a response with faults is dropped.
    """

    code: int
    reason: str
    headers: Headers = field(default_factory=Headers)
    body: bytes = field(default=b"", repr=False)
    version: str = VERSION
    faults: tuple[PeerError, ...] = field(default=(), compare=False)

    @property
    def is_final(self) -> bool:
        """Whether it ends the transaction (§7.2: 2xx to 6xx)."""
        return self.code >= 200

    @property
    def is_success(self) -> bool:
        """Whether it is a 2xx."""
        return 200 <= self.code < 300

    def to_bytes(self) -> bytes:
        """The bytes that say it, Content-Length always true; LocalError if they would say something else."""
        return self._bytes

    @View
    def _bytes(self) -> bytes:
        if not 100 <= self.code <= 699:
            raise LocalError(f"{self.code} is no response code")
        return _printed(f"{self.version} {self.code} {self.reason}", self.headers, self.body)

    def with_headers(self, headers: Headers) -> Self:
        """The same with other headers."""
        return replace(self, headers=headers)


Message = Request | Response


def response_to(
    request: Request,
    code: int,
    reason: str = "",
    *,
    to_tag: str = "",
    headers: Iterable[tuple[str, str]] = (),
    body: bytes = b"",
) -> Response:
    """The response to a request: its Via, From, To, Call-ID and CSeq as they came (§8.2.6.2), then what is given.

    `to_tag` is added to To where To has none and can be read. A request with broken headers gets its answer as well.
    """
    kept = []
    for name, value in request.headers.pairs:
        if name == "To" and to_tag:
            kept.append((name, _tagged(request, value, to_tag)))
        elif name in _KEPT or (code == 100 and name == "Timestamp"):  # §8.2.6.1
            kept.append((name, value))
    return Response(code, reason or reason_of(code), Headers.of_checked((*kept, *Headers(headers).pairs)), body)


def _tagged(request: Request, to: str, tag: str) -> str:
    try:
        address = request.headers.to
    except PeerError:
        return to
    if to.endswith(">") and is_token(tag):
        return f"{to};tag={tag}"  # it has no parameters, and what follows the bracket is one
    return to if address.tag else str(NameAddr(address.uri, address.display, address.params.having("tag", tag)))


def _read_headers(lines: list[str]) -> tuple[Headers, list[PeerError]]:
    faults: list[PeerError] = []
    if len(lines) > MOST_HEADERS:
        faults.append(PeerError(f"more than {MOST_HEADERS} headers", code=513, clause="RFC 3261 §21.5.7"))
        del lines[MOST_HEADERS:]
    pairs: list[tuple[str, str]] = []
    for line in lines:
        name, colon, value = line.partition(":")
        known = SPELLINGS[name] if name in SPELLINGS else known_name(name)
        if known is None or not colon:
            faults.append(PeerError("a header line without a name and a colon", clause="RFC 3261 §7.3.1"))
        else:
            pairs.append((known, value.strip(SPACE)))
    return Headers.of_checked(tuple(pairs)), faults


def _read_request_line(line: str, faults: list[PeerError]) -> tuple[str, str, str]:
    """Method, target and version as they stand between single spaces (§7.1)."""
    if line.endswith((" ", "\t")):
        line = line.rstrip(SPACE)
        faults.append(PeerError("spaces at the end of the request line", clause="RFC 3261 §7.1"))
    method, _, rest = line.partition(" ")
    target, _, version = rest.rpartition(" ")
    if not _VERSION.fullmatch(version) or not method:
        raise PeerError("not a message of this protocol", clause="RFC 3261 §7.1")
    if not is_token(method):
        faults.append(PeerError("the method is no token", clause="RFC 3261 §7.1"))
    return method, target, version.upper()


def _read_head(head: bytes) -> Message:
    """Everything before the body. PeerError if the start line says neither request nor response."""
    text = head.decode("utf-8", "surrogateescape")
    faults: list[PeerError] = []
    if head.count(b"\n") + head.count(b"\r") != 2 * head.count(b"\r\n"):
        # Not healed: a line end that one hop sees and another does not lets a message say two things.
        faults.append(PeerError("a line end that is not CR and LF together", clause="RFC 3261 §7"))
        text = _LONE_LINE_END.sub(" ", text)
    if "\r\n " in text or "\r\n\t" in text:
        text = text.replace("\r\n ", " ").replace("\r\n\t", " ")  # §7.3.1: a folded line; spaces in a row mean one
    lines = text.split("\r\n")
    start = lines.pop(0)
    if start[:4].upper() == "SIP/":
        status = _STATUS.fullmatch(start)
        if status is None or len(status["code"]) != 3:
            raise PeerError("a response without a code of three digits", clause="RFC 3261 §7.2")
        headers, more = _read_headers(lines)
        reason = status["reason"] or ""
        return Response(
            int(status["code"]), reason, headers, version=status["version"].upper(), faults=(*faults, *more)
        )
    method, target, version = _read_request_line(start, faults)
    headers, more = _read_headers(lines)
    return Request(method, target, headers, version=version, faults=(*faults, *more))


def parse(data: bytes) -> Message:
    """Read the message in one datagram; bytes after its end are passed over (§18.3).

    Raises:
        PeerError: no message of this protocol, or larger than a datagram can be.
    """
    if len(data) > LARGEST_DATAGRAM_BYTES:
        raise PeerError("larger than a datagram can be", code=513, clause="RFC 3261 §18.1.1")
    data = data.lstrip(b"\r\n")  # §7.5
    head, blank, body = data.partition(b"\r\n\r\n")
    message = _read_head(head.removesuffix(b"\r\n") if not blank else head)
    if not blank:
        fault = PeerError("no empty line after the headers", clause="RFC 3261 §7")
        return replace(message, faults=(*message.faults, fault))
    try:
        length = message.headers.content_length
    except PeerError as error:
        return replace(message, body=body, faults=(*message.faults, error))
    if length is not None and length > len(body):
        fault = PeerError("the body is shorter than Content-Length says", clause="RFC 3261 §18.3")
        return replace(message, body=body, faults=(*message.faults, fault))
    if length is not None and length < len(body):
        body = body[:length]
    return replace(message, body=body) if body else message


class StreamReader:
    """Cuts a stream of bytes into messages (§18.3): there Content-Length is law.

    After a PeerError the stream cannot be cut any more: the connection is to be closed, further bytes are passed over.
    """

    def __init__(self, *, largest_body_bytes: int = LARGEST_DATAGRAM_BYTES) -> None:
        self._largest_body_bytes = largest_body_bytes
        self._buffer = bytearray()
        self._searched = 0  # up to here there is no empty line, so that byte by byte costs no more than at once
        self._waiting: Message | None = None  # its head is read, its body is not all there
        self._length = 0
        self._lost: PeerError | None = None  # why nothing after the message just read can be found
        self.broken: PeerError | None = None

    def receive(self, data: bytes) -> tuple[Message | PeerError, ...]:
        """What these bytes complete, in order. A PeerError is always last; the message before it may be answered."""
        if self.broken is not None:
            return ()
        self._buffer += data
        found: list[Message | PeerError] = []
        try:
            while (message := self._next()) is not None:
                found.append(message)
        except PeerError as error:
            self._break(error)
            found.append(error)
        return tuple(found)

    def end(self) -> PeerError | None:
        """The stream is closed: what that cut off, or None if nothing was under way."""
        if self.broken is None and (self._waiting is not None or self._buffer.strip(b"\r\n")):
            self._break(PeerError("the stream ended within a message", clause="RFC 3261 §18.3"))
            return self.broken
        return None

    def _break(self, error: PeerError) -> None:
        self.broken = error
        self._buffer.clear()
        self._waiting = None

    def _next(self) -> Message | None:
        if self._lost is not None:
            raise self._lost
        if self._waiting is None:
            self._waiting = self._head()
        message = self._waiting
        if message is None or len(self._buffer) < self._length:
            return None
        body = bytes(self._buffer[: self._length])
        del self._buffer[: self._length]
        self._waiting = None
        return replace(message, body=body) if body else message

    def _head(self) -> Message | None:
        if self._searched == 0:
            leading = _LEADING.match(self._buffer)  # §7.5; also what keeps a connection alive
            end = leading.end() if leading else 0
            del leading  # it holds the buffer
            del self._buffer[:end]
        end = self._buffer.find(b"\r\n\r\n", max(0, self._searched - 3))
        if end < 0 and len(self._buffer) <= LARGEST_DATAGRAM_BYTES:
            self._searched = len(self._buffer)
            return None
        if end < 0 or end > LARGEST_DATAGRAM_BYTES:
            raise PeerError("headers larger than any message's", code=513, clause="RFC 3261 §21.5.7")
        message = _read_head(bytes(self._buffer[:end]))
        del self._buffer[: end + 4]
        self._searched = 0
        self._length = 0
        try:
            self._length = self._body_length(message)
        except PeerError as fault:
            self._lost = fault  # the message may still be answered, so it comes first
            return replace(message, faults=(*message.faults, fault))
        return message

    def _body_length(self, message: Message) -> int:
        length = message.headers.content_length
        if length is None:
            raise PeerError("no Content-Length on a stream", clause="RFC 3261 §20.14")
        if length > self._largest_body_bytes:
            raise PeerError("a body larger than we take", code=513, clause="RFC 3261 §21.5.7")
        return length
