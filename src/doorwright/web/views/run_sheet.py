"""The run sheet on site: tasks in order, what to enter, what is recorded of each; the phone may lose its link."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from pathlib import Path
from typing import Any, Final

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException

from doorwright.app.do_work import Line, Sent, Tally, WorkSheet, record_work, tally
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.kernel.work import Deed, Progress, WorkRecord
from doorwright.model.walk import Walk
from doorwright.plan.runsheet import STAGES
from doorwright.plan.taskfacts import QUANTITIES, End, caution_of, ends_of
from doorwright.web.answers import Answer, Download, Go, Page, Said
from doorwright.web.asking import Ask, get, post
from doorwright.web.paging import piece, start_of
from doorwright.web.showing import book_url

TASKS_MOST: Final = 100
"""So many tasks on a page: what is on the page works without the server, and a phone draws it at once."""
_WORKER: Final = Path(__file__).parents[1] / "static" / "run-sheet-offline.js"


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordLine:
    """One record as it is shown. ``counts`` is false where another corrects it; ``picture`` is its address."""

    id: str
    deed: Deed
    said: str
    by: str
    at: datetime
    counts: bool
    picture: str


@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityLine:
    """What can be read off, and in which unit."""

    name: str
    unit: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TaskLine:
    """One task with all that is needed at it. ``fresh_id`` is for the record of a page without script."""

    key: str
    number: int
    place: str
    where: str
    action: str
    minutes: int
    caution: str
    parts_count: int
    ends: tuple[End, ...]
    quantities: tuple[QuantityLine, ...]
    is_done: bool
    settled_by: str
    settled_at: datetime | None
    spent_min: int
    records: tuple[RecordLine, ...]
    fresh_id: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """The tasks of one stage, of dwellings on one level, that are on this page; and how far all of them are."""

    stage: str
    place: str
    tally: Tally
    tasks: tuple[TaskLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What a filter offers, and what is chosen."""

    chosen: str
    offers: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class GoneLine:
    """What was recorded of a task that the run sheet no longer has."""

    name: str
    is_done: bool
    records: tuple[RecordLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSheetView:
    """A piece of the run sheet, as filtered."""

    revision: int
    tally: Tally
    stage: Choice
    place: Choice
    by: Choice
    state: Choice
    shown_count: int
    groups: tuple[Group, ...]
    first: int
    next_address: str
    next_open: int | None
    gone: tuple[GoneLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OneTask:
    """One task as it stands now, and how far all are."""

    revision: int
    tally: Tally
    task: TaskLine


def page(ask: Ask) -> Answer:
    """Show the run sheet."""
    sheet, walk = _sheet(ask)
    stage, place, by, state = (ask.text(name) for name in ("stage", "place", "by", "state"))
    of_stage = [line for line in sheet.lines if not stage or line.task.stage == stage]
    lines = [
        line
        for line in of_stage
        if (not place or line.place == place)
        and (not by or any(one.by == by for one in line.progress.records))
        and (state not in {"open", "done"} or line.progress.is_done == (state == "done"))
    ]
    shown = piece(lines, start_of(ask), TASKS_MOST)
    whole: dict[tuple[str, str], list[Line]] = {}
    for line in sheet.lines:
        whole.setdefault(_group_of(line), []).append(line)
    groups = tuple(
        Group(
            stage=STAGES[at[0]],
            place=at[1],
            tally=tally(whole[at]),
            tasks=tuple(_task(ask, walk, line) for line in there),
        )
        for at, there in groupby(shown.rows, key=_group_of)
    )
    people = sorted({one.by for line in sheet.lines for one in line.progress.records})
    asked = {"stage": stage or None, "place": place or None, "by": by or None, "state": state or None}
    view = RunSheetView(
        revision=sheet.revision,
        tally=tally(sheet.lines),
        stage=Choice(chosen=stage, offers=(("", "all stages"), *STAGES.items())),
        place=Choice(chosen=place, offers=(("", "all places"), *_same({line.place: None for line in of_stage}))),
        by=Choice(chosen=by, offers=(("", "anybody"), *_same(people))),
        state=Choice(chosen=state, offers=(("", "open and done"), ("open", "open"), ("done", "done"))),
        shown_count=shown.total_count,
        groups=groups,
        first=shown.start + 1 if shown.rows else 0,
        next_address=book_url(ask.book.name, "run-sheet", **asked, **{"from": shown.next_start})
        if shown.next_start is not None
        else "",
        next_open=next((line.task.number for line in shown.rows if not line.progress.is_done), None),
        gone=tuple(
            GoneLine(name=one.name, is_done=one.progress.is_done, records=_records(ask, one.progress))
            for one in sheet.gone
        ),
    )
    return Page(template="onsite/run_sheet.html", title="Run sheet", view=view)


def one_task(ask: Ask) -> Answer:
    """Show one task as it stands now: a piece for the page that is open already."""
    sheet, walk = _sheet(ask)
    line = next((line for line in sheet.lines if f"{line.task.number}" == ask.path["number"]), None)
    if line is None:
        raise HTTPException(404, "the run sheet has no such task now; open it again")
    view = OneTask(revision=sheet.revision, tally=tally(sheet.lines), task=_task(ask, walk, line))
    return Page(template="onsite/one_task.html", title=line.task.action, view=view)


def record(ask: Ask) -> Answer:
    """Record what a page's program sends, once however often it is sent."""
    by = ask.text("by")
    if by and by != ask.person.name:
        raise HTTPException(409, f"{by} recorded this; it is sent when {by} signs in again")
    sent = _sent(ask, value=ask.text("value"), done_at=ask.text("done_at"))
    new = record_work(ask.book.path, (sent,), ask.means)
    number = _tell(ask, sent.task) if new else None
    return Said({"id": sent.id, "new": bool(new), "number": number})


def record_by_form(ask: Ask) -> Answer:
    """Record what a form sends, where a page has no program."""
    match ask.text("deed"):
        case Deed.TIME:
            minutes = ask.text("minutes")
            value = f"{int(minutes) * 60}" if _is_count(minutes) else minutes
        case Deed.NOTE:
            value = ask.text("note")
        case Deed.READING:
            value = ask.text("figure")
        case _:
            value = ""
    sent = _sent(ask, value=value, done_at=ask.means.now().isoformat())
    record_work(ask.book.path, (sent,), ask.means)
    number = _tell(ask, sent.task)
    to = book_url(ask.book.name, "run-sheet", stage=ask.text("stage") or None, place=ask.text("place") or None)
    return Go(f"{to}#task-{number}" if number is not None else to, f"Recorded: {sent.deed}.")


def picture(ask: Ask) -> Answer:
    """Show a photograph."""
    found = ask.book.book.photograph(ask.path["sha256"])
    if found is None:
        raise HTTPException(404, "the book has no such photograph")
    suffix = found.media_type.rpartition("/")[2]
    return Download(
        name=f"{found.sha256[:12]}.{suffix}", media_type=found.media_type, content=found.content, inline=True
    )


def worker(_: Ask) -> Answer:
    """Return the service worker: from the book's own address, because it may serve no page above where it lies."""
    return Download(name=_WORKER.name, media_type="text/javascript", content=_WORKER, inline=True)


def _sheet(ask: Ask) -> tuple[WorkSheet, Walk]:
    head, walk = ask.book.now()
    return ask.book.on_site.sheet(ask.book.book, head.number, walk), walk


def _sent(ask: Ask, *, value: str, done_at: str) -> Sent:
    deed = ask.text("deed")
    file: Any = ask.fields.get("picture")
    has_picture = deed == Deed.PHOTOGRAPH and isinstance(file, UploadFile) and bool(file.filename)
    if deed == Deed.PHOTOGRAPH and not has_picture:
        raise Refused("no photograph was given", remedy="Take one, or choose a file.")
    return Sent(
        id=ask.text("id"),
        task=ask.text("task"),
        deed=deed,
        value=value,
        quantity=ask.text("quantity") if deed == Deed.READING else "",
        done_at=done_at,
        corrects=ask.text("corrects"),
        picture=file.file.read() if has_picture else None,
    )


def _tell(ask: Ask, key: str) -> int | None:
    """Tell the open pages that a task stands otherwise, and return its number; None where it is off the run sheet."""
    sheet, _ = _sheet(ask)
    number = next((line.task.number for line in sheet.lines if line.task.key == key), None)
    ask.book.tell("work", number=number, by=ask.person.name)
    return number


def _group_of(line: Line) -> tuple[str, str]:
    """Return stage and place: in dwellings a level is worked through, elsewhere each task says where it is."""
    return line.task.stage, line.place if line.task.stage == "dwellings" else ""


def _is_count(text: str) -> bool:
    return text.isascii() and text.isdecimal() and len(text) <= 6


def _same(words: Iterable[str]) -> tuple[tuple[str, str], ...]:
    return tuple((word, word) for word in words if word)


def _task(ask: Ask, walk: Walk, line: Line) -> TaskLine:
    task, settled = line.task, line.progress.settled
    return TaskLine(
        key=task.key,
        number=task.number,
        place=line.place,
        where=task.where,
        action=task.action,
        minutes=task.minutes,
        caution=caution_of(task),
        parts_count=len(task.parts),
        ends=ends_of(walk, task),
        quantities=tuple(QuantityLine(name=one.value, unit=one.unit) for one in QUANTITIES[task.kind]),
        is_done=line.progress.is_done,
        settled_by=settled.by if settled else "",
        settled_at=settled.done_at if settled else None,
        spent_min=-(-line.progress.spent_s // 60),
        records=_records(ask, line.progress),
        fresh_id=ask.means.new_id(),
    )


def _records(ask: Ask, progress: Progress) -> tuple[RecordLine, ...]:
    counting = {one.id for one in progress.counting}
    return tuple(_record(ask, one, counts=one.id in counting) for one in progress.records)


def _record(ask: Ask, one: WorkRecord, *, counts: bool) -> RecordLine:
    is_picture = one.deed is Deed.PHOTOGRAPH
    return RecordLine(
        id=one.id,
        deed=one.deed,
        said=str(one),
        by=one.by,
        at=one.done_at,
        counts=counts,
        picture=book_url(ask.book.name, "photographs", one.value) if is_picture else "",
    )


ROUTES: Final = (
    *get("/books/{book}/run-sheet", page),
    *get("/books/{book}/run-sheet/tasks/{number}", one_task),
    *post("/books/{book}/run-sheet/records", record, needs=Role.WORK),
    *post("/books/{book}/run-sheet", record_by_form, needs=Role.WORK),
    *get("/books/{book}/photographs/{sha256}", picture, twin=False),
    *get("/books/{book}/run-sheet-offline.js", worker, twin=False),
)
