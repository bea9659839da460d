"""The first user receiver unit of a dwelling, where the list of dwellings describes it."""

from typing import Any

from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit, UnitKind
from doorwright.store.workbook.assemble import Assembly
from doorwright.store.workbook.draft import Draft


def add_receivers(assembly: Assembly) -> None:
    """Make or amend the unit of position 0 of every dwelling whose row describes one."""
    standing: dict[str, list[Draft]] = {}
    for draft in assembly.drafts[Unit].values():
        if draft.value("dwelling") is not None:
            standing.setdefault(draft.value("dwelling"), []).append(draft)
    taken = {str(draft.value("name")).casefold() for draft in assembly.drafts[Unit].values()}
    labels: dict[str, int] = {}
    for dwelling in assembly.drafts[Dwelling].values():
        label = str(dwelling.value("door_label")).casefold()
        labels[label] = labels.get(label, 0) + 1
    for dwelling in assembly.drafts[Dwelling].values():
        given = {
            field.removeprefix("unit_"): value for field, value in dwelling.helpers.items() if field.startswith("unit_")
        }
        if given:
            unit = _primary(standing.get(dwelling.ident, []), given)
            if unit is not None:
                _amend(assembly, unit, dwelling, given)
            else:
                _add(assembly, dwelling, given, taken, alone=labels[str(dwelling.value("door_label")).casefold()] == 1)


def _primary(units: list[Draft], given: dict[str, Any]) -> Draft | None:
    """Return the unit that the row of a dwelling describes.

    That is its primary, else its only unit if that has no position and the two rows do not tell them apart: two serial
    numbers or MAC addresses are two units.
    """
    for unit in units:
        if unit.value("position") == 0:
            return unit
    unplaced = [unit for unit in units if unit.value("position") is None]
    return unplaced[0] if len(units) == 1 and unplaced and not _another(unplaced[0], given) else None


def _another(unit: Draft, given: dict[str, Any]) -> bool:
    row = unit.row
    written = [field for field in ("serial", "mac") if field in given and row is not None and field in row.cells]
    return bool(written) and all(_folded(unit.value(field)) != _folded(given[field]) for field in written)


def _folded(value: object) -> str:
    return str(value).casefold()


def _amend(assembly: Assembly, unit: Draft, dwelling: Draft, given: dict[str, Any]) -> None:
    for field, value in given.items():
        written = unit.row is not None and field in unit.row.cells
        if written and unit.value(field) != value and dwelling.row is not None and unit.row is not None:
            assembly.report.mistake(
                dwelling.row.spot(f"unit_{field}"), value,
                f"{unit.row.spot(field)} gives another value for this unit: {unit.value(field)}",
                "Correct the wrong one of the two.",
            )  # fmt: skip
        elif unit.value(field) != value:
            unit.given[field] = value


def _add(assembly: Assembly, dwelling: Draft, given: dict[str, Any], taken: set[str], *, alone: bool) -> None:
    assert dwelling.row is not None  # noqa: S101  (for the type checker: its row gave the values)
    types = assembly.profile_keys(UnitKind.URU.value)
    if "profile" not in given and len(types) == 1:
        given["profile"] = types[0]
    if "profile" not in given:
        assembly.report.mistake(
            dwelling.row.spot("unit_profile"), "", "the type of this dwelling's unit is missing",
            f"Write one of: {', '.join(types[:12]) or 'the unit types known to you'}.",
        )  # fmt: skip
        return
    label = str(dwelling.value("door_label"))
    core = assembly.names.name(str(dwelling.value("core")))
    name = f"URU {label}" if alone or not core else f"URU {core}/{label}"
    ordinal = 1
    while name.casefold() in taken:
        ordinal += 1
        name = f"URU {core}/{label} ({ordinal})" if core else f"URU {label} ({ordinal})"
    taken.add(name.casefold())
    unit = Draft(
        Unit, assembly.new_id(), row=dwelling.row,
        given={"name": name, "kind": UnitKind.URU, "dwelling": dwelling.ident, "position": 0, **given},
    )  # fmt: skip
    assembly.drafts[Unit][unit.ident] = unit
    assembly.names.enter(Unit, unit.ident, name)
