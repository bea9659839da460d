"""`work`: how far the work on site is, and recording more of it."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.do_work import Line, Sent, Tally, WorkSheet, record_work, tally, work_sheet
from doorwright.app.means import Means
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.words import counted
from doorwright.kernel.work import Deed, Quantity
from doorwright.plan.runsheet import STAGES

_QUANTITIES: Final = ", ".join(f"{one} ({one.unit})" for one in Quantity)


@options.command(
    name="work",
    example="doorwright work tower.book\n"
    "doorwright work tower.book --list --stage dwellings\n"
    'doorwright work tower.book --done 12 --done 13 --minutes 9 --note "lid was loose"\n'
    'doorwright work tower.book --task 40 --reading "voltage at the lock=11.6" --photograph lock.jpg',
)
@options.book
@click.option("--done", multiple=True, type=int, metavar="NUMBER", help="A task of the run sheet that is done.")
@click.option("--not-done", multiple=True, type=int, metavar="NUMBER", help="A task that is not done after all.")
@click.option("--task", multiple=True, type=int, metavar="NUMBER", help="A task of which only more is recorded.")
@click.option("--minutes", type=int, help="How long was worked on each task named.")
@click.option("--note", help="What is to be remembered of each task named.")
@click.option("--reading", multiple=True, metavar="WHAT=FIGURE", help=f"What was read off. WHAT is: {_QUANTITIES}.")
@click.option(
    "--photograph",
    multiple=True,
    type=click.Path(path_type=Path, dir_okay=False),
    help="A JPEG, PNG or WebP file. Of it only the picture is kept: no place, time or camera.",
)
@click.option("--list", "list_all", is_flag=True, help="List each task, with what was recorded.")
@click.option("--stage", type=click.Choice(list(STAGES)), help="Only the tasks of this stage.")
@options.by
def work(
    printer: Printer,
    book: Path,
    done: tuple[int, ...],
    not_done: tuple[int, ...],
    task: tuple[int, ...],
    minutes: int | None,
    note: str | None,
    reading: tuple[str, ...],
    photograph: tuple[Path, ...],
    stage: str | None,
    by: str | None,
    *,
    list_all: bool,
) -> None:
    """Show how far the work on site is, or record more of it.

    Tasks are named by their number on the present run sheet (doorwright show BOOK runsheet). What is recorded stays
    with the task also where a later plan gives it another number. A record is never changed: of done and not done the
    latest counts.
    """
    sheet = work_sheet(book)
    numbers = tuple(dict.fromkeys((*done, *not_done, *task)))
    more = minutes is not None or note is not None or reading or photograph
    if not numbers:
        if more:
            raise click.UsageError("name the task: --done, --not-done or --task NUMBER")
        lines = tuple(line for line in sheet.lines if stage is None or line.task.stage == stage)
        _show(printer, sheet, lines, list_all=list_all)
        return
    if task and not more:
        raise click.UsageError("say what is recorded of --task: --minutes, --note, --reading or --photograph")
    keys = _keys(sheet, numbers)
    with options.means(printer, by) as means:
        facts: list[tuple[int, Deed, str, str, bytes | None]] = [
            *((number, Deed.DONE, "", "", None) for number in done),
            *((number, Deed.NOT_DONE, "", "", None) for number in not_done),
        ]
        for number in numbers:
            facts += [(number, Deed.TIME, f"{minutes * 60}", "", None)] if minutes is not None else []
            facts += [(number, Deed.NOTE, note, "", None)] if note is not None else []
            facts += [(number, Deed.READING, figure, what, None) for what, figure in map(_reading, reading)]
            facts += [(number, Deed.PHOTOGRAPH, "", "", _picture(path)) for path in photograph]
        sent = [_sent(means, keys[number], deed, value, what, picture) for number, deed, value, what, picture in facts]
        recorded = record_work(book, sent, means)
    printer.result({"recorded": recorded})
    printer.line(f"Recorded {counted(len(recorded), 'line')} of {counted(len(numbers), 'task')}.")
    printer.line(f"Next: doorwright work {book}")


def _sent(means: Means, key: str, deed: Deed, value: str, what: str, picture: bytes | None) -> Sent:
    return Sent(
        id=means.new_id(),
        task=key,
        deed=deed,
        value=value,
        quantity=what,
        done_at=means.now().isoformat(),
        picture=picture,
    )


def _keys(sheet: WorkSheet, numbers: tuple[int, ...]) -> dict[int, str]:
    """Return the key of each task by its number.

    Raises:
        Refused: the run sheet has no task of some number (all are told).
    """
    known = {line.task.number: line.task.key for line in sheet.lines}
    mistakes = tuple(
        Mistake(
            where="task",
            read=f"{number}",
            problem="the run sheet has no such task",
            remedy=f"Its tasks are numbered 1 to {len(known)}." if known else "There is nothing to do yet.",
        )
        for number in numbers
        if number not in known
    )
    if mistakes:
        raise Refused("nothing was recorded", remedy="Give the command again.", mistakes=mistakes)
    return {number: known[number] for number in numbers}


def _reading(text: str) -> tuple[str, str]:
    what, _, figure = text.partition("=")
    return what.strip(), figure.strip()


def _picture(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except OSError as error:
        raise Refused(f"{path} cannot be read: {error.strerror}", remedy="Check the path.") from error


def _show(printer: Printer, sheet: WorkSheet, lines: tuple[Line, ...], *, list_all: bool) -> None:
    groups: dict[tuple[str, str], list[Line]] = {}
    for line in lines:
        groups.setdefault((line.task.stage, line.place), []).append(line)
    tallies = {at: tally(there) for at, there in groups.items()}
    printer.result(_as_json(sheet, lines, tallies))
    if not sheet.lines:
        printer.line("There is nothing to do yet: the building has no units.")
        return
    if list_all:
        printer.table(
            ("task", "stage", "where", "what", "state", "min spent", "recorded"),
            [
                (
                    f"{line.task.number}",
                    line.task.stage,
                    line.task.where,
                    line.task.action,
                    _state(line),
                    _minutes(line.progress.spent_s),
                    "; ".join(f"{one}" for one in line.progress.counting if one.deed not in _SAID_ALREADY),
                )
                for line in lines
            ],
        )
    else:
        rows = [
            (
                stage,
                place,
                f"{one.done_count} of {one.tasks_count}",
                f"{one.left_min}",
                _minutes(one.spent_s),
            )
            for (stage, place), one in tallies.items()
        ]
        printer.table(("stage", "where", "done", "min left", "min spent"), rows)
    whole = tally(lines)
    printer.line(
        f"Done {whole.done_count} of {counted(whole.tasks_count, 'task')}; {whole.left_min} min planned are left"
        f", {_minutes(whole.spent_s) or '0'} min were spent."
    )
    if sheet.gone:
        printer.table(
            ("recorded, and no longer on the run sheet", "state"),
            [(one.name, "done" if one.progress.is_done else "not done") for one in sheet.gone],
            title="Gone",
        )


_SAID_ALREADY: Final = frozenset({Deed.DONE, Deed.NOT_DONE, Deed.TIME})


def _state(line: Line) -> str:
    settled = line.progress.settled
    return f"{settled.deed} ({settled.by})" if settled is not None else "open"


def _minutes(spent_s: int) -> str:
    return f"{-(-spent_s // 60)}" if spent_s else ""


def _as_json(sheet: WorkSheet, lines: tuple[Line, ...], tallies: dict[tuple[str, str], Tally]) -> dict[str, Any]:
    return {
        "revision": sheet.revision,
        "progress": tally(lines),
        "by_place": [{"stage": stage, "where": place, "progress": one} for (stage, place), one in tallies.items()],
        "tasks": [
            {
                "number": line.task.number,
                "key": line.task.key,
                "stage": line.task.stage,
                "where": line.task.where,
                "action": line.task.action,
                "minutes": line.task.minutes,
                "is_done": line.progress.is_done,
                "spent_s": line.progress.spent_s,
                "records": line.progress.records,
            }
            for line in lines
        ],
        "gone": [
            {"task": one.task, "name": one.name, "is_done": one.progress.is_done, "records": one.progress.records}
            for one in sheet.gone
        ],
    }


COMMAND: Final = work
