"""Addresses: `sip:` and `sips:` in full, every other scheme as it came; and addresses with a name (§19.1, §20.10)."""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import lru_cache
from ipaddress import IPv6Address
from urllib.parse import unquote_to_bytes

from doorwright.sip.errors import PeerError
from doorwright.sip.grammar import (
    SPACE,
    Parameters,
    bounded,
    is_token,
    opening_quoted,
    quote,
    split_list,
    unquote,
)

_HEX = "%[0-9A-Fa-f]{2}"
_MARK = r"A-Za-z0-9\-_.!~*'()"  # §25.1 unreserved
_USER = re.compile(rf"(?:[{_MARK}&=+$,;?/]|{_HEX})++")
_PASSWORD = re.compile(rf"(?:[{_MARK}&=+$,]|{_HEX})*+")
_PARAMETER = re.compile(rf"(?:[{_MARK}\[\]/:&+$]|{_HEX})++")
_HEADER = re.compile(rf"(?:[{_MARK}\[\]/?:+$]|{_HEX})*+")
_SCHEME = re.compile(r"[A-Za-z][A-Za-z0-9+\-.]*+")
# §25.1 reserved, unreserved and escaped: what any absolute URI is made of, and "#[]" of RFC 3986
_ABSOLUTE = re.compile(rf"(?:[{_MARK};/?:@&=+$,#\[\]]|{_HEX})++")
# A host name; the underscore is against the grammar and common practice in local networks.
_HOST = re.compile(r"[A-Za-z0-9_](?:[A-Za-z0-9_\-.]*+)")
_ESCAPE = re.compile(_HEX)
_UNRESERVED = re.compile(f"[{_MARK}]")
_CLAUSE = "RFC 3261 §19.1.1"
_LATEST_COUNT = 4096


def read_host_port(text: str) -> tuple[str, int | None]:
    """Host (an IPv6 address keeps its brackets) and port; spaces may stand around the colon as in a Via (§25.1).

    Raises:
        PeerError: no host, a host with other letters, or a port that is not 1 to 65535.
    """
    if text.startswith("["):
        inner, closed, rest = text[1:].partition("]")
        host = f"[{inner}]"
        try:
            IPv6Address(inner)
        except ValueError:
            closed = ""
        if not closed or "%" in inner:  # a zone has no place in a message (RFC 5118 has none)
            raise PeerError("an address in brackets is not one of IPv6", clause="RFC 3261 §25.1")
        rest = rest.lstrip(SPACE)
        if rest and not rest.startswith(":"):
            raise PeerError("something stands between host and port", clause="RFC 3261 §25.1")
        port = rest[1:] if rest else None
    else:
        host, colon, rest = text.partition(":")
        host, port = host.rstrip(SPACE), rest if colon else None
        if not _HOST.fullmatch(host):
            raise PeerError("the host is missing or holds letters that no host has", clause="RFC 3261 §25.1")
    if port is None:
        return host, None
    return host, bounded(port.strip(SPACE), what="the port", low=1, high=65535)


@dataclass(frozen=True, slots=True)
class OpaqueUri:
    """An address of a scheme that we do not read, `tel:` among them; it is carried and compared letter by letter."""

    scheme: str
    rest: str

    def __str__(self) -> str:
        return f"{self.scheme}:{self.rest}"


@dataclass(frozen=True, slots=True, kw_only=True)
class SipUri:
    """An address of the schemes sip and sips (§19.1.1). User, password, parameters and headers stay escaped as written.

    Attributes:
        host: name, IPv4 address, or IPv6 address with its brackets.
        port: None if not written (which differs from 5060: §19.1.4).
        headers: names and values after the question mark.
    """

    scheme: str = "sip"
    user: str | None = None
    password: str | None = None
    host: str
    port: int | None = None
    params: Parameters = field(default_factory=Parameters)
    headers: tuple[tuple[str, str], ...] = ()

    @property
    def user_text(self) -> str:
        """The user with its escapes resolved; bytes that are no UTF-8 survive as surrogates."""
        user = self.user or ""
        return unquote_to_bytes(user).decode("utf-8", "surrogateescape") if "%" in user else user

    @property
    def host_port(self) -> str:
        """Host, and port where there is one, as written in an address."""
        return self.host if self.port is None else f"{self.host}:{self.port}"

    def __str__(self) -> str:
        password = "" if self.password is None else f":{self.password}"
        user = "" if self.user is None else f"{self.user}{password}@"
        headers = "&".join(f"{name}={value}" for name, value in self.headers)
        return f"{self.scheme}:{user}{self.host_port}{self.params}{'?' + headers if headers else ''}"


Uri = SipUri | OpaqueUri


def _uri_parameters(text: str) -> Parameters:
    """The part from the first semicolon on, read by the narrower grammar of addresses: no quotes, no spaces."""
    pairs: list[tuple[str, str | None]] = []
    seen: set[str] = set()
    for piece in text.split(";")[1:]:
        name, equals, value = piece.partition("=")
        if not _PARAMETER.fullmatch(name) or (equals and not _PARAMETER.fullmatch(value)):
            raise PeerError("a parameter of an address is empty or holds letters it must escape", clause=_CLAUSE)
        if name.lower() in seen:
            raise PeerError(f"the parameter {name} stands twice in an address", clause=_CLAUSE)
        seen.add(name.lower())
        pairs.append((name, value if equals else None))
    return Parameters(tuple(pairs))


def _uri_headers(text: str) -> tuple[tuple[str, str], ...]:
    pairs: list[tuple[str, str]] = []
    for piece in text.split("&"):
        name, equals, value = piece.partition("=")
        if not equals or not name or not _HEADER.fullmatch(name) or not _HEADER.fullmatch(value):
            raise PeerError("a header in an address is empty or holds letters it must escape", clause=_CLAUSE)
        pairs.append((name, value))
    return tuple(pairs)


@lru_cache(maxsize=_LATEST_COUNT)
def parse_uri(text: str) -> Uri:
    """Read an address that stands alone, as on a request line or between angle brackets.

    The latest ones are remembered: the same few stand in most messages.

    Raises:
        PeerError: no scheme, or letters that must be escaped; a space anywhere is one.
    """
    scheme, colon, rest = text.partition(":")
    if not colon or not _SCHEME.fullmatch(scheme):
        raise PeerError("an address without a scheme", clause=_CLAUSE)
    scheme = scheme.lower()  # §19.1.4: schemes are compared without regard to case
    if scheme not in {"sip", "sips"}:
        if not _ABSOLUTE.fullmatch(rest):
            raise PeerError("an address is empty or holds letters that must be escaped", clause="RFC 3261 §25.1")
        return OpaqueUri(scheme, rest)
    user: str | None = None
    password: str | None = None
    if "@" in rest:
        userinfo, _, rest = rest.partition("@")
        user, has_password, secret = userinfo.partition(":")
        password = secret if has_password else None
        if not _USER.fullmatch(user) or not _PASSWORD.fullmatch(secret):
            raise PeerError("the user part of an address is empty or holds letters it must escape", clause=_CLAUSE)
    rest, question, header_text = rest.partition("?")
    host_text, semicolon, param_text = rest.partition(";")
    if SPACE[0] in host_text or SPACE[1] in host_text:
        raise PeerError("a space in an address", clause=_CLAUSE)
    host, port = read_host_port(host_text)
    return SipUri(
        scheme=scheme,
        user=user,
        password=password,
        host=host,
        port=port,
        params=_uri_parameters(semicolon + param_text) if semicolon else Parameters(),
        headers=_uri_headers(header_text) if question else (),
    )


def _plain(text: str) -> str:
    """The text with needless escapes resolved and the others in one spelling, so that equal parts are equal texts."""

    def resolve(found: re.Match[str]) -> str:
        letter = chr(int(found[0][1:], 16))
        return letter if _UNRESERVED.fullmatch(letter) else found[0].upper()

    return _ESCAPE.sub(resolve, text) if "%" in text else text


# An address that has one of these matches none that lacks it. §19.1.4 names user, ttl, method and maddr in its rules;
# transport is in its examples ("can resolve to different transports"), against "all others are ignored": they win.
_DECISIVE = ("user", "ttl", "method", "maddr", "transport")


def equivalent(one: Uri, other: Uri) -> bool:
    """Whether two addresses mean the same by §19.1.4. This is no equality: it is not transitive, as it says itself."""
    if one == other or isinstance(one, OpaqueUri) or isinstance(other, OpaqueUri):
        return one == other
    blind: Callable[[str], str] = str.lower
    if (
        one.scheme != other.scheme
        or one.port != other.port
        or blind(one.host) != blind(other.host)
        or (one.user is None) != (other.user is None)
        or _plain(one.user or "") != _plain(other.user or "")
        or (one.password is None) != (other.password is None)
        or _plain(one.password or "") != _plain(other.password or "")
    ):
        return False
    mine = {blind(_plain(name)): blind(_plain(value or "")) for name, value in one.params}
    theirs = {blind(_plain(name)): blind(_plain(value or "")) for name, value in other.params}
    if any((name in mine) != (name in theirs) for name in _DECISIVE):
        return False
    if any(mine[name] != theirs[name] for name in mine.keys() & theirs.keys()):
        return False
    return sorted((blind(_plain(name)), _plain(value)) for name, value in one.headers) == sorted(
        (blind(_plain(name)), _plain(value)) for name, value in other.headers
    )


@dataclass(frozen=True, slots=True)
class NameAddr:
    """An address with a display name and parameters of the header: To, From, Contact, Route, Record-Route.

    Attributes:
        display: the name without quotes; "" if there is none.
        params: those of the header, never those of the address (§20.10).
    """

    uri: Uri
    display: str = ""
    params: Parameters = field(default_factory=Parameters)

    @property
    def tag(self) -> str | None:
        """The tag of a To or From; None if there is none."""
        return self.params.get("tag")

    def __str__(self) -> str:
        # Always in brackets: without them a semicolon, comma or question mark would change sides (§20.10).
        name = f"{quote(self.display)} " if self.display else ""
        return f"{name}<{self.uri}>{self.params}"


@lru_cache(maxsize=_LATEST_COUNT)
def parse_name_addr(text: str) -> NameAddr:
    """Read `"Name" <address>;param` or `address;param`; the latest are remembered, as all messages of a call say them.

    Raises:
        PeerError: an unclosed quote or bracket, an unquoted name that is not made of tokens, a space inside the
            address, or an address without brackets that needs them.
    """
    text = text.strip(SPACE)
    display = ""
    if text.startswith('"'):
        end = opening_quoted(text)
        display, text = unquote(text[:end]), text[end:].lstrip(SPACE)
        if not text.startswith("<"):
            raise PeerError("no address after the display name", clause="RFC 3261 §25.1")
    elif "<" in text and (";" not in text or text.index("<") < text.index(";")):
        name, _, text = text.partition("<")
        words = [word for word in name.replace("\t", " ").split(" ") if word]
        if not all(map(is_token, words)):
            raise PeerError("a display name with such letters must be quoted", clause="RFC 3261 §25.1")
        display, text = " ".join(words), "<" + text
    if text.startswith("<"):
        address, closed, rest = text[1:].partition(">")
        if not closed:
            raise PeerError("an angle bracket is never closed", clause="RFC 3261 §25.1")
        rest = rest.lstrip(SPACE)
        if rest and not rest.startswith(";"):
            raise PeerError("something other than parameters stands after an address", clause="RFC 3261 §25.1")
        return NameAddr(parse_uri(address), display, Parameters.read(rest))
    pieces = split_list(text, ";")
    if "?" in pieces[0] or "," in pieces[0]:
        raise PeerError("an address with a question mark or comma must stand in brackets", clause="RFC 3261 §20.10")
    return NameAddr(parse_uri(pieces[0]), "", Parameters.from_pieces(pieces[1:]))
