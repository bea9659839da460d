"""`export`: the site as a document or a workbook."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.export import Form
from doorwright.app.export import export as export_book
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files


@options.command(name="export", example="doorwright export tower.book --format xlsx --out tower.xlsx")
@options.book
@click.option("--format", "form", type=click.Choice([form.value for form in Form]), required=True)
@click.option("--out", type=click.Path(path_type=Path, dir_okay=False), help="Default: the book's name, new ending.")
@click.option("--revision", type=int, help="Default: the latest.")
def export(printer: Printer, book: Path, form: str, out: Path | None, revision: int | None) -> None:
    """Write the site as a document (json) or a workbook (xlsx) that `import` reads back. Neither holds a secret."""
    with options.means(printer) as means:
        path = export_book(book, Form(form), out or book.with_suffix(f".{form}"), means, revision=revision)
    printer.result({"file": path})
    print_files(printer, [path])


COMMAND: Final = export
