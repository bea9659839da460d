"""`template`: the empty workbook of a survey."""

from pathlib import Path
from typing import Final

import click

from doorwright.app.write_template import write_template
from doorwright.cli import options
from doorwright.cli.printer import Printer


@options.command(name="template", example="doorwright template survey.xlsx")
@click.argument("out", type=click.Path(path_type=Path))
def template(printer: Printer, out: Path) -> None:
    """Write an empty workbook to fill in: a sheet for each kind of thing, with notes and an example row."""
    with options.means(printer) as means:
        path = write_template(out, means)
    printer.result({"template": path})
    printer.line(f"Wrote {path}. Fill it in, delete the example rows, then: doorwright new BOOK --from {path}")


COMMAND: Final = template
