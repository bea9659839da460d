"""The headers of a message: ordered, blind to case and compact names, read no further than somebody asks (§7.3, §20).

A header is kept as the text that stood after its colon, unfolded. The properties read it when they are first asked;
what cannot be read raises PeerError there, and `validate` asks for all that matter.
"""

import re
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Self

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import SPACE, TOKEN, Parameters, bounded, is_token, split_list
from doorwright.sip.names import FOLDED, canonical, folded
from doorwright.sip.uri import NameAddr, parse_name_addr, read_host_port
from doorwright.sip.view import View

_VIEWS = {
    "call-id": ("call_id",),
    "contact": ("contacts", "contact_star"),
    "content-length": ("content_length",),
    "content-type": ("content_type",),
    "cseq": ("cseq",),
    "expires": ("expires_s",),
    "from": ("from_",),
    "max-forwards": ("max_forwards",),
    "record-route": ("record_routes",),
    "retry-after": ("retry_after_s",),
    "route": ("routes",),
    "to": ("to",),
    "via": ("via", "vias"),
}
"""The properties of `Headers` that read a header, by its small name: what must be read again where that one changed."""

_VIA = re.compile(
    rf"(?P<name>{TOKEN})[ \t]*+/[ \t]*+(?P<version>{TOKEN})[ \t]*+/[ \t]*+(?P<transport>{TOKEN})[ \t]++(?P<rest>.*)",
    re.DOTALL,
)
_CSEQ = re.compile(r"(?P<number>[^ \t]++)[ \t]++(?P<method>[^ \t]++)")
_MEDIA_TYPE = re.compile(r"([^\s/;]++)[ \t]*+/[ \t]*+([^\s/;]++)")
_CALL_ID = re.compile(r"[^\x00-\x20\x7f]++")  # looser than word ["@" word]: it is only ever compared
_DELTA = re.compile(r"([0-9]++)[ \t]*+(.*)", re.DOTALL)
HIGHEST_SEQUENCE = 2**32 - 1  # §20.16 says below 2**31 for the sender; §25.1 and RFC 4475 §3.1.2.4 bound what is read
HIGHEST_SECONDS = 2**32 - 1  # §20.19
DEFAULT_EXPIRES_S = 3600  # §10.2.1.1 and RFC 4475 §3.1.2.4: an unreadable time counts as this
COOKIE = "z9hG4bK"  # §8.1.1.7
_SMALL_COOKIE = COOKIE.lower()
_LATEST_COUNT = 4096


@dataclass(frozen=True, kw_only=True)
class Via:
    """One hop of a Via (§20.42).

    Attributes:
        transport: in capitals, "UDP" or "TCP"; others are carried.
        host: the sent-by, an IPv6 address with its brackets.
        port: None if not written.
    """

    transport: str
    host: str
    port: int | None = None
    params: Parameters = field(default_factory=Parameters)
    version: str = "2.0"

    @View
    def branch(self) -> str:
        """The branch as written; "" if there is none."""
        return self.params.get("branch") or ""

    @property
    def names_transaction(self) -> bool:
        """Whether the branch is one of RFC 3261: the cookie and something after it (§17.2.3, RFC 4475 §3.2.1)."""
        return len(self.branch) > len(COOKIE) and self.branch[: len(COOKIE)].lower() == _SMALL_COOKIE

    @property
    def received(self) -> str | None:
        """The address that the message really came from, as the receiver wrote it; None if it did not (§18.2.1)."""
        return self.params.get("received")

    @property
    def wants_rport(self) -> bool:
        """Whether answers shall go back to the port that the request came from (RFC 3581 §3)."""
        return "rport" in self.params

    @property
    def rport(self) -> int | None:
        """The port that the message really came from, once the receiver wrote it (RFC 3581 §4)."""
        value = self.params.get("rport")
        return bounded(value, what="rport", low=1, high=65535, clause="RFC 3581 §4") if value else None

    @classmethod
    def read(cls, text: str) -> Self:
        """Read one hop; PeerError if it is none."""
        sender, semicolon, params = text.partition(";")
        version, transport, host, port = _read_sender(sender.strip(SPACE))
        read = Parameters.read(semicolon + params)
        return cls(transport=transport, host=host, port=port, params=read, version=version)

    def __str__(self) -> str:
        port = "" if self.port is None else f":{self.port}"
        return f"SIP/{self.version}/{self.transport} {self.host}{port}{self.params}"


@lru_cache(maxsize=_LATEST_COUNT)
def _read_sender(text: str) -> tuple[str, str, str, int | None]:
    """Version, transport, host and port of a Via; the latest are remembered, for a sender says always the same."""
    found = _VIA.fullmatch(text)
    if found is None:
        raise PeerError("a Via that does not say protocol, version, transport and sender", clause="RFC 3261 §20.42")
    if found["name"].upper() != "SIP":
        raise PeerError("a Via of another protocol", clause="RFC 3261 §20.42")
    host, port = read_host_port(found["rest"])
    return found["version"], found["transport"].upper(), host, port


@dataclass(frozen=True, slots=True)
class CSeq:
    """The number and method that order requests within a dialog (§20.16)."""

    number: int
    method: str

    def __str__(self) -> str:
        return f"{self.number} {self.method}"


@lru_cache(maxsize=_LATEST_COUNT)
def _read_cseq(text: str) -> CSeq:
    """Number and method; the latest are remembered, for most begin a dialog or follow a challenge."""
    found = _CSEQ.fullmatch(text)
    if found is None or not is_token(found["method"]):
        raise PeerError("CSeq is not a number and a method", clause="RFC 3261 §20.16")
    number = bounded(found["number"], what="the number in CSeq", high=HIGHEST_SEQUENCE, clause="RFC 3261 §20.16")
    return CSeq(number, found["method"])


def _checked(name: str, value: str) -> tuple[str, str]:
    """Name and value as they are kept; LocalError if they would break the message."""
    if (name not in FOLDED and not is_token(name)) or "\r" in value or "\n" in value:
        raise LocalError(f"the header {name!r} has a name or a value that would break the message")
    return canonical(name), value.strip(SPACE)


class Headers:
    """Headers in their order. Never changed: what alters them returns new ones.

    Names may be given in any case and compact; they are kept as RFC 3261 writes them, unknown ones as they came.
    """

    def __init__(self, pairs: Iterable[tuple[str, str]] = ()) -> None:
        self._pairs = tuple([_checked(name, value) for name, value in pairs])

    @classmethod
    def of_checked(cls, pairs: tuple[tuple[str, str], ...]) -> Self:
        """Headers from pairs that are known to be canonical, stripped and without line breaks: the reader's way."""
        made = cls.__new__(cls)
        made._pairs = pairs  # noqa: SLF001  (its own)
        return made

    def _altered(self, name: str, pairs: tuple[tuple[str, str], ...], lines: tuple[str, ...]) -> Self:
        """Headers from these pairs, which differ in that name only, and the texts that it has in them.

        What was read of other names stays known.
        """
        wanted = folded(name)
        made = type(self).__new__(type(self))
        known = vars(made)
        known |= vars(self)
        for view in _VIEWS.get(wanted, ()):
            known.pop(view, None)
        by_name = {**self._by_name, wanted: lines}
        if not lines:
            del by_name[wanted]
        known |= {"_pairs": pairs, "_by_name": by_name}
        return made

    @View
    def _by_name(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for name, value in self._pairs:
            small = FOLDED[name] if name in FOLDED else name.lower()
            found[small] = (*found[small], value) if small in found else (value,)
        return found

    @property
    def names(self) -> Collection[str]:
        """The names that there are, in small letters, each once."""
        return self._by_name.keys()

    def get(self, name: str) -> str | None:
        """The text of the first header of that name; None if there is none."""
        lines = self._by_name.get(folded(name))
        return lines[0] if lines else None

    def all(self, name: str) -> tuple[str, ...]:
        """The texts of all headers of that name, one for each line, unsplit (as challenges need it, §7.3.1)."""
        return self._by_name.get(folded(name), ())

    def values(self, name: str) -> tuple[str, ...]:
        """The values of all headers of that name, split at their commas, in order; empty ones are kept.

        Raises:
            PeerError: a quotation mark or an angle bracket is never closed.
        """
        lines = self._by_name.get(folded(name), ())
        if len(lines) == 1:
            return split_list(lines[0])
        return tuple([value for line in lines for value in split_list(line)])

    def tokens(self, name: str) -> tuple[str, ...]:
        """The tokens of a list such as Require, Supported or Allow; empty ones are passed over (§25.1 allows none)."""
        return tuple([value for value in self.values(name) if value])

    def having(self, name: str, *values: str) -> Self:
        """The same with these as the only headers of that name, where the first of them stood or else at the end."""
        made = [_checked(name, value) for value in values]
        lines = tuple([value for _, value in made])
        wanted = folded(name)
        kept: list[tuple[str, str]] = []
        for pair in self._pairs:
            if pair[0].lower() != wanted:
                kept.append(pair)
            else:
                kept += made
                made = []
        return self._altered(name, (*kept, *made), lines)

    def having_top(self, via: Via) -> Self:
        """The same with another latest hop; those behind it stay as they are written."""
        first, *others = self._by_name["via"]
        top = _checked("Via", ", ".join([str(via), *split_list(first)[1:]]))
        at = self._pairs.index(("Via", first))
        made = self._altered("Via", (*self._pairs[:at], top, *self._pairs[at + 1 :]), (top[1], *others))
        vars(made)["via"] = via
        return made

    def adding(self, name: str, value: str) -> Self:
        """The same with one more header at the end."""
        made = _checked(name, value)
        return self._altered(name, (*self._pairs, made), (*self.all(name), made[1]))

    def leading(self, name: str, value: str) -> Self:
        """The same with one more header before all others, as each hop adds its Via and Record-Route (§16.6)."""
        made = _checked(name, value)
        return self._altered(name, (made, *self._pairs), (made[1], *self.all(name)))

    def without(self, name: str) -> Self:
        """The same without the headers of that name."""
        if name not in self:
            return self
        wanted = folded(name)
        return self._altered(name, tuple([pair for pair in self._pairs if pair[0].lower() != wanted]), ())

    @property
    def pairs(self) -> tuple[tuple[str, str], ...]:
        """Names and texts, in order."""
        return self._pairs

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and folded(name) in self._by_name

    def __iter__(self) -> Iterator[tuple[str, str]]:
        return iter(self._pairs)

    def __len__(self) -> int:
        return len(self._pairs)

    def _folded(self) -> tuple[tuple[str, str], ...]:
        return tuple((name.lower(), value) for name, value in self._pairs)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Headers) and self._folded() == other._folded()

    def __hash__(self) -> int:
        return hash(self._folded())

    def __repr__(self) -> str:
        # Names only: a text may hold credentials, and a repr may reach a log.
        return f"Headers({', '.join(name for name, _ in self._pairs)})"

    # What follows reads one header each and keeps what it read.

    def _one(self, name: str, clause: str) -> str:
        lines = self._by_name.get(folded(name), ())
        if len(lines) != 1:
            raise PeerError(f"{name} is missing" if not lines else f"{name} stands more than once", clause=clause)
        return lines[0]

    @View
    def vias(self) -> tuple[Via, ...]:
        """All hops, the latest first; PeerError if there is none or one cannot be read."""
        return self.via, *map(Via.read, self.values("Via")[1:])

    @View
    def via(self) -> Via:
        """The latest hop, read alone; PeerError if there is none or it cannot be read."""
        lines = self._by_name.get("via")
        if not lines:
            raise PeerError("Via is missing", clause="RFC 3261 §8.1.1")
        return Via.read(split_list(lines[0])[0])

    @View
    def to(self) -> NameAddr:
        """To; PeerError if it is missing, repeated or cannot be read."""
        return parse_name_addr(self._one("To", "RFC 3261 §8.1.1.2"))

    @View
    def from_(self) -> NameAddr:
        """From; PeerError if it is missing, repeated or cannot be read."""
        return parse_name_addr(self._one("From", "RFC 3261 §8.1.1.3"))

    @View
    def call_id(self) -> str:
        """Call-ID, compared letter by letter (§20.8); PeerError if it is missing, repeated, empty or has a space."""
        text = self._one("Call-ID", "RFC 3261 §8.1.1.4")
        if not _CALL_ID.fullmatch(text):
            raise PeerError("Call-ID is empty or holds a space", clause="RFC 3261 §20.8")
        return text

    @View
    def cseq(self) -> CSeq:
        """CSeq; PeerError if it is missing, repeated or cannot be read."""
        return _read_cseq(self._one("CSeq", "RFC 3261 §8.1.1.5"))

    def _addresses(self, name: str) -> tuple[NameAddr, ...]:
        return tuple(map(parse_name_addr, self.values(name)))

    @View
    def contacts(self) -> tuple[NameAddr, ...]:
        """All contacts; none where Contact is "*" (see `contact_star`). PeerError if one cannot be read."""
        return () if self.contact_star else self._addresses("Contact")

    @View
    def contact_star(self) -> bool:
        """Whether Contact is "*", which asks a registrar to forget all (§10.2.2); PeerError if others stand beside."""
        values = self.values("Contact")
        if "*" in values and len(values) > 1:
            raise PeerError('Contact "*" stands with others', clause="RFC 3261 §10.3")
        return values == ("*",)

    @View
    def routes(self) -> tuple[NameAddr, ...]:
        """The hops that the request must still take, the next first (§20.34)."""
        return self._addresses("Route")

    @View
    def record_routes(self) -> tuple[NameAddr, ...]:
        """The hops that want to stay in the dialog, as written (§20.30)."""
        return self._addresses("Record-Route")

    @View
    def content_length(self) -> int | None:
        """Bytes of the body as the sender counts them; None if it does not say. PeerError if repeated or no number."""
        if "content-length" not in self._by_name:
            return None
        text = self._one("Content-Length", "RFC 3261 §20.14")
        return bounded(text, what="Content-Length", high=2**31 - 1, clause="RFC 3261 §20.14")

    @View
    def max_forwards(self) -> int | None:
        """Hops that are left; None if it is not there. PeerError if repeated or not 0 to 255 (§20.22)."""
        if "max-forwards" not in self._by_name:
            return None
        text = self._one("Max-Forwards", "RFC 3261 §20.22")
        return bounded(text, what="Max-Forwards", high=255, clause="RFC 3261 §20.22")

    @View
    def expires_s(self) -> int | None:
        """Expires in seconds; None if it is not there; 3600 where it cannot be read (RFC 4475 §3.1.2.4)."""
        text = self.get("Expires")
        return None if text is None else lenient_seconds(text)

    @View
    def retry_after_s(self) -> int | None:
        """Retry-After in seconds, without its comment and parameters; None if it is not there or no time (§20.33)."""
        found = _DELTA.fullmatch(self.get("Retry-After") or "")
        if found is None or len(found[1].lstrip("0")) > len(str(HIGHEST_SECONDS)):
            return None
        seconds = int(found[1])
        return seconds if seconds <= HIGHEST_SECONDS else None

    @View
    def content_type(self) -> str | None:
        """Type and subtype of the body in small letters, without parameters; None if it is not there (§20.15)."""
        if "content-type" not in self._by_name:
            return None
        text = self._one("Content-Type", "RFC 3261 §20.15")
        found = _MEDIA_TYPE.match(text)
        if found is None or not is_token(found[1]) or not is_token(found[2]):
            raise PeerError("Content-Type is no type and subtype", clause="RFC 3261 §20.15")
        return f"{found[1]}/{found[2]}".lower()


def lenient_seconds(text: str) -> int:
    """Seconds of an Expires or of a contact's `expires`; 3600 where they cannot be read (RFC 4475 §3.1.2.4)."""
    try:
        return bounded(text, what="a time", high=HIGHEST_SECONDS)
    except PeerError:
        return DEFAULT_EXPIRES_S
