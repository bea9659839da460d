"""`diff`: what differs between two revisions."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.past import compare
from doorwright.cli import options
from doorwright.cli.printer import Printer


@options.command(name="diff", example="doorwright diff tower.book 1 2")
@options.book
@click.argument("earlier", type=int)
@click.argument("later", type=int)
def diff(printer: Printer, book: Path, earlier: int, later: int) -> None:
    """Show what differs between two revisions."""
    differences = compare(book, earlier, later)
    printer.result(differences)
    if not differences:
        printer.line(f"Revisions {earlier} and {later} are alike.")
        return
    rows = [(one.kind, one.part, one.what, one.before, one.after) for one in differences]
    printer.table(("kind", "part", "what", f"revision {earlier}", f"revision {later}"), rows)


COMMAND: Final = diff
