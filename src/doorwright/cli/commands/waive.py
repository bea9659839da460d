"""`waive`: accept a finding for a while."""

from datetime import datetime
from pathlib import Path
from typing import Final

import click

from doorwright.app.waive import waive as waive_findings
from doorwright.cli import options
from doorwright.cli.printer import Printer


@options.command(
    name="waive",
    example='doorwright waive tower.book link-too-long "K-3.12" --reason "measured, passes" --until 2030-06-30',
)
@options.book
@click.argument("rule")
@click.argument("part")
@click.option("--reason", required=True, help="Why the finding may stand.")
@click.option("--until", required=True, type=click.DateTime(["%Y-%m-%d"]), help="The last day it may stand.")
@options.by
def waive(printer: Printer, book: Path, rule: str, part: str, reason: str, until: datetime, by: str | None) -> None:
    """Accept what a rule finds on a part, for a reason, until a day. It comes back as a finding after that."""
    with options.means(printer, by) as means:
        waivers = waive_findings(book, rule, part, means, reason=reason, until=until.date())
    printer.result(waivers)
    printer.line(f"Waived {len(waivers)} of {rule} on {part} until {until:%Y-%m-%d}.")


COMMAND: Final = waive
