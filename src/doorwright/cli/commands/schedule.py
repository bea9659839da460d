"""`schedule`: who does what when on site."""

from dataclasses import fields
from pathlib import Path
from typing import Any, Final, TypeVar

import click

from doorwright.app.draw import TECHNICIANS_MOST
from doorwright.app.schedule_work import Scheduled, schedule_work
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files
from doorwright.kernel.errors import Mistake, Refused
from doorwright.kernel.words import counted
from doorwright.plan.schedule import Pace, Schedule, Times, Visit

T = TypeVar("T", Pace, Times)


def _names(kind: type[Pace | Times]) -> str:
    defaults = kind()
    return ", ".join(f"{one.name.removesuffix('_s')} ({getattr(defaults, one.name)})" for one in fields(kind))


@options.command(
    name="schedule",
    example="doorwright schedule tower.book --technicians 2 --walk level=40 --out days.svg",
)
@options.book
@click.option(
    "--technicians", type=click.IntRange(1, TECHNICIANS_MOST), default=2, show_default=True,
    help="How many share the work.",
)  # fmt: skip
@click.option(
    "--seconds", type=click.FloatRange(0, 3600), default=20.0, show_default=True,
    help="About how long to search. The search counts its own work, so the same input gives the same schedule; "
    "only a machine half as fast as usual is stopped by the clock.",
)  # fmt: skip
@click.option("--walk", "walks", multiple=True, metavar="WHAT=SECONDS", help=f"A walk: {_names(Pace)}.")
@click.option("--allow", "allowed", multiple=True, metavar="WHAT=SECONDS", help=f"Time for hands: {_names(Times)}.")
@click.option(
    "--remote-registrar", is_flag=True,
    help="Units that others register with are reached over their network page, not at their place.",
)  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Draw the schedule into this SVG file.")
def schedule(
    printer: Printer,
    book: Path,
    technicians: int,
    seconds: float,
    walks: tuple[str, ...],
    allowed: tuple[str, ...],
    out: Path | None,
    *,
    remote_registrar: bool,
) -> None:
    """Share the work on site among technicians so that it is finished soonest.

    The walks and times are common practice, in seconds, for planning only. Each WHAT may be given once.
    """
    mistakes: list[Mistake] = []
    pace = _settings(Pace, "--walk", walks, mistakes)
    times = _settings(Times, "--allow", allowed, mistakes)
    if mistakes:
        raise Refused("the walks and times could not be read", mistakes=tuple(mistakes))
    with options.means(printer) as means:
        scheduled = schedule_work(
            book, means, technicians=technicians, seconds=seconds, pace=pace, times=times,
            remote_registrar=remote_registrar, out=out,
        )  # fmt: skip
    printer.result(_as_json(scheduled))
    _print(printer, scheduled)


def _settings(kind: type[T], option: str, given: tuple[str, ...], mistakes: list[Mistake]) -> T:
    """Read NAME=SECONDS; what cannot be read joins the mistakes."""
    names = {one.name.removesuffix("_s"): one.name for one in fields(kind)}
    values: dict[str, int] = {}
    for text in given:
        name, _, value = (part.strip() for part in text.partition("="))
        problem = ""
        if name not in names:
            problem, remedy = "there is nothing of this name", f"Names: {', '.join(names)}."
        elif not (value.isascii() and value.isdecimal() and int(value) <= 86_400):
            problem, remedy = "this is no number of seconds", "Give whole seconds, 0 to 86400, such as level=40."
        elif names[name] in values:
            problem, remedy = "this is given twice", "Give it once."
        if problem:
            mistakes.append(Mistake(where=option, read=text, problem=problem, remedy=remedy))
        else:
            values[names[name]] = int(value)
    return kind(**values)


def _print(printer: Printer, scheduled: Scheduled) -> None:
    made = scheduled.schedule
    if not made.visits:
        printer.line("There is no work on site yet: the site has no switches, servers or units.")
        return
    for technician in range(made.technicians):
        rows = [_row(visit) for visit in made.of(technician)]
        title = f"Technician {technician + 1}, times from the start of the work"
        printer.table(("start", "end", "walk", "wait", "no.", "where", "what"), rows, title=title)
    printer.line()
    assumed = made.work.assumed
    if assumed:
        shown = f"{', '.join(assumed[:4])}{' …' if len(assumed) > 4 else ''}"
        printer.line(f"{counted(len(assumed), 'part')} without a place, put at the ground of what they serve: {shown}")
    printer.line(f"Finished after {_hours(made.finish_s)}, by {made.made_by}.")
    printer.line(f"No schedule can be sooner than {_hours(made.bound_s)}: the gap is {100 * made.gap_ratio:.1f} %.")
    printer.line(f"One technician in the order of the run sheet: {_hours(made.in_list_order_s)}.")
    if scheduled.files:
        print_files(printer, scheduled.files)


def _row(visit: Visit) -> tuple[str, ...]:
    job = visit.job
    return (
        _hours(visit.start_s), _hours(visit.end_s), _minutes(visit.walk_s), _minutes(visit.wait_s),
        str(job.number + 1), job.where, job.action,
    )  # fmt: skip


def _hours(time_s: int) -> str:
    return f"{time_s // 3600}:{time_s % 3600 // 60:02d}:{time_s % 60:02d}"


def _minutes(time_s: int) -> str:
    return f"{time_s // 60}:{time_s % 60:02d}" if time_s else ""


def _as_json(scheduled: Scheduled) -> dict[str, Any]:
    made: Schedule = scheduled.schedule
    return {
        "revision": scheduled.revision,
        "finish_s": made.finish_s,
        "bound_s": made.bound_s,
        "gap_percent": round(100 * made.gap_ratio, 2),
        "in_list_order_s": made.in_list_order_s,
        "made_by": made.made_by,
        "places_assumed_of": made.work.assumed,
        "technicians": [
            [
                {
                    "number": visit.job.number + 1,
                    "start_s": visit.start_s,
                    "end_s": visit.end_s,
                    "walk_s": visit.walk_s,
                    "wait_s": visit.wait_s,
                    "stage": visit.job.stage,
                    "where": visit.job.where,
                    "action": visit.job.action,
                    "parts": [part.id for part in visit.job.parts],
                }
                for visit in made.of(technician)
            ]
            for technician in range(made.technicians)
        ],
        "files": scheduled.files,
    }


COMMAND: Final = schedule
