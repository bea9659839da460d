"""A watched site says what judging it from scratch would say, whatever is edited."""

from dataclasses import fields, replace
from datetime import date
from types import NoneType
from typing import Any, get_args, get_type_hints

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doorwright.model.calling import Window
from doorwright.model.change import diff
from doorwright.model.door import Door
from doorwright.model.network import CableRun, Subnet
from doorwright.model.part import Part
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import PARTS, Choices, NumberScheme, Site
from doorwright.model.unit import Key, Unit
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.rules.example import both, put
from doorwright.rules.judge import Assessment, Watch, judge
from doorwright.rules.rule import Facts
from tests.rules.tower import estate, secrets_of

TODAY = date(2031, 5, 6)
ESTATE = both(
    put(Entrance, "entrance-core-2", serves_cores=(), serves_buildings=("building",)),
    put(Subnet, "net-units", first="10.0.0.11", last="10.0.0.28"),  # one address too few: its message counts the units
)(estate(cores=2, levels=2, homes=3))
SECRETS = secrets_of(ESTATE)
# one unit has another's secret from the start, so that the rules on secrets have something to find
SECRETS[ESTATE.secrets[3].id] = SECRETS[ESTATE.secrets[6].id]

ODD: dict[str, tuple[Any, ...]] = {
    "address": ("not an address", "10.0.0.1", "10.0.0.0", "192.0.2.7", "10.0.0.11", "10.1.0.2"),
    "gateway": ("10.9.9.9", "nonsense"),
    "cidr": ("10.0.0.0/28", "10.0.0.5/24", "nonsense", "10.1.0.0/15"),
    "call_number": ("1A", "10", "1001", "123456789"),
    "door_label": ("Flat 1001", "1001A"),
    "mac": ("01-00-5E-90-10-01", "nonsense"),
    "serial": ("?",),
    "position": (0, 1, 2),
    "registrar": ("server", "nobody"),
    "profile": ("nobody-knows", "vcu-keypad", "uru-audio", "key-module-6"),
    "near_port": (1, 49, 99),
    "length_m": (88.0, 400.0),
    "cable": ("2x1.0", "fibre", "string"),
    "dwelling": ("home-1001", "nowhere"),
    "escape_route": (True, False),
    "emergency_release": (True, False),
    "lock_operate_a": (0.1, 6.0),
    "vlan": (0, 4095),
    "subnet": ("net-units", "net-switches"),
    "building": ("nowhere",),
    "first": ("10.0.255.250",),
    "windows": ((Window(days=(0,), start_min=60, end_min=120), Window(days=(0,), start_min=90, end_min=180)),),
}


EDITED = (Unit, Unit, Unit, Dwelling, Dwelling, Entrance, CableRun, CableRun, Key, Door, *PARTS)
"""Kinds of part, those oftener that many rules look at."""


def settable(kind: type[Part]) -> list[str]:
    return [field.name for field in fields(kind) if field.name not in {"id", "notes"}]


def values_for(table: tuple[Part, ...], name: str) -> list[Any]:
    """Return values to give a field: those of its neighbours, odd ones, and none where it may have none."""
    hint = get_type_hints(type(table[0]))[name]
    nothing = [None] if NoneType in get_args(hint) else []
    return [*dict.fromkeys([*(getattr(part, name) for part in table[:4] + table[-4:]), *ODD.get(name, ()), *nothing])]


def with_part(site: Site, index: int, part: Part) -> Site:
    table: tuple[Part, ...] = site.table(type(part))
    return site.with_tables({type(part): (*table[:index], part, *table[index + 1 :])})


@st.composite
def edits(draw: st.DrawFn, site: Site) -> Site:
    """Return the site with one part changed, added or taken away."""
    kind = draw(st.sampled_from([kind for kind in EDITED if site.table(kind)]))
    table: tuple[Part, ...] = site.table(kind)
    index = draw(st.integers(0, len(table) - 1))
    part = table[index]
    match draw(st.sampled_from(["set", "set", "set", "set", "remove", "add"])):
        case "remove":
            return site.with_tables({kind: table[:index] + table[index + 1 :]})
        case "add":
            taken = {other.id for other in table}
            ident = next(f"new-{n}" for n in range(len(table) + 1) if f"new-{n}" not in taken)
            return site.with_tables({kind: (*table, replace(part, id=ident))})
        case _:
            name = draw(st.sampled_from(settable(kind)))
            return with_part(site, index, replace(part, **{name: draw(st.sampled_from(values_for(table, name)))}))


def said(assessment: Assessment) -> tuple[Any, ...]:
    return set(assessment.findings), set(assessment.not_checked), dict(assessment.held)


def from_scratch(site: Site) -> tuple[Any, ...]:
    whole = judge(Facts(Walk(site), SECRETS, TODAY), RULES)
    assert [one.message for one in whole.findings if "this rule itself failed" in one.message] == []
    return said(whole)


def watching(site: Site) -> Watch:
    return Watch(Facts(Walk(site), SECRETS, TODAY), RULES)


@settings(max_examples=100, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.data())
def test_a_watch_says_what_judging_from_scratch_says(data: st.DataObject) -> None:
    site = ESTATE
    watch = watching(site)
    for _ in range(data.draw(st.integers(1, 3), label="changes")):
        edited = site
        for _ in range(data.draw(st.integers(1, 4), label="edits")):
            edited = data.draw(edits(edited), label="edit")
        watch.change(diff(site, edited))
        site = edited
        assert said(watch.assessment()) == from_scratch(site)


@pytest.mark.parametrize("kind", [kind for kind in PARTS if ESTATE.table(kind)], ids=lambda kind: kind.KIND)
def test_each_field_of_each_kind_is_watched(kind: type[Part]) -> None:
    watch = watching(ESTATE)
    table: tuple[Part, ...] = ESTATE.table(kind)
    for name in settable(kind):
        for index in sorted({0, min(2, len(table) - 1), len(table) - 1}):
            for value in values_for(table, name):
                edited = with_part(ESTATE, index, replace(table[index], **{name: value}))
                watch.change(diff(ESTATE, edited))
                assert said(watch.assessment()) == from_scratch(edited), (name, value)
                watch.change(diff(edited, ESTATE))
    assert said(watch.assessment()) == from_scratch(ESTATE)


@pytest.mark.parametrize(
    "edited",
    [
        replace(ESTATE, choices=Choices(number_scheme=NumberScheme.RUNNING, spare_ratio=0.95)),
        replace(ESTATE, time_zone=None, standard_edition="IEC 62820-1-1:2016", grade=3, record_keeper="The office"),
        replace(ESTATE, profiles=ESTATE.profiles[1:]),
        replace(ESTATE, profiles=()),
    ],
)
def test_the_fields_of_the_site_are_watched(edited: Site) -> None:
    watch = watching(ESTATE)
    watch.change(diff(ESTATE, edited))
    assert said(watch.assessment()) == from_scratch(edited)
    assert said(watch.assessment()) != from_scratch(ESTATE)
