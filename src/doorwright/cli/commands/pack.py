"""`pack`: the papers, drawings and schedules; or what brings cleared units back."""

from pathlib import Path
from typing import Any, Final

import click

from doorwright.app.draw import TECHNICIANS_MOST
from doorwright.app.make_pack import make_pack, make_paper
from doorwright.app.make_rebuild_pack import Rebuilt, make_rebuild_pack
from doorwright.cli import options
from doorwright.cli.printer import Printer
from doorwright.cli.reports import print_files
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import counted
from doorwright.render.pdf import PAPERS

_TECHNICIANS: Final = 2


@options.command(
    name="pack",
    example="doorwright pack tower.book --out tower-pack\n"
    "doorwright pack tower.book --paper cards --out cards\n"
    "doorwright pack tower.book --rebuild --firmware vcu-direct=4.0 --out rebuild",
)
@options.book
@click.option(
    "--out", required=True, type=click.Path(path_type=Path, file_okay=False), help="Folder for the files of the pack."
)
@click.option("--vault", "open_vault", is_flag=True, help="Open the vault, so that the secrets are judged too.")
@options.passphrase_file
@click.option(
    "--technicians", type=click.IntRange(1, TECHNICIANS_MOST), metavar="COUNT",
    help="How many share the work of the chart. Default: 2.",
)  # fmt: skip
@click.option("--paper", type=click.Choice(tuple(PAPERS)), help="Write this one paper alone, KIND.pdf.")
@click.option("--rebuild", is_flag=True, help="Write what brings cleared units back: cards and a table of entries.")
@click.option(
    "--firmware",
    multiple=True,
    metavar="[PROFILE=]VERSION",
    help="With --rebuild: the units that this step clears. May be given several times.",
)
@click.option("--units", multiple=True, metavar="NAME[,NAME]", help="With --rebuild: these units. Default: all.")
def pack(
    printer: Printer,
    book: Path,
    out: Path,
    passphrase_file: Any,
    firmware: tuple[str, ...],
    units: tuple[str, ...],
    technicians: int | None,
    paper: str | None,
    *,
    open_vault: bool,
    rebuild: bool,
) -> None:
    """Write the site pack: papers (PDF), schedules (xlsx), drawings (SVG), document (JSON). None holds a secret."""
    _see_fitting(firmware, units, technicians, paper, rebuild=rebuild, open_vault=open_vault)
    if paper is not None:
        with options.means(printer) as means:
            file = make_paper(book, paper, out / f"{paper}.pdf", means)
        printer.result({"files": [file]})
        print_files(printer, [file])
        return
    if rebuild:
        with options.means(printer) as means:
            rebuilt = make_rebuild_pack(book, out, means, firmware=firmware, units=units)
        _print_rebuilt(printer, rebuilt)
        return
    passphrase = options.passphrase_from(passphrase_file, "Passphrase of the vault") if open_vault else None
    with options.means(printer) as means:
        packed = make_pack(book, out, means, passphrase, technicians=technicians or _TECHNICIANS)
    printer.result({"revision": packed.revision, "files": packed.files})
    print_files(printer, packed.files)


def _see_fitting(
    firmware: tuple[str, ...],
    units: tuple[str, ...],
    technicians: int | None,
    paper: str | None,
    *,
    rebuild: bool,
    open_vault: bool,
) -> None:
    if paper is not None and (rebuild or open_vault or technicians):
        raise Refused("--paper is one paper alone", remedy="Leave --rebuild, --vault and --technicians out.")
    if (firmware or units) and not rebuild:
        raise Refused("--firmware and --units go with --rebuild", remedy="Add --rebuild, or leave them out.")
    if firmware and units:
        raise Refused("either --firmware or --units", remedy="Leave one of them out.")
    if rebuild and technicians:
        raise Refused("--rebuild draws no chart of the work", remedy="Leave --technicians out.")
    if rebuild and open_vault:
        raise Refused("--rebuild judges no secrets", remedy="Leave --vault out; give the sealed sheet to who rebuilds.")


def _print_rebuilt(printer: Printer, rebuilt: Rebuilt) -> None:
    printer.result(
        {
            "revision": rebuilt.revision,
            "files": rebuilt.files,
            "units": rebuilt.units,
            "entries": rebuilt.entries_count,
            "missing": [{"unit": gap.about.name, "fact": gap.field, "problem": gap.problem} for gap in rebuilt.gaps],
        }
    )
    printer.line(f"{counted(len(rebuilt.units), 'unit')} to set up again, {counted(rebuilt.entries_count, 'entry')}.")
    if rebuilt.gaps:
        printer.line(f"{counted(len(rebuilt.gaps), 'fact')} missing from the record: see the first page of the cards.")
    print_files(printer, rebuilt.files)


COMMAND: Final = pack
