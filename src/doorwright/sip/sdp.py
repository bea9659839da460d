"""Descriptions of sessions (SDP, RFC 8866): read and printed line by line in the order of the grammar (§9).

Reading takes what RFC 4566 peers send as well (§9 there: zones after all times) and an empty session name (common
practice, and in the examples of many drafts). Any bytes give a description or a PeerError; what is printed reads back
as the same value. Text is UTF-8; other octets are kept (`surrogateescape`), as `a=charset` allows.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import TypeVar

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import bounded

Value = TypeVar("Value")

CONTENT_TYPE = "application/sdp"
LINES_MAX = 2000
"""More lines than any description needs, and few enough to read at once."""
_CLAUSE = "RFC 8866 §9"
_NUMBER_MAX = (1 << 64) - 1  # §5.2: NTP timestamps are recommended for the session's number and version
_TOKEN = re.compile(r"[!#$%&'*+\-.^_`{|}~0-9A-Za-z]+")  # RFC 8866 §9 token: others than those of RFC 3261 §25.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Origin:
    """Who made the session (§5.2); the version grows with each change (RFC 3264 §8)."""

    username: str = "-"
    session: int
    version: int
    address: str
    address_kind: str = "IP4"
    network: str = "IN"


@dataclass(frozen=True, slots=True, kw_only=True)
class Connection:
    """Where media are to be sent (§5.7); `address` may carry a multicast's "/ttl" and "/count" as written."""

    address: str
    address_kind: str = "IP4"
    network: str = "IN"


@dataclass(frozen=True, slots=True)
class Bandwidth:
    """A proposed bandwidth (§5.8): kbit/s for AS and CT."""

    kind: str
    value: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """When the session is on (§5.9), NTP seconds as written; repetitions and zones are kept as they stand."""

    start: int = 0
    stop: int = 0
    repeats: tuple[str, ...] = ()
    zones: str | None = None


@dataclass(frozen=True, slots=True)
class Attribute:
    """An attribute (§5.13): a property when the value is None."""

    name: str
    value: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Media:
    """One stream's part of a description (§5.14): port 0 is a stream that is refused or over."""

    kind: str
    port: int
    protocol: str
    formats: tuple[str, ...]
    ports_count: int | None = None
    title: str | None = None
    connections: tuple[Connection, ...] = ()
    bandwidths: tuple[Bandwidth, ...] = ()
    key: str | None = None
    attributes: tuple[Attribute, ...] = ()

    def values_of(self, name: str) -> tuple[str, ...]:
        """Return the values of all attributes of a name ("" for a property), in order."""
        return tuple(each.value or "" for each in self.attributes if each.name == name)


@dataclass(frozen=True, slots=True, kw_only=True)
class Description:
    """A whole session."""

    origin: Origin
    name: str = "-"
    title: str | None = None
    uri: str | None = None
    emails: tuple[str, ...] = ()
    phones: tuple[str, ...] = ()
    connection: Connection | None = None
    bandwidths: tuple[Bandwidth, ...] = ()
    times: tuple[Times, ...] = (Times(),)
    key: str | None = None
    attributes: tuple[Attribute, ...] = ()
    media: tuple[Media, ...] = ()

    def values_of(self, name: str) -> tuple[str, ...]:
        """Return the values of all session attributes of a name ("" for a property), in order."""
        return tuple(each.value or "" for each in self.attributes if each.name == name)

    def connection_of(self, media: Media) -> Connection | None:
        """Return where a stream is to be sent: its own line, else the session's (§5.7)."""
        return media.connections[0] if media.connections else self.connection

    def __bytes__(self) -> bytes:
        """Return the description as it is sent; a LocalError where a value cannot stand in its line."""
        lines = [f"{kind}={text}" for kind, text in _session_lines(self)]
        for line in lines:
            if any(each in line for each in "\r\n\0"):
                raise LocalError(f"the line {line[:2]} holds a line end or a zero octet")
        try:
            printed = ("\r\n".join(lines) + "\r\n").encode("utf-8", "surrogateescape")
            same = parse_description(printed) == self
        except UnicodeEncodeError as error:
            raise LocalError("the description holds half a character") from error
        except PeerError as error:
            raise LocalError(f"the description cannot be said: {error.problem}") from error
        if not same:
            raise LocalError("the description would be read as another one: a space stands in a word, or an empty text")
        return printed


def _session_lines(session: Description) -> Iterable[tuple[str, str]]:
    origin = session.origin
    yield "v", "0"
    yield (
        "o",
        f"{origin.username} {origin.session} {origin.version} {origin.network} {origin.address_kind} {origin.address}",
    )
    yield "s", session.name
    yield from _optional("i", session.title)
    yield from _optional("u", session.uri)
    yield from (("e", each) for each in session.emails)
    yield from (("p", each) for each in session.phones)
    yield from _connection_lines((session.connection,) if session.connection else ())
    yield from (("b", f"{each.kind}:{each.value}") for each in session.bandwidths)
    for times in session.times:
        yield "t", f"{times.start} {times.stop}"
        yield from (("r", each) for each in times.repeats)
        yield from _optional("z", times.zones)
    yield from _optional("k", session.key)
    yield from _attribute_lines(session.attributes)
    for media in session.media:
        ports = "" if media.ports_count is None else f"/{media.ports_count}"
        yield "m", f"{media.kind} {media.port}{ports} {media.protocol} {' '.join(media.formats)}"
        yield from _optional("i", media.title)
        yield from _connection_lines(media.connections)
        yield from (("b", f"{each.kind}:{each.value}") for each in media.bandwidths)
        yield from _optional("k", media.key)
        yield from _attribute_lines(media.attributes)


def _optional(kind: str, text: str | None) -> Iterable[tuple[str, str]]:
    return () if text is None else ((kind, text),)


def _connection_lines(connections: tuple[Connection, ...]) -> Iterable[tuple[str, str]]:
    return (("c", f"{each.network} {each.address_kind} {each.address}") for each in connections)


def _attribute_lines(attributes: tuple[Attribute, ...]) -> Iterable[tuple[str, str]]:
    return (("a", each.name if each.value is None else f"{each.name}:{each.value}") for each in attributes)


def parse_description(data: bytes) -> Description:
    """Return the session that the octets describe, or raise a PeerError that says which line is wrong."""
    lines = _Lines(data)
    if lines.needed("v", "the version") != "0":
        raise lines.wrong("the version of a description is 0")
    origin = _origin(lines)
    session_name = lines.needed("s", "the name of the session")
    title = lines.one("i")
    uri = lines.one("u")
    emails = lines.all("e")
    phones = lines.all("p")
    address = lines.one("c")
    connection = None if address is None else _connection(lines, address)
    bandwidths = lines.read_all("b", _bandwidth)
    times = _times(lines)
    key = lines.one("k")
    attributes = lines.read_all("a", _attribute)
    media = []
    while (text := lines.one("m")) is not None:
        media.append(_media(lines, text))
    lines.end()
    return Description(
        origin=origin,
        name=session_name,
        title=title,
        uri=uri,
        emails=emails,
        phones=phones,
        connection=connection,
        bandwidths=bandwidths,
        times=times,
        key=key,
        attributes=attributes,
        media=tuple(media),
    )


class _Lines:
    """The lines of a description, taken one kind after another as the grammar has them."""

    def __init__(self, data: bytes) -> None:
        text = data.decode("utf-8", "surrogateescape")
        if "\0" in text:
            raise PeerError("the description holds a zero octet", clause=_CLAUSE)
        # §5: lines end in CRLF; readers should take a single newline as well. The last may lack it (common practice).
        self._lines = text.removesuffix("\n").removesuffix("\r").split("\n") if text else []
        if len(self._lines) > LINES_MAX:
            raise PeerError(f"the description has more than {LINES_MAX} lines", code=413, clause="RFC 3261 §21.4.11")
        self._at = 0

    def one(self, kind: str) -> str | None:
        """Return what follows "kind=" and go on, or None when the next line is of another kind."""
        if self._at >= len(self._lines):
            return None
        line = self._lines[self._at]
        if line[:2] != f"{kind}=":
            return None
        self._at += 1
        text = line[2:].removesuffix("\r")
        if "\r" in text:
            raise self.wrong("a carriage return stands within the line")
        if not text and kind != "s":
            raise self.wrong("the line says nothing")
        return text

    def needed(self, kind: str, what: str) -> str:
        text = self.one(kind)
        if text is None:
            self._at += 1
            raise self.wrong(f"{what}, {kind}=, should stand here")
        return text

    def all(self, kind: str) -> tuple[str, ...]:
        found = []
        while (text := self.one(kind)) is not None:
            found.append(text)
        return tuple(found)

    def read_all(self, kind: str, read: Callable[["_Lines", str], Value]) -> tuple[Value, ...]:
        found = []
        while (text := self.one(kind)) is not None:
            found.append(read(self, text))
        return tuple(found)

    def words(self, text: str, count: int, what: str) -> list[str]:
        # §5: fields are parted by exactly one space
        words = text.split(" ")
        if len(words) != count or not all(words):
            raise self.wrong(f"{what} has {count} words with one space between them")
        return words

    def number(self, text: str, what: str, *, high: int = _NUMBER_MAX, low: int = 0) -> int:
        try:
            return bounded(text, what=what, high=high, low=low, clause=_CLAUSE)
        except PeerError as error:
            raise self.wrong(error.problem) from error

    def end(self) -> None:
        if self._at < len(self._lines):
            self._at += 1
            raise self.wrong("the line does not stand where the grammar has it")

    def wrong(self, problem: str) -> PeerError:
        """Return the error about the line taken last."""
        return PeerError(f"line {self._at} of the description: {problem}", clause=_CLAUSE)


def _origin(lines: _Lines) -> Origin:
    words = lines.words(lines.needed("o", "the origin"), 6, "the origin")
    return Origin(
        username=words[0],
        session=lines.number(words[1], "the number of the session"),
        version=lines.number(words[2], "the version of the session"),
        network=words[3],
        address_kind=words[4],
        address=words[5],
    )


def _connection(lines: _Lines, text: str) -> Connection:
    network, address_kind, address = lines.words(text, 3, "a connection")
    return Connection(network=network, address_kind=address_kind, address=address)


def _bandwidth(lines: _Lines, text: str) -> Bandwidth:
    kind, colon, value = text.partition(":")
    if not colon or not _TOKEN.fullmatch(kind):
        raise lines.wrong("a bandwidth is a word, a colon and a number")
    return Bandwidth(kind, lines.number(value, "the bandwidth"))


def _times(lines: _Lines) -> tuple[Times, ...]:
    times = []
    text: str | None = lines.needed("t", "the time of the session")
    while text is not None:
        start, stop = lines.words(text, 2, "a time")
        # RFC 8866 has the zones behind the repetitions they belong to, RFC 4566 behind the last time: one place here
        times.append(
            Times(
                start=lines.number(start, "the start"),
                stop=lines.number(stop, "the stop"),
                repeats=lines.all("r"),
                zones=lines.one("z"),
            )
        )
        text = lines.one("t")
    return tuple(times)


def _attribute(lines: _Lines, text: str) -> Attribute:
    attribute_name, colon, value = text.partition(":")
    if not _TOKEN.fullmatch(attribute_name):
        raise lines.wrong("an attribute has no proper name")
    if colon and not value:
        raise lines.wrong("an attribute with a colon has no value")
    return Attribute(attribute_name, value if colon else None)


def _media(lines: _Lines, text: str) -> Media:
    words = text.split(" ")
    if len(words) < 4 or not all(words):
        raise lines.wrong("a stream has a kind, a port, a protocol and at least one format, one space between them")
    kind, ports, protocol, *formats = words
    if not _TOKEN.fullmatch(kind) or not all(map(_TOKEN.fullmatch, protocol.split("/"))):
        raise lines.wrong("the kind or the protocol of a stream is no proper word")
    if not all(map(_TOKEN.fullmatch, formats)):
        raise lines.wrong("a format of a stream is no proper word")
    port, slash, ports_count = ports.partition("/")
    return Media(
        kind=kind,
        port=lines.number(port, "the port", high=65535),
        ports_count=lines.number(ports_count, "the count of ports", low=1, high=65535) if slash else None,
        protocol=protocol,
        formats=tuple(formats),
        title=lines.one("i"),
        connections=lines.read_all("c", _connection),
        bandwidths=lines.read_all("b", _bandwidth),
        key=lines.one("k"),
        attributes=lines.read_all("a", _attribute),
    )
