"""What a book tells of itself: its revisions and what each changed, column maps, files made, waivers ended."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from doorwright.model.change import SITE_KIND, Add, Change, Remove, Set


@dataclass(frozen=True, slots=True, kw_only=True)
class Tally:
    """How many parts of one kind a revision added, removed and changed. The site's own fields are the kind "site"."""

    kind: str
    added_count: int
    removed_count: int
    changed_count: int

    def __str__(self) -> str:
        counts = ((self.added_count, "added"), (self.removed_count, "removed"), (self.changed_count, "changed"))
        return f"{self.kind}: {', '.join(f'{count} {word}' for count, word in counts if count)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Revision:
    """One saved state of the site; ``parent`` is None for the first. ``tallies`` say how it differs from its parent."""

    number: int
    parent: int | None
    made_at: datetime
    made_by: str
    message: str
    tallies: tuple[Tally, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Artefact:
    """A file that was made from a revision. The book keeps its fingerprint, not its content."""

    revision: int
    name: str
    media_type: str
    bytes_count: int
    sha256: str
    made_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class WaiverEnd:
    """That a waiver was ended before its time: from ``on`` it covers nothing."""

    waiver: str
    by: str
    on: date


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnMap:
    """Which column of a settings table tells what: pairs of a target's word and a heading.

    Of several with one name the latest counts.
    """

    name: str
    columns: tuple[tuple[str, str], ...]
    by: str
    at: datetime


@dataclass(slots=True)
class _Count:
    added: int = 0
    removed: int = 0
    changed: set[tuple[str, str]] = field(default_factory=set)


def tally(changes: Iterable[Change]) -> tuple[Tally, ...]:
    """Return how many parts of each kind the changes add, remove and change, in order of first mention."""
    counts: dict[str, _Count] = {}
    for change in changes:
        match change:
            case Add(part):
                counts.setdefault(part.KIND, _Count()).added += 1
            case Remove(part):
                counts.setdefault(part.KIND, _Count()).removed += 1
            case Set(kind, ident, name):
                # Of a part, the part counts once however many of its fields changed; of the site, each field counts.
                counts.setdefault(kind, _Count()).changed.add((ident, name if kind == SITE_KIND else ""))
    return tuple(
        Tally(kind=kind, added_count=count.added, removed_count=count.removed, changed_count=len(count.changed))
        for kind, count in counts.items()
    )
