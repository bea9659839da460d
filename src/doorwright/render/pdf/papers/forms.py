"""As-built and test forms: everything to be proven before handover, with the names filled in and the results open."""

from collections.abc import Iterator
from itertools import groupby
from typing import Any, Final

from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of, where_is
from doorwright.model.network import Switch
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Key, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.plan.runsheet import switches_from_root
from doorwright.render.pdf.papers.cards import dwelling_group, group_of
from doorwright.render.pdf.papers.paper import Paper

DOOR_TESTS: Final = (
    ("Release time", "release_s"),
    ("Relocks after release, door closed", None),
    ("Exit button frees it", None),
    ("Emergency release frees it", "emergency_release"),
    ("Fire alarm frees it: with the competent person", "fire_release"),
    ("Mains fail: lock does as its fail mode says", "fail_mode"),
    ("Battery holds for the time asked for", None),
)
SIGNATURES: Final = (
    "Tested by",
    "Competent person for locks, escape routes and fire alarm",
    "Received by, with as-built record, legends and sealed sheet",
)


def forms(walk: Walk) -> Paper | None:
    """Return the test forms, or None where there is nothing to test."""
    order = WalkingOrder(walk)
    units = order.units(walk.all(Unit))
    doors = sorted(walk.all(Door), key=lambda door: natural_key(door.name))
    switches = switches_from_root(walk)
    if not (units or doors or switches):
        return None
    return {
        "kind": "forms",
        "title": "As-built and test forms",
        "purpose": "to fill in on site: every call, every door, every unit, every switch",
        "calls": [_calls(walk, order, unit) for unit in units if unit.kind is UnitKind.VCU],
        "doors": [_door(walk, door) for door in doors],
        "units": [
            {"title": title, "rows": [_unit(walk, unit) for unit in group]}
            for title, group in groupby(units, key=lambda unit: group_of(walk, unit))
        ],
        "switches": [_switch(walk, switch) for switch in switches],
        "signatures": list(SIGNATURES),
    }


def _calls(walk: Walk, order: WalkingOrder, vcu: Unit) -> dict[str, Any]:
    entrance = walk.find(Entrance, vcu.entrance)
    served = sorted(walk.dwellings_served(entrance), key=order.dwelling_key) if entrance else []
    keys = {key.dwelling or key.desk: key for key in walk.keys_of(vcu.id)}
    desks = walk.units_of_kind(UnitKind.SMU) if entrance and entrance.calls_desk else ()
    return {
        "vcu": vcu.name,
        "where": where_is(walk, vcu),
        "doors": ", ".join(door.name for door in walk.doors_of(entrance.id)) if entrance else "",
        "has_keys": bool(keys),
        "groups": [
            {"title": title, "rows": list(rows)}
            for title, rows in (
                ("Desks", [_call(desk.name, desk.call_number, keys.get(desk.id), "") for desk in order.units(desks)]),
                *(
                    (
                        dwelling_group(walk, homes[0]),
                        [
                            _call(home.door_label, home.call_number, keys.get(home.id), _urus(walk, home))
                            for home in homes
                        ],
                    )
                    for homes in _by_level(served)
                ),
            )
            if rows
        ],
    }


def _by_level(dwellings: list[Dwelling]) -> Iterator[list[Dwelling]]:
    for _, group in groupby(dwellings, key=lambda dwelling: (dwelling.core, dwelling.level)):
        yield list(group)


def _call(label: str, number: str | None, key: Key | None, rings: str) -> dict[str, Any]:
    return {"label": label, "number": number, "key": f"{key.module}.{key.slot}" if key else "", "rings": rings}


def _urus(walk: Walk, dwelling: Dwelling) -> str:
    """Say how many receivers are to ring, where it is not one."""
    count = len(walk.units_in(dwelling.id))
    return "no URU" if count == 0 else "" if count == 1 else f"all {count} URUs"


def _door(walk: Walk, door: Door) -> dict[str, Any]:
    lock = (door.lock and door.lock.value, door.fail_mode and door.fail_mode.value)
    frees = walk.find(Unit, door.freed_by)
    return {
        "name": door.name,
        "where": where_is(walk, door),
        "lock": ", ".join(text for text in lock if text) or "lock not known",
        "freed_by": (f"{frees.name}, output {door.output}" if door.output else frees.name) if frees else "not planned",
        "escape": {True: "on an escape route", False: "on no escape route", None: "escape route: not answered"}[
            door.escape_route
        ],
        "tests": [{"test": test, "expected": _expected(door, field)} for test, field in DOOR_TESTS],
    }


def _expected(door: Door, field: str | None) -> str:
    if field is None:
        return ""
    value = getattr(door, field)
    if field == "release_s":
        return f"{value:g} s" if value is not None else "not planned"
    if field == "fail_mode":
        return value.value if value is not None else "not planned"
    return {True: "asked for", False: "not asked for", None: "not answered"}[value]


def _unit(walk: Walk, unit: Unit) -> dict[str, Any]:
    profile = walk.profile(unit.profile)
    return {
        "name": name_of(walk, unit),
        "where": where_is(walk, unit),
        "serial": unit.serial,
        "firmware": (profile and profile.firmware_baseline) or "",
        "address": unit.address,
    }


def _switch(walk: Walk, switch: Switch) -> dict[str, Any]:
    profile = walk.profile(switch.profile)
    budget_w = profile.poe_budget_w if profile else None
    return {
        "name": switch.name,
        "where": where_is(walk, switch),
        "serial": switch.serial,
        "address": switch.address,
        "ports": str(len(walk.runs_from(switch.id)) + len(walk.runs_to(switch.id))),
        "budget": f"{budget_w:g} W" if budget_w is not None else "",
    }
