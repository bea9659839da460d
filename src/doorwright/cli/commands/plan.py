"""`plan`: issue what is missing."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.plan_book import plan_book
from doorwright.app.vault import has_vault
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_planned
from doorwright.kernel.words import counted


@options.command(name="plan", example="doorwright plan tower.book")
@options.book
@options.passphrase_file
@click.option("--no-secrets", is_flag=True, help="Do not make secrets now, and do not ask for the passphrase.")
@options.by
def plan(printer: Printer, book: Path, passphrase_file: Any, by: str | None, *, no_secrets: bool) -> None:
    """Issue what is missing: call numbers, keys, addresses, registrars, ports, secrets. Nothing issued moves."""
    passphrase = None
    if not no_secrets:
        passphrase = options.given_passphrase(passphrase_file)
        if passphrase is None and has_vault(book) and printer.can_ask:
            passphrase = options.passphrase_from(passphrase_file, "Passphrase of the vault")
    with options.means(printer, by) as means:
        planned = plan_book(book, means, passphrase)
    printer.result(planned)
    print_planned(printer, planned)
    if planned.secrets_waiting_count:
        how = "" if has_vault(book) else f"; first: doorwright vault {book} passphrase"
        waiting = counted(planned.secrets_waiting_count, "secret")
        printer.line(f"Still to be made: {waiting}, for which the vault must be open{how}")
    printer.line(f"Next: doorwright check {book}")


COMMAND: Final = plan
