"""`demo`: the whole job on the invented example."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.demo import PASSPHRASE, demonstrate
from doorwright.cli import options
from doorwright.cli.own_name import typed
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_assessment, print_files, print_planned, print_taken_in


@options.command(name="demo", example="doorwright demo --out build/demo")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("build/demo"),
    show_default=True,
    help="Folder for the book and the pack.",
)
def demo(printer: Printer, out: Path) -> None:
    """Do the whole job on an invented building of 64 dwellings: read its workbook, plan, check, write the pack."""
    with options.means(printer) as means:
        done = demonstrate(out, means)
    printer.result(
        {
            "taken_in": done.taken_in,
            "issued": done.planned.issued,
            "troubles": done.planned.troubles,
            "by_severity": done.packed.checked.assessment.by_severity(),
            "not_checked": {str(m): len(v) for m, v in done.packed.checked.assessment.by_missing().items()},
            "files": [done.book, *done.packed.files, done.sealed_sheet],
        }
    )
    printer.heading(f"Workbook {done.workbook} -> book {done.book}")
    print_taken_in(printer, done.taken_in)
    print_planned(printer, done.planned)
    print_assessment(printer, done.packed.checked)
    print_files(printer, (done.book, *done.packed.files, done.sealed_sheet))
    printer.line()
    printer.line(f"Everything in the demo is invented. Its vault opens with: {PASSPHRASE}")
    printer.line("Look around in it with the browser:")
    printer.line(f"  {typed('serve', done.book)}")


COMMAND: Final = demo
