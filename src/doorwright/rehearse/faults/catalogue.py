"""Every fault that can be put into a rehearsed building, by name."""

from collections.abc import Mapping
from random import Random
from types import MappingProxyType
from typing import Final

from doorwright.rehearse.faults.calling import calling_faults
from doorwright.rehearse.faults.fault import Fault, UnfitError
from doorwright.rehearse.faults.media import media_faults
from doorwright.rehearse.faults.network import network_faults
from doorwright.rehearse.faults.pairing import pairing_faults
from doorwright.rehearse.faults.power import power_faults
from doorwright.rehearse.faults.release import release_faults
from doorwright.rehearse.planned import Planned

FAULTS: Final[Mapping[str, Fault]] = MappingProxyType(
    {
        fault.name: fault
        for area in (network_faults, power_faults, pairing_faults, calling_faults, media_faults, release_faults)
        for fault in area()
    }
)


def with_faults(
    plan: Planned, wanted: tuple[tuple[str, str | None], ...], *, chance: Random
) -> tuple[Planned, tuple[str, ...]]:
    """Return the plan with faults in it, and which box each fault was put into.

    Args:
        plan: what is planned.
        wanted: names of faults, each with the identifier of a box, or None for one that chance picks.
        chance: picks.

    Raises:
        UnfitError: no box can have the fault, or this one cannot.
        LookupError: there is no such fault.
    """
    where: list[str] = []
    for name, ident in wanted:
        fault = FAULTS[name]
        fitting = [box for box in plan.boxes.values() if fault.fits(plan, box)]
        if ident is not None:
            fitting = [box for box in fitting if box.id == ident]
        if not fitting:
            where_not = "nothing here can" if ident is None else f"{plan.boxes[ident].name} cannot"
            raise UnfitError(f"{name}: {where_not} have this fault")
        box = chance.choice(fitting)
        plan = fault.put(plan, box, chance)
        where.append(box.id)
    return plan, tuple(where)
