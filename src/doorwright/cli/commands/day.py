"""`day`: what visitors meet through the hours of a day."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.play_day import PlayedDay, play_day
from doorwright.app.tell_day import figures_of, tables_of
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files

_EXAMPLES: Final = (
    "doorwright day tower.book",
    'doorwright day tower.book --more-at "Main entrance" --more-desks 1 --out day.svg',
)


@options.command(name="day", example="\n".join(_EXAMPLES))
@options.book
@click.option(
    "--days", "days_count", type=click.IntRange(2, 20_000), default=400, show_default=True,
    help="Days to play: four times as many halve the intervals.",
)  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(0, 2**63 - 1), default=1, show_default=True,
    help="Where chance starts: the same seed gives the same visitors.",
)  # fmt: skip
@click.option(
    "--more-at", multiple=True, metavar="ENTRANCE",
    help="Compare with one call unit more at this entrance. May be given several times.",
)  # fmt: skip
@click.option(
    "--more-desks", "more_desks_count", type=click.IntRange(0, 100), default=0, metavar="COUNT",
    help="Compare with so many positions more at the desk.",
)  # fmt: skip
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Draw the hours into this SVG file.")
def day(
    printer: Printer,
    book: Path,
    days_count: int,
    seed: int,
    more_at: tuple[str, ...],
    more_desks_count: int,
    out: Path | None,
) -> None:
    """Play the building's day many times over and tell what visitors meet, hour by hour.

    All rests on the habits of visitors that the site assumes (workbook, sheet of the site). Intervals hold the true
    mean of this model with 95 % confidence: they say nothing of how well the assumptions fit. A comparison plays the
    same visitors in both designs.
    """
    with options.means(printer) as means:
        made = play_day(
            book, means, days_count=days_count, seed=seed, more_at=more_at, more_desks_count=more_desks_count, out=out
        )
    printer.result(figures_of(made))
    _print(printer, made)


def _print(printer: Printer, made: PlayedDay) -> None:
    for table in tables_of(made):
        printer.table(table.headings, table.rows, title=table.title)
    printer.heading("Taken for granted")
    for assumption in made.assumptions:
        printer.line(f"  {assumption}")
    if made.files:
        print_files(printer, made.files)


COMMAND: Final = day
