"""Do the budget and the ports of a switch suffice for what it feeds?"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from doorwright.calc import poe
from doorwright.kernel.verdict import Missing
from doorwright.model.network import Switch
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.poe_at_unit import PROFILE, poe_at_unit
from doorwright.studies.study import Study

TITLE: Final = "Power and ports of the switch"


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchPower:
    """What a switch must give, and what it has.

    ``allocated_w`` sums what the switch sets aside for each fed part: what its unit asks for by LLDP with the loss of
    its cable, where both speak of power by it and the cable is known, else the port power of its class. ``lldp_count``
    parts are counted the first way. ``ports_w`` holds that of each fed part by its identifier, ``port_w`` is the most
    that one port gives, None where nobody has said.
    ``drawn_w`` sums what the units really take at the ports, cable losses counted; None while that is not known for
    some of them. ``ports_count`` counts the ports that are no uplinks, ``ports_used_count`` the runs to units and
    the links to other switches on such ports.
    """

    fed_count: int
    lldp_count: int
    ports_w: Mapping[str, float]
    port_w: float | None
    allocated_w: float
    drawn_w: float | None
    budget_w: float
    ports_used_count: int
    ports_count: int

    @property
    def power_spare_ratio(self) -> float:
        """The part of the budget that is not allocated; negative where more is allocated than there is."""
        return 1.0 - self.allocated_w / self.budget_w if self.budget_w else (-1.0 if self.allocated_w else 0.0)

    @property
    def ports_spare_ratio(self) -> float:
        """The part of the ports that is free; negative where there are more runs than ports."""
        return 1.0 - self.ports_used_count / self.ports_count if self.ports_count else -float(self.ports_used_count)


def switch_power(walk: Walk, switch: Switch) -> Study[SwitchPower]:
    """Study the PoE budget and the ports of a switch against the units (and switches) that it feeds.

    A switch without a PoE budget that feeds nothing by PoE has a budget of 0 W and is judged for its ports.
    """
    own = walk.profile(switch.profile)
    runs = walk.runs_from(switch.id)
    units = [unit for run in runs if (unit := walk.find(Unit, run.far)) is not None]
    others = [other for run in runs if (other := walk.find(Switch, run.far)) is not None]
    parts: list[Unit | Switch] = [*units, *others]
    fed: list[tuple[Unit | Switch, Profile]] = []
    missing: dict[Missing, None] = {} if own is not None else {Missing(Switch.KIND, PROFILE): None}
    for part in parts:
        profile = walk.profile(part.profile)
        if profile is None:
            missing[Missing(part.KIND, PROFILE)] = None
        elif profile.poe_class in poe.CLASSES:
            fed.append((part, profile))
        elif profile.poe_class is not None or profile.poe_draw_w is not None:
            missing[Missing(PROFILE, "PoE class")] = None
    if own is not None and own.poe_budget_w is None and fed:
        missing[Missing(PROFILE, "PoE budget")] = None
    if own is None or missing:
        return Study(switch.subject, TITLE, missing=tuple(missing))
    asked_w = {part.id: _asked_w(walk, own, part, profile) for part, profile in fed}
    ports_w = {
        part.id: asked if (asked := asked_w[part.id]) is not None else poe.poe_class(profile.poe_class or 0).port_w
        for part, profile in fed
    }
    value = SwitchPower(
        fed_count=len(fed),
        lldp_count=sum(asked is not None for asked in asked_w.values()),
        ports_w=MappingProxyType(ports_w),
        port_w=own.poe_port_w,
        allocated_w=sum(ports_w.values()),
        drawn_w=_drawn_w(walk, [part for part, _ in fed]),
        budget_w=own.poe_budget_w or 0.0,
        ports_used_count=len(units) + _links_on_ports_count(walk, switch, own.ports_count - own.uplinks_count),
        ports_count=own.ports_count - own.uplinks_count,
    )
    return Study(switch.subject, TITLE, value)


def _asked_w(walk: Walk, own: Profile, part: Unit | Switch, profile: Profile) -> float | None:
    """Return what the port sets aside by LLDP, watts; None where it goes by class, or the cable is not known."""
    if not (own.poe_by_lldp and profile.poe_by_lldp and isinstance(part, Unit)):
        return None
    fed = poe_at_unit(walk, part).value
    return None if fed is None else fed.port_w


def _links_on_ports_count(walk: Walk, switch: Switch, ports_count: int) -> int:
    """Count the links to other switches that take a port meant for units."""
    near_ports = [run.near_port for run in walk.runs_from(switch.id) if walk.find(Switch, run.far) is not None]
    far_ports = [run.far_port for run in walk.runs_to(switch.id) if walk.find(Switch, run.near) is not None]
    return sum(port is not None and port <= ports_count for port in (*near_ports, *far_ports))


def _drawn_w(walk: Walk, parts: list[Unit | Switch]) -> float | None:
    total_w = 0.0
    for part in parts:
        study = poe_at_unit(walk, part) if isinstance(part, Unit) else None
        port_w = study.value.port_w if study is not None and study.value is not None else None
        if port_w is None:
            return None
        total_w += port_w
    return total_w
