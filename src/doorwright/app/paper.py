"""Papers and other files made from a revision: what they say of it, and how they are written and noted in the book."""

from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Final

from doorwright.render.pdf import Edition
from doorwright.store.book import Book
from doorwright.store.files import write_whole
from doorwright.store.record import Revision

PDF: Final = "application/pdf"
MEDIA_TYPES: Final[Mapping[str, str]] = MappingProxyType(
    {
        ".pdf": PDF,
        ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        ".svg": "image/svg+xml",
        ".json": "application/json",
    }
)
"""The media type of a file whose name we choose, by its suffix."""


def edition_of(revision: Revision) -> Edition:
    """Return what stands on the cover and in the footers of papers made from a revision."""
    return Edition(
        revision=revision.number, made_at=revision.made_at, made_by=revision.made_by, message=revision.message
    )


def write_paper(book: Book, path: Path, paper: bytes, *, revision: int, at: datetime) -> None:
    """Write one PDF whole, under whatever name, and note it as made from a revision.

    Raises:
        Refused: the file cannot be written; then nothing is noted.
    """
    write_whole(path, paper)
    book.record_artefact(revision=revision, name=path.name, media_type=PDF, content=paper, at=at)


def write_pack(
    book: Book, folder: Path, files: Mapping[str, bytes], *, revision: int, now: Callable[[], datetime]
) -> tuple[Path, ...]:
    """Write files into a folder, each whole, note each as made from a revision, and return where they are.

    Raises:
        Refused: a file cannot be written; it and those after it are not noted.
    """
    for name, content in files.items():
        write_whole(folder / name, content)
        media_type = MEDIA_TYPES[Path(name).suffix]
        book.record_artefact(revision=revision, name=name, media_type=media_type, content=content, at=now())
    return tuple(folder / name for name in files)
