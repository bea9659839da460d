"""What happens in the rehearsed building, as it happens: who rings, who takes the call, which door is freed."""

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TypeAlias


class Deed(StrEnum):
    """What happened."""

    REGISTERED = "registered"
    NOT_REGISTERED = "not registered"
    CALLED = "called"
    RANG = "rang"
    TOOK = "took the call"
    HEARD = "heard the other end"
    SAW = "saw the visitor"
    FREED = "freed"
    HELD = "freed, but did not open"
    REFUSED = "refused"
    SILENT = "let no call through"
    ENDED = "call over"
    WENT_OFF = "lost its power"
    CAME_ON = "started"


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened: when, at which part, and what it was about (a number, a door, a code)."""

    at_s: float
    deed: Deed
    part: str
    about: str = ""


Told: TypeAlias = Callable[[Entry], None]


@dataclass(slots=True)
class Journal:
    """Keeps the entries since it was last emptied, and passes each on."""

    told: Told | None = None
    entries: list[Entry] = field(default_factory=list)

    def write(self, entry: Entry) -> None:
        """Write an entry."""
        self.entries.append(entry)
        if self.told is not None:
            self.told(entry)

    def empty(self) -> list[Entry]:
        """Return the entries, and begin anew."""
        entries, self.entries = self.entries, []
        return entries
