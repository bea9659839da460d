"""`waive`: accept a finding for a while, end that early, list what was accepted."""

from datetime import datetime
from pathlib import Path
from typing import Final

import click

from doorwright.app.waive import Listed, end_waiver, list_waivers
from doorwright.app.waive import waive as waive_findings
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_list

_HEADINGS: Final = ("id", "rule", "on", "reason", "by", "from", "until", "state")


@options.command(
    name="waive",
    example='doorwright waive tower.book link-too-long "K-3.12" --reason "measured, passes" --until 2030-06-30\n'
    "doorwright waive tower.book --list\n"
    "doorwright waive tower.book --end 4k7mzq2x9c3d",
)
@options.book
@click.argument("rule", required=False)
@click.argument("part", required=False)
@click.option("--reason", help="Why the finding may stand.")
@click.option("--until", type=click.DateTime(["%Y-%m-%d"]), help="The last day it may stand.")
@click.option("--end", "ended", metavar="ID", help="End a waiver from today; --list shows its identifier.")
@click.option("--list", "list_all", is_flag=True, help="List every waiver, those that have ended too.")
@options.by
def waive(
    printer: Printer,
    book: Path,
    rule: str | None,
    part: str | None,
    reason: str | None,
    until: datetime | None,
    ended: str | None,
    by: str | None,
    *,
    list_all: bool,
) -> None:
    """Accept what a rule finds on a part, for a reason, until a day. It comes back as a finding after that."""
    gives = any(one is not None for one in (rule, part, reason, until))
    if sum((list_all, ended is not None, gives)) > 1:
        raise click.UsageError(
            "give a rule, a part, --reason and --until, or --end alone, or --list alone: one of the three"
        )
    if list_all:
        with options.means(printer) as means:
            listed = list_waivers(book, means)
        print_list(printer, listed, _HEADINGS, _row, none="The book keeps no waivers yet.")
        return
    if ended is not None:
        with options.means(printer, by) as means:
            end_waiver(book, ended, means)
        printer.result({"ended": ended})
        printer.line(f"Ended waiver {ended}: from today its finding is told again.")
        return
    if rule is None or part is None or reason is None or until is None:
        raise click.UsageError("a rule, a part, --reason and --until are needed")
    with options.means(printer, by) as means:
        waivers = waive_findings(book, rule, part, means, reason=reason, until=until.date())
    printer.result(waivers)
    printer.line(f"Waived {len(waivers)} of {rule} on {part} until {until:%Y-%m-%d}.")


def _row(one: Listed) -> tuple[str, ...]:
    waiver = one.waiver
    state = f"ended by {one.ended.by}" if one.ended else "current" if one.current else "ended"
    labels = ", ".join(one.labels)
    return waiver.id, waiver.rule, labels, waiver.reason, waiver.by, f"{waiver.on}", f"{waiver.until}", state


COMMAND: Final = waive
