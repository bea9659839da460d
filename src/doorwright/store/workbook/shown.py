"""What a column says of a part: the text or number that an export writes, and that a second reading compares with."""

import re
from collections.abc import Callable
from typing import Any, Final

from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.site import PARTS, Site
from doorwright.store.workbook.columns import SHEETS, Column
from doorwright.store.workbook.labels import ImpossibleRange, compressed, labels_of
from doorwright.store.workbook.names import Names
from doorwright.store.workbook.values import Shown

SERVED: Final = (Building, Core, Dwelling)
REFERRED: Final = frozenset(
    {*SERVED, *(kind for sheet in SHEETS for column in sheet.columns for kind in column.refers)}
)
ALL: Final = frozenset({"all", "everything", "everyone", "whole site", "all dwellings", "all flats", "all homes"})


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
    if column.refers == (Dwelling,):
        return value("core")  # type: ignore[no-any-return]
    return None


def shown(column: Column, part: Part, names: Names) -> Shown:
    """Return what the column says of a part; None for a blank cell."""
    if column.helper:
        return None
    if column.field == "serves":
        return _serves(part, names) if isinstance(part, Entrance) else None
    value = getattr(part, column.field)
    if value is None:
        return None
    if column.refers:
        return names.spell(value, column.refers, inside(column, lambda field: getattr(part, field, None), names))
    return column.form.show(value)


def _serves(entrance: Entrance, names: Names) -> str | None:
    buildings = entrance.serves_buildings
    if (
        buildings
        and buildings == tuple(names.ids(Building))
        and not (entrance.serves_cores or entrance.serves_dwellings)
    ):
        return "all"
    wholes = [names.spell(ident, SERVED) for ident in (*buildings, *entrance.serves_cores)]
    singles = [names.spell(ident, SERVED) for ident in entrance.serves_dwellings]
    plain: list[str] = []
    items = [_quoted(name) for name in wholes]
    for single in singles:  # only names that need no quotes may join a range
        if _quoted(single) == single:
            plain.append(single)
        else:
            items += [*_ranges(plain, names), _quoted(single)]
            plain = []
    return ", ".join([*items, *_ranges(plain, names)]) or None


def _ranges(plain: list[str], names: Names) -> list[str]:
    ranges = compressed(plain)
    return plain if any(names.is_name(item, SERVED) for item in ranges if item not in plain) else ranges


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
