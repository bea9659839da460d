"""An edit of a site as it gathers: parts added, taken away and set, and what there is to say about it."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any, TypeVar, cast

from doorwright.model.change import SITE_KIND, Add, Change, Changes, Remove, Set, settings
from doorwright.model.network import CableRun
from doorwright.model.part import Part
from doorwright.model.profile import Profile
from doorwright.model.site import PARTS
from doorwright.model.unit import SecretMark, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.draft import Trouble

PartT = TypeVar("PartT", bound=Part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """Changes to a site: the message they are saved with, what follows from them and why, what is wrong with them.

    The planners run afterwards and issue what the edit left empty.
    """

    changes: Changes
    message: str
    told: tuple[str, ...] = ()
    troubles: tuple[Trouble, ...] = ()


class Rework:
    """The parts of a site while an edit is made. Look-ups still show the site as it was."""

    def __init__(self, walk: Walk) -> None:
        self.walk = walk
        self._now: dict[tuple[type[Part], str], Part | None] = {}
        self._added: dict[type[Part], list[str]] = {}
        self._profiles: tuple[Profile, ...] = ()
        self._renewed: dict[str, Profile] = {}
        self._told: list[str] = []
        self._troubles: list[Trouble] = []

    def now(self, part: PartT) -> PartT:
        """Return a part as it stands at this moment.

        Raises:
            LookupError: the edit has taken it away.
        """
        current = self._now.get((type(part), part.id), part)
        if current is None:
            raise LookupError(f"{part.KIND} {part.label} was taken away")
        return cast("PartT", current)

    def put(self, part: Part, **values: Any) -> None:
        """Give fields of a part new values."""
        self._now[type(part), part.id] = replace(self.now(part), **values)

    def add(self, part: Part) -> None:
        """Add a part at the end of its table."""
        self._now[type(part), part.id] = part
        self._added.setdefault(type(part), []).append(part.id)

    def drop(self, part: Part) -> None:
        """Take a part away; it may be gone already."""
        self._now[type(part), part.id] = None

    def drop_with_belongings(self, part: Part) -> None:
        """Take a unit or switch away with the marks of its secrets and the cable runs that end at it."""
        marks: tuple[SecretMark, ...] = self.walk.secrets_of(part.id)
        runs: tuple[CableRun, ...] = (*self.walk.runs_from(part.id), *self.walk.runs_to(part.id))
        for belonging in (*marks, *runs, part):
            self.drop(belonging)

    def take_profile(self, profile: Profile) -> None:
        """Let the site keep a profile that it does not have yet."""
        if self.walk.profile(profile.key) is None and profile not in self._profiles:
            self._profiles += (profile,)

    def renew_profile(self, profile: Profile) -> None:
        """Let a profile take the place of the one of the same key that the site keeps."""
        self._renewed[profile.key] = profile

    def tell(self, text: str) -> None:
        """Say what follows from the edit, once."""
        if text not in self._told:
            self._told.append(text)

    def trouble(self, parts: tuple[Part, ...], problem: str, remedy: str) -> None:
        """Say what is wrong after the edit, and what would mend it."""
        self._troubles.append(Trouble(tuple(part.subject for part in parts), problem, remedy))

    def done(self, message: str) -> Edit:
        """Return the edit."""
        return Edit(
            changes=tuple(self._changes()), message=message, told=tuple(self._told), troubles=tuple(self._troubles)
        )

    def _changes(self) -> list[Change]:
        changes: list[Change] = []
        if self._profiles or self._renewed:
            was = self.walk.settings().profiles
            now = (*(self._renewed.get(profile.key, profile) for profile in was), *self._profiles)
            changes.append(Set(SITE_KIND, "", "profiles", was, now))
        for kind in PARTS:
            versions = {ident: part for (of, ident), part in self._now.items() if of is kind}
            if not versions:
                continue
            table: tuple[Part, ...] = self.walk.all(kind)
            added = [ident for ident in self._added.get(kind, []) if versions[ident] is not None]
            gone = [Remove(part, at) for at, part in enumerate(table) if versions.get(part.id, part) is None]
            changes += gone
            for part in table:
                new = versions.get(part.id)
                if new is not None:
                    changes += settings(part, new)
            end = len(table) - len(gone)
            changes += [
                Add(new, at) for at, ident in enumerate(added, start=end) if (new := versions[ident]) is not None
            ]
        return changes


def left_without_registrar(edit: Edit, after: Walk, told: Iterable[Trouble]) -> tuple[Trouble, ...]:
    """Return whom the edit took their registrar and the planners gave no other, unless they are told of already."""
    known = {subject for trouble in (*edit.troubles, *told) for subject in trouble.subjects}
    left = [
        unit
        for change in edit.changes
        if isinstance(change, Set) and change.field == "registrar" and change.new is None
        if (unit := after.find(Unit, change.id)) is not None and unit.registrar is None
        if unit.kind is not UnitKind.VCU or unit.position != 0  # the first of a group registers with nothing
        if unit.subject not in known
    ]
    if not left:
        return ()
    names = ", ".join(unit.name for unit in left[:8]) + (f" and {len(left) - 8} more" if len(left) > 8 else "")
    problem = f"{names} no longer {'has' if len(left) == 1 else 'have'} anything to register with"
    remedy = "Put a visitor call unit at an entrance that serves them, or add a SIP server."
    return (Trouble(tuple(unit.subject for unit in left), problem, remedy),)
