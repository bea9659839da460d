"""Write a touch list as a file, and note in the book that it was made."""

from datetime import datetime
from pathlib import Path
from typing import Final

from doorwright.store.book import Book
from doorwright.store.files import write_whole

_MEDIA: Final = "application/pdf"


def write_touch_list(book: Book, path: Path, paper: bytes, *, revision: int, at: datetime) -> Path:
    """Write the paper whole, note it as made from the revision that it leads to, and return where it is.

    Raises:
        Refused: the file cannot be written; then nothing is noted.
    """
    write_whole(path, paper)
    book.record_artefact(revision=revision, name=path.name, media_type=_MEDIA, content=paper, at=at)
    return path
