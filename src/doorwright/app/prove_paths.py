"""Prove the call paths of a book's latest revision."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

from doorwright.app.ask_paths import (
    Called,
    When,
    date_in_words,
    desk_called,
    dwelling_called,
    told_called,
    when_of,
    zone_of,
)
from doorwright.kernel.errors import Refused
from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.walk import Walk
from doorwright.paths.proof import DeskCalls, Group, Proof, prove
from doorwright.plan.edits.called import called
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """The proof of a revision, and what was asked about: entrances, a dwelling or desk, a moment, a date.

    ``zone`` is the site's where a date was asked about.
    """

    revision: int
    walk: Walk
    proof: Proof
    entrances: tuple[Entrance, ...]
    called: Called | None
    when: When | None
    on: date | None
    zone: ZoneInfo | None

    def groups(self, entrance: Entrance) -> tuple[Group, ...]:
        """Return the groups of dwellings of an entrance that are asked about."""
        at = self.proof.entrances[entrance.id]
        if self.called is None:
            return at.groups
        return (at.group_of(self.called.id),) if isinstance(self.called, Dwelling) else ()

    def desks(self, entrance: Entrance) -> tuple[DeskCalls, ...]:
        """Return the calls to desks from an entrance that are asked about."""
        desks = self.proof.entrances[entrance.id].desks
        return tuple(calls for calls in desks if self.called is None or calls.desk == self.called.id)

    def concerns(self, dwellings: tuple[str, ...], desk: str | None) -> bool:
        """Say whether something about dwellings or a desk concerns what is asked about."""
        return self.called is None or self.called.id == desk or self.called.id in dwellings


def prove_paths(
    book_path: Path,
    *,
    entrance: str | None = None,
    dwelling: str | None = None,
    desk: str | None = None,
    at: str | None = None,
    on: str | None = None,
) -> Proved:
    """Prove the call paths of the latest revision, and find what is asked about.

    Args:
        book_path: the book.
        entrance: the name of an entrance, or None for all.
        dwelling: the door label of a dwelling, or None for all.
        desk: the name of a desk, or None for all.
        at: a moment such as "Sat 14:30", "Hol on Mon 09:00" or "2027-03-28 14:30", or None for the whole week.
        on: a date such as "2027-03-28", or None.

    Raises:
        Refused: the book cannot be read, or has no such entrance, dwelling or desk, or there is no such moment.
    """
    if dwelling is not None and desk is not None:
        raise Refused("a call is for a dwelling or for a desk", remedy="Give one of --dwelling and --desk.")
    if at is not None and on is not None:
        raise Refused("a moment and a whole day are two questions", remedy="Give one of --at and --on.")
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        revision = book.head().number
    day = date_in_words(on) if on is not None else None
    when = when_of(walk, at) if at is not None else None
    home: Called | None = dwelling_called(walk, dwelling) if dwelling is not None else None
    home = desk_called(walk, desk) if desk is not None else home
    entrances = _entrances(walk, entrance)
    zone = zone_of(walk) if day is not None else None
    proof = prove(walk)
    if home is not None:
        entrances = tuple(one for one in entrances if _calls(proof, one, home))
        if not entrances:
            raise Refused(
                f"no call from {entrance or 'any entrance'} is for {told_called(home)}",
                remedy="Let the entrance serve it, or ask about another.",
            )
    return Proved(
        revision=revision, walk=walk, proof=proof, entrances=entrances, called=home, when=when, on=day, zone=zone
    )


def _calls(proof: Proof, entrance: Entrance, home: Called) -> bool:
    at = proof.entrances[entrance.id]
    return home.id in at.served if isinstance(home, Dwelling) else any(calls.desk == home.id for calls in at.desks)


def _entrances(walk: Walk, name: str | None) -> tuple[Entrance, ...]:
    entrances = sorted(walk.all(Entrance), key=lambda one: (natural_key(one.name), one.id))
    if name is None:
        return tuple(entrances)
    found = tuple(one for one in entrances if one.name.casefold() == name.strip().casefold())
    return found or (called(walk, name, Entrance),)
