"""Go back to an earlier state of a site, as a new revision: nothing is ever deleted."""

from dataclasses import dataclass
from pathlib import Path

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.model.change import diff
from doorwright.model.walk import Walk
from doorwright.plan.touch import Touch, touch_list
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Undone:
    """What came of it: the new revision, the one whose site it repeats, its message, and the work that it makes."""

    revision: int
    same_as: int
    message: str
    touches: tuple[Touch, ...]


def undo(book_path: Path, means: Means, *, to: int | None = None) -> Undone:
    """Save the site of an earlier revision as the newest: the one before the last, where none is named.

    Marks of secrets issued since leave the site; the secrets themselves stay in the vault.

    Raises:
        Refused: there is no such revision, nothing to go back to, or the site is the same already.
    """
    with Book.open(book_path) as book:
        head = book.head()
        number = to if to is not None else head.number - 1
        if number < 1 and to is None:
            raise Refused("there is only one revision, and nothing before it", remedy="Nothing is left to undo.")
        earlier = book.site(number)
        site = book.site(head.number)
        if earlier == site:
            raise Refused(
                f"the site is as it was in revision {number} already",
                remedy=f"Earlier states are listed by: doorwright history {book_path}",
            )
        undone = next(one.message for one in book.revisions() if one.number == number)
        message = f"undo: back to revision {number} ({undone})" if undone else f"undo: back to revision {number}"
        saved = book.save(earlier, parent=head.number, by=means.who, at=means.now(), message=message)
    touches = touch_list(Walk(site), Walk(earlier), diff(site, earlier))
    return Undone(revision=saved.number, same_as=number, message=message, touches=touches)
