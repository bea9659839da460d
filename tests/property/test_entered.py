"""Every field of the model is told as entered somewhere or not, and changing it alters just what the table says."""

from collections.abc import Iterator
from dataclasses import fields, replace
from datetime import date
from decimal import Decimal
from enum import Enum
from types import NoneType, UnionType
from typing import Any, get_args, get_type_hints

import pytest

from doorwright.model.habits import CallHabits
from doorwright.model.media import MediaChoices
from doorwright.model.part import Part
from doorwright.model.site import PARTS, Choices, Site
from doorwright.model.walk import Walk
from doorwright.plan.entered import HANGS, NOT_ENTERED
from doorwright.plan.piece import PieceKind
from tests.property.test_touch import TOWNS, everything
from tests.property.test_watch import values_for

GROUPS: dict[str, type[Any]] = {"choices": Choices, "habits": CallHabits, "media": MediaChoices}
"""The fields of the site that hold fields of their own."""

WAS = {with_server: everything(Walk(site)) for with_server, site in TOWNS.items()}


def fields_of_the_model() -> set[tuple[type[Any], str]]:
    tables = {kind.TABLE for kind in PARTS}
    parts = {(kind, field.name) for kind in PARTS for field in fields(kind) if field.name not in {"id", "notes"}}
    site = {(Site, field.name) for field in fields(Site) if field.name not in tables | GROUPS.keys()}
    return parts | site | {(group, field.name) for group in GROUPS.values() for field in fields(group)}


def test_every_field_of_the_model_stands_in_one_of_the_tables() -> None:
    assert HANGS.keys() | NOT_ENTERED.keys() == fields_of_the_model()
    assert not HANGS.keys() & NOT_ENTERED.keys()
    assert all(HANGS.values())
    assert all(NOT_ENTERED.values())


def kinds_altered(site: Site, with_server: bool) -> set[PieceKind]:
    was, now = WAS[with_server], everything(Walk(site))
    return {
        kind_of(name)
        for ident in was.keys() | now.keys()
        for name in was.get(ident, {}).keys() | now.get(ident, {}).keys()
        if was.get(ident, {}).get(name) != now.get(ident, {}).get(name)
    }


def kind_of(setting: str) -> PieceKind:
    word = setting.partition(" ")[0].rstrip(":")
    return PieceKind(word) if word in set(PieceKind) and setting != word else PieceKind.OWN


SIMPLE: dict[type[Any], list[Any]] = {
    bool: [True, False],
    int: [3, 61],
    float: [3.5],
    str: ["else", "198.51.100.60"],
    Decimal: [Decimal("3.50")],
}
LISTS: dict[str, list[tuple[str, ...]]] = {
    "serves_buildings": [("lodge",)],
    "serves_cores": [("C",)],
    "serves_dwellings": [("C/9",)],
    "reserved": [("192.0.2.9",)],
    "kinds": [("URU",)],
}
"""Values for fields that are lists, where the town has only empty ones."""


def other_values(kind: type[Part], table: tuple[Any, ...], name: str) -> list[Any]:
    """Return values that a field may have: those of its neighbours, every choice, and texts and numbers of no part."""
    hint = get_type_hints(kind)[name]
    kinds = get_args(hint) if isinstance(hint, UnionType) else (hint,)
    values = [*values_for(table, name), *LISTS.get(name, ())]
    for one in (one for one in kinds if isinstance(one, type)):
        values += list(one) if issubclass(one, Enum) else []
        values += SIMPLE.get(one, [])
    if NoneType not in kinds:
        values = [value for value in values if value is not None]
    return values


def changed_sites(site: Site, owner: type[Any], name: str) -> Iterator[Site]:
    group = next((field for field, kind in GROUPS.items() if kind is owner), None)
    if group is not None:
        for value in values_in_group(owner, name):
            yield replace(site, **{group: replace(getattr(site, group), **{name: value})})
    elif owner is Site:
        for value in SITE_VALUES[name](site):
            yield replace(site, **{name: value})
    else:
        table = site.table(owner)
        for part in dict.fromkeys((*table[:5], *table[-5:])):
            for value in other_values(owner, table, name):
                if value != getattr(part, name):
                    changed = replace(part, **{name: value})
                    yield site.with_tables({owner: tuple(changed if one is part else one for one in table)})


def values_in_group(group: type[Any], name: str) -> list[Any]:
    hint = get_type_hints(group)[name]
    if isinstance(hint, type) and issubclass(hint, Enum):
        return list(hint)
    return CHOICES.get(name) or SIMPLE[hint]


CHOICES: dict[str, list[Any]] = {
    "number_digits_count": [4],
    "spare_ratio": [0.5],
    "ambient_c": [41.0],
    "ring_s": [44],
    "reserved_numbers": [("9",)],
    "hour_weights": [(1.0,) * 24],
    "standby_practice": ["bs5839-1"],
}

SITE_VALUES: dict[str, Any] = {
    "name": lambda _: ["Else"],
    "reference": lambda _: ["77"],
    "time_zone": lambda _: ["Etc/GMT-3", None],
    "standard_edition": lambda _: ["IEC 62820-1-1:2016"],
    "grade": lambda _: [1, 2],
    "record_keeper": lambda _: ["Keeper"],
    "holidays": lambda _: [(), (date(2031, 1, 1),)],
    "currency": lambda _: ["EUR"],
    "notes": lambda _: [(("a", "b"),)],
    "profiles": lambda site: [
        (),
        *(
            tuple(replace(p, **values) if p.key == "vcu-direct" else p for p in site.profiles)
            for values in ({"directory_max_count": 9}, {"registrations_max_count": 1}, {"title": "Else"})
        ),
    ],
}  # fmt: skip


@pytest.mark.parametrize("field", sorted(fields_of_the_model(), key=str), ids=lambda f: f"{f[0].__name__}.{f[1]}")
def test_a_field_alters_what_its_table_says(field: tuple[type[Any], str]) -> None:
    owner, name = field
    altered: set[PieceKind] = set()
    tried = 0
    for with_server, site in TOWNS.items():
        for changed in changed_sites(site, owner, name):
            altered |= kinds_altered(changed, with_server)
            tried += 1
    assert tried
    if PieceKind.TIMETABLE in altered:
        altered.discard(PieceKind.CLOCK)  # the holidays go with any timetable
    assert altered == HANGS.get(field, frozenset())
