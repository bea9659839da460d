"""Record a person's word that something was tested, certified or received. It approves nothing."""

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.kernel.signoff import SignOff, Statement, standing
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import SITE_SUBJECT
from doorwright.model.door import Door
from doorwright.model.naming import name_of, name_of_subject
from doorwright.model.site import PARTS
from doorwright.model.walk import Walk
from doorwright.store.book import Book

_OF_DOORS: Final = (Statement.ESCAPE_RELEASE, Statement.FIRE_RELEASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Listed:
    """A recorded sign-off, the label of its part, and whether it counts: "current", "ended" or "replaced"."""

    sign_off: SignOff
    label: str
    state: str


def sign_off(
    book_path: Path,
    statement: Statement,
    means: Means,
    *,
    name: str,
    role: str,
    part: str | None = None,
    on: date | None = None,
    until: date | None = None,
) -> SignOff:
    """Record what ``name`` says of the part with this label, or of the whole site where none is named.

    Raises:
        Refused: no such part or several, a release of what is no door, no name or role, or days that cannot be.
    """
    today = means.today()
    day = on or today
    if day > today:
        raise Refused(f"the day {day} has not come yet", remedy="Give the day of the test, certificate or receipt.")
    if until is not None and until < today:
        raise Refused(f"the end {until} has passed", remedy="Give a last day from today on, or none.")
    with Book.open(book_path) as book:
        given = SignOff(
            id=means.new_id(),
            statement=statement,
            subject=_subject(Walk(book.site()), statement, part),
            name=name.strip(),
            role=role.strip(),
            on=day,
            until=until,
            recorded_by=means.who,
        )
        book.sign_off(given)
    return given


def list_sign_offs(book_path: Path, means: Means) -> tuple[Listed, ...]:
    """Return every sign-off of a book in the order of recording.

    Raises:
        Refused: the book cannot be read.
    """
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        sign_offs = book.sign_offs()
    last = {one.id for given in standing(sign_offs).values() for one in given.values()}
    today = means.today()
    return tuple(
        Listed(
            sign_off=one,
            label=name_of_subject(walk, one.subject),
            state="replaced" if one.id not in last else "ended" if one.has_ended(today) else "current",
        )
        for one in sign_offs
    )


def _subject(walk: Walk, statement: Statement, label: str | None) -> Subject:
    kinds = (Door,) if statement in _OF_DOORS else PARTS
    if label is None or (label.casefold() == walk.settings().name.casefold() and kinds is PARTS):
        if statement in _OF_DOORS:
            raise Refused(f'"{statement}" is said of one door', remedy="Name it: --part LABEL")
        return SITE_SUBJECT
    found = [
        part
        for kind in kinds
        for part in walk.all(kind)
        if label.casefold() in {part.label.casefold(), name_of(walk, part).casefold()}
    ]
    if len(found) == 1:
        return found[0].subject
    what = "door" if statement in _OF_DOORS else "part"
    if not found:
        raise Refused(f"the plan has no {what} {label!r}", remedy="Give its label: doorwright show BOOK doors")
    kinds_there = ", ".join(sorted({part.KIND for part in found}))
    raise Refused(
        f"{len(found)} parts are called {label!r}: {kinds_there}", remedy="Give them labels of their own first."
    )
