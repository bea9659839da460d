"""Undo one's own edit of a table on the newest site, cell by cell: what others altered since stays and is told."""

from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import replace
from typing import Any, Final

from doorwright.app.edit_table import Conflict, Edited
from doorwright.app.means import Means
from doorwright.app.show_table import Tabled, cell_text
from doorwright.kernel.errors import Mistake, Refused
from doorwright.model.change import SITE_KIND, Add, Change, Changes, Remove, Set, apply, diff, inverse
from doorwright.model.naming import named
from doorwright.model.part import Part
from doorwright.model.site import PART_BY_KIND, PARTS, Site
from doorwright.model.walk import Walk
from doorwright.store.record import Revision
from doorwright.store.workbook.columns import SHEET_BY_KIND, SHEETS, Column
from doorwright.store.workbook.names import Names

_ALONE: Final = ("serial", "mac", "address")
"""Fields whose value no two units, switches or servers share."""
_UNDO: Final = "undo: "
_REDO: Final = "again: "


def undo_edit(tabled: Tabled, number: int, means: Means) -> Edited:
    """Save the inverse of one of one's own revisions on top of the newest; undoing that does it again.

    Cells that somebody altered since are left and come back as conflicts.

    Raises:
        Refused: there is no such revision, somebody else made it, it is the first, or what it would bring back names
            parts that are gone, or stands elsewhere now. Nothing is changed.
    """
    head = tabled.book.head()
    undone = next((one for one in tabled.book.revisions() if one.number == number), None)
    if undone is None or undone.parent is None:
        raise Refused(f"revision {number} cannot be undone", remedy="Earlier states are in the history.")
    if undone.made_by != means.who:
        raise Refused(
            f"revision {number} was made by {undone.made_by}", remedy="Ask them, or go back through the history."
        )
    site, names = tabled.site(head.number), tabled.names(head.number)
    wanted = inverse(diff(tabled.site(number - 1), tabled.site(number)))
    laid = _Laid(site, names, wanted, undone, tabled)
    after = apply(site, laid.going)
    _see_whole(site, after, laid.going)
    message = _message(undone.message)
    saved = tabled.book.save(after, parent=head.number, by=means.who, at=means.now(), message=message)
    tabled.saved(saved.number, after, None)
    is_new = saved.number != head.number
    return Edited(
        revision=saved.number, saved=saved.number if is_new else None, message=message if is_new else "",
        conflicts=tuple(laid.conflicts), made={},
    )  # fmt: skip


def _message(of: str) -> str:
    if of.startswith(_UNDO):
        return _REDO + of.removeprefix(_UNDO)
    return _UNDO + of.removeprefix(_REDO)


class _Laid:
    """The inverse of an edit laid over the newest site: what goes in, and what collides."""

    def __init__(self, site: Site, names: Names, wanted: Changes, undone: Revision, tabled: Tabled) -> None:
        self.going: list[Change] = []
        self.conflicts: list[Conflict] = []
        self._names = names
        self._undone = undone
        self._newer = [one for one in reversed(tabled.book.revisions()) if one.number > undone.number]
        self._tabled = tabled
        self._parts = {kind: {part.id: part for part in site.table(kind)} for kind in _kinds(wanted)}
        for change in wanted:
            self._lay(change)

    def _lay(self, change: Change) -> None:
        match change:
            case Set(kind=kind) if kind == SITE_KIND:
                return  # data sheets that came with the edit: others may be using them
            case Set(kind=kind, id=ident, field=name, old=old):
                part = self._parts[PART_BY_KIND[kind]].get(ident)
                if part is None:
                    self._collide(change, None, None)
                elif getattr(part, name) == old:
                    self.going.append(change)
                elif getattr(part, name) != change.new:
                    self._collide(change, part, name)
            case Add(part=part):
                if part.id not in self._parts[type(part)]:
                    self.going.append(change)
            case Remove(part=part):
                now = self._parts[type(part)].get(part.id)
                if now == part:
                    self.going.append(change)
                elif now is not None:
                    self._collide(change, now, None)

    def _collide(self, change: Set | Remove, now: Part | None, name: str | None) -> None:
        kind = PART_BY_KIND[change.kind] if isinstance(change, Set) else type(change.part)
        ident = change.id if isinstance(change, Set) else change.part.id
        sheet = SHEET_BY_KIND[kind]
        column = next((one for one in sheet.columns if name in one.fields), None) if name else None
        label = now.label if now is not None else "a row that is gone"
        last = self._whose(kind, ident, name)
        self.conflicts.append(
            Conflict(
                row=ident,
                field=column.field if column else "",
                where=f"{sheet.name}, {label}" + (f", {column.heading}" if column else ""),
                was=self._text(column, now, change.old) if isinstance(change, Set) else "",
                mine=self._text(column, now, change.new) if isinstance(change, Set) else "",
                theirs=cell_text(column, now, self._names) if column and now else (None if now is None else ""),
                by=last.made_by, revision=last.number, at=last.made_at,
            )
        )  # fmt: skip

    def _text(self, column: Column | None, now: Part | None, value: Any) -> str:
        if column is None or now is None or column.lists:
            return ""
        return cell_text(column, replace(now, **{column.field: value}), self._names)

    def _whose(self, kind: type[Part], ident: str, name: str | None) -> Revision:
        for one in self._newer:
            before, after = (
                next((part for part in self._tabled.site(number).table(kind) if part.id == ident), None)
                for number in (one.number - 1, one.number)
            )
            if after != before and (
                name is None or after is None or before is None or getattr(after, name) != getattr(before, name)
            ):
                return one
        return self._undone


def _kinds(changes: Changes) -> set[type[Part]]:
    return {
        PART_BY_KIND[change.kind] if isinstance(change, Set) else type(change.part)
        for change in changes
        if not isinstance(change, Set) or change.kind != SITE_KIND
    }


def _see_whole(before: Site, site: Site, changes: Iterable[Change]) -> None:
    """Refuse a site in which something names a part that is gone, or a single value stands twice.

    Raises:
        Refused: it is so; every place is named.
    """
    changed = {(type(change.part) if not isinstance(change, Set) else PART_BY_KIND[change.kind]) for change in changes}
    if not changed:
        return
    walk = Walk(site)
    stood_so = {str(mistake) for mistake in _twice(Walk(before), changed)}
    twice = (mistake for mistake in _twice(walk, changed) if str(mistake) not in stood_so)
    mistakes = (*_lost(walk), *twice)
    if mistakes:
        raise Refused(
            "this can no longer be undone, as others built on it since; nothing was changed",
            remedy="Mend by hand what is named here, or go back through the history.",
            mistakes=tuple(mistakes),
        )


def _lost(walk: Walk) -> Iterator[Mistake]:
    known = {part.id for kind in PARTS for part in walk.site.table(kind)}
    for sheet in SHEETS:
        referring = [column for column in sheet.columns if (column.refers or column.lists) and not column.helper]
        for part in walk.site.table(sheet.kind):
            for column in referring:
                idents = [ident for field in column.fields for ident in _idents(getattr(part, field))]
                if any(ident not in known for ident in idents):
                    yield Mistake(
                        where=f"{sheet.name}, {named(walk, part)}, {column.heading}", read="",
                        problem="this names a part that would be gone", remedy="Let it name another first.",
                    )  # fmt: skip


def _idents(value: Any) -> tuple[str, ...]:
    return () if value is None else value if isinstance(value, tuple) else (value,)


def _twice(walk: Walk, changed: set[type[Part]]) -> Iterator[Mistake]:
    for field in _ALONE:
        kinds = [sheet.kind for sheet in SHEETS if any(column.field == field for column in sheet.columns)]
        if changed.isdisjoint(kinds):
            continue
        parts = [part for kind in kinds for part in walk.site.table(kind) if getattr(part, field) is not None]
        count = Counter(getattr(part, field).casefold() for part in parts)
        for part in parts:
            value = getattr(part, field)
            if count[value.casefold()] > 1:
                yield Mistake(
                    where=named(walk, part), read=value, problem=f"this {field} would stand twice",
                    remedy="Correct the wrong one of the two first.",
                )  # fmt: skip
