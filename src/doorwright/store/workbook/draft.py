"""A part in the making, and how a row finds the part that it speaks of among those that were there before."""

from dataclasses import dataclass, field
from typing import Any

from doorwright.model.part import Part
from doorwright.store.workbook.columns import Sheet
from doorwright.store.workbook.layout import Row
from doorwright.store.workbook.report import Spot


@dataclass(slots=True)
class Draft:
    """A part in the making: what it was, which fields the workbook gives, and the row that gave them."""

    kind: type[Part]
    ident: str
    old: Part | None = None
    given: dict[str, Any] = field(default_factory=dict)
    row: Row | None = None
    notes: tuple[tuple[str, str], ...] | None = None
    helpers: dict[str, Any] = field(default_factory=dict)
    broken: bool = False

    def value(self, name: str) -> Any:
        """Return a field or helper as it will be; None where nothing is known."""
        if name in self.given:
            return self.given[name]
        if name in self.helpers:
            return self.helpers[name]
        return getattr(self.old, name, None)

    def spot(self) -> Spot:
        """Return the place of its row."""
        return self.row.spot() if self.row else Spot(0, "")


class Matching:
    """Finds the old part that a row describes."""

    def __init__(self, sheet: Sheet, old: tuple[Any, ...]) -> None:
        self.claimed: set[str] = set()
        self._sheet = sheet
        self._old = {part.id: part for part in old}
        self._tables: dict[tuple[str, ...], dict[tuple[Any, ...], list[Part]]] = {}
        self._matches = tuple(sheet.fields(names) for names in sheet.matches)
        for names in self._matches:
            table = self._tables[names] = {}
            for part in old:
                table.setdefault(tuple(comparable(getattr(part, name)) for name in names), []).append(part)

    def by_id(self, ident: str) -> Part | None:
        """Return the old part of this identifier."""
        return self._old.get(ident)

    def by_fields(self, draft: Draft) -> Part | None:
        """Return the one old part, not yet claimed, that the row's natural key tells."""
        if not self._old:
            return None
        for names in self._matches:
            key = tuple(comparable(draft.value(name)) for name in names)
            if None in key and not self._sheet.blank_matches:
                continue
            found = [part for part in self._tables[names].get(key, ()) if part.id not in self.claimed]
            if len(found) == 1:
                return found[0]
        return None


def comparable(value: Any) -> Any:
    """Return a value so that texts that differ in case alone are the same."""
    return value.casefold() if isinstance(value, str) else value
