"""Prove the call paths of a book's latest revision."""

import re
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from doorwright.kernel.errors import Refused
from doorwright.model.calling import DAY_MIN, DAYS, HOLIDAY
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.walk import Walk
from doorwright.paths.proof import Proof, prove
from doorwright.paths.week import WEEKDAYS, day_index
from doorwright.store.book import Book

_MOMENT: Final = re.compile(r"\s*([A-Za-z]{3})\w*(?:\s+on\s+([A-Za-z]{3})\w*)?\s+([01]?\d|2[0-3])[:.]([0-5]\d)\s*")


@dataclass(frozen=True, slots=True, kw_only=True)
class Proved:
    """The proof of a revision, and what was asked about: entrances, a dwelling, a minute of the axis."""

    revision: int
    walk: Walk
    proof: Proof
    entrances: tuple[Entrance, ...]
    dwelling: Dwelling | None
    minute: int | None


def prove_paths(
    book_path: Path, *, entrance: str | None = None, dwelling: str | None = None, at: str | None = None
) -> Proved:
    """Prove the call paths of the latest revision, and find what is asked about.

    Args:
        book_path: the book.
        entrance: the name of an entrance, or None for all.
        dwelling: the door label of a dwelling, or None for all.
        at: a moment of the week such as "Sat 14:30" or "Hol on Mon 09:00", or None for the whole week.

    Raises:
        Refused: the book cannot be read, or has no such entrance or dwelling, or the moment is none.
    """
    minute = moment(at) if at is not None else None
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        revision = book.head().number
    home = _dwelling(walk, dwelling) if dwelling is not None else None
    entrances = _entrances(walk, entrance)
    if home is not None:
        serving = {one.id for one in walk.entrances_serving(home)}
        entrances = tuple(one for one in entrances if one.id in serving)
        if not entrances:
            raise Refused(
                f"no call from {entrance or 'any entrance'} is for dwelling {home.door_label}",
                remedy="Let the entrance serve it, or ask about another.",
            )
    return Proved(revision=revision, walk=walk, proof=prove(walk), entrances=entrances, dwelling=home, minute=minute)


def moment(text: str) -> int:
    """Return the minute of the axis that a person means by "Sat 14:30" or "Hol on Mon 09:00"; "Hol" alone is on Mon.

    Raises:
        Refused: it is no moment of the week.
    """
    found = _MOMENT.fullmatch(text)
    names = [name.casefold() for name in DAYS]
    first, on = (found[1].casefold(), (found[2] or DAYS[0]).casefold()) if found else ("", "")
    known = first in names and on in names[:WEEKDAYS] and (first == names[HOLIDAY] or not (found and found[2]))
    if not found or not known:
        raise Refused(
            f"{text!r} is no moment of the week", remedy="Write it like Sat 14:30, or Hol on Mon 09:00 for a holiday."
        )
    holiday = first == names[HOLIDAY]
    day = day_index(names.index(on if holiday else first), holiday=holiday)
    return day * DAY_MIN + int(found[3]) * 60 + int(found[4])


def _entrances(walk: Walk, name: str | None) -> tuple[Entrance, ...]:
    entrances = tuple(walk.all(Entrance))
    if name is None:
        return entrances
    found = tuple(one for one in entrances if one.name.casefold() == name.strip().casefold())
    if not found:
        names = ", ".join(sorted(one.name for one in entrances)) or "none"
        raise Refused(f"there is no entrance {name!r}", remedy=f"Entrances: {names}.")
    return found


def _dwelling(walk: Walk, label: str) -> Dwelling:
    found = walk.dwellings_labelled(label.strip())
    if len(found) == 1:
        return found[0]
    if found:
        raise Refused(
            f"{len(found)} dwellings are labelled {label!r}", remedy="Give them labels of their own, then ask again."
        )
    raise Refused(f"there is no dwelling {label!r}", remedy="doorwright show BOOK dwellings lists them.")
