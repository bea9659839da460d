"""The whole job on the example that ships with Doorwright: workbook in, book, plan, checks, pack out."""

import shutil
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import Final

from doorwright.app.make_pack import Packed, make_pack
from doorwright.app.means import Means
from doorwright.app.plan_book import Planned, plan_book
from doorwright.app.take_in import TakenIn, new_book
from doorwright.app.vault import set_passphrase, write_sealed_sheet
from doorwright.kernel.errors import Refused

EXAMPLE: Final = "examples/medium/medium.xlsx"
SITE: Final = "Tallow Yard"
"""What the example's site is called."""
PASSPHRASE: Final = "an invented passphrase for the demo"  # noqa: S105  (meant to be read)
"""Opens the demo book's vault. It protects nothing: everything in the demo is invented."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Demonstrated:
    """What each step of the job gave."""

    workbook: Path
    book: Path
    taken_in: TakenIn
    planned: Planned
    packed: Packed
    sealed_sheet: Path


def example_workbook() -> Path:
    """Return the example: inside the installed package, or beside the sources of a working copy."""
    packaged = Path(str(resources.files("doorwright"))) / "data" / EXAMPLE
    return packaged if packaged.exists() else Path(__file__).parents[3] / EXAMPLE


def demonstrate(out: Path, means: Means) -> Demonstrated:
    """Do the whole job in ``out``; what an earlier demo left there is replaced.

    Raises:
        Refused: the folder holds something, and no earlier demo.
    """
    workbook = out / "homes.xlsx"
    if out.exists() and any(out.iterdir()) and not workbook.exists():
        raise Refused(f"{out} is not empty, and holds no earlier demo", remedy="Choose a new folder: --out FOLDER")
    out.mkdir(parents=True, exist_ok=True)
    book, sealed_sheet = out / "medium.book", out / "sealed-sheet.pdf"
    for old in (book, sealed_sheet):
        old.unlink(missing_ok=True)
    shutil.rmtree(out / "pack", ignore_errors=True)
    shutil.copyfile(example_workbook(), workbook)
    taken_in, planned = make_demo_book(book, workbook, means)
    packed = make_pack(book, out / "pack", means, PASSPHRASE)
    write_sealed_sheet(book, sealed_sheet, PASSPHRASE, means)
    return Demonstrated(
        workbook=workbook,
        book=book,
        taken_in=taken_in,
        planned=planned,
        packed=packed,
        sealed_sheet=sealed_sheet,
    )


def make_demo_book(book: Path, workbook: Path, means: Means) -> tuple[TakenIn, Planned]:
    """Make a book of the example, with a vault that ``PASSPHRASE`` opens, and plan it.

    Raises:
        Refused: the book is there already.
    """
    taken_in = new_book(book, workbook, means)
    set_passphrase(book, PASSPHRASE, means)
    return taken_in, plan_book(book, means, PASSPHRASE)
