"""`new`: a book from a workbook."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.take_in import new_book
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_taken_in


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


COMMAND: Final = new
