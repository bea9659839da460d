"""From a survey to a book: template, new, import, demo."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.demo import PASSPHRASE, demonstrate
from doorwright.app.take_in import TakenIn, import_workbook, new_book
from doorwright.app.write_template import write_template
from doorwright.cli import options
from doorwright.cli.commands.papers import print_files
from doorwright.cli.commands.planning import print_assessment, print_planned
from doorwright.cli.printer import Printer

_REMARKS_MOST: Final = 12


@options.command(name="template", example="doorwright template survey.xlsx")
@click.argument("out", type=click.Path(path_type=Path))
def template(printer: Printer, out: Path) -> None:
    """Write an empty workbook to fill in: a sheet for each kind of thing, with notes and an example row."""
    with options.means(printer) as means:
        path = write_template(out, means)
    printer.result({"template": path})
    printer.line(f"Wrote {path}. Fill it in, delete the example rows, then: doorwright new BOOK --from {path}")


@options.command(name="new", example="doorwright new tower.book --from survey.xlsx")
@options.book
@click.option(
    "--from",
    "workbook",
    required=True,
    type=click.Path(path_type=Path),
    help="Workbook (xlsx, xls, ods) or folder of csv files.",
)
@options.by
def new(printer: Printer, book: Path, workbook: Path, by: str | None) -> None:
    """Make a book from a workbook. Every mistake is told at once; with any, nothing is saved."""
    with options.means(printer, by) as means:
        taken_in = new_book(book, workbook, means)
    printer.result(taken_in)
    print_taken_in(printer, taken_in)
    printer.line(f"Next: doorwright plan {book}")


@options.command(name="import", example="doorwright import tower.book survey.xlsx")
@options.book
@click.argument("workbook", type=click.Path(path_type=Path))
@click.option("--remove-missing", is_flag=True, help="Remove parts that a sheet of the workbook no longer lists.")
@options.by
def import_(printer: Printer, book: Path, workbook: Path, by: str | None, *, remove_missing: bool) -> None:
    """Take the changes of a workbook into a book. Blank cells and absent rows change nothing; `-` clears a cell."""
    with options.means(printer, by) as means:
        taken_in = import_workbook(book, workbook, means, remove_missing=remove_missing)
    printer.result(taken_in)
    print_taken_in(printer, taken_in)


@options.command(name="demo", example="doorwright demo --out build/demo")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("build/demo"),
    show_default=True,
    help="Folder for the book and the pack.",
)
def demo(printer: Printer, out: Path) -> None:
    """Do the whole job on an invented building of 64 dwellings: read its workbook, plan, check, write the pack."""
    with options.means(printer) as means:
        done = demonstrate(out, means)
    printer.result(
        {
            "taken_in": done.taken_in,
            "issued": done.planned.issued,
            "troubles": done.planned.troubles,
            "by_severity": done.packed.checked.assessment.by_severity(),
            "not_checked": {str(m): len(v) for m, v in done.packed.checked.assessment.by_missing().items()},
            "files": [done.book, *done.packed.files, done.sealed_sheet],
        }
    )
    printer.heading(f"Workbook {done.workbook} -> book {done.book}")
    print_taken_in(printer, done.taken_in)
    print_planned(printer, done.planned)
    print_assessment(printer, done.packed.checked)
    print_files(printer, (done.book, *done.packed.files, done.sealed_sheet))
    printer.line()
    printer.line(f"Everything in the demo is invented. Its vault opens with: {PASSPHRASE}")


def print_taken_in(printer: Printer, taken_in: TakenIn) -> None:
    """Print what came of a workbook."""
    if taken_in.tallies:
        counts = ", ".join(f"{count} {table}" for table, count in taken_in.counts.items())
        printer.line(f"Revision {taken_in.revision}: {counts}")
    else:
        printer.line(f"Nothing differs; revision {taken_in.revision} stands.")
    if taken_in.remarks:
        printer.heading("Changed on reading")
        for remark in taken_in.remarks[:_REMARKS_MOST]:
            printer.line(f"  {remark}")
        more = len(taken_in.remarks) - _REMARKS_MOST
        if more > 0:
            printer.line(f"  and {more} more (all with --json)")


COMMANDS: Final = (template, new, import_, demo)
