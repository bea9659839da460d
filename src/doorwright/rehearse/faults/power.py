"""Faults of power: budgets that are spent, and what is not there when the mains fail.

A fault that shows itself in a power cut alone has one rehearsed, as long as the standby that the plan relies on.
"""

from collections.abc import Iterator, Mapping
from dataclasses import replace
from random import Random
from typing import Final

from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.faults.fault import Fault
from doorwright.rehearse.looks import Look
from doorwright.rehearse.outage import BACK_WITHIN_S, REGISTERED_FOR_S
from doorwright.rehearse.planned import Planned
from doorwright.rehearse.plant import Source
from doorwright.rehearse.power import needed_w

_LEFT_RATIO: Final = 0.05
"""What is left of the capacity of a battery that was never changed (our own choice)."""
_CUT_MIN: Final = 60.0
"""The power cut in which a fault shows itself (our own choice)."""
_SHORT_CUT_MIN: Final = 10.0
_LATE_RATIO: Final = 2.0


def power_faults() -> Iterator[Fault]:
    """Yield the faults of power."""
    yield Fault("poe-budget", "PoE budget spent", Look.DARK, _comes_after_another, _poe_budget)
    yield Fault("no-standby", "no standby", Look.CUT, _has_battery, _no_standby)
    yield Fault("battery-old", "battery too small or too old", Look.CUT, _has_battery, _battery_old)
    lapse = "registrations lapse before the registrar is back"
    yield Fault("registrations-lapse", lapse, Look.CUT, _admits, _registrations_lapse)


def _comes_after_another(plan: Planned, box: Box) -> bool:
    port = plan.plant.ports.get(box.id)
    if port is None or not port.set_aside_w or plan.plant.hubs[port.switch].budget_w is None:
        return False
    ahead = [one for _, one in plan.plant.ports_of(port.switch) if one.number < port.number and one.set_aside_w]
    return bool(ahead)


def _poe_budget(plan: Planned, box: Box, _chance: Random) -> Planned:
    """Of the switch's power there is no more than the ports before this one take: a power module failed."""
    port = plan.plant.ports[box.id]
    hub = plan.plant.hubs[port.switch]
    ahead = [one for _, one in plan.plant.ports_of(port.switch) if one.number < port.number]
    spent = replace(hub, budget_w=needed_w(hub, ahead))
    return replace(plan, plant=replace(plan.plant, hubs={**plan.plant.hubs, port.switch: spent}))


def _sources(plan: Planned, box: Box) -> list[str]:
    """Return the supplies with a battery on which a unit hangs, or a lock that it frees."""
    circuits = (release.lock.circuit for release in box.releases if release.lock is not None)
    found = [plan.plant.source_of(box.id), *(circuit.source for circuit in circuits if circuit is not None)]
    with_battery = (ident for ident in found if ident is not None and _battery_of(plan, ident))
    return list(dict.fromkeys(with_battery))


def _battery_of(plan: Planned, ident: str) -> bool:
    source = plan.plant.sources.get(ident)
    return source is not None and source.battery is not None


def _has_battery(plan: Planned, box: Box) -> bool:
    return bool(_sources(plan, box))


def _admits(_plan: Planned, box: Box) -> bool:
    return bool(box.admits) and box.role is not Role.URU


def _with_cut(plan: Planned, minutes: float) -> Planned:
    return replace(plan, power_cut_min=max(plan.power_cut_min or 0.0, minutes))


def _no_standby(plan: Planned, box: Box, _chance: Random) -> Planned:
    """The battery was never connected."""
    changed = {ident: replace(plan.plant.sources[ident], battery=None) for ident in _sources(plan, box)}
    return _with_cut(_with_sources(plan, changed), _CUT_MIN)


def _battery_old(plan: Planned, box: Box, _chance: Random) -> Planned:
    """The battery has hardly any capacity left; the mains fail for half as long as it was made for."""
    changed: dict[str, Source] = {}
    lasts_min = 0.0
    for ident in _sources(plan, box):
        source = plan.plant.sources[ident]
        if source.battery is not None:
            lasts_min = max(lasts_min, source.lasts_min)
            worn = replace(source.battery, usable_ratio=source.battery.usable_ratio * _LEFT_RATIO)
            changed[ident] = replace(source, battery=worn)
    return _with_cut(_with_sources(plan, changed), lasts_min / 2.0)


def _with_sources(plan: Planned, changed: Mapping[str, Source]) -> Planned:
    return replace(plan, plant=replace(plan.plant, sources={**plan.plant.sources, **changed}))


def _registrations_lapse(plan: Planned, box: Box, _chance: Random) -> Planned:
    """Nobody starts the registrar again for longer than registrations last; the cut itself is short."""
    late = replace(box, restart_s=REGISTERED_FOR_S + _LATE_RATIO * BACK_WITHIN_S)
    return _with_cut(replace(plan, boxes={**plan.boxes, box.id: late}), _SHORT_CUT_MIN)
