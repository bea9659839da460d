"""What leaves the book: pack, export, show."""

from collections.abc import Iterable
from pathlib import Path
from typing import Final

import click

from doorwright.app.export import Form
from doorwright.app.export import export as export_book
from doorwright.app.make_pack import make_pack
from doorwright.app.show import SUBJECTS
from doorwright.app.show import show as show_table
from doorwright.cli import options
from doorwright.cli.printer import Printer


@options.command(name="pack", example="doorwright pack tower.book --out tower-pack")
@options.book
@click.option(
    "--out", required=True, type=click.Path(path_type=Path, file_okay=False), help="Folder for the files of the pack."
)
def pack(printer: Printer, book: Path, out: Path) -> None:
    """Write the site pack: papers (PDF), schedules (xlsx), drawings (SVG), document (JSON). None holds a secret."""
    with options.means(printer) as means:
        packed = make_pack(book, out, means)
    printer.result({"revision": packed.revision, "files": packed.files})
    print_files(printer, packed.files)


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


@options.command(name="show", example="doorwright show tower.book dwellings\ndoorwright show tower.book pairings")
@options.book
@click.argument("what", type=click.Choice(SUBJECTS))
def show(printer: Printer, book: Path, what: str) -> None:
    """Show a table of the site."""
    shown = show_table(book, what)
    printer.result({"title": shown.title, "rows": [dict(zip(shown.headings, row, strict=True)) for row in shown.rows]})
    printer.table(shown.headings, shown.rows, title=shown.title)


def print_files(printer: Printer, files: Iterable[Path]) -> None:
    """Print the files written, with their sizes."""
    rows = [(str(path), f"{path.stat().st_size / 1024:,.0f} KiB") for path in files]
    printer.table(("file", "size"), rows, title="Written")


COMMANDS: Final = (pack, export, show)
