"""Record a person's word that something was tested, certified or received. It approves nothing."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.signoff import SignOff, Statement, standing
from doorwright.kernel.trail import Act
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
        Refused: no such part or several, a release of what is no door, no name or role, or days that cannot be; all of
            these are told at once.
    """
    today = means.today()
    day = on or today
    with Book.open(book_path) as book:
        walk = Walk(book.site())
        subject = _subject(walk, statement, part)
        mistakes = tuple(_mistakes(name, role, day, until, today))
        if isinstance(subject, Mistake) or mistakes:
            part_wrong = (subject,) if isinstance(subject, Mistake) else ()
            raise Refused("nothing was recorded", remedy="Give the command again.", mistakes=(*part_wrong, *mistakes))
        given = SignOff(
            id=means.new_id(),
            statement=statement,
            subject=subject,
            name=name.strip(),
            role=role.strip(),
            on=day,
            until=until,
            recorded_by=means.who,
        )
        book.sign_off(given)
        book.note_trail(means.trace(Act.SIGNED_OFF, f"{given.statement}: {name_of_subject(walk, given.subject)}"))
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


def _mistakes(name: str, role: str, on: date, until: date | None, today: date) -> Iterator[Mistake]:
    cases = (
        (not name.strip(), "--name", name, "nobody is named", "Name the person whose word it is."),
        (not role.strip(), "--role", role, "no role is given", "Say as what the person gives their word."),
        (on > today, "--on", f"{on}", "this day has not come yet", "Give the day of the test, certificate or receipt."),
        (
            until is not None and until < today, "--until", f"{until}", "this day has passed",
            "Give a last day from today on, or none.",
        ),
    )  # fmt: skip
    for wrong, where, read, problem, remedy in cases:
        if wrong:
            yield Mistake(where=where, read=read, problem=problem, remedy=remedy)


def _subject(walk: Walk, statement: Statement, label: str | None) -> Subject | Mistake:
    """Return of what the word is said, or what is wrong with the label."""
    kinds = (Door,) if statement in _OF_DOORS else PARTS
    if label is None or (label.casefold() == walk.settings().name.casefold() and kinds is PARTS):
        if statement in _OF_DOORS:
            return _wrong_part("", f'"{statement}" is said of one door', "Name it: --part LABEL")
        return SITE_SUBJECT
    found = [
        part
        for kind in kinds
        for part in walk.all(kind)
        if label.casefold() in {part.label.casefold(), name_of(walk, part).casefold()}
    ]
    if len(found) == 1:
        return found[0].subject
    if not found:
        what = "door" if statement in _OF_DOORS else "part"
        return _wrong_part(label, f"the plan has no such {what}", "Give its label: doorwright show BOOK doors")
    kinds_there = ", ".join(sorted({part.KIND for part in found}))
    return _wrong_part(
        label, f"{len(found)} parts are called so: {kinds_there}", "Give them labels of their own first."
    )


def _wrong_part(read: str, problem: str, remedy: str) -> Mistake:
    return Mistake(where="--part", read=read, problem=problem, remedy=remedy)
