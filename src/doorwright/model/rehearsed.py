"""How a book keeps a rehearsal: what it was, and its calls summed up, as text; and what counts of the latest.

A rehearsal takes the place of the one before it as a whole. It begins with one observation of the site that says of
which revision it was. Of the rest only that is recorded which is not as it was seen before; each such observation
corrects the one that counted until then. What a new rehearsal has nothing to say of any more is recorded as ``NONE``.
"""

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from doorwright.kernel.observation import Observation, Seen, Stage, what_counts
from doorwright.model.aspect import NONE, SITE_SUBJECT

CALLS: Final = "calls"
"""The aspect of a call unit under which stands how many calls were made there: "412 of 412 as proved"."""

NO_CALL: Final = "no call goes through"
NOTHING_RANG: Final = "nothing rang"
TOOK: Final = " took it"
NO_DOOR: Final = "no door freed"
SEEN: Final = "the visitor was seen"
ONE_WAY: Final = "speech one way or not at all"
BETWEEN: Final = "; "
"""How it is written down what became of a call: statements one after the other, with this between them."""

_REHEARSAL: Final = "rehearsal"
_CALL: Final = "call: "
_HEAD: Final = re.compile(r"revision (\d+), (\d+) of (\d+) calls as proved(?:, (.*))?")
_APART: Final = re.compile(r"(\d+) of (\d+) otherwise; (.+?): (.*) \(proved: (.*)\)", re.DOTALL)
_SUM: Final = re.compile(r"(\d+) of (\d+) as proved")


@dataclass(frozen=True, slots=True, kw_only=True)
class Head:
    """What a rehearsal was: of which revision, how many calls, how many went as proved, and on what conditions."""

    revision: int
    calls_count: int
    proved_count: int
    conditions: str = ""

    def __str__(self) -> str:
        text = f"revision {self.revision}, {self.proved_count} of {self.calls_count} calls as proved"
        return f"{text}, {self.conditions}" if self.conditions else text


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """Calls of one key or number that went otherwise than proved: how many of how many, and the first of them.

    ``when`` says at which hour and in which way, as "Mon 08:00, no answer"; ``happened`` and ``proved`` what became of
    it and what ought to have.
    """

    count: int
    of_count: int
    when: str
    happened: str
    proved: str

    def __str__(self) -> str:
        return f"{self.count} of {self.of_count} otherwise; {self.when}: {self.happened} (proved: {self.proved})"


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """The latest rehearsal that a book keeps: what it was, when, by whom, and all that was seen in it."""

    head: Head
    at: datetime
    by: str
    seen: Seen


def call_aspect(call: str) -> str:
    """Return the aspect of a call unit under which calls that went otherwise stand: "call: key 1.3 to 101"."""
    return f"{_CALL}{call}"


def called_of(aspect: str) -> str | None:
    """Return which calls an aspect speaks of, or None where it speaks of none."""
    return aspect.removeprefix(_CALL) if aspect.startswith(_CALL) else None


def apart_of(value: str) -> Apart | None:
    """Return what was written down of calls that went otherwise; None where nothing of the kind was."""
    found = _APART.fullmatch(value)
    if found is None:
        return None
    count, of_count, when, happened, proved = found.groups()
    return Apart(count=int(count), of_count=int(of_count), when=when, happened=happened, proved=proved)


def sum_text(proved_count: int, calls_count: int) -> str:
    """Return how many calls went as proved as it is written down: "412 of 412 as proved"."""
    return f"{proved_count} of {calls_count} as proved"


def is_all_as_proved(value: str) -> bool:
    """Say whether the sum of a call unit's calls says that all went as proved."""
    found = _SUM.fullmatch(value)
    return found is not None and found[1] == found[2]


def kept_of(observations: Iterable[Observation]) -> Kept | None:
    """Return the latest rehearsal of a book, or None where there was none yet.

    Args:
        observations: in order of recording.
    """
    counts = what_counts(observations, Stage.REHEARSED)
    begun = counts.get(SITE_SUBJECT, {}).get(_REHEARSAL)
    found = _HEAD.fullmatch(begun.value) if begun is not None else None
    if begun is None or found is None:
        return None
    head = Head(
        revision=int(found[1]), proved_count=int(found[2]), calls_count=int(found[3]), conditions=found[4] or ""
    )
    seen = {
        subject: there
        for subject, all_there in counts.items()
        if (there := {aspect: one for aspect, one in all_there.items() if one.value != NONE and one is not begun})
    }
    return Kept(head=head, at=begun.seen_at, by=begun.seen_by, seen=seen)


def news(
    there: Iterable[Observation],
    head: Head,
    seen: Iterable[Observation],
    *,
    new_id: Callable[[], str],
    at: datetime,
    by: str,
) -> tuple[Observation, ...]:
    """Return what is to be recorded of a rehearsal.

    Args:
        there: what the book has, in order of recording.
        head: what the rehearsal was.
        seen: all that was seen in it.
        new_id: gives identifiers.
        at: the moment of the rehearsal.
        by: who rehearsed.
    """
    counts = what_counts(there, Stage.REHEARSED)
    says = {(SITE_SUBJECT, _REHEARSAL): str(head)} | {(one.subject, one.aspect): one.value for one in seen}
    unsaid = {
        (subject, aspect): NONE
        for subject, aspects in counts.items()
        for aspect, one in aspects.items()
        if one.value != NONE and (subject, aspect) not in says
    }
    found = []
    for (subject, aspect), value in (says | unsaid).items():
        before = counts.get(subject, {}).get(aspect)
        if before is None or before.value != value or aspect == _REHEARSAL:
            one = Observation(
                id=new_id(), stage=Stage.REHEARSED, subject=subject, aspect=aspect, value=value, seen_at=at, seen_by=by,
                corrects=before.id if before is not None else None,
            )  # fmt: skip
            found.append(one)
    return tuple(found)
