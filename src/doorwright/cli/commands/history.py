"""`history`: the revisions of a book, and its trail."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.past import history as revisions
from doorwright.app.past import trail as traces
from doorwright.cli import options
from doorwright.cli.printer import Printer


@options.command(name="history", example="doorwright history tower.book\ndoorwright history tower.book --trail")
@options.book
@click.option(
    "--trail", is_flag=True, help="List who did what beside saving: secrets shown, papers taken out, waivers."
)
def history(printer: Printer, book: Path, *, trail: bool) -> None:
    """List the revisions: who saved when, and what it changed."""
    if trail:
        _trail(printer, book)
        return
    made = revisions(book)
    printer.result(made)
    rows = [
        (
            str(one.number),
            f"{one.made_at:%Y-%m-%d %H:%M}",
            one.made_by,
            one.message,
            "; ".join(map(str, one.tallies)),
        )
        for one in made
    ]
    printer.table(("revision", "when (UTC)", "who", "why", "what changed"), rows)


def _trail(printer: Printer, book: Path) -> None:
    noted = traces(book)
    printer.result(noted)
    if not noted:
        printer.line("Nothing was done in this book beside saving revisions.")
        return
    printer.table(
        ("when (UTC)", "who", "did", "about"),
        [(f"{one.at:%Y-%m-%d %H:%M}", one.by, one.act, one.about) for one in noted],
    )


COMMAND: Final = history
