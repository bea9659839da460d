"""Is a data link short enough, warm as it gets?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc import cabling
from doorwright.calc.cable import CableUse, cable_kinds
from doorwright.model.network import CableRun, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.run import line_of
from doorwright.studies.study import Study, Trail

TITLE: Final = "Length of the data link"


@dataclass(frozen=True, slots=True, kw_only=True)
class LinkLength:
    """The length of a run against the permanent link, shortened where the cable is warmer than 20 °C."""

    length_m: float
    limit_m: float
    limit_at_20_c_m: float
    temperature_c: float
    screened: bool

    @property
    def within(self) -> bool:
        """Whether the run is no longer than the limit."""
        return self.length_m <= self.limit_m


def link_length(walk: Walk, run: CableRun) -> Study[LinkLength]:
    """Study the length of a run from a switch to a unit or another switch.

    The question does not arise for runs from a supply, and for optical fibre.
    """
    kind = cable_kinds().get(run.cable) if run.cable is not None else None
    data_ends = walk.find(Switch, run.near) is not None and (
        walk.find(Unit, run.far) is not None or walk.find(Switch, run.far) is not None
    )
    if not data_ends or (kind is not None and kind.use is CableUse.OPTICAL):
        return Study(run.subject, TITLE)
    line = line_of(walk, run, CableUse.DATA)
    if isinstance(line, tuple):
        return Study(run.subject, TITLE, missing=line)
    trail = Trail()
    limit_m = trail.run(
        cabling.warm_link_m,
        reference_m=cabling.PERMANENT_LINK_M,
        temperature_c=line.temperature_c,
        screened=line.cable.screened,
    )
    value = LinkLength(
        length_m=line.length_m,
        limit_m=limit_m,
        limit_at_20_c_m=cabling.PERMANENT_LINK_M,
        temperature_c=line.temperature_c,
        screened=line.cable.screened,
    )
    return Study(run.subject, TITLE, value, steps=trail.steps)
