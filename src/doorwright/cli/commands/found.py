"""`found`: take in what was found in the building, and show how it and the rehearsal differ from the plan."""

from datetime import datetime
from pathlib import Path
from typing import Final

import click

from doorwright.app.take_found import Compared, TakenFound, column_maps, compare_found, take_found
from doorwright.cli import options
from doorwright.cli.beside import compared_as_json, print_compared
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_remarks
from doorwright.kernel.words import counted
from doorwright.store.found import TARGETS

_MOMENTS: Final = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S", "%Y-%m-%dT%H:%M:%S%z", "%Y-%m-%d %H:%M", "%Y-%m-%d"]
_TARGETS: Final = ", ".join(target.word for target in TARGETS)


@options.command(
    name="found",
    example='doorwright found tower.book settings.csv --as "unit export" --map "unit=Device name" --map "address=IP"\n'
    'doorwright found tower.book settings.csv --as "unit export"\n'
    "doorwright found tower.book",
)
@options.book
@click.argument("table", required=False, type=click.Path(path_type=Path))
@click.option("--as", "name", metavar="NAME", help="The name of the mapping; the book keeps it for the next table.")
@click.option(
    "--map",
    "given",
    multiple=True,
    metavar="WHAT=HEADING",
    help=f"What a column tells. WHAT is one of: {_TARGETS}.",
)
@click.option("--switch", metavar="NAME", help="The switch that the whole table was exported from.")
@click.option(
    "--seen-at",
    type=click.DateTime(_MOMENTS),
    help="When it was seen, in the site's time zone. Default: when the file was last changed.",
)
@click.option("--mappings", is_flag=True, help="List the mappings that the book keeps.")
@options.by
def found(
    printer: Printer,
    book: Path,
    table: Path | None,
    name: str | None,
    given: tuple[str, ...],
    switch: str | None,
    seen_at: datetime | None,
    by: str | None,
    *,
    mappings: bool,
) -> None:
    """Take in a table of settings exported from units or a switch, or show what differs from the plan.

    With a table, each cell of a mapped column is kept as something seen. Columns that may hold secrets are never read.
    Without a table, what was rehearsed and what was found are set beside the plan: what differs, what to do, and where.
    """
    if mappings:
        if table is not None:
            raise click.UsageError("--mappings lists what is there; leave the table out")
        _list_mappings(printer, book)
    elif table is None:
        if name or given or switch or seen_at:
            raise click.UsageError("a table is needed for --as, --map, --switch and --seen-at")
        compared = compare_found(book)
        printer.result(compared_as_json(compared))
        _print_compared(printer, book, compared)
    else:
        if not name:
            raise click.UsageError("give the mapping a name: --as NAME")
        with options.means(printer, by) as means:
            taken = take_found(book, table, means, name=name, given=given, switch=switch, seen_at=seen_at)
        printer.result(taken)
        _print_taken(printer, book, taken)


def _list_mappings(printer: Printer, book: Path) -> None:
    maps = column_maps(book)
    printer.result(maps)
    if not maps:
        printer.line("The book keeps no mappings yet.")
        return
    rows = [(one.name, word, heading, one.by, f"{one.at:%Y-%m-%d}") for one in maps for word, heading in one.columns]
    printer.table(("mapping", "tells", "heading", "by", "on"), rows)


def _print_taken(printer: Printer, book: Path, taken: TakenFound) -> None:
    printer.line(
        f"Read {counted(taken.values_count, 'value')} of {counted(taken.parts_count, 'part')}, seen at"
        f" {taken.seen_at:%Y-%m-%d %H:%M %Z}; {taken.new_count} new."
    )
    if taken.strangers_count:
        printer.line(f"Found and not in the plan: {taken.strangers_count}.")
    print_remarks(printer, "Changed on reading", taken.remarks)
    if taken.unread:
        rows = [
            (
                column.sheet,
                column.heading,
                "may hold secrets: never read" if column.may_be_secret else column.suggestion,
            )
            for column in taken.unread
        ]
        printer.table(("sheet", "column", "could be mapped by (check it first)"), rows, title="Columns not read")
    printer.line(f"Next: doorwright found {book}")


def _print_compared(printer: Printer, book: Path, compared: Compared) -> None:
    if not (compared.seen_count or compared.differences or compared.strangers or compared.rehearsal):
        printer.line(f"Nothing was found yet. Take a settings table in: doorwright found {book} TABLE --as NAME")
        return
    print_compared(printer, compared)


COMMAND: Final = found
