"""Ask the real building whether it is as planned: every unit, switch and server at its planned address, gently."""

import asyncio
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from doorwright.app.hearing import Hearing, hear_all
from doorwright.app.means import Means
from doorwright.app.take_found import Compared, compare_found
from doorwright.app.while_wanted import while_wanted
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.observation import Seen, Stage, what_counts
from doorwright.kernel.trail import Act
from doorwright.kernel.verdict import Subject
from doorwright.kernel.words import counted
from doorwright.model.aspect import Aspect, answered_at
from doorwright.model.walk import Walk
from doorwright.probe.ask import Asker, Manner
from doorwright.probe.heard import Heard, sightings
from doorwright.probe.neighbours import Neighbourhood
from doorwright.probe.runner import round_of
from doorwright.probe.target import LeftOut, Target, targets
from doorwright.rules.differences import Difference
from doorwright.store.book import Book

CAUTION: Final = (
    "Ask a network only with its owner's permission. Doorwright asks only the addresses of the plan, at the rate that"
    " you state, and changes nothing. Still: units may write what they are asked into their logs, and a network that is"
    " watched may take it for an attack. Tell whoever watches it before you begin."
)
"""What is shown before a building is asked for the first time."""
KEEP_MINUTES: Final = 30
"""Whoever was asked less than this long ago is left in peace, unless all are to be asked again."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Verified:
    """What came of asking a building.

    Attributes:
        heard: what was heard in this run, in order of hearing.
        kept: the names of those asked so lately that they were left in peace.
        left_out: who cannot be asked, and why.
        no_way: the names of those to whom this machine had no way; nothing is known of them.
        tells_macs: whether the system tells which MAC addresses are at its addresses.
        new_count: how many observations the book gained.
        compared: what is found beside the plan, of those chosen.
    """

    heard: tuple[Heard, ...]
    kept: tuple[str, ...]
    left_out: tuple[LeftOut, ...]
    no_way: tuple[str, ...]
    tells_macs: bool
    new_count: int
    compared: Compared

    @property
    def silent(self) -> tuple[str, ...]:
        """The names of those who gave no answer."""
        return tuple(one.target.name for one in self.heard if one.is_there is False)


def is_permitted(book_path: Path) -> bool:
    """Return whether somebody has said before, in this book, that the owner permits to ask.

    Raises:
        Refused: the book cannot be read.
    """
    with Book.open(book_path, read_only=True) as book:
        return any(noted.act is Act.ASKED for noted in book.trail())


def verify_book(
    book_path: Path,
    means: Means,
    *,
    manner: Manner,
    only: Sequence[str] = (),
    permitted: bool = False,
    again: bool = False,
    keep_minutes: float = KEEP_MINUTES,
    listen: Callable[[Heard, int, int], None] | None = None,
    still_wanted: Callable[[], None] = lambda: None,
) -> Verified:
    """Ask the parts of the plan, write down what each answers as it comes, and set it all beside the plan.

    Stopped at any moment, everything that was heard until then is in the book, and the next run goes on from there.

    Args:
        book_path: the book.
        means: the world.
        manner: how fast, how many at once, at which ports.
        only: the names of the parts to ask; none asks all.
        permitted: that the owner permits it. Once it was said, the book remembers.
        again: ask also those who were asked less than ``keep_minutes`` ago.
        keep_minutes: for how long an answer is good.
        listen: hears each result, how many were asked by then, and how many are to be asked.
        still_wanted: is asked a few times a second; whatever it raises stops the asking, and is raised here.

    Raises:
        Refused: nobody said that it is permitted, a name that is in no plan, or nobody to ask. Nothing was sent.
    """
    with Book.open(book_path) as book:
        if not permitted and not any(noted.act is Act.ASKED for noted in book.trail()):
            raise Refused(f"the network's owner must permit this first. {CAUTION}", remedy="If so, say it: --permitted")
        walk = Walk(book.site())
        everybody, left_out = targets(walk, manner.ports)
        chosen, left_out = chosen_of(everybody, left_out, only)
        if not chosen:
            reasons = "; ".join(f"{one.name}: {one.reason}" for one in left_out[:5])
            raise Refused(
                f"there is nobody to ask{f' ({reasons})' if reasons else ''}",
                remedy="Plan the addresses first: doorwright plan BOOK",
            )
        seen = what_counts(book.observations(), Stage.FOUND)
        keep = timedelta(0) if again else timedelta(minutes=keep_minutes)
        present = round_of(chosen, _asked_at(chosen, seen), now=means.now(), keep=keep)

        def news_of(heard: Heard) -> tuple[tuple[Aspect, str], ...]:
            known = {aspect: one.value for aspect, one in seen.get(heard.subject, {}).items()}
            return sightings(heard, known)

        hearing = Hearing(book, means, len(present.due), news_of, listen)
        neighbourhood = Neighbourhood(frozenset(one.address for one in everybody))
        if present.due:
            book.note_trail(
                means.trace(
                    Act.ASKED, f"{counted(len(present.due), 'part')}, {manner.asks_per_s:g} asks a second at most"
                )
            )
            asker = Asker(manner, neighbourhood, now=means.now, chance=means.random_bytes)
            asking = hear_all(present.due, asker.ask, hearing, at_once_count=manner.at_once_count)
            asyncio.run(while_wanted(asking, still_wanted))
    return Verified(
        heard=tuple(hearing.heard),
        kept=tuple(one.name for one in present.kept),
        left_out=left_out,
        no_way=tuple(one.target.name for one in hearing.heard if one.is_there is None),
        tells_macs=neighbourhood.tells,
        new_count=hearing.keeper.new_count,
        compared=of_these(compare_found(book_path), {one.subject for one in chosen} if only else None),
    )


def chosen_of(
    everybody: tuple[Target, ...], left_out: tuple[LeftOut, ...], only: Sequence[str], *, where: str = "--only"
) -> tuple[tuple[Target, ...], tuple[LeftOut, ...]]:
    """Return those of the names given, of whom may be asked and of whom is left out; without names all.

    Raises:
        Refused: names that are in no plan; all are told.
    """
    if not only:
        return everybody, left_out
    wanted = {name.strip().casefold() for name in only}
    known = {one.name.casefold() for one in everybody} | {one.name.casefold() for one in left_out}
    mistakes = tuple(
        Mistake(
            where=where,
            read=name,
            problem="no unit, switch or SIP server of the plan has this name",
            remedy="Write it as in the plan.",
        )
        for name in only
        if name.strip().casefold() not in known
    )
    if mistakes:
        raise Refused("nobody was asked", remedy="Correct the names and try again.", mistakes=mistakes)
    return (
        tuple(one for one in everybody if one.name.casefold() in wanted),
        tuple(one for one in left_out if one.name.casefold() in wanted),
    )


def _asked_at(chosen: Sequence[Target], seen: Seen) -> Mapping[Subject, datetime]:
    """Return when each was asked last at the address that it has now in the plan."""
    asked = {}
    for target in chosen:
        last = seen.get(target.subject, {}).get(Aspect.ANSWERED)
        if last is not None and answered_at(last.value)[1] == target.address:
            asked[target.subject] = last.seen_at
    return asked


def of_these(compared: Compared, subjects: set[Subject] | None) -> Compared:
    """Return what is found beside the plan of these alone; of everybody where none are given."""
    if subjects is None:
        return compared
    rehearsal = compared.rehearsal
    return replace(
        compared,
        differences=_only(compared.differences, subjects),
        strangers=(),
        rehearsal=replace(rehearsal, differences=_only(rehearsal.differences, subjects)) if rehearsal else None,
    )


def _only(found: tuple[tuple[Difference, str], ...], subjects: set[Subject]) -> tuple[tuple[Difference, str], ...]:
    return tuple(pair for pair in found if pair[0].part.subject in subjects)
