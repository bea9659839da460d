"""`place`: which switches in which cupboards, and the cables from them."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.place_switches import Asked, NewRun, PlacedSwitches, place_switches, worth
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted, counted_all


@options.command(
    name="place",
    example="doorwright place tower.book --types switch-16,switch-24 --cable cat6a --dry-run",
)
@options.book
@click.option(
    "--types", metavar="KEY,…", default="",
    help="Profiles of the switches that may be bought. Default: those that the book keeps.",
)  # fmt: skip
@click.option("--cable", metavar="KEY", help="The cable to units. Default: that of most runs in the book, else cat6.")
@click.option(
    "--uplink-cable", metavar="KEY",
    help="The copper cable between switches. Default: that of most runs between switches, else as to units.",
)  # fmt: skip
@click.option(
    "--distribute", "distributes", metavar="PLACE", multiple=True,
    help="A cupboard with a switch that may feed those of other cupboards. May be given several times.",
)  # fmt: skip
@click.option(
    "--seconds", type=click.FloatRange(0, 3600), default=20.0, show_default=True,
    help="How much to search, in the solver's own count: about seconds of one processor, on large sites two or three "
    "times as many. The same book gives the same plan, unless the clock stops a slow machine. "
    "0 for the simple way alone.",
)  # fmt: skip
@click.option("--move", "may_move", is_flag=True, help="Cable units anew whose run cannot stay.")
@click.option("--dry-run", is_flag=True, help="Show what would come of it; save nothing.")
@options.by
def place(
    printer: Printer,
    book: Path,
    types: str,
    cable: str | None,
    uplink_cable: str | None,
    distributes: tuple[str, ...],
    seconds: float,
    by: str | None,
    *,
    may_move: bool,
    dry_run: bool,
) -> None:
    """Place switches in cupboards and lay a cable to every unit that has none.

    Ports, PoE budgets with the spare of the site, lengths of cable and room in cupboards are kept. With prices of
    everything the cost is made least, else the number of new switches, then the length of cable. Switches and runs
    that are there stay. Ports are issued too; addresses are left to doorwright plan.
    """
    asked = Asked(
        types=tuple(key.strip() for key in types.split(",") if key.strip()),
        cable=cable,
        uplink_cable=uplink_cable,
        distributes=distributes,
        seconds=seconds,
        may_move=may_move,
    )
    with options.means(printer, by) as means:
        placed = place_switches(book, means, asked, dry_run=dry_run)
    printer.result(placed)
    _print(printer, placed, dry_run=dry_run)
    if placed.saved:
        printer.line(f"Next: doorwright plan {book}")


def _print(printer: Printer, placed: PlacedSwitches, *, dry_run: bool) -> None:
    if not (placed.switches or placed.runs or placed.uplinks):
        printer.line("Every unit has its cable and every switch its uplink; nothing moved.")
    else:
        counts = {"new switch": len(placed.switches), "new cable run": len(placed.runs) + len(placed.uplinks)}
        saved = "a dry run, nothing is saved" if dry_run else f"saved as revision {placed.revision}"
        printer.heading(f"{counted_all({what: count for what, count in counts.items() if count})}: {saved}")
        _print_switches(printer, placed)
    printer.line(
        f"Kept: {counted(placed.kept_switches_count, 'switch')}, {counted(placed.kept_runs_count, 'run')} to units."
    )
    for unit, reason in placed.moved.items():
        printer.line(f"Cabled anew: {unit}: {reason}.")
    _print_worth(printer, placed)
    for note in placed.notes:
        printer.line(note)
    for trouble in placed.troubles:
        printer.line(f"Not planned: {trouble.problem}. {trouble.remedy}")


def _print_switches(printer: Printer, placed: PlacedSwitches) -> None:
    rows = [(one.name, one.type, one.where, str(one.units_count)) for one in placed.switches]
    if rows:
        printer.table(("switch", "type", "where", "units"), rows)
        printer.heading("Why")
        for one in placed.switches:
            printer.line(f"{one.name}: {'; '.join(one.why)}.")
    if placed.uplinks:
        printer.table(("run", "from", "port", "to", "port", "cable", "m"), map(_row, placed.uplinks), title="Uplinks")
    if placed.runs:
        runs = [(*row[:4], *row[5:]) for row in map(_row, placed.runs)]
        printer.table(("run", "from", "port", "to", "cable", "m"), runs, title="Runs to units")
    printer.heading("In all")
    for cable, length_m in placed.cable_m.items():
        printer.line(f"New cable {cable}: {length_m:,.1f} m")


def _row(run: NewRun) -> tuple[str, ...]:
    port, to_port = ("" if one is None else str(one) for one in (run.port, run.to_port))
    return (run.name, run.switch, port, run.to, to_port, run.cable, f"{run.length_m:.1f}")


def _print_worth(printer: Printer, placed: PlacedSwitches) -> None:
    for aim in placed.aims:
        printer.line(worth(aim, placed.currency or ""))
    printer.line(f"How found: {placed.made_by}.")
    if placed.unpriced:
        printer.line(f"Costs are not counted, for want of prices of {', '.join(placed.unpriced)}.")


COMMAND: Final = place
