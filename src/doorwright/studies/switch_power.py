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
from doorwright.studies.study import Study, Trail

TITLE: Final = "Power and ports of the switch"


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchPower:
    """What a switch must give, and what it has.

    ``allocated_w`` sums what the switch sets aside for each fed part: what its unit asks for by LLDP with the loss of
    its cable, where both speak of power by it and the cable is known, else the port power of its class. ``lldp_count``
    parts are counted the first way. ``ports_w`` holds that of each fed part by its identifier, ``port_w`` is the most
    that one port gives, None where nobody has said.
    ``needed_w`` is what the budget must hold: less than ``allocated_w`` where the site takes it that not all units draw
    at once (``diversity_ratio``). That goes for what is asked for by LLDP alone, since units that idle ask for less;
    class power is set aside whatever is drawn.
    ``drawn_w`` sums what the units really take at the ports, cable losses counted; None while that is not known for
    some of them. ``at_once_w`` is the most that leaves the ports at once, by real draws with the same diversity, by
    what is set aside where a draw is not known. ``ports_count`` counts the ports that are no uplinks,
    ``ports_used_count`` the runs to units and the links to other switches on such ports.
    """

    fed_count: int
    lldp_count: int
    ports_w: Mapping[str, float]
    port_w: float | None
    allocated_w: float
    diversity_ratio: float
    needed_w: float
    drawn_w: float | None
    at_once_w: float
    budget_w: float
    ports_used_count: int
    ports_count: int

    @property
    def power_spare_ratio(self) -> float:
        """The part of the budget that is not needed; negative where more is needed than there is."""
        return 1.0 - self.needed_w / self.budget_w if self.budget_w else (-1.0 if self.needed_w else 0.0)

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
    drawn_w = {part.id: _drawn_w(walk, part) for part, _ in fed}
    # by LLDP a unit asks for what it draws, with the loss of its cable
    asked_w = {
        part.id: drawn
        for part, profile in fed
        if own.poe_by_lldp and profile.poe_by_lldp and (drawn := drawn_w[part.id]) is not None
    }
    class_w = {part.id: poe.poe_class(profile.poe_class or 0).port_w for part, profile in fed}
    ports_w = class_w | asked_w
    real_w = {ident: ports_w[ident] if drawn is None else drawn for ident, drawn in drawn_w.items()}
    trail = Trail()
    diversity_ratio = walk.settings().choices.poe_diversity_ratio
    value = SwitchPower(
        fed_count=len(fed),
        lldp_count=len(asked_w),
        ports_w=MappingProxyType(ports_w),
        port_w=own.poe_port_w,
        allocated_w=sum(ports_w.values()),
        diversity_ratio=diversity_ratio,
        needed_w=trail.run(
            poe.diverse_w,
            reserved_w=sum(power_w for ident, power_w in class_w.items() if ident not in asked_w),
            varying_w=sum(asked_w.values()),
            largest_w=max(asked_w.values(), default=0.0),
            diversity_ratio=diversity_ratio,
        ),
        drawn_w=None if None in drawn_w.values() else sum(real_w.values()),
        at_once_w=poe.diverse_w(
            reserved_w=0.0,
            varying_w=sum(real_w.values()),
            largest_w=max(real_w.values(), default=0.0),
            diversity_ratio=diversity_ratio,
        ),
        budget_w=own.poe_budget_w or 0.0,
        ports_used_count=len(units) + _links_on_ports_count(walk, switch, own.ports_count - own.uplinks_count),
        ports_count=own.ports_count - own.uplinks_count,
    )
    return Study(switch.subject, TITLE, value, steps=trail.steps if fed else ())


def _drawn_w(walk: Walk, part: Unit | Switch) -> float | None:
    """Return what a unit takes at its port, its cable's loss counted, watts; None while that is not known."""
    fed = walk.once(poe_at_unit, part).value if isinstance(part, Unit) else None
    return None if fed is None else fed.port_w


def _links_on_ports_count(walk: Walk, switch: Switch, ports_count: int) -> int:
    """Count the links to other switches that take a port meant for units."""
    near_ports = [run.near_port for run in walk.runs_from(switch.id) if walk.find(Switch, run.far) is not None]
    far_ports = [run.far_port for run in walk.runs_to(switch.id) if walk.find(Switch, run.near) is not None]
    return sum(port is not None and port <= ports_count for port in (*near_ports, *far_ports))
