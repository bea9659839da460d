"""Which part of the plan hangs at which switch port, and what of the ports is written down."""

from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import DOWN, SITE_SUBJECT, Aspect, errors_text, port_text, stranger
from doorwright.model.network import CableRun, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.probe.switch import PortSeen, SwitchSeen

_ONE: Final = 1


@dataclass(frozen=True, slots=True)
class _Place:
    """A port of a switch, by the switch's identifier."""

    switch: str
    port: int


def at_ports(walk: Walk, told: Mapping[str, SwitchSeen]) -> Iterator[tuple[Subject, str, str]]:
    """Yield what is written down of what switches told: whose it is, the aspect, the value.

    A part is at a port where it introduced itself with its MAC address, or else where its MAC address, and that of no
    other part, was learned. A port between switches tells nothing, as every address beyond is learned there. Of a part
    that was seen nowhere, its planned port speaks, unless another is there.

    Args:
        walk: the way around the site.
        told: what switches told, by their identifiers.
    """
    for ident, seen in told.items():
        switch = walk.find(Switch, ident)
        if switch is not None:
            yield from ((switch.subject, aspect, value) for aspect, value in _of_itself(seen))
    planned = _planned(walk)
    parts: list[Unit | Switch] = [*walk.all(Unit), *walk.all(Switch)]
    by_mac = _by_mac(parts)
    between = _between_switches(walk, told, by_mac)
    found = _found(told, by_mac, between)
    taken = set(found.values())
    for part in parts:
        place = found.get(part.id)
        if place is not None and isinstance(part, Unit):
            switch = walk.find(Switch, place.switch)
            if switch is not None:
                yield part.subject, Aspect.PORT, port_text(switch.name, place.port)
        if place is None:
            place = planned.get(part.id)
            if place in taken:
                continue
        if place is not None and place.switch in told:
            port = told[place.switch].ports.get(place.port)
            if port is not None:
                yield from ((part.subject, aspect, value) for aspect, value in _of_port(port))
    yield from _strangers(walk, told, planned, by_mac, passed=taken | between)


def _of_itself(seen: SwitchSeen) -> Iterator[tuple[Aspect, str]]:
    if seen.supply is not None:
        yield Aspect.POE_SUPPLY, seen.supply.value
    if seen.budget_w is not None:
        yield Aspect.POE_BUDGET, str(seen.budget_w)
    if seen.given_w is not None:
        yield Aspect.POE_GIVEN, str(seen.given_w)


def _of_port(port: PortSeen) -> Iterator[tuple[Aspect, str]]:
    if port.is_up is False:
        yield Aspect.LINK, DOWN
    elif port.speed_mbps is not None:
        yield Aspect.LINK, str(port.speed_mbps)
    if port.errors_count is not None and port.frames_count is not None:
        yield Aspect.ERRORS, errors_text(port.errors_count, port.frames_count)
    if port.poe is not None:
        yield Aspect.POE_STATUS, port.poe.value
    if port.poe_class is not None:
        yield Aspect.POE_CLASS, str(port.poe_class)


def _planned(walk: Walk) -> dict[str, _Place]:
    """Return the planned port of each part that a switch feeds."""
    return {
        run.far: _Place(run.near, run.near_port)
        for run in walk.all(CableRun)
        if run.near_port is not None and walk.find(Switch, run.near) is not None
    }


def _by_mac(parts: list[Unit | Switch]) -> dict[str, str]:
    """Return who has a MAC address; one that the plan gives to several tells nobody."""
    holders: dict[str, set[str]] = defaultdict(set)
    for part in parts:
        if part.mac:
            holders[part.mac.replace(":", "-").upper()].add(part.id)
    return {mac: next(iter(there)) for mac, there in holders.items() if len(there) == _ONE}


def _between_switches(walk: Walk, told: Mapping[str, SwitchSeen], by_mac: Mapping[str, str]) -> set[_Place]:
    """Return the ports that lead to a further switch: by the plan, by who introduced itself, by who is behind."""
    between: set[_Place] = set()
    for run in walk.all(CableRun):
        if walk.find(Switch, run.near) is not None and walk.find(Switch, run.far) is not None:
            between |= {_Place(run.near, run.near_port)} if run.near_port is not None else set()
            between |= {_Place(run.far, run.far_port)} if run.far_port is not None else set()
    switches = {switch.id for switch in walk.all(Switch)}
    for ident, seen in told.items():
        for number, port in seen.ports.items():
            introduced = {by_mac.get(mac) for one in port.neighbours for mac in one.macs}
            behind = {by_mac[mac] for mac in port.macs if mac in by_mac}
            if introduced & switches or behind & switches or (len(behind) > _ONE and not introduced & behind):
                between.add(_Place(ident, number))
    return between


def _found(told: Mapping[str, SwitchSeen], by_mac: Mapping[str, str], between: set[_Place]) -> dict[str, _Place]:
    """Return where each part was seen; who was seen at several ports was seen at none."""
    introduced: dict[str, set[_Place]] = defaultdict(set)
    learned: dict[str, set[_Place]] = defaultdict(set)
    for ident, seen in told.items():
        for number, port in seen.ports.items():
            place = _Place(ident, number)
            if place in between:
                continue
            for mac in {mac for one in port.neighbours for mac in one.macs} & set(by_mac):
                introduced[by_mac[mac]].add(place)
            for mac in set(port.macs) & set(by_mac):
                learned[by_mac[mac]].add(place)
    return {
        part: next(iter(places))
        for part in (*introduced, *learned)
        if len(places := introduced.get(part) or learned[part]) == _ONE
    }


def _strangers(
    walk: Walk,
    told: Mapping[str, SwitchSeen],
    planned: Mapping[str, _Place],
    by_mac: Mapping[str, str],
    *,
    passed: set[_Place],
) -> Iterator[tuple[Subject, str, str]]:
    """Yield the MAC addresses that are in no plan, each alone at the planned port of a unit whose own is known.

    Elsewhere they say nothing: a router, a technician's machine, a unit whose MAC address nobody has entered yet.
    """
    for unit in walk.all(Unit):
        place = planned.get(unit.id)
        if unit.mac is None or place is None or place in passed or place.switch not in told:
            continue
        switch, port = walk.find(Switch, place.switch), told[place.switch].ports.get(place.port)
        if switch is not None and port is not None and len(port.macs) == _ONE and port.macs[0] not in by_mac:
            yield SITE_SUBJECT, stranger(Aspect.MAC, port.macs[0]), port_text(switch.name, place.port)
