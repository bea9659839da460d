"""Signatures: who tested, certified or received what. Recorded, never approved."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from doorwright.app.sign_off import Listed, list_sign_offs, sign_off
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.person import Role
from doorwright.kernel.signoff import Statement
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.web.answers import Answer, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.showing import book_url


@dataclass(frozen=True, slots=True, kw_only=True)
class SignatureLine:
    """One sign-off: of which part, and whether it counts: "current", "ended" or "replaced"."""

    statement: Statement
    part: str
    name: str
    role: str
    on: date
    until: date | None
    recorded_by: str
    state: str


@dataclass(frozen=True, slots=True, kw_only=True)
class SignaturesView:
    """What can be said, of what, and what was said, the latest first. ``statement`` and ``part`` are chosen already."""

    statements: tuple[Statement, ...]
    statement: str
    part: str
    doors: tuple[str, ...]
    today: date
    lines: tuple[SignatureLine, ...]


def page(ask: Ask) -> Answer:
    """Show what was signed, and the form for more."""
    walk = ask.book.now()[1]
    view = SignaturesView(
        statements=tuple(Statement),
        statement=ask.text("statement"),
        part=ask.text("part"),
        doors=tuple(sorted({door.label for door in walk.all(Door)}, key=natural_key)),
        today=ask.means.today(),
        lines=tuple(_line(one) for one in reversed(list_sign_offs(ask.book.path, ask.means))),
    )
    return Page(template="handover/signatures.html", title="Signatures", view=view)


def record(ask: Ask) -> Answer:
    """Record a person's word."""
    statement = next((one for one in Statement if one == ask.text("statement")), None)
    mistakes: list[Mistake] = []
    if statement is None:
        mistakes.append(
            Mistake(where="statement", read=ask.text("statement"), problem="nobody says this", remedy="Choose one.")
        )
    on, until = _day(ask, "on", mistakes), _day(ask, "until", mistakes)
    if mistakes or statement is None:
        raise Refused("nothing was recorded", mistakes=tuple(mistakes))
    given = sign_off(
        ask.book.path,
        statement,
        ask.means,
        name=ask.text("name"),
        role=ask.text("role"),
        part=ask.text("part") or None,
        on=on,
        until=until,
    )
    ask.book.changed()
    return Go(book_url(ask.book.name, "signatures"), f"Recorded, not approved: {given}.")


def _day(ask: Ask, name: str, mistakes: list[Mistake]) -> date | None:
    text = ask.text(name)
    try:
        return date.fromisoformat(text) if text else None
    except ValueError:
        mistakes.append(Mistake(where=name, read=text, problem="this is no day", remedy="Write it as 2026-11-30."))
        return None


def _line(listed: Listed) -> SignatureLine:
    one = listed.sign_off
    return SignatureLine(
        statement=one.statement,
        part=listed.label,
        name=one.name,
        role=one.role,
        on=one.on,
        until=one.until,
        recorded_by=one.recorded_by,
        state=listed.state,
    )


ROUTES: Final = (
    *get("/books/{book}/signatures", page),
    *post("/books/{book}/signatures", record, needs=Role.WORK),
)
