"""`history`: the revisions of a book."""

from pathlib import Path
from typing import Final

from doorwright.app.past import history as revisions
from doorwright.cli import options
from doorwright.cli.printer import Printer


@options.command(name="history", example="doorwright history tower.book")
@options.book
def history(printer: Printer, book: Path) -> None:
    """List the revisions: who saved when, and what it changed."""
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


COMMAND: Final = history
