"""What people call a part, and where it is."""

from dataclasses import replace
from typing import Any

import pytest

from doorwright.kernel.verdict import Subject
from doorwright.model.door import Door
from doorwright.model.naming import name_of, name_of_subject, named, site_title, where_is
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Place
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit
from doorwright.model.walk import Walk
from tests.unit.model.small import SITE

WALK = Walk(SITE)


@pytest.mark.parametrize(
    ("kind", "ident", "name"),
    [
        (Unit, "v1", "Gate panel"),
        (Key, "k1", "Gate panel key 1.3"),
        (KeyModule, "m1", "Gate panel module 1"),
        (SecretMark, "x1", "SIP secret of URU G01 (sealed sheet line 7)"),
        (Dwelling, "d1", "G01"),
    ],
)
def test_a_part_is_called_by_its_label_or_by_its_owner_too(kind: type[Part], ident: str, name: str) -> None:
    assert name_of(WALK, WALK.get(kind, ident)) == name


def test_what_nobody_has_named_is_called_by_its_kind() -> None:
    nameless = Walk(replace(SITE, name=" ", buildings=(Building(id="b", name=""),)))
    building = nameless.get(Building, "b")
    assert name_of(nameless, building) == "building without a name"
    assert named(nameless, building) == "building without a name"
    assert name_of_subject(nameless, building.subject) == "building without a name"
    assert name_of_subject(nameless, Subject("site", "")) == "Site without a name"
    assert site_title("Alder Court ") == "Alder Court"


@pytest.mark.parametrize(
    ("kind", "ident", "where"),
    [
        (Unit, "u1", "A, level Ground, G01"),
        (Unit, "v1", "Main gate"),
        (Unit, "s1", "Riser A, level 1"),
        (Switch, "w", "Riser A, level 1"),
        (Door, "o1", "Main gate"),
        (Dwelling, "d3", "B, level 1"),
        (Key, "k1", "Gate panel"),
        (Core, "ca", ""),
    ],
)
def test_a_part_is_somewhere(kind: type[Part], ident: str, where: str) -> None:
    assert where_is(WALK, WALK.get(kind, ident)) == where


def test_kind_name_and_place_in_one() -> None:
    assert named(WALK, WALK.get(Switch, "w")) == "switch S1 (Riser A, level 1)"
    assert named(WALK, WALK.get(Unit, "v1")) == "VCU Gate panel (Main gate)"
    assert named(WALK, WALK.get(Core, "ca")) == "core A"


def test_a_subject_that_is_gone_is_called_by_its_kind() -> None:
    assert name_of_subject(WALK, Subject("unit", "v1")) == "Gate panel"
    assert name_of_subject(WALK, Subject("unit", "gone")) == "a unit that is gone"
    assert name_of_subject(WALK, Subject("site", "")) == "Alder Court"


@pytest.mark.parametrize("lost", [{"units": ()}, {"places": ()}, {"entrances": ()}, {"dwellings": ()}, {"levels": ()}])
def test_references_that_lead_nowhere_make_no_fault(lost: dict[str, Any]) -> None:
    walk = Walk(replace(SITE, **lost))
    for kind in (Unit, Key, KeyModule, SecretMark, Switch, Door, Dwelling, Place):
        for part in walk.all(kind):
            assert isinstance(name_of(walk, part), str)
            assert not where_is(walk, part).startswith(",")
