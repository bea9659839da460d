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
from doorwright.sip.view import View

SPACE = " \t"
TOKEN = r"[A-Za-z0-9\-.!%*_+`'~]++"  # noqa: S105  (a word of the grammar, no secret)
"""The pattern of a token (§25.1)."""
QUOTABLE = r'(?:[^"\\\r\n]++|\\[^\r\n])*+'
"""The pattern of what stands within quotes (§25.1); a quoted pair escapes anything but CR, LF."""
_TOKEN = re.compile(TOKEN)
_QUOTED = re.compile(f'"{QUOTABLE}"')
# A parameter's value: token, host (also an address in brackets, RFC 5118 §4.5 without them) or quoted string.
# Looser than the grammar: what cannot be mistaken for a separator passes.
_ANY_VALUE = rf'[^\x00-\x20\x7f"<>,;]++|"{QUOTABLE}"'
_VALUE = re.compile(_ANY_VALUE)
# One parameter and the semicolon before the next, or whatever else stands there.
_PARAMETER = re.compile(rf"[ \t]*+({TOKEN})[ \t]*+(?:(=)[ \t]*+({_ANY_VALUE})[ \t]*+)?(?:;(?=.)|\Z)|(.++)", re.DOTALL)
_ESCAPED_PAIR = re.compile(r"\\(.)", re.DOTALL)
_UNIT = r'"(?:[^"\\]++|\\.)*+(?P<quote>"?)|<[^>]*+(?P<angle>>?)'
_MANY_DIGITS = 20  # beyond every bound that is asked for
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
    return unescaped(text[1:-1])


def unescaped(inner: str) -> str:
    """What the inside of a quoted string says."""
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
    return tuple([piece.strip(SPACE) for piece in pieces])


def bounded(text: str, *, what: str, high: int, low: int = 0, clause: str = "RFC 3261 §25.1") -> int:
    """The decimal number in the text, between `low` and `high` inclusive.

    Raises:
        PeerError: it is not digits only, or out of bounds. Leading zeros are no fault (RFC 4475 §3.1.1.1).
    """
    # int() would take "+1", "1_0" and the digits of other scripts, and refuses thousands of digits in its own way.
    if not (text.isascii() and text.isdigit()):
        raise PeerError(f"{what} is not a number", clause=clause)
    number = int(text) if len(text) < _MANY_DIGITS else int(text.lstrip("0")[:_MANY_DIGITS] or "0")
    if not low <= number <= high:
        raise PeerError(f"{what} is not between {low} and {high}", clause=clause)
    return number


@dataclass(frozen=True)
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
        begin = 1 if text[0] == ";" and len(text) > 1 else 0
        pairs: list[tuple[str, str | None]] = []
        values: dict[str, str | None] = {}
        for name, equals, told, other in _PARAMETER.findall(text, begin):
            key = name.lower()
            if other or key in values:  # piece by piece then, to say what is wrong
                pieces = split_list(text, ";")
                return cls.from_pieces(pieces[1:] if text[0] == ";" else pieces)
            values[key] = value = told if equals else None
            pairs.append((name, value))
        return cls._of_known(tuple(pairs), values)

    @classmethod
    def from_pieces(cls, pieces: Iterable[str]) -> Self:
        """Read pieces that were split at their semicolons before; PeerError as in `read`."""
        pairs: list[tuple[str, str | None]] = []
        values: dict[str, str | None] = {}
        for piece in pieces:
            name, equals, value = piece.partition("=")
            name, value = name.rstrip(SPACE), value.lstrip(SPACE)
            if not _TOKEN.fullmatch(name):
                raise PeerError("a parameter without a proper name", clause="RFC 3261 §25.1")
            if equals and not _VALUE.fullmatch(value):
                raise PeerError(f"the parameter {name} has no proper value", clause="RFC 3261 §25.1")
            key = name.lower()
            if key in values:
                raise PeerError(f"the parameter {name} stands twice", clause="RFC 3261 §7.3.1")
            values[key] = written = value if equals else None
            pairs.append((name, written))
        return cls._of_known(tuple(pairs), values)

    @classmethod
    def _of_known(cls, pairs: tuple[tuple[str, str | None], ...], values: dict[str, str | None]) -> Self:
        """Parameters whose `_values` are known already."""
        made = cls(pairs)
        vars(made)["_values"] = values
        return made

    @View
    def _values(self) -> dict[str, str | None]:
        """The values by their names in small letters; of a name that stands twice the first."""
        return {name.lower(): value for name, value in reversed(self.pairs)}

    def get(self, name: str) -> str | None:
        """What the parameter says, without quotes; "" for a name without a value; None if it is not there."""
        wanted = name.lower()
        if wanted not in self._values:
            return None
        value = self._values[wanted]
        return unquote(value) if value else ""

    def having(self, name: str, value: str | None = None) -> Self:
        """The same with this parameter set, in its old place or at the end; LocalError if the name is no token."""
        if not _TOKEN.fullmatch(name):
            raise LocalError(f"{name!r} cannot name a parameter")
        written = value if value is None or _VALUE.fullmatch(value) else quote(value)
        wanted = name.lower()
        if wanted not in self._values:
            pairs = (*self.pairs, (name, written))
        else:
            pairs = tuple([(key, written if key.lower() == wanted else old) for key, old in self.pairs])
        return self._of_known(pairs, {**self._values, wanted: written})

    def without(self, name: str) -> Self:
        """The same without this parameter."""
        wanted = name.lower()
        if wanted not in self._values:
            return self
        return type(self)(tuple([pair for pair in self.pairs if pair[0].lower() != wanted]))

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and name.lower() in self._values

    def __iter__(self) -> Iterator[tuple[str, str | None]]:
        return iter(self.pairs)

    def __len__(self) -> int:
        return len(self.pairs)

    def __str__(self) -> str:
        return "".join([f";{name}" if value is None else f";{name}={value}" for name, value in self.pairs])
