"""The plant of a site as the plan has it: read off the same studies that its rules judge."""

from collections.abc import Iterator, Mapping
from typing import Final

from doorwright.calc.battery import Battery
from doorwright.model.label import natural_key
from doorwright.model.network import CableRun, Switch
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.cable import Draw
from doorwright.rehearse.plant import Hub, Plant, Port, Source, Uplink
from doorwright.studies.dc_branch import supplies_of
from doorwright.studies.link_streams import link_streams
from doorwright.studies.poe_at_unit import poe_at_unit
from doorwright.studies.run import feeding_run
from doorwright.studies.standby import standby
from doorwright.studies.supply_network import supply_network
from doorwright.studies.switch_power import SwitchPower, switch_power
from doorwright.studies.switch_tree import beyond, switch_of

BY_DAY_RATIO: Final = 0.6
"""What a call unit with a camera draws by day, of its data sheet's draw: its lamps are off (our own choice)."""
_UNIT_MBPS: Final = 100.0
_HUB_RESTART_S: Final = 60.0
"""How long a switch takes to start where its data sheet does not say (our own choice)."""


def planned_plant(walk: Walk, boxes: Mapping[str, Box]) -> Plant:
    """Return the ports, switches, supplies and links of a site, for the units that are rehearsed."""
    powers = {switch.id: walk.once(switch_power, switch).value for switch in walk.all(Switch)}
    ports = dict(_ports(walk, boxes, powers))
    return Plant(
        ports=ports,
        hubs={switch.id: _hub(walk, switch, powers[switch.id]) for switch in walk.all(Switch)},
        sources={supply.id: source for supply in walk.all(Supply) if (source := _source(walk, supply)) is not None},
        uplinks=dict(_uplinks(walk, boxes)),
        fed_by={ident: fed[0].id for ident in boxes if (fed := supplies_of(walk, ident))},
    )


def _ports(
    walk: Walk, boxes: Mapping[str, Box], powers: Mapping[str, SwitchPower | None]
) -> Iterator[tuple[str, Port]]:
    order: dict[str, int] = {}
    runs = {unit: feeding_run(walk, unit, Switch) for unit in boxes if walk.find(Unit, unit) is not None}
    # a port whose number nobody has noted comes after those that are numbered, in order of the units' names
    for unit in sorted(boxes, key=lambda ident: natural_key(boxes[ident].name)):
        run = runs.get(unit)
        if run is None:
            continue
        order[run.near] = order.get(run.near, 0) + 1
        power = powers.get(run.near)
        aside_w = power.ports_w.get(unit, 0.0) if power is not None else 0.0
        yield unit, _port(walk, boxes[unit], run, aside_w, run.near_port or 1000 + order[run.near])


def _port(walk: Walk, box: Box, run: CableRun, aside_w: float, number: int) -> Port:
    unit = walk.get(Unit, box.id)
    profile, own = walk.profile(unit.profile), walk.profile(walk.get(Switch, run.near).profile)
    by_lldp = bool(own is not None and own.poe_by_lldp and profile is not None and profile.poe_by_lldp)
    fed = walk.once(poe_at_unit, unit).value
    draw = None
    if fed is not None and aside_w:
        day_ratio = BY_DAY_RATIO if box.role is Role.VCU and box.video else 1.0
        draw = Draw(poe_class=fed.poe_class, day_w=fed.draw_w * day_ratio, night_w=fed.draw_w, loop_ohm=fed.loop_ohm)
    rates = [rate for each in (profile, own) if each is not None and (rate := each.port_mbps) is not None]
    return Port(
        switch=run.near,
        number=number,
        planned_mbps=min(rates, default=_UNIT_MBPS),
        set_aside_w=aside_w,
        by_lldp=by_lldp and fed is not None,
        draw=draw,
    )


def _hub(walk: Walk, switch: Switch, power: SwitchPower | None) -> Hub:
    profile = walk.profile(switch.profile)
    supplies = supplies_of(walk, switch.id)
    return Hub(
        name=switch.name,
        budget_w=power.budget_w if power is not None else None,
        diversity_ratio=power.diversity_ratio if power is not None else 1.0,
        source=supplies[0].id if supplies else None,
        restart_s=profile.restart_s if profile is not None and profile.restart_s else _HUB_RESTART_S,
    )


def _source(walk: Walk, supply: Supply) -> Source | None:
    """Return a supply as it stands in a power cut; None where what it carries is not known."""
    circuits = walk.once(supply_network, supply).value
    if circuits is None:
        return None
    profile, study = walk.profile(supply.profile), walk.once(standby, supply).value
    battery = None
    if supply.battery_ah:
        battery = Battery(
            capacity_ah=supply.battery_ah,
            rate_h=supply.battery_rate_h or 20.0,
            peukert_exponent=max(1.0, profile.peukert_exponent or 1.0) if profile is not None else 1.0,
            usable_ratio=1.0 / study.cold_ratio if study is not None else 1.0,
        )
    return Source(name=supply.name, battery=battery, standing_a=circuits.standing_a)


def _uplinks(walk: Walk, boxes: Mapping[str, Box]) -> Iterator[tuple[str, Uplink]]:
    at = {ident: walk.once_of(switch_of, Unit, ident) for ident in boxes}
    for run in walk.all(CableRun):
        if walk.find(Switch, run.near) is None or walk.find(Switch, run.far) is None:
            continue
        load = walk.once(link_streams, run).value
        if load is not None:
            after = beyond(walk, run.far, without=run.id)
            yield (
                run.id,
                Uplink(
                    name=run.name,
                    mbps=load.link_mbps,
                    down_kbps=load.down_kbps,
                    up_kbps=load.up_kbps,
                    beyond=frozenset(ident for ident, switch in at.items() if switch in after),
                ),
            )
