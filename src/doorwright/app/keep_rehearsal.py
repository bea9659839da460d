"""Keep a rehearsal in the book: what was seen in it stands beside what is planned and what is found."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from doorwright.app.means import Means
from doorwright.kernel.observation import Observation
from doorwright.kernel.trail import Act
from doorwright.model.rehearsed import Head, news
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True)
class InBook:
    """How many observations the book gained, and at which revision it stood by then."""

    new_count: int
    revision: int


def keep_rehearsal(book: Book, means: Means, head: Head, seen: Iterable[Observation], *, at: datetime) -> InBook:
    """Put a rehearsal in the place of the one before; of what was seen, only what is not as before is recorded.

    Args:
        book: the book, open for writing.
        means: the world.
        head: what the rehearsal was.
        seen: all that was seen in it.
        at: the moment of the rehearsal.

    Raises:
        Refused: the book cannot be written. Nothing was recorded.
    """
    fresh = news(book.observations(), head, seen, new_id=means.new_id, at=at, by=means.who)
    new_count = book.observe(fresh)
    book.note_trail(means.trace(Act.REHEARSED, str(head)))
    return InBook(new_count, book.head().number)
