r"""The small pieces of the grammar: tokens, quoted strings, lists, parameters, numbers (RFC 3261 §7.3.1, §25.1).

Header text is `str` made from bytes by UTF-8 with `surrogateescape`, so any bytes survive reading and printing. Every
pattern here moves forward only (possessive quantifiers, and an opening quote or bracket without its end matches up to
the end of the text), so the time taken grows with the length of the text and never with its square.
"""

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Self

from doorwright.sip.errors import LocalError, PeerError

SPACE = " \t"
_TOKEN = re.compile(r"[A-Za-z0-9\-.!%*_+`'~]+")  # §25.1 token
_QUOTED = re.compile(
    r'"(?:[^"\\\r\n]++|\\[^\r\n])*+"'
)  # §25.1 quoted-string; a quoted pair escapes anything but CR, LF
# A parameter's value: token, host (also an address in brackets, RFC 5118 §4.5 without them) or quoted string.
# Looser than the grammar: what cannot be mistaken for a separator passes.
_BARE_VALUE = re.compile(r'[^\x00-\x20\x7f"<>,;]+')
_ESCAPED_PAIR = re.compile(r"\\(.)", re.DOTALL)
_UNIT = r'"(?:[^"\\]++|\\.)*+(?P<quote>"?)|<[^>]*+(?P<angle>>?)'
_SPLITTERS = {mark: re.compile(f"{_UNIT}|(?P<mark>{mark})", re.DOTALL) for mark in (",", ";")}


def is_token(text: str) -> bool:
    """Whether the text is a token of §25.1: letters, digits and -.!%*_+`'~ only, and not empty."""
    return _TOKEN.fullmatch(text) is not None


def is_quoted(text: str) -> bool:
    """Whether the text is one whole quoted string."""
    return _QUOTED.fullmatch(text) is not None


def quote(text: str) -> str:
    """A quoted string that says the text; LocalError if it holds a line break, which no escape can carry."""
    if "\r" in text or "\n" in text:
        raise LocalError("a quoted string cannot hold a line break")
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return f'"{escaped}"'


def unquote(text: str) -> str:
    """What a quoted string says; a text that is not quoted says itself."""
    if not text.startswith('"') or not is_quoted(text):
        return text
    inner = text[1:-1]
    return _ESCAPED_PAIR.sub(r"\1", inner) if "\\" in inner else inner


def opening_quoted(text: str) -> int:
    """The length of the quoted string that the text begins with; PeerError if its closing quote is missing."""
    found = _QUOTED.match(text)
    if found is None:
        raise PeerError("a quotation mark is never closed", clause="RFC 3261 §25.1")
    return found.end()


def split_list(text: str, mark: str = ",") -> tuple[str, ...]:
    """The pieces between the marks ("," or ";") that stand outside quotes and angle brackets, without outer spaces.

    Raises:
        PeerError: there are marks, and a quotation mark or an angle bracket is never closed. (A text without marks is
            one piece, and not looked into.)
    """
    if mark not in text:
        return (text.strip(SPACE),)
    if '"' not in text and "<" not in text:
        pieces = text.split(mark)
    else:
        pieces, begin = [], 0
        for found in _SPLITTERS[mark].finditer(text):
            if found["mark"]:
                pieces.append(text[begin : found.start()])
                begin = found.end()
            elif found["quote"] == "" or found["angle"] == "":
                raise PeerError("a quotation mark or an angle bracket is never closed", clause="RFC 3261 §25.1")
        pieces.append(text[begin:])
    return tuple(piece.strip(SPACE) for piece in pieces)


def bounded(text: str, *, what: str, high: int, low: int = 0, clause: str = "RFC 3261 §25.1") -> int:
    """The decimal number in the text, between `low` and `high` inclusive.

    Raises:
        PeerError: it is not digits only, or out of bounds. Leading zeros are no fault (RFC 4475 §3.1.1.1).
    """
    # int() would take "+1", "1_0" and the digits of other scripts, and refuses thousands of digits in its own way.
    digits = text.lstrip("0") or text[:1]
    if not (text.isascii() and text.isdigit()):
        raise PeerError(f"{what} is not a number", clause=clause)
    if len(digits) > len(str(high)) or not low <= int(digits) <= high:
        raise PeerError(f"{what} is not between {low} and {high}", clause=clause)
    return int(digits)


@dataclass(frozen=True, slots=True)
class Parameters:
    """Parameters in their order; names are compared without regard to case (§7.3.1), values are kept as written.

    Attributes:
        pairs: name and value as written (a quoted value with its quotes); None for a name without a value.
    """

    pairs: tuple[tuple[str, str | None], ...] = ()

    @classmethod
    def of(cls, **values: str | None) -> Self:
        """Parameters from Python names; a value that is no bare value is quoted, "_" in a name becomes "-"."""
        made = cls()
        for name, value in values.items():
            made = made.having(name.replace("_", "-"), value)
        return made

    @classmethod
    def read(cls, text: str) -> Self:
        """Read `;name=value;name`, with or without the first semicolon.

        Raises:
            PeerError: an empty or repeated name, or a value that is neither bare nor quoted.
        """
        text = text.strip(SPACE)
        if not text:
            return cls()
        pieces = split_list(text, ";")
        return cls.from_pieces(pieces[1:] if text[0] == ";" else pieces)

    @classmethod
    def from_pieces(cls, pieces: Iterable[str]) -> Self:
        """Read pieces that were split at their semicolons before; PeerError as in `read`."""
        pairs: list[tuple[str, str | None]] = []
        seen: set[str] = set()
        for piece in pieces:
            name, equals, value = piece.partition("=")
            name, value = name.rstrip(SPACE), value.lstrip(SPACE)
            if not is_token(name):
                raise PeerError("a parameter without a proper name", clause="RFC 3261 §25.1")
            if equals and not (_BARE_VALUE.fullmatch(value) or is_quoted(value)):
                raise PeerError(f"the parameter {name} has no proper value", clause="RFC 3261 §25.1")
            key = name.lower()
            if key in seen:
                raise PeerError(f"the parameter {name} stands twice", clause="RFC 3261 §7.3.1")
            seen.add(key)
            pairs.append((name, value if equals else None))
        return cls(tuple(pairs))

    def get(self, name: str) -> str | None:
        """What the parameter says, without quotes; "" for a name without a value; None if it is not there."""
        wanted = name.lower()
        for key, value in self.pairs:
            if key.lower() == wanted:
                return unquote(value) if value else ""
        return None

    def having(self, name: str, value: str | None = None) -> Self:
        """The same with this parameter set, in its old place or at the end; LocalError if the name is no token."""
        if not is_token(name):
            raise LocalError(f"{name!r} cannot name a parameter")
        written = value if value is None or _BARE_VALUE.fullmatch(value) or is_quoted(value) else quote(value)
        wanted = name.lower()
        if name not in self:
            return type(self)((*self.pairs, (name, written)))
        return type(self)(tuple((key, written if key.lower() == wanted else old) for key, old in self.pairs))

    def without(self, name: str) -> Self:
        """The same without this parameter."""
        wanted = name.lower()
        return type(self)(tuple(pair for pair in self.pairs if pair[0].lower() != wanted))

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and any(key.lower() == name.lower() for key, _ in self.pairs)

    def __iter__(self) -> Iterator[tuple[str, str | None]]:
        return iter(self.pairs)

    def __len__(self) -> int:
        return len(self.pairs)

    def __str__(self) -> str:
        return "".join(f";{name}" if value is None else f";{name}={value}" for name, value in self.pairs)
