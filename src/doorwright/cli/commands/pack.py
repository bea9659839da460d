"""`pack`: the papers, drawings and schedules."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.make_pack import make_pack
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files


@options.command(name="pack", example="doorwright pack tower.book --out tower-pack")
@options.book
@click.option(
    "--out", required=True, type=click.Path(path_type=Path, file_okay=False), help="Folder for the files of the pack."
)
@click.option("--vault", "open_vault", is_flag=True, help="Open the vault, so that the secrets are judged too.")
@options.passphrase_file
def pack(printer: Printer, book: Path, out: Path, passphrase_file: Any, *, open_vault: bool) -> None:
    """Write the site pack: papers (PDF), schedules (xlsx), drawings (SVG), document (JSON). None holds a secret."""
    passphrase = options.passphrase_from(passphrase_file, "Passphrase of the vault") if open_vault else None
    with options.means(printer) as means:
        packed = make_pack(book, out, means, passphrase)
    printer.result({"revision": packed.revision, "files": packed.files})
    print_files(printer, packed.files)


COMMAND: Final = pack
