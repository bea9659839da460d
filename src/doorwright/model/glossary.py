"""The words of the trade, and what they mean here: one list for the pack, the help pages and the reference.

Words of IEC 62820 where it has one, of SIP (RFC 3261) where that has one; the rest is plain trade English.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from doorwright.model.unit import UnitKind

_IEC: Final = "IEC 62820-1-1"
_SIP: Final = "RFC 3261"
_TRADE: Final = "the trade"
_OURS: Final = "Doorwright"


@dataclass(frozen=True, slots=True)
class Word:
    """A word, what it means, whose word it is, and the letters that go with it: ``short`` for a kind of unit."""

    word: str
    meaning: str
    whose: str
    short: str = ""

    @property
    def written(self) -> str:
        """The word as a list of words begins a line with it."""
        return f"{self.short}, {self.word}" if self.short else self.word

    @property
    def key(self) -> str:
        """What stands for it in an address."""
        return self.short.lower() or self.word.replace(",", "").replace(" ", "-")


def _unit(kind: UnitKind, meaning: str) -> Word:
    return Word(kind.words, meaning, _IEC, kind.value)


WORDS: Final = (
    _unit(UnitKind.VCU, "the caller's unit at an entrance: keys, a keypad or a directory"),
    _unit(UnitKind.URU, "the answering unit in a dwelling"),
    _unit(UnitKind.SMU, "the desk unit of a concierge, porter or guard"),
    Word(
        "primary, secondary",
        "the first unit of its kind in a group (position 0), and those that depend on it (1, 2 …)",
        _TRADE,
    ),
    Word("registrar", "what a unit registers with: a primary unit, or a SIP server", _SIP),
    Word("pairing", "making two units know each other; the facts must agree at both ends", _TRADE),
    Word("call number", "the digits that reach a dwelling or a desk; its SIP user part", _TRADE),
    Word("fail-safe, fail-secure", "without power the lock frees the door; without power it stays locked", _TRADE),
    Word("baseline", "the firmware version that every unit of a type is to run", _TRADE),
    Word(
        "site, building, core, level",
        "the premises; a building on it; a stair and lift with its homes; a storey",
        _TRADE,
    ),
    Word("dwelling", "a home (or office) that visitors call", _TRADE),
    Word("entrance, door", "a way in from outside or from a lobby; a leaf with a lock in it", _TRADE),
    Word("riser cupboard", "where the switches and supplies of some levels live", _TRADE),
    Word("key plan, legend", "which key rings which dwelling; the strip of labels beside the keys", _TRADE),
    Word("key module", "further keys that a visitor call unit carries beside its own", _TRADE),
    Word("timetable", "weekly windows in which a call goes through, diverts, or a trade release works", _TRADE),
    Word("divert", "where calls go instead: always, without answer, when busy, or when nothing is registered", _TRADE),
    Word("lock release", "the output that frees a lock", _TRADE),
    Word("release right", "which dwelling or desk may free which door", _TRADE),
    Word("device secret", "the password of a unit's own settings", _TRADE),
    Word("SIP secret", "the password of a unit's SIP registration (digest, RFC 3261 §22)", _SIP),
    Word("vault", "the part of a book that holds the secrets, encrypted under a passphrase", _OURS),
    Word("sealed sheet", "the one paper that shows secrets; cards name them by its lines", _OURS),
    Word("book", "the file that holds everything known of one site", _OURS),
    Word("revision", "one save of a book: never changed, never overwritten", _OURS),
    Word("profile", "the data sheet of a unit type: what it draws, carries and can do", _OURS),
    Word("finding", "what a rule says of a part where it does not hold", _OURS),
    Word("not checked", "what a rule could not judge, because a fact is missing", _OURS),
    Word("waiver", "a finding that somebody accepts, for a reason, until a day", _OURS),
    Word("sign-off", "the word of a competent person on what only people can test, certify or receive", _OURS),
    Word("touch list", "the units to visit after a change, and what is entered in each", _OURS),
    Word("run sheet", "the ordered work on site", _TRADE),
    Word("as-built record", "what was really installed: serial numbers, settings, test results", _TRADE),
    Word("standby", "how long locks, switches and units go on when the mains fails", _TRADE),
    Word("PoE budget", "what a switch can give by its cables to all its ports together", _TRADE),
)
"""The words that the papers of a site need come first."""

WORD_BY_KEY: Final = MappingProxyType({one.key: one for one in WORDS})
ON_PAPER: Final[Sequence[Word]] = WORDS[:9]
"""Those that stand in the pack, on the page that says how to read it."""
