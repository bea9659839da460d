"""What is done on site: the run sheet with what was recorded of each task, and recording more."""

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.work import NOTHING_DONE, Deed, Progress, Quantity, WorkRecord, progress_by_task
from doorwright.model.naming import name_of
from doorwright.model.walk import Walk
from doorwright.plan.runsheet import STAGES, Action, Task, run_sheet
from doorwright.plan.taskfacts import place_of
from doorwright.store.book import Book
from doorwright.store.photograph import Photograph, photograph

TASK_MOST: Final = 40_000
"""Characters in the key of a task: looking again at a level of a thousand units takes some twenty thousand."""
NOTE_MOST: Final = 4_000
TIME_MOST_S: Final = 24 * 60 * 60

_FIGURE: Final = re.compile(r"\d{1,7}(?:[.,]\d{1,6})?")


@dataclass(frozen=True, slots=True)
class Line:
    """One task, the place under which it stands, and how it stands."""

    task: Task
    place: str
    progress: Progress


@dataclass(frozen=True, slots=True)
class Gone:
    """What was recorded of a task that the run sheet no longer has: its kind, its parts by name, how it stood."""

    task: str
    name: str
    progress: Progress


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkSheet:
    """The run sheet of a revision with what was recorded; ``gone`` is what a later plan took off it."""

    revision: int
    lines: tuple[Line, ...]
    gone: tuple[Gone, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How far a part of the work is. Minutes are those planned, ``spent_s`` what was recorded."""

    tasks_count: int
    done_count: int
    left_min: int
    spent_s: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One record as it comes from a phone or the command line: text that is still to be judged, and a picture."""

    id: str
    task: str
    deed: str
    value: str = ""
    quantity: str = ""
    done_at: str
    corrects: str = ""
    picture: bytes | None = None


def work_sheet(book_path: Path) -> WorkSheet:
    """Return the run sheet of the latest revision with what was recorded of each task.

    Raises:
        Refused: the book cannot be read.
    """
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        return sheet_of(walk, book.head().number, placed_tasks(walk), progress_by_task(book.work().records))


def placed_tasks(walk: Walk) -> tuple[tuple[Task, str], ...]:
    """Return the tasks in order, each with the place under which it stands."""
    return tuple((task, place_of(walk, task)) for task in run_sheet(walk))


def sheet_of(
    walk: Walk, revision: int, tasks: Sequence[tuple[Task, str]], progress: Mapping[str, Progress]
) -> WorkSheet:
    """Return tasks joined to how each stands."""
    lines = tuple(Line(task, place, progress.get(task.key, NOTHING_DONE)) for task, place in tasks)
    there = {line.task.key for line in lines} if progress else set()
    gone = tuple(Gone(key, _name_of_key(walk, key), stands) for key, stands in progress.items() if key not in there)
    return WorkSheet(revision=revision, lines=lines, gone=gone)


def tally(lines: Iterable[Line]) -> Tally:
    """Return how far some lines are."""
    there = tuple(lines)
    return Tally(
        tasks_count=len(there),
        done_count=sum(line.progress.is_done for line in there),
        left_min=sum(line.task.minutes for line in there if not line.progress.is_done),
        spent_s=sum(line.progress.spent_s for line in there),
    )


def record_work(book_path: Path, sent: Sequence[Sent], means: Means) -> tuple[WorkRecord, ...]:
    """Record what was done, by whoever asks, and return what was new. What was sent before adds nothing.

    Raises:
        Refused: something of it cannot be recorded (all mistakes are told). Nothing was recorded.
    """
    now = means.now()
    records: list[WorkRecord] = []
    pictures: list[Photograph] = []
    mistakes: list[Mistake] = []
    for one in sent:
        try:
            record, picture = _judged(one, means.who, now)
        except Refused as refused:
            mistakes += refused.mistakes or (
                Mistake(where=f"record {one.id[:64]}", read="", problem=refused.message, remedy=refused.remedy),
            )
        else:
            records.append(record)
            pictures += [picture] if picture is not None else []
    if mistakes:
        raise Refused("this work cannot be recorded; nothing was", mistakes=tuple(mistakes))
    with Book.open(book_path) as book:
        return book.record_work(records, pictures)


def _judged(one: Sent, who: str, now: datetime) -> tuple[WorkRecord, Photograph | None]:
    """Return a record and its picture.

    Raises:
        Refused: something of it is wrong.
    """
    picture = photograph(one.picture) if one.picture is not None else None
    deed = next((deed for deed in Deed if deed.value == one.deed), None)
    quantity = next((quantity for quantity in Quantity if quantity.value == one.quantity), None)
    done_at = _moment(one.done_at)
    value = picture.sha256 if picture is not None else one.value.strip().replace("\r\n", "\n")
    if deed is Deed.READING:
        value = value.replace(",", ".")
    cases = (
        (not _is_key(one.task), one.task[:80], "this names no task", "Name one of the run sheet."),
        (deed is None, one.deed, "nothing of this kind is recorded", f"Give one of: {', '.join(Deed)}."),
        (
            bool(one.quantity) and (quantity is None or deed is not Deed.READING),
            one.quantity,
            "this is nothing that is read off",
            f"Give one of: {', '.join(Quantity)}.",
        ),
        (
            done_at is None,
            one.done_at,
            "this is no moment with its time zone",
            "Write it as 2026-11-25T14:05:00+00:00.",
        ),
        (
            picture is not None and deed is not Deed.PHOTOGRAPH,
            one.deed,
            "a picture belongs to a photograph",
            "Record it as one.",
        ),
    )
    wrong = [case[1:] for case in cases if case[0]]
    if not wrong and deed is not None:
        wrong = list(_wrong_value(deed, value, quantity))
    if wrong or deed is None or done_at is None:
        mistakes = tuple(
            Mistake(where=f"record {one.id[:64]}", read=read, problem=problem, remedy=remedy)
            for read, problem, remedy in wrong
        )
        raise Refused("this cannot be recorded", mistakes=mistakes)
    record = WorkRecord(
        id=one.id,
        task=one.task,
        deed=deed,
        value=value,
        quantity=quantity,
        done_at=done_at,
        received_at=now,
        by=who,
        corrects=one.corrects or None,
    )
    return record, picture


def _wrong_value(deed: Deed, value: str, quantity: Quantity | None) -> Iterable[tuple[str, str, str]]:
    match deed:
        case Deed.DONE | Deed.NOT_DONE if value:
            yield value[:80], "this says nothing more than that", "Write it as a note."
        case Deed.TIME if not (value.isascii() and value.isdecimal() and 1 <= int(value[:9]) <= TIME_MOST_S):
            yield value[:80], "this is no time spent", "Give whole seconds, from 1 to those of a day."
        case Deed.NOTE if not value:
            yield "", "the note is empty", "Write something."
        case Deed.NOTE if len(value) > NOTE_MOST:
            yield value[:80], f"the note has {len(value)} characters", f"Write at most {NOTE_MOST}."
        case Deed.READING:
            yield from _wrong_reading(value, quantity)
        case Deed.PHOTOGRAPH if not value:
            yield "", "there is no picture", "Send the picture with it."


def _wrong_reading(value: str, quantity: Quantity | None) -> Iterable[tuple[str, str, str]]:
    if quantity is None:
        yield "", "nothing says what was read off", f"Give one of: {', '.join(Quantity)}."
    elif not _FIGURE.fullmatch(value) or float(value) > quantity.most:
        most = f"Write a figure from 0 to {quantity.most:g} {quantity.unit}."
        yield value[:80], f"this is no {quantity} in {quantity.unit}", most


def _moment(text: str) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text)
        return moment if moment.utcoffset() is not None else None
    except ValueError:
        return None


def _is_key(key: str) -> bool:
    stage, _, rest = key.partition("/")
    kind, _, idents = rest.partition("/")
    return stage in STAGES and kind in set(Action) and bool(idents.strip("+")) and len(key) <= TASK_MOST


def _name_of_key(walk: Walk, key: str) -> str:
    stage, kind, idents = key.split("/", 2)
    parts = [walk.part(ident) for ident in idents.split("+")]
    names = [name_of(walk, part) if part else "a part that is gone" for part in parts[:3]]
    more = f" and {len(parts) - 3} more" if len(parts) > 3 else ""
    return f"{stage}: {kind}: {', '.join(names)}{more}"
