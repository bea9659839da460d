"""Ask every registrar of the plan about its units, each with the unit's SIP secret, and change nothing."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from doorwright.app.hearing import Hearing, hear_all
from doorwright.app.means import Means
from doorwright.app.take_found import Compared, compare_found
from doorwright.app.vault import opened_secrets
from doorwright.app.verify_book import CAUTION, chosen_of, of_these
from doorwright.app.while_wanted import while_wanted
from doorwright.kernel.errors import Refused
from doorwright.kernel.trail import Act
from doorwright.kernel.words import counted
from doorwright.model.walk import Walk
from doorwright.probe.ask import Manner
from doorwright.probe.registrant import Entered, Registrant, entered_by_plan, registrants
from doorwright.probe.registration import Registration, ask_registration, sightings_of
from doorwright.probe.runner import Pace, wait_turn
from doorwright.probe.target import LeftOut, targets
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class VerifiedRegistrations:
    """What came of asking about registrations.

    Attributes:
        heard: what each registrar said of each unit, in order of hearing.
        left_out: whose registration cannot be asked about, and why.
        new_count: how many observations the book gained.
        compared: what is found beside the plan, of those chosen.
    """

    heard: tuple[Registration, ...]
    left_out: tuple[LeftOut, ...]
    new_count: int
    compared: Compared


def verify_registrations(
    book_path: Path,
    means: Means,
    *,
    manner: Manner,
    passphrase: str | None = None,
    entered: Mapping[str, Entered] | None = None,
    only: Sequence[str] = (),
    permitted: bool = False,
    listen: Callable[[Registration, int, int], None] | None = None,
    still_wanted: Callable[[], None] = lambda: None,
) -> VerifiedRegistrations:
    """Ask about each registration, write down what is said as it comes, and set it all beside the plan.

    A REGISTER without Contact changes nothing (RFC 3261 §10.2.3). Its proof is a digest of the SIP secret; the secret
    itself goes nowhere.

    Args:
        book_path: the book.
        means: the world.
        manner: how fast, how many at once, at which port of units.
        passphrase: the vault's.
        entered: user and secret by unit, in place of the vault's: of a building that has others.
        only: the names of the units to ask about; none asks about all.
        permitted: that the network's owner permits it. Once it was said, the book remembers.
        listen: hears each result, how many were asked by then, and how many are to be asked.
        still_wanted: is asked a few times a second; whatever it raises stops the asking, and is raised here.

    Raises:
        Refused: nobody said that it is permitted, the passphrase is wrong, a name that is in no plan, or nobody to ask
            about. Nothing was sent.
    """
    with Book.open(book_path) as book:
        if not permitted and not any(noted.act is Act.ASKED for noted in book.trail()):
            raise Refused(f"the network's owner must permit this first. {CAUTION}", remedy="If so, say it: --permitted")
        walk = Walk(book.site())
        if entered is None:
            entered = entered_by_plan(walk, opened_secrets(book, passphrase or ""))
        everybody, unfit = targets(walk, manner.ports)
        wanted = {one.subject for side in chosen_of(everybody, unfit, only) for one in side}
        found, left_out = registrants(walk, everybody, entered)
        due = tuple(one for one in found if one.subject in wanted)
        left_out = tuple(one for one in left_out if one.subject in wanted)
        see_anybody(due, left_out)
        book.note_trail(means.trace(Act.ASKED, f"{about(due)}, {manner.asks_per_s:g} asks a second at most"))
        hearing = Hearing(book, means, len(due), sightings_of, listen)
        asyncio.run(while_wanted(ask_about(due, manner, means, hearing), still_wanted))
    return VerifiedRegistrations(
        heard=tuple(hearing.heard),
        left_out=left_out,
        new_count=hearing.keeper.new_count,
        compared=of_these(compare_found(book_path), wanted if only else None),
    )


def see_anybody(due: Sequence[Registrant], left_out: Sequence[LeftOut]) -> None:
    """Refuse to ask about nobody.

    Raises:
        Refused: there is nobody to ask about; the first reasons are told.
    """
    if not due:
        reasons = "; ".join(f"{one.name}: {one.reason}" for one in left_out[:5])
        raise Refused(
            f"there is no registration to ask about{f' ({reasons})' if reasons else ''}",
            remedy="Plan the book with the vault's passphrase first: doorwright plan BOOK",
        )


def about(due: Sequence[Registrant]) -> str:
    """Return for the trail what is asked."""
    return f"{counted(len(due), 'registration')} with their SIP secrets"


async def ask_about(
    due: Sequence[Registrant],
    manner: Manner,
    means: Means,
    hearing: Hearing[Registration],
    *,
    where: Callable[[Registrant], Registrant] = lambda one: one,
    as_planned: Callable[[Registration], Registration] = lambda heard: heard,
) -> None:
    """Ask about all of these; ``hearing`` takes what is said as it comes.

    Args:
        due: whom to ask about.
        manner: how fast, how many at once.
        means: the world.
        hearing: takes each result.
        where: says where each is really asked about, if not where it is planned.
        as_planned: puts what was heard there back into the words of the plan.
    """
    pace = Pace(manner.asks_per_s)

    async def ask(one: Registrant) -> Registration:
        heard = await ask_registration(
            where(one),
            patience_s=manner.sip_patience_s,
            now=means.now,
            chance=means.random_bytes,
            turn=lambda: wait_turn(pace),
        )
        return as_planned(heard)

    await hear_all(due, ask, hearing, at_once_count=manner.at_once_count)
