"""`show`: tables of the site."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.show import SUBJECTS
from doorwright.app.show import show as show_table
from doorwright.cli import options
from doorwright.cli.printer import Printer


@options.command(name="show", example="doorwright show tower.book dwellings\ndoorwright show tower.book pairings")
@options.book
@click.argument("what", metavar="TABLE", type=click.Choice(SUBJECTS))
def show(printer: Printer, book: Path, what: str) -> None:
    """Show a table of the site."""
    shown = show_table(book, what)
    printer.result({"title": shown.title, "rows": [dict(zip(shown.headings, row, strict=True)) for row in shown.rows]})
    printer.table(shown.headings, shown.rows, title=shown.title)


show.help = f"{show.help}\n\nTables: {', '.join(SUBJECTS)}."

COMMAND: Final = show
