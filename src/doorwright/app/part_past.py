"""What has happened to one part: the revisions that changed it, and what each of them changed."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from doorwright.app.past import worded
from doorwright.model.change import Add, Change, Remove, Set, diff
from doorwright.model.part import Part
from doorwright.model.site import Site
from doorwright.model.unit import Key, KeyModule, SecretMark
from doorwright.model.walk import Walk
from doorwright.store.book import Book
from doorwright.store.record import Revision


@dataclass(frozen=True, slots=True, kw_only=True)
class Turn:
    """What one revision did to a part, in words."""

    revision: int
    made_at: str
    made_by: str
    message: str
    changes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Step:
    revision: int
    what: str
    old: Any = None
    new: Any = None


class PartsPast:
    """The past of every part of one book, read once: revisions never change. Threads may share it."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._site = Site(name="")
        self._read_count = 0
        self._steps: dict[str, list[_Step]] = {}
        self._lock = threading.Lock()

    def of(self, walk: Walk, ident: str) -> tuple[Turn, ...]:
        """Return the revisions that changed a part, the newest first; ``walk`` gives the names in them."""
        with self._lock, Book.open(self._path, read_only=True) as book:
            revisions = {one.number: one for one in book.revisions()}
            for number in sorted(revisions):
                if number > self._read_count:
                    self._read(book, number)
            steps = tuple(self._steps.get(ident, ()))
        by_revision: dict[int, list[_Step]] = {}
        for step in steps:
            by_revision.setdefault(step.revision, []).append(step)
        newest_first = sorted(by_revision, reverse=True)
        return tuple(_turn(walk, revisions[number], by_revision[number]) for number in newest_first)

    def _read(self, book: Book, number: int) -> None:
        site = book.site(number)
        for change in diff(self._site, site):
            for ident, step in _steps(number, change):
                self._steps.setdefault(ident, []).append(step)
        self._site, self._read_count = site, number


def _steps(number: int, change: Change) -> Iterator[tuple[str, _Step]]:
    match change:
        case Set(_, ident, field, old, new):
            yield ident, _Step(number, field, old, new)
        case Add(part):
            yield part.id, _Step(number, "added")
            yield from _told_of_owner(number, part, "added")
        case Remove(part):
            yield part.id, _Step(number, "removed")
            yield from _told_of_owner(number, part, "removed")


def _told_of_owner(number: int, part: Part, what: str) -> Iterator[tuple[str, _Step]]:
    match part:
        case SecretMark(owner=owner):
            yield owner, _Step(number, f"{part.use.value}, {part.label}: {what}")
        case Key(unit=owner) | KeyModule(unit=owner):
            yield owner, _Step(number, f"{part.label}: {what}")


def _turn(walk: Walk, revision: Revision, steps: list[_Step]) -> Turn:
    return Turn(
        revision=revision.number,
        made_at=f"{revision.made_at:%Y-%m-%d %H:%M}",
        made_by=revision.made_by,
        message=revision.message,
        changes=tuple(_words(walk, step) for step in steps),
    )


def _words(walk: Walk, step: _Step) -> str:
    if step.old is None and step.new is None:
        return step.what
    before, after = worded(walk, step.old), worded(walk, step.new)
    return f"{step.what.replace('_', ' ')}: {before or 'none'} → {after or 'none'}"
