"""The vault: set its passphrase, reveal one secret, write the sealed sheet."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.vault import has_vault, reveal, set_passphrase, write_sealed_sheet
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files


@click.group(
    name="vault",
    epilog="\b\nExample:\n  doorwright vault tower.book passphrase\n  doorwright vault tower.book reveal 'VCU Main'\n"
    "  doorwright vault tower.book sheet sealed.pdf",
)
@options.book
@click.pass_context
def vault(context: click.Context, book: Path) -> None:
    """Keep and give out the secrets of a book."""
    context.obj = book


@options.command(name="passphrase", example="doorwright vault tower.book passphrase")
@click.option(
    "--new-passphrase-file",
    type=click.File("r", encoding="utf-8"),
    help="File whose first line is the new passphrase of a vault that has one.",
)
@options.passphrase_file
@click.pass_obj
def passphrase_(book: Path, printer: Printer, passphrase_file: Any, new_passphrase_file: Any) -> None:
    """Set the vault's passphrase, or change it. Keep it safe: without it nobody can open the vault again."""
    old = None
    if has_vault(book):
        old = options.passphrase_from(passphrase_file, "Present passphrase")
        new = options.new_passphrase_from(new_passphrase_file)
    else:
        new = options.passphrase_from(passphrase_file, "New passphrase (15 characters or more)", confirm=True)
    with options.means(printer) as means:
        made = set_passphrase(book, new, means, old=old)
    printer.result({"vault": "made" if made else "passphrase changed"})
    printer.line("The vault is made. Next: doorwright plan" if made else "The passphrase is changed.")


@options.command(name="reveal", example="doorwright vault tower.book reveal 'VCU Main'")
@click.argument("owner")
@options.passphrase_file
@click.pass_obj
def reveal_(book: Path, printer: Printer, owner: str, passphrase_file: Any) -> None:
    """Show the secrets of one unit or switch, named by its label. The book notes who asked, and when."""
    given = options.passphrase_from(passphrase_file, "Passphrase of the vault")
    with options.means(printer) as means:
        secrets = reveal(book, owner, given, means)
    printer.result(secrets)
    printer.table(
        ("owner", "use", "sealed sheet", "secret"),
        [(one.owner, one.use, f"line {one.line}", one.secret) for one in secrets],
    )


@options.command(name="sheet", example="doorwright vault tower.book sheet sealed.pdf")
@click.argument("out", type=click.Path(path_type=Path, dir_okay=False))
@options.passphrase_file
@click.pass_obj
def sheet(book: Path, printer: Printer, out: Path, passphrase_file: Any) -> None:
    """Write the sealed sheet: the one paper that holds secrets. Keep it sealed, apart from the pack."""
    given = options.passphrase_from(passphrase_file, "Passphrase of the vault")
    with options.means(printer) as means:
        path = write_sealed_sheet(book, out, given, means)
    printer.result({"file": path})
    print_files(printer, [path])


for one in (passphrase_, reveal_, sheet):
    vault.add_command(one)

COMMAND: Final = vault
