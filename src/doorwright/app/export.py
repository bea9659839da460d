"""Export a book's site: the document, or the workbook. Neither holds a secret."""

from enum import StrEnum
from pathlib import Path

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.store import codec
from doorwright.store.book import Book
from doorwright.store.files import write_whole
from doorwright.store.workbook import workbook_bytes


class Form(StrEnum):
    """What an export may be."""

    JSON = "json"
    XLSX = "xlsx"


def export(book_path: Path, form: Form, out: Path, means: Means, *, revision: int | None = None) -> Path:
    """Write one revision (the latest unless named) to a file.

    Raises:
        Refused: there is a file of that name already, or no such revision.
    """
    if out.exists():
        raise Refused(f"{out} is there already", remedy="Choose another name, or move that file away.")
    with Book.open(book_path, read_only=True) as book:
        number = revision if revision is not None else book.head().number
        site = book.site(number)
    means.progress(f"writing {out.name}")
    match form:
        case Form.JSON:
            content = codec.dump(site)
        case Form.XLSX:
            content = workbook_bytes(site, title=f"{site.name}, revision {number}")
    write_whole(out, content)
    return out
