"""`import`: the changes of a workbook into a book."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.take_in import import_workbook
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_taken_in


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


COMMAND: Final = import_
