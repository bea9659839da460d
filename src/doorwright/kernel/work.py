"""What was done on site, when and by whom. Records are append-only: a correction is a new one that names the old."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from typing import Final


class Deed(StrEnum):
    """What kind of thing a record tells of a task."""

    DONE = "done"
    NOT_DONE = "not done after all"
    TIME = "time spent"
    NOTE = "note"
    READING = "reading"
    PHOTOGRAPH = "photograph"


class Quantity(StrEnum):
    """What can be read off on site."""

    LINK_SPEED = "link speed"
    POE_POWER = "PoE power"
    LOCK_VOLTAGE = "voltage at the lock"
    LOCK_CURRENT = "current of the lock"
    LOOP_RESISTANCE = "loop resistance"

    @property
    def unit(self) -> str:
        """The unit it is read in, as people write it."""
        return {
            Quantity.LINK_SPEED: "Mbit/s",
            Quantity.POE_POWER: "W",
            Quantity.LOCK_VOLTAGE: "V",
            Quantity.LOCK_CURRENT: "A",
            Quantity.LOOP_RESISTANCE: "Ω",
        }[self]

    @property
    def most(self) -> float:
        """A figure above this was misread or mistyped: no such cable, port or lock is planned here."""
        return {
            Quantity.LINK_SPEED: 100_000,
            Quantity.POE_POWER: 100,
            Quantity.LOCK_VOLTAGE: 60,
            Quantity.LOCK_CURRENT: 20,
            Quantity.LOOP_RESISTANCE: 10_000,
        }[self]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkRecord:
    """One thing recorded of one task.

    ``id`` is made where the record is made, so that sending it twice records it once. ``task`` is the key of a line of
    the run sheet. ``value`` is text in one form by ``deed``: whole seconds of time spent, the words of a note, the
    decimal figure of a reading of ``quantity`` in its unit, the SHA-256 of a photograph; empty where it is done or not.
    ``done_at`` is by the clock of whoever made it, ``received_at`` by that of the machine with the book.
    """

    id: str
    task: str
    deed: Deed
    value: str = ""
    quantity: Quantity | None = None
    done_at: datetime
    received_at: datetime
    by: str
    corrects: str | None = None

    def says_the_same(self, other: "WorkRecord") -> bool:
        """Say whether two records differ in nothing but when they were received."""
        return replace(self, received_at=other.received_at) == other

    def __str__(self) -> str:
        match self.deed:
            case Deed.TIME:
                minutes, seconds = divmod(int(self.value), 60)
                return f"{minutes} min {seconds:02d} s spent"
            case Deed.NOTE:
                return self.value
            case Deed.READING:
                return f"{self.quantity}: {self.value} {self.quantity.unit if self.quantity else ''}".rstrip()
        return self.deed.value


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How one task stands: every record of it in order of recording, and what counts of them."""

    records: tuple[WorkRecord, ...] = ()

    @property
    def counting(self) -> tuple[WorkRecord, ...]:
        """The records that no other corrects."""
        corrected = {one.corrects for one in self.records}
        return tuple(one for one in self.records if one.id not in corrected)

    @property
    def settled(self) -> WorkRecord | None:
        """The record that says whether it is done: the latest by the clock on site, of two at once the later sent.

        A clock on site that runs ahead counts no further than the moment at which the record was received.
        """
        said = [one for one in self.counting if one.deed in {Deed.DONE, Deed.NOT_DONE}]
        return max(reversed(said), key=lambda one: min(one.done_at, one.received_at), default=None)

    @property
    def is_done(self) -> bool:
        """Whether the task is done."""
        return self.settled is not None and self.settled.deed is Deed.DONE

    @property
    def spent_s(self) -> int:
        """How long was worked on it, in seconds, all people together."""
        return sum(int(one.value) for one in self.counting if one.deed is Deed.TIME)


NOTHING_DONE: Final = Progress()


def progress_by_task(records: Iterable[WorkRecord]) -> dict[str, Progress]:
    """Return how each task stands of which anything is recorded; ``records`` come in order of recording."""
    by_task: defaultdict[str, list[WorkRecord]] = defaultdict(list)
    for one in records:
        by_task[one.task].append(one)
    return {task: Progress(records=tuple(there)) for task, there in by_task.items()}
