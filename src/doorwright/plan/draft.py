"""What a planner hands over: changes, each with its reason, and what it could not plan."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from doorwright.kernel.verdict import Subject
from doorwright.model.change import Add, Change, Changes, Set
from doorwright.model.part import Part
from doorwright.model.site import Site


@dataclass(frozen=True, slots=True)
class Issue:
    """Something issued for the first time, and why it is what it is."""

    subject: Subject
    what: str
    value: str
    why: str


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something that could not be planned, and what would let it."""

    subjects: tuple[Subject, ...]
    problem: str
    remedy: str


@dataclass(slots=True)
class Draft:
    """The changes of one planner as they gather. It adds and fills in; it never replaces a value that is there."""

    site: Site
    issues: list[Issue] = field(default_factory=list)
    troubles: list[Trouble] = field(default_factory=list)
    _changes: list[Change] = field(default_factory=list)
    _added: dict[type[Part], int] = field(default_factory=dict)

    def fill(self, part: Part, name: str, value: Any, *, what: str, why: str) -> None:
        """Give an empty field its first value.

        Raises:
            ValueError: the field has a value, and what was issued is never silently changed.
        """
        old = getattr(part, name)
        if old is not None:
            raise ValueError(f"{part.KIND} {part.label}: {name} is issued already ({old!r})")
        self._changes.append(Set(part.KIND, part.id, name, None, value))
        self.issues.append(Issue(part.subject, what, str(value), why))

    def add(self, part: Part, *, what: str, value: str, why: str) -> None:
        """Add a new part at the end of its table."""
        kind = type(part)
        behind = self._added.get(kind, 0)
        self._changes.append(Add(part, len(self.site.table(kind)) + behind))
        self._added[kind] = behind + 1
        self.issues.append(Issue(part.subject, what, value, why))

    def trouble(self, parts: Iterable[Part], problem: str, remedy: str) -> None:
        """Say what could not be planned."""
        self.troubles.append(Trouble(tuple(part.subject for part in parts), problem, remedy))

    @property
    def changes(self) -> Changes:
        """The changes so far."""
        return tuple(self._changes)
