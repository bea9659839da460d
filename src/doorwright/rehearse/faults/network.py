"""Faults of the network: ports, pairs, VLANs, masks, addresses, links that are full, routers that meddle."""

from collections.abc import Iterator
from dataclasses import replace
from ipaddress import IPv4Address, IPv4Network
from math import inf
from random import Random
from typing import Final

from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.cable import SOUND, SOUND_OHM, most_ohm
from doorwright.rehearse.faults.fault import (
    Boxes,
    Fault,
    Put,
    UnfitError,
    altered,
    beside,
    in_boxes,
    is_unit,
    registers,
    registrar_of,
)
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned
from doorwright.rehearse.plant import Port
from doorwright.rehearse.wire import Flaw, Net

_OTHERS_RATIO: Final = 4.0
"""How much else is on an uplink that is full, as a share of its rate (our own choice)."""
_WORN_OHM: Final = 20.0
"""A bad contact where no lamps are in question (our own choice)."""


def network_faults() -> Iterator[Fault]:
    """Yield the faults of the network."""
    yield Fault("port-off", "port off", Look.DARK, is_unit, _port_off)
    yield Fault("open-pair", "open pair", Look.DARK, _has_port, _open_pair)
    yield Fault("bad-pair", "one bad pair or connector", Look.POOR_LINK, _has_port, _bad_pair)
    yield Fault("wrong-vlan", "wrong VLAN or port", Look.NO_REPLY, _in_vlan, in_boxes(_wrong_vlan))
    yield Fault("address-twice", "address used twice", Look.TWO_MACS, registers, in_boxes(_address_twice))
    yield Fault("wrong-gateway", "wrong mask or gateway", Look.NEAR_ONLY, _has_gateway, in_boxes(_wrong_gateway))
    yield Fault("uplink-full", "uplink full", Look.NO_PICTURE, _sees_over_uplink, _uplink_full)
    cause = "shared router rewrites SIP"
    yield Fault("router-rewrites", cause, Look.THROUGH_ROUTER, _registers_far, _shared_router(Flaw.REWRITES))
    yield Fault(
        "router-forgets", "shared router forgets where packets go", Look.THROUGH_ROUTER, _registers_far,
        _shared_router(Flaw.FORGETS),
    )  # fmt: skip


def _has_port(plan: Planned, box: Box) -> bool:
    return box.id in plan.plant.ports


def _in_vlan(plan: Planned, box: Box) -> bool:
    return box.role is not Role.SERVER and len({one.jack.segment for one in plan.boxes.values()}) > 1


def _has_gateway(plan: Planned, box: Box) -> bool:
    return _in_vlan(plan, box) and box.jack.gateway is not None


def _registers_far(plan: Planned, box: Box) -> bool:
    return box.role is Role.URU and registers(plan, box) and _outside(plan, box) is not None


def _sees_over_uplink(plan: Planned, box: Box) -> bool:
    cameras = [one.id for one in plan.boxes.values() if one.role is Role.VCU and one.video]
    return bool(box.role is Role.URU and box.video and _uplink_to(plan, box, cameras))


def _with_port(plan: Planned, box: Box, port: Port) -> Planned:
    return replace(plan, plant=replace(plan.plant, ports={**plan.plant.ports, box.id: port}))


def _port_off(plan: Planned, box: Box, _chance: Random) -> Planned:
    port = plan.plant.ports.get(box.id)
    if port is None:  # the plan does not say which port that is
        return replace(plan, boxes={**plan.boxes, **altered(box, jack=replace(box.jack, link=False))})
    return _with_port(plan, box, replace(port, on=False))


def _open_pair(plan: Planned, box: Box, chance: Random) -> Planned:
    """One of the pairs that carry data and power is open: a wire broken, or never punched down."""
    contacts_ohm = list(SOUND)
    contacts_ohm[chance.randrange(2)] = inf
    return _with_port(plan, box, replace(plan.plant.ports[box.id], contacts_ohm=tuple(contacts_ohm)))


def _bad_pair(plan: Planned, box: Box, chance: Random) -> Planned:
    """A contact has gone bad, as far as one is found: the unit still runs by day."""
    port = plan.plant.ports[box.id]
    contacts_ohm = list(SOUND)
    contacts_ohm[chance.randrange(2)] = _gone_bad_ohm(port)
    return _with_port(plan, box, replace(port, contacts_ohm=tuple(contacts_ohm)))


def _gone_bad_ohm(port: Port) -> float:
    draw = port.draw
    if draw is None:
        return _WORN_OHM
    by_day_ohm, by_night_ohm = most_ohm(draw, draw.day_w), most_ohm(draw, draw.night_w)
    bad_ohm = (by_day_ohm + by_night_ohm) / 2.0 if draw.day_w < draw.night_w else by_day_ohm / 2.0
    return max(bad_ohm, 2.0 * SOUND_OHM)


def _wrong_vlan(boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    segments = sorted({one.jack.segment for one in boxes.values()} - {box.jack.segment}, key=str)
    return altered(box, jack=replace(box.jack, segment=segments[0]))


def _wrong_gateway(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    # one step beside the right one, where nobody is
    return altered(box, jack=replace(box.jack, gateway=beside(box.jack.gateway or box.jack.address)))


def _address_twice(boxes: Boxes, box: Box, chance: Random) -> Boxes:
    others = [one for one in boxes.values() if one.id != box.id and one.jack.segment == box.jack.segment]
    if not others:
        raise UnfitError(f"{box.name} is alone in its VLAN")
    return altered(box, jack=replace(box.jack, address=chance.choice(others).jack.address))


def _uplink_to(plan: Planned, box: Box, others: list[str]) -> str | None:
    """Return the link between switches that lies between a unit and one of others."""
    return next(
        (
            ident
            for ident, uplink in plan.plant.uplinks.items()
            if any((box.id in uplink.beyond) is not (other in uplink.beyond) for other in others)
        ),
        None,
    )


def _uplink_full(plan: Planned, box: Box, _chance: Random) -> Planned:
    """Somebody else's traffic fills the link."""
    cameras = [one.id for one in plan.boxes.values() if one.role is Role.VCU and one.video]
    ident = _uplink_to(plan, box, cameras)
    if ident is None:
        raise UnfitError(f"no link between switches lies between {box.name} and a camera")
    uplink = plan.plant.uplinks[ident]
    full = replace(uplink, others_kbps=uplink.mbps * 1000.0 * _OTHERS_RATIO)
    return replace(plan, plant=replace(plan.plant, uplinks={**plan.plant.uplinks, ident: full}))


def _inside(address: str, net: Net) -> bool:
    return IPv4Address(address) in IPv4Network(net.cidr, strict=False)


def _outside(plan: Planned, box: Box) -> tuple[Net, Net] | None:
    """Return the subnet of a unit, and that of its registrar where it is another one with a gateway."""
    registrar = registrar_of(plan.boxes, box)
    if registrar is None:
        return None
    near = next((net for net in plan.nets if _inside(box.jack.address, net)), None)
    far = next((net for net in plan.nets if _inside(registrar.jack.address, net)), None)
    if near is None or far is None or near == far or None in (near.gateway, far.gateway):
        return None
    return near, far


def _shared_router(flaw: Flaw) -> Put:
    def put(plan: Planned, box: Box, _chance: Random) -> Planned:
        found = _outside(plan, box)
        if found is None:
            raise UnfitError(f"{box.name} is in the subnet of its registrar")
        near, far = found
        meddling = replace(near, flaw=flaw, outside=far.cidr)
        return replace(plan, nets=tuple(meddling if net == near else net for net in plan.nets))

    return put
