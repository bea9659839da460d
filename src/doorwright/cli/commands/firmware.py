"""`firmware`: plan a firmware step, and note the units that have taken it."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.plan_firmware import FirmwarePlan, note_done, plan_firmware
from doorwright.app.tell_firmware import as_rows, verdict
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.render.pdf.firmware import (
    HOLDS_OTHERS,
    back_rows,
    clock,
    figures,
    holds_others,
    return_rows,
    runs,
    silence_rows,
    type_rows,
)

_MOST: Final = 12


@options.command(
    name="firmware",
    example="doorwright firmware tower.book --to 4.0 --technicians 2 --out firmware-plan.pdf\n"
    "doorwright firmware tower.book --done 'URU 101,URU 102' --version 4.0",
)
@options.book
@click.option(
    "--to",
    "targets",
    multiple=True,
    metavar="[PROFILE=]VERSION",
    help="The version wanted; without a profile, for every type that has it. May be given several times.",
)
@click.option("--technicians", type=click.IntRange(1, 50), default=1, show_default=True, help="How many work at once.")
@click.option(
    "--seconds",
    type=click.FloatRange(0, 3600),
    default=30.0,
    show_default=True,
    help="About how long to look for a better order; 0 for fixed orders alone. The solver counts its own work, so the "
    "same book gives the same plan; only a machine a third as fast as usual is stopped by the clock.",
)
@click.option("--back", is_flag=True, help="An older version may be meant.")
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Write the plan as a paper (PDF).")
@click.option("--done", multiple=True, metavar="UNIT[,UNIT]", help="Note that these units have taken the step.")
@click.option("--version", metavar="VERSION", help="With --done: the version that they have now.")
@options.by
def firmware(
    printer: Printer,
    book: Path,
    targets: tuple[str, ...],
    technicians: int,
    seconds: float,
    out: Path | None,
    done: tuple[str, ...],
    version: str | None,
    by: str | None,
    *,
    back: bool,
) -> int:
    """Plan a firmware step: what it clears, what to record first, an order of work in waves, the way back.

    Ends with 1 while it is not safe to begin. Nothing in the book changes until units are noted with --done.
    """
    if bool(targets) == bool(done):
        raise Refused("either --to or --done is needed", remedy="Plan with --to VERSION; afterwards note with --done.")
    if bool(done) != (version is not None):
        raise Refused("--done and --version go together", remedy="Say which units now have which version.")
    with options.means(printer, by) as means:
        if version is not None:
            noted = note_done(book, done, version, means)
            printer.result(noted)
            printer.line(f"Revision {noted.revision}: {counted(len(noted.units), 'unit')} noted with {noted.version}.")
            return 0
        planned = plan_firmware(book, targets, means, technicians_count=technicians, effort=seconds, back=back, out=out)
    printer.result(as_rows(planned))
    _print(printer, planned)
    return int(not planned.is_safe)


def _print(printer: Printer, planned: FirmwarePlan) -> None:
    steps, plan = planned.steps, planned.plan
    printer.table(
        ("type", "from", "to", "units", "settings", "pairing generation", "way back"),
        [
            tuple(row[name] for name in ("type", "from", "to", "units", "settings", "generation", "way_back"))
            for row in type_rows(steps.steps)
        ],
        title=f"The step, revision {planned.revision.number}",
    )
    for note in dict.fromkeys(note for step in steps.steps for note in step.tool_notes):
        printer.line(f"The maker's program: {note}")
    for row in return_rows(steps):
        printer.line(
            f"No way back from {row['type']} {row['from']}: {row['units']}. Try it on one unit first, in full."
        )
    if holds_others(steps):
        printer.line(HOLDS_OTHERS)
    if steps.already:
        printer.line(f"{counted(len(steps.already), 'unit')} of these types stand there already.")
    for one in steps.untold:
        printer.line(f"Left out: {one.unit.name}: {one.why}.")
    _print_order(printer, planned)
    _cut(
        printer,
        ("unit", "with", "silent", "generations differ", "afterwards"),
        [
            (row["unit"], row["other"], row["silent"], row["apart"], _afterwards(row["for_good"]))
            for row in silence_rows(planned.silences)
        ],
        "Pairs that stop talking (hours:minutes)",
    )
    if planned.ways_back:
        printer.heading("The way back")
    for row in back_rows(planned.ways_back):
        printer.line(f"{row['type']} from {row['from']} to {row['to']}, {row['units']}: {row['what']}")
    _cut(
        printer,
        ("unit", "fact", "how it stands", "what to do"),
        [(gap.about.name, gap.field, gap.problem, gap.remedy) for gap in planned.gaps],
        "Record first",
    )
    printer.line()
    printer.line(verdict(planned), style="bold")
    if planned.files:
        print_files(printer, planned.files)
    if plan.waves and steps.cleared:
        wanted = " ".join(f"--firmware {key}={version}" for key, version in planned.targets.items())
        printer.line(f"To bring cleared units back: doorwright pack BOOK --rebuild {wanted} --out FOLDER")


def _print_order(printer: Printer, planned: FirmwarePlan) -> None:
    plan = planned.plan
    rows = [
        (
            str(wave.number),
            clock(wave.start_min),
            clock(wave.end_min),
            ", ".join(runs([turn.step.unit.name for turn in wave.turns])),
            str(wave.unreached_most),
        )
        for wave in plan.waves
    ]
    if rows:
        printer.table(
            ("wave", "start", "back", "start these together", "without entrance"), rows, title="Order of work"
        )
    printer.line()
    for figure in figures(plan):
        printer.line(f"{figure['name']}: {figure['value']}")
    if planned.task.unjudged:
        count = counted(len(planned.task.unjudged), "dwelling")
        why = "reachable neither before nor after, or not known well enough"
        printer.line(f"Not counted: {count}, {why} (all with --json).")


def _cut(printer: Printer, headings: tuple[str, ...], rows: list[tuple[str, ...]], title: str) -> None:
    if not rows:
        return
    printer.table(headings, rows[:_MOST], title=title)
    if len(rows) > _MOST:
        printer.line(f"and {len(rows) - _MOST} more (all with --json, and on the paper)")


def _afterwards(for_good: bool) -> str:
    return "silent for good" if for_good else "talk again"


COMMAND: Final = firmware
