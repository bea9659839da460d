"""`diff`: what differs between two revisions."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.past import compare, touches_between
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files
from doorwright.cli.touches import print_touches
from doorwright.kernel.errors import Refused


@options.command(
    name="diff",
    example="doorwright diff tower.book 1 2\ndoorwright diff tower.book 2 3 --touch --out touch-list.pdf",
)
@options.book
@click.argument("earlier", type=int)
@click.argument("later", type=int)
@click.option("--touch", is_flag=True, help="Show the touch list: the work that leads from one to the other.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="With --touch: write the touch list to this PDF file.",
)
def diff(printer: Printer, book: Path, earlier: int, later: int, out: Path | None, *, touch: bool) -> None:
    """Show what differs between two revisions, or the work at units that it makes."""
    if touch:
        with options.means(printer) as means:
            touches = touches_between(book, earlier, later, means, out)
        printer.result(touches)
        print_touches(printer, touches)
        if out is not None:
            print_files(printer, [out])
        return
    if out is not None:
        raise Refused("--out goes with --touch", remedy="Give both, or neither.")
    compared = compare(book, earlier, later)
    printer.result(compared.differences)
    if not compared.differences:
        printer.line(f"Revisions {earlier} and {later} are alike.")
    for story in compared.stories:
        for sentence in story.sentences:
            printer.line(sentence)


COMMAND: Final = diff
