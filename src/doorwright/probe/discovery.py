"""WS-Discovery (April 2005, as the ONVIF core specification has it; from memory): who is there, by their own words.

A Probe goes to one address of the plan, or once to the local network. A device answers with a ProbeMatch: its endpoint,
which is its own for good, and scopes, in which many tell their MAC address or serial number.
"""

import asyncio
import re
import socket
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final
from urllib.parse import unquote
from uuid import UUID
from xml.parsers import expat

from doorwright.line.udp import Address
from doorwright.probe.reach import Outcome, outcome_of

PORT: Final = 3702
EVERYBODY: Final[Address] = ("239.255.255.250", PORT)
"""The group that a Probe to the whole local network goes to (§2.4)."""
LISTEN_S: Final = 3.0
"""For how long answers are awaited; each device waits up to half a second before it speaks (§3.1.3, APP_MAX_DELAY)."""
MOST_BYTES: Final = 32 * 1024
MOST_ANSWERS: Final = 2000
"""What is taken of a network: more than any local network of units has."""
_MOST_DEEP: Final = 24
_MOST_ELEMENTS: Final = 1000

_SOAP: Final = "http://www.w3.org/2003/05/soap-envelope"
_ADDRESSING: Final = "http://schemas.xmlsoap.org/ws/2004/08/addressing"
_DISCOVERY: Final = "http://schemas.xmlsoap.org/ws/2005/04/discovery"
_HOP: Final = 1  # §2.4: a Probe stays on its network

_MAC: Final = re.compile(
    r"(?<![0-9A-Fa-f])(?:[0-9A-Fa-f]{12}|[0-9A-Fa-f]{2}([:-])(?:[0-9A-Fa-f]{2}\1){4}[0-9A-Fa-f]{2})(?![0-9A-Fa-f])"
)
_BETWEEN_WORDS: Final = re.compile(r"[^0-9A-Za-z._-]+")


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """What a device says of itself.

    Attributes:
        address: from where it said so.
        endpoint: the address of its endpoint reference, mostly a UUID that never changes.
        scopes: what it says of itself, as URIs.
    """

    address: str
    endpoint: str
    scopes: tuple[str, ...] = ()

    @property
    def macs(self) -> frozenset[str]:
        """Every MAC address that could be meant; many devices end their UUID in their own."""
        return frozenset(
            "-".join(hexes[at : at + 2] for at in range(0, 12, 2))
            for text in (self.endpoint, *(unquote(scope) for scope in self.scopes))
            for found in _MAC.finditer(text)
            for hexes in [re.sub("[:-]", "", found[0]).upper()]
        )

    @property
    def words(self) -> frozenset[str]:
        """Every word that could be a serial number, as it is and in capitals."""
        return frozenset(
            form
            for text in (self.endpoint, *(unquote(scope) for scope in self.scopes))
            for word in _BETWEEN_WORDS.split(text)
            for form in (word, word.upper())
            if word
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Discovered:
    """What came of a Probe to one address."""

    outcome: Outcome
    matches: tuple[Match, ...] = ()


def probe_of(token: bytes) -> tuple[bytes, str]:
    """Return a Probe for whatever is there, and the identifier that an answer must relate to.

    Args:
        token: 16 bytes of chance.
    """
    ident = UUID(bytes=token, version=4).urn
    message = (
        '<?xml version="1.0" encoding="UTF-8"?>'
        f'<s:Envelope xmlns:s="{_SOAP}" xmlns:a="{_ADDRESSING}" xmlns:d="{_DISCOVERY}"><s:Header>'
        f'<a:Action s:mustUnderstand="1">{_DISCOVERY}/Probe</a:Action><a:MessageID>{ident}</a:MessageID>'
        '<a:To s:mustUnderstand="1">urn:schemas-xmlsoap-org:ws:2005:04:discovery</a:To>'
        "</s:Header><s:Body><d:Probe/></s:Body></s:Envelope>"
    )
    return message.encode(), ident


def read_matches(data: bytes, *, relates_to: str, address: str) -> tuple[Match, ...] | None:
    """Read an answer; None where it is none to our Probe, is too large, or holds what no answer needs.

    A document type is refused before anything in it is looked at: there are no entities (CWE-776, CWE-611).

    Args:
        data: the datagram.
        relates_to: the identifier of the Probe.
        address: where it came from.
    """
    if len(data) > MOST_BYTES:
        return None
    reading = _Reading()
    try:
        reading.parser.Parse(data, True)
    except (expat.ExpatError, _RefusedError, ValueError, LookupError):
        return None
    if reading.relates_to != relates_to or not reading.is_answer:
        return None
    return tuple(
        Match(address=address, endpoint=endpoint, scopes=tuple(scopes.split())) for endpoint, scopes in reading.found
    )


class _RefusedError(Exception):
    """There is more in it than an answer has."""


class _Reading:
    """Reads elements as they come, without building a tree."""

    def __init__(self) -> None:
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartDoctypeDeclHandler = self._refuse
        self.parser.EntityDeclHandler = self._refuse
        self.parser.StartElementHandler = self._begin
        self.parser.EndElementHandler = self._end
        self.parser.CharacterDataHandler = self._say
        self.relates_to = ""
        self.is_answer = False
        self.found: list[tuple[str, str]] = []
        self._path: list[str] = []
        self._count = 0
        self._text: list[str] = []
        self._endpoint = self._scopes = ""

    def _refuse(self, *_: Any) -> None:
        raise _RefusedError

    def _begin(self, name: str, _: Any) -> None:
        self._count += 1
        self._path.append(name)
        if len(self._path) > _MOST_DEEP or self._count > _MOST_ELEMENTS:
            raise _RefusedError
        self._text = []
        if name == f"{_DISCOVERY} ProbeMatch":
            self._endpoint = self._scopes = ""

    def _say(self, text: str) -> None:
        self._text.append(text)

    def _end(self, name: str) -> None:
        text, self._text = "".join(self._text).strip(), []
        self._path.pop()
        inside = self._path[-1] if self._path else ""
        if name == f"{_ADDRESSING} RelatesTo":
            self.relates_to = text
        elif name == f"{_ADDRESSING} Address" and inside == f"{_ADDRESSING} EndpointReference":
            self._endpoint = text
        elif name == f"{_DISCOVERY} Scopes":
            self._scopes = text
        elif name == f"{_DISCOVERY} ProbeMatch" and self._endpoint:
            self.found.append((self._endpoint, self._scopes))
        elif name == f"{_DISCOVERY} ProbeMatches":
            self.is_answer = True


async def ask_discovery(
    address: str, *, patience_s: float, chance: Callable[[int], bytes], port: int = PORT
) -> Discovered:
    """Send a Probe to one address alone, and return what it says of itself.

    Args:
        address: an IP address.
        patience_s: how long to wait.
        chance: returns that many bytes that nobody can foretell.
        port: the UDP port.
    """
    loop = asyncio.get_running_loop()
    message, ident = probe_of(chance(16))
    heard: asyncio.Future[Discovered] = loop.create_future()
    try:
        transport, _ = await loop.create_datagram_endpoint(
            lambda: _OneAnswer(heard, ident, address), remote_addr=(address, port)
        )
    except OSError as error:
        return Discovered(outcome=outcome_of(error))
    try:
        transport.sendto(message)
        async with asyncio.timeout(patience_s):
            return await heard
    except TimeoutError:
        return Discovered(outcome=Outcome.SILENT)
    finally:
        transport.close()


class _OneAnswer(asyncio.DatagramProtocol):
    """Waits for an answer of the one address that the socket is connected to; what is none is passed over."""

    def __init__(self, heard: "asyncio.Future[Discovered]", ident: str, address: str) -> None:
        self._heard = heard
        self._ident = ident
        self._address = address

    def datagram_received(self, data: bytes, _: Any) -> None:
        matches = read_matches(data, relates_to=self._ident, address=self._address)
        if matches is not None and not self._heard.done():
            self._heard.set_result(Discovered(outcome=Outcome.ANSWERED, matches=matches))

    def error_received(self, exc: Exception) -> None:
        if isinstance(exc, OSError) and not self._heard.done():
            self._heard.set_result(Discovered(outcome=outcome_of(exc)))


async def discover(
    towards: str, *, chance: Callable[[int], bytes], listen_s: float = LISTEN_S, everybody: Address = EVERYBODY
) -> tuple[Match, ...]:
    """Send one Probe to the local network, and return who answers, each once.

    Args:
        towards: an IPv4 address of the plan: the Probe leaves on the network that leads there.
        chance: returns that many bytes that nobody can foretell.
        listen_s: how long to listen.
        everybody: the group and its port.

    Raises:
        OSError: this machine has no way there.
    """
    loop = asyncio.get_running_loop()
    message, ident = probe_of(chance(16))
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asking:
        asking.connect((towards, everybody[1]))  # sends nothing: it tells which address of ours leads there
        ours = asking.getsockname()[0]
    raw = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    try:
        raw.setblocking(False)
        raw.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(ours))
        raw.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_TTL, _HOP)
        raw.bind((ours, 0))
        hearing = _ManyAnswers(ident)
        transport, _ = await loop.create_datagram_endpoint(lambda: hearing, sock=raw)
    except BaseException:
        raw.close()
        raise
    try:
        transport.sendto(message, everybody)
        with suppress(TimeoutError):
            async with asyncio.timeout(listen_s):
                await hearing.full.wait()
    finally:
        transport.close()
    return tuple(hearing.matches)


class _ManyAnswers(asyncio.DatagramProtocol):
    """Collects answers, each device's once, until there are more than a network of units has."""

    def __init__(self, ident: str) -> None:
        self._ident = ident
        self.full = asyncio.Event()
        self.matches: dict[Match, None] = {}

    def datagram_received(self, data: bytes, addr: tuple[Any, ...]) -> None:
        if not self.full.is_set():
            for match in read_matches(data, relates_to=self._ident, address=addr[0]) or ():
                self.matches[match] = None
        if len(self.matches) >= MOST_ANSWERS:
            self.full.set()

    def error_received(self, exc: Exception) -> None:
        """Take no notice: somebody's port was closed."""
