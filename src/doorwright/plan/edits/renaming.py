"""Calling a part something else."""

from typing import Final

from doorwright.kernel.errors import Refused
from doorwright.model.calling import Timetable
from doorwright.model.door import Door
from doorwright.model.naming import named
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import called
from doorwright.plan.edits.edit import Edit, Rework

NAMED: Final[tuple[type[Part], ...]] = (
    Building, Core, Level, Place, Dwelling, Entrance, Door, Unit, Subnet, SipServer, Switch, Supply, CableRun,
    Timetable,
)  # fmt: skip
"""The kinds of part that people have names for."""

_WITHIN: Final[dict[type[Part], str]] = {Core: "building", Level: "building", Dwelling: "core", Place: "building"}
"""Where a name must be the only one of its kind; elsewhere it is in the whole site."""


def rename(walk: Walk, name: str, to: str) -> Edit:
    """Give a part another name; of a dwelling, what stands on its door. Its call number stays: it was issued.

    Raises:
        Refused: there is no such part, or another of its kind is called that already.
    """
    part: Part = called(walk, name, *NAMED)
    to = to.strip()
    if not to:
        raise Refused("the new name is empty", remedy=f"Give a name for {part.KIND} {part.label}.")
    if to == part.label:
        raise Refused(f"{part.KIND} {to} is called that already", remedy="Nothing is left to do.")
    kind = type(part)
    within = _WITHIN.get(kind)
    for other in walk.all(kind):
        same_place = within is None or getattr(other, within) == getattr(part, within)
        if other.id != part.id and other.label.casefold() == to.casefold() and same_place:
            raise Refused(f"{named(walk, other)} is called that already", remedy="Choose another name.")
    rework = Rework(walk)
    rework.put(part, **{"door_label" if isinstance(part, Dwelling) else "name": to})
    if isinstance(part, Dwelling):
        if part.call_number is not None:
            rework.tell(f"Its call number stays {part.call_number}: what was issued is not changed")
        if part.legend is not None:
            rework.tell(f"Its legend stays {part.legend!r}")
        urus = [uru.name for uru in walk.units_in(part.id) if part.door_label in uru.name.split()]
        if urus:
            rework.tell(f"Still named after the old label: {', '.join(urus)}")
    return rework.done(f"rename {part.KIND} {part.label} to {to}")
