"""Does the output of a supply suffice for the locks it feeds?"""

from dataclasses import dataclass
from typing import Final

from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door
from doorwright.model.network import CableRun, Switch
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.lock_voltage import flows_always
from doorwright.studies.study import Study

TITLE: Final = "Load of the supply"


@dataclass(frozen=True, slots=True, kw_only=True)
class SupplyLoad:
    """What the locks of a supply take, and what it gives.

    ``load_a`` is the current with every lock energised at once, ``standing_a`` that of the locks which take theirs
    all the time.
    """

    locks_count: int
    load_a: float
    standing_a: float
    output_v: float | None
    output_a: float

    @property
    def spare_ratio(self) -> float:
        """The part of the output that is free; negative where the locks take more than there is."""
        return 1.0 - self.load_a / self.output_a


def supply_load(walk: Walk, supply: Supply) -> Study[SupplyLoad]:
    """Study the current of a supply's locks against its output.

    A supply that feeds a switch or unit is not judged: what these take at their input is in no profile.
    """
    missing: dict[Missing, None] = {}
    profile = walk.profile(supply.profile)
    if profile is None:
        missing[Missing(Supply.KIND, "profile")] = None
    elif not profile.output_a:
        missing[Missing("profile", "output current")] = None
    doors: dict[str, Door] = {}
    for run in walk.runs_from(supply.id):
        door = walk.find(Door, run.far)
        if door is not None:
            doors[door.id] = door
            if door.lock_operate_a is None:
                missing[Missing(Door.KIND, "lock operating current")] = None
        else:
            fed = walk.find(Switch, run.far) or walk.find(Unit, run.far)
            missing[Missing(fed.KIND, "input current") if fed else Missing(CableRun.KIND, "far end")] = None
    if missing or profile is None or not profile.output_a:
        return Study(supply.subject, TITLE, missing=tuple(missing))
    loads_a = [(door.lock_operate_a or 0.0, flows_always(door)) for door in doors.values()]
    value = SupplyLoad(
        locks_count=len(doors),
        load_a=sum(load_a for load_a, _ in loads_a),
        standing_a=sum(load_a for load_a, always in loads_a if always),
        output_v=profile.output_v,
        output_a=profile.output_a,
    )
    return Study(supply.subject, TITLE, value)
