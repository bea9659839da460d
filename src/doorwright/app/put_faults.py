"""Put faults into a building that is to be rehearsed, by the names that somebody typed."""

from collections.abc import Sequence
from dataclasses import replace

from doorwright.kernel.errors import Refused
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.called import called, nearest
from doorwright.rehearse.faults import FAULTS, Fault, UnfitError, with_faults
from doorwright.rehearse.planned import Planned
from doorwright.rehearse.world import World


def put_faults(
    walk: Walk, plan: Planned, texts: Sequence[str], *, seed: int, power_cut_min: float | None = None
) -> tuple[Planned, tuple[tuple[Fault, str], ...]]:
    """Return the plan with faults in it, and each fault with the box where it is.

    Args:
        walk: the site.
        plan: what is planned.
        texts: a name of a fault each, or a name, a colon and the name of a unit.
        seed: where chance starts, which picks the unit where none is named.
        power_cut_min: for how long the mains fail, if not longer by a fault; None for not at all but by a fault.

    Raises:
        Refused: a fault or unit is not known, or no unit can have the fault.
    """
    wanted = tuple(_wanted(walk, plan, text) for text in texts)
    try:
        faulty, where = with_faults(plan, wanted, chance=World(seed=seed).chance("faults"))
    except UnfitError as why:
        raise Refused(str(why), remedy="Name another unit, or leave it to chance.") from None
    if power_cut_min is not None:
        faulty = replace(faulty, power_cut_min=max(power_cut_min, faulty.power_cut_min or 0.0))
    return faulty, tuple((FAULTS[name], ident) for (name, _), ident in zip(wanted, where, strict=True))


def _wanted(walk: Walk, plan: Planned, text: str) -> tuple[str, str | None]:
    """Return the fault that a text names, and the box where it is to be."""
    name, colon, unit = (part.strip() for part in text.partition(":"))
    if name not in FAULTS:
        near = nearest(name, FAULTS) or list(FAULTS)
        raise Refused(f"there is no fault {name!r}", remedy=f"Faults: {', '.join(near)}.")
    if not colon:
        return name, None
    ident = next((box.id for box in plan.boxes.values() if box.name.casefold() == unit.casefold()), None)
    if ident is None:
        found: Unit = called(walk, unit, Unit)
        raise Refused(f"{found.name} cannot be rehearsed: its plan lacks something", remedy="doorwright plan BOOK")
    return name, ident
