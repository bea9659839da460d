"""The difference of two sites, and a site with differences applied.

Edits, plans, undo, history and comparison are all tuples of changes. ``apply(before, diff(before, after)) == after``
for sites whose common parts stand in the same order, and ``inverse`` leads back.
"""

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any, Final, TypeAlias

from doorwright.model.part import Part
from doorwright.model.site import PART_BY_KIND, PARTS, Site

SITE_KIND: Final = "site"
SITE_FIELDS: Final = tuple(field.name for field in fields(Site) if field.name not in {kind.TABLE for kind in PARTS})


@dataclass(frozen=True, slots=True)
class Add:
    """Put ``part`` at ``index`` of its table (at the end where the index lies beyond it)."""

    part: Part
    index: int


@dataclass(frozen=True, slots=True)
class Remove:
    """Take ``part`` away from ``index`` of its table."""

    part: Part
    index: int


@dataclass(frozen=True, slots=True)
class Set:
    """Give one field of one part a new value; ``kind`` is "site" and ``id`` empty for the site's own fields."""

    kind: str
    id: str
    field: str
    old: Any
    new: Any


Change: TypeAlias = Add | Remove | Set
Changes: TypeAlias = tuple[Change, ...]


def diff(before: Site, after: Site) -> Changes:
    """Return the changes that lead from ``before`` to ``after``: site fields, then removals, settings, additions."""
    changes: list[Change] = [
        Set(SITE_KIND, "", name, getattr(before, name), getattr(after, name))
        for name in SITE_FIELDS
        if getattr(before, name) != getattr(after, name)
    ]
    for kind in PARTS:
        old_parts, new_parts = before.table(kind), after.table(kind)
        if old_parts is new_parts:
            continue
        old_by_id = {part.id: part for part in old_parts}
        new_ids = {part.id for part in new_parts}
        changes += [Remove(part, i) for i, part in enumerate(old_parts) if part.id not in new_ids]
        for part in new_parts:
            old = old_by_id.get(part.id)
            if old is not None and old is not part and old != part:
                changes += settings(old, part)
        changes += [Add(part, i) for i, part in enumerate(new_parts) if part.id not in old_by_id]
    return tuple(changes)


def settings(old: Part, new: Part) -> list[Change]:
    """Return one Set for each field in which two versions of a part differ."""
    return [
        Set(old.KIND, old.id, field.name, getattr(old, field.name), getattr(new, field.name))
        for field in fields(old)
        if getattr(old, field.name) != getattr(new, field.name)
    ]


def apply(site: Site, changes: Iterable[Change]) -> Site:
    """Return ``site`` with ``changes`` made.

    Raises:
        LookupError: a change names a part that the site does not have, or adds one that it has.
        ValueError: a change's old value is not the one in the site.
    """
    site_fields: dict[str, Any] = {}
    by_kind: dict[type[Part], list[Change]] = {}
    for change in changes:
        if isinstance(change, Set) and change.kind == SITE_KIND:
            _expect(site_fields.get(change.field, getattr(site, change.field)), change)
            site_fields[change.field] = change.new
        else:
            kind = PART_BY_KIND[change.kind] if isinstance(change, Set) else type(change.part)
            by_kind.setdefault(kind, []).append(change)
    tables = {kind: _apply_to(site.table(kind), group) for kind, group in by_kind.items()}
    changed = site.with_tables(tables) if tables else site
    return replace(changed, **site_fields) if site_fields else changed


def _apply_to(table: tuple[Part, ...], changes: list[Change]) -> tuple[Part, ...]:
    known = {part.id: part for part in table}
    removed: set[str] = set()
    added: dict[str, Add] = {}
    settings_of: dict[str, dict[str, Any]] = {}  # a part is made anew once, however many of its fields change
    for change in changes:
        match change:
            case Set(id=ident, field=field, new=new):
                if ident not in known:
                    raise LookupError(f"no {change.kind} {ident!r} to set {field} of")
                values = settings_of.setdefault(ident, {})
                _expect(values[field] if field in values else getattr(known[ident], field), change)
                values[field] = new
            case Remove(part=part):
                if part.id not in known:
                    raise LookupError(f"no {part.KIND} {part.id!r} to remove")
                del known[part.id]
                settings_of.pop(part.id, None)
                if added.pop(part.id, None) is None:
                    removed.add(part.id)
            case Add(part=part):
                if part.id in known:
                    raise LookupError(f"{part.KIND} {part.id!r} is there already")
                known[part.id] = part
                added[part.id] = change
    for ident, values in settings_of.items():
        known[ident] = replace(known[ident], **values)
    order = [part.id for part in table if part.id not in removed]
    for addition in sorted(added.values(), key=lambda add: add.index):
        order.insert(addition.index, addition.part.id)
    return tuple(known[ident] for ident in order)


def _expect(found: object, change: Set) -> None:
    if found != change.old:
        raise ValueError(
            f"{change.kind} {change.id!r}: {change.field} is {found!r}, not {change.old!r} as the change says"
        )


def inverse(changes: Changes) -> Changes:
    """Return the changes that undo ``changes``."""
    undone: list[Change] = []
    for change in reversed(changes):
        match change:
            case Add(part, index):
                undone.append(Remove(part, index))
            case Remove(part, index):
                undone.append(Add(part, index))
            case Set(kind, ident, field, old, new):
                undone.append(Set(kind, ident, field, new, old))
    return tuple(undone)
