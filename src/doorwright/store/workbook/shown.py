"""What a column says of a part: the text or number that an export writes, and that a second reading compares with."""

import re
from collections.abc import Callable
from typing import Any, Final

from doorwright.model.calling import Timetable
from doorwright.model.door import Door
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.site import PARTS, Site
from doorwright.store.workbook.columns import SHEETS, Column
from doorwright.store.workbook.labels import ImpossibleRange, compressed, labels_of
from doorwright.store.workbook.names import Names
from doorwright.store.workbook.values import Shown

_COLUMNS: Final = tuple(column for sheet in SHEETS for column in sheet.columns)
REFERRED: Final = frozenset(
    {kind for column in _COLUMNS for kind in (*column.refers, *(listed for _, listed in column.lists))}
)
ALL: Final = frozenset({"all", "everything", "everyone", "whole site", "all dwellings", "all flats", "all homes"})

DESKS: Final = frozenset({"desk", "desks", "the desk", "all desks", "concierge", "concierges"})


def names_of(site: Site) -> Names:
    """Return the names of everything on a site."""
    names = Names()
    for kind in PARTS:
        if kind not in REFERRED:
            continue
        for part in site.table(kind):
            names.enter_part(part)
    return names


def inside(column: Column, value: Callable[[str], Any], names: Names) -> str | None:
    """Return the part that whatever a column names must lie in, told by the other columns of its row."""
    if column.refers == (Core,):
        return value("building")  # type: ignore[no-any-return]
    if column.refers == (Level,):
        return value("building") or names.holder(value("core"), Building)
    if column.refers == (Dwelling,) and column.field == "dwelling":
        return value("core")  # type: ignore[no-any-return]
    return None


def near(column: Column, value: Callable[[str], Any], names: Names) -> str | None:
    """Return the part that whatever a column names most likely lies in, where several parts have the name."""
    if column.refers == (Timetable,):
        return value("entrance") or names.holder(value("door"), Entrance)
    if column.refers == (Dwelling,):
        return value("core") or names.holder(value("dwelling"), Core)
    if column.refers == (Door,):
        return value("entrance")  # type: ignore[no-any-return]
    return None


def shown(column: Column, part: Part, names: Names) -> Shown:
    """Return what the column says of a part; None for a blank cell."""
    if column.helper:
        return None
    if column.lists:
        return _show_list(column, part, names)
    value = getattr(part, column.field)
    if value is None:
        return None
    if column.refers:
        return names.spell(value, column.refers, inside(column, lambda field: getattr(part, field, None), names))
    return column.form.show(value)


def _show_list(column: Column, part: Part, names: Names) -> str | None:
    kinds = tuple(kind for _, kind in column.lists)
    idents = {kind: getattr(part, field) for field, kind in column.lists}
    if idents[Building] and idents[Building] == tuple(names.ids(Building)) and sum(map(bool, idents.values())) == 1:
        return "all"
    plain: list[str] = []
    items: list[str] = []
    for kind, ident in [(kind, ident) for kind, those in idents.items() for ident in those]:
        name = names.spell(ident, kinds)
        if kind is Dwelling and _quoted(name) == name:  # only names that need no quotes may join a range
            plain.append(name)
        else:
            items += [*_ranges(plain, kinds, names), _quoted(name)]
            plain = []
    return ", ".join([*items, *_ranges(plain, kinds, names)]) or None


def _ranges(plain: list[str], kinds: tuple[type[Part], ...], names: Names) -> list[str]:
    ranges = compressed(plain)
    return plain if any(names.is_name(item, kinds) for item in ranges if item not in plain) else ranges


def _quoted(name: str) -> str:
    try:
        is_range = labels_of(name.rpartition("/")[2]) is not None or labels_of(name) is not None
    except ImpossibleRange:
        is_range = True
    if is_range or re.search(r'[,;"]', name) or name.casefold() in ALL:
        return '"' + name.replace('"', '""') + '"'
    return name


def listed(text: str) -> list[tuple[str, bool]]:
    """Return the items of a list separated by commas, semicolons or new lines, and whether each was quoted."""
    items = []
    for found in re.finditer(r'\s*(?:"((?:[^"]|"")*)"\s*(?=[,;\n]|$)|([^,;\n]+))', text):
        if found[1] is not None:
            items.append((found[1].replace('""', '"'), True))
        elif found[2].strip():
            items.append((found[2].strip(), False))
    return items
