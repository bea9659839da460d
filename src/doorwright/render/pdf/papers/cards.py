"""The cards: one a unit, with what is entered at each end of its pairing, side by side."""

from collections.abc import Collection
from itertools import groupby
from typing import Any

from doorwright.model.naming import where_is
from doorwright.model.place import Core, Dwelling, Level
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder
from doorwright.plan.pairing import Entry, Pairing, pairing_of
from doorwright.plan.reach import reach_notes
from doorwright.render.pdf.papers.codes import code_svg, identity
from doorwright.render.pdf.papers.paper import Paper


def cards(walk: Walk, only: Collection[str] | None = None) -> Paper | None:
    """Return the unit cards, of all units or only those of these identifiers; None where there are no units."""
    units = WalkingOrder(walk).units(unit for unit in walk.all(Unit) if only is None or unit.id in only)
    if not units:
        return None
    return {
        "kind": "cards",
        "title": "Unit cards",
        "purpose": "for each unit, what is entered at both ends of its pairing",
        "groups": [
            {"title": title, "cards": [card(walk, unit) for unit in group]}
            for title, group in groupby(units, key=lambda unit: group_of(walk, unit))
        ],
    }


def group_of(walk: Walk, unit: Unit) -> str:
    """Return the heading under which a unit stands: its core and level, or what it is where it has none."""
    dwelling = walk.find(Dwelling, unit.dwelling)
    if dwelling is not None:
        return dwelling_group(walk, dwelling)
    return {UnitKind.VCU: "Entrances", UnitKind.SMU: "Desks", UnitKind.URU: "In no dwelling yet"}[unit.kind]


def dwelling_group(walk: Walk, dwelling: Dwelling) -> str:
    """Return the heading under which a dwelling stands: its core and level."""
    core, level = walk.find(Core, dwelling.core), walk.find(Level, dwelling.level)
    return ", ".join(text for text in (core and core.name, level and f"level {level.name}") if text) or "Dwellings"


def card(walk: Walk, unit: Unit, firmware: str | None = None) -> dict[str, Any]:
    """Return one unit's card; ``firmware`` is the version that it is to have, where that is not its type's baseline."""
    profile = walk.profile(unit.profile)
    pairing = pairing_of(walk, unit)
    role = "" if unit.position is None else "primary" if unit.position == 0 else f"secondary {unit.position}"
    facts = (
        ("Serial", unit.serial),
        ("MAC", unit.mac),
        ("Firmware", firmware or (profile and profile.firmware_baseline) or unit.firmware),
    )
    return {
        "name": unit.name,
        "kind": f"{unit.kind.value} {role}".strip(),
        "type": profile.title if profile else unit.profile,
        "where": where_is(walk, unit),
        "facts": [{"name": name, "value": value} for name, value in facts],
        "code": code_svg(identity("unit", unit.name, unit.serial)),
        "code_says": identity("unit", unit.name, unit.serial),
        "at_unit": {"title": "Enter at this unit", "entries": _entries(pairing.at_unit)},
        "at_registrar": {"title": _far_end(pairing), "entries": _entries(pairing.at_registrar)},
        "nothing": _nothing(walk, pairing),
        "heights": " ".join(reach_notes(unit)) if unit.kind is UnitKind.VCU else "",
    }


def _far_end(pairing: Pairing) -> str:
    return f"Enter at {pairing.registrar.name}" if pairing.registrar else "At the other end"


def _nothing(walk: Walk, pairing: Pairing) -> str:
    if pairing.registrar is not None:
        return ""
    if pairing.unit.registrar is not None or pairing.unit.position != 0:
        return "No registrar is planned for this unit yet."
    waiting = len(walk.units_registered_with(pairing.unit.id))
    others = f"{waiting} unit registers with it" if waiting == 1 else f"{waiting} units register with it"
    return f"Nothing: this is the first unit of its group. {others}."


def _entries(entries: tuple[Entry, ...]) -> list[dict[str, Any]]:
    return [{"name": entry.name, "value": entry.value, "secret": entry.secret} for entry in entries]
