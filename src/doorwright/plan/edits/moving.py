"""Moving a unit or switch to another dwelling, entrance or place."""

from typing import Final

from doorwright.kernel.errors import Refused
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling, Entrance, Place
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import called
from doorwright.plan.edits.edit import Edit, Rework
from doorwright.plan.groups import entrance_groups
from doorwright.plan.order import WalkingOrder

_HANGS: Final[dict[UnitKind, tuple[type[Part], str]]] = {
    UnitKind.VCU: (Entrance, "entrance"),
    UnitKind.URU: (Dwelling, "dwelling"),
    UnitKind.SMU: (Place, "place"),
}


def move_unit(walk: Walk, name: str, to: str) -> Edit:
    """Move a visitor call unit to an entrance, a receiver to a dwelling, a desk unit or switch to a place.

    What it was within its old group, primary or secondary, is issued anew, and so are the registrars of those that
    registered with it. Its address and its cable run stay.

    Raises:
        Refused: there is no such unit or destination, the two do not go together, or it is there already.
    """
    moved: Unit | Switch = called(walk, name, Unit, Switch)
    kind, field = _HANGS[moved.kind] if isinstance(moved, Unit) else (Place, "place")
    target: Part = called(walk, to, kind)
    if getattr(moved, field) == target.id:
        raise Refused(f"{moved.name} is at {target.label} already", remedy="Nothing is left to do.")
    rework = Rework(walk)
    rework.put(moved, **{field: target.id})
    if isinstance(moved, Unit):
        _leave_group(rework, moved, target)
        if isinstance(target, Entrance):
            _give_up_keys(rework, moved, target)
            _tell_of_doors(rework, moved)
    for run in walk.runs_to(moved.id):
        rework.tell(f"{run.name} still feeds {moved.name}: its way and length were measured to the old place")
    where = f"dwelling {target.label}" if isinstance(target, Dwelling) else target.label
    return rework.done(f"move {moved.name} to {where}")


def _leave_group(rework: Rework, moved: Unit, target: Part) -> None:
    """Let what depends on the unit's place in its group be issued anew, in the old group and in the new one."""
    walk = rework.walk
    stay = _companions(walk, moved, target)
    if stay is None:
        return
    rework.put(moved, position=None, registrar=None)
    dependants = walk.units_registered_with(moved.id)
    for unit in dependants:
        rework.put(unit, registrar=None)
    if dependants:
        rework.tell(f"{len(dependants)} units registered with {moved.name}; each gets another registrar")
    if moved.position == 0 and stay and not any(unit.position == 0 for unit in stay):
        heir = min(stay, key=lambda unit: unit.position if unit.position is not None else len(stay))
        rework.put(heir, position=None, registrar=None)
        rework.tell(f"{heir.name} becomes the primary that {moved.name} was")


def _companions(walk: Walk, moved: Unit, target: Part) -> tuple[Unit, ...] | None:
    """Return who stays in the old group; None where the unit stays in its group, or belongs to none."""
    if moved.kind is UnitKind.URU:
        others = walk.units_in(moved.dwelling) if moved.dwelling else ()
    elif moved.kind is UnitKind.VCU:
        group = next((g for g in entrance_groups(walk) if any(e.id == moved.entrance for e in g)), ())
        if any(entrance.id == target.id for entrance in group):
            return None
        others = tuple(unit for entrance in group for unit in walk.units_at(entrance.id))
    else:
        return None
    return tuple(WalkingOrder(walk).units(unit for unit in others if unit.id != moved.id))


def _give_up_keys(rework: Rework, moved: Unit, target: Entrance) -> None:
    walk = rework.walk
    served = {dwelling.id for dwelling in walk.dwellings_served(target)}
    lost = [
        key
        for key in walk.keys_of(moved.id)
        if (key.dwelling is not None and key.dwelling not in served) or (key.desk is not None and not target.calls_desk)
    ]
    for key in lost:
        rework.drop(key)
    if lost:
        rework.tell(f"{len(lost)} keys of {moved.name} are given up: {target.name} does not serve what they rang")


def _tell_of_doors(rework: Rework, moved: Unit) -> None:
    for door in rework.walk.doors_freed_by(moved.id):
        rework.trouble(
            (door, moved),
            f"{named(rework.walk, door)} is still freed by {moved.name}, which goes elsewhere",
            "Say which unit frees it from now on. Where it is on an escape route, the fire strategy and the local "
            "code decide; have the competent person test every release.",
        )
