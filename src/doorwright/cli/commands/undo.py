"""`undo`: go back to an earlier state, as a new revision."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.undo import undo as undo_in
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.touches import print_touches


@options.command(name="undo", example="doorwright undo tower.book\ndoorwright undo tower.book --to 4")
@options.book
@click.option(
    "--to",
    type=click.IntRange(1),
    metavar="REVISION",
    help="Revision to go back to. Default: the one before the newest.",
)
@options.by
def undo(printer: Printer, book: Path, to: int | None, by: str | None) -> None:
    """Save an earlier state of the site as a new revision. Nothing is deleted: an undo can be undone."""
    with options.means(printer, by) as means:
        undone = undo_in(book, means, to=to)
    printer.result(undone)
    printer.line(f"Revision {undone.revision}: the site is as it was in revision {undone.same_as}.")
    print_touches(printer, undone.touches)


COMMAND: Final = undo
