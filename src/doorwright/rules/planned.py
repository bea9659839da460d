"""What the plan says of each thing that can be seen of a unit or switch, as text in the form of an observation."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from ipaddress import ip_network
from math import ceil
from types import MappingProxyType
from typing import Final

from doorwright.calc import poe
from doorwright.calc.cable import CableUse, cable_kinds
from doorwright.kernel.verdict import Missing
from doorwright.model.aspect import Aspect, port_text
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.studies.poe_at_unit import poe_at_unit

LINK_MBPS: Final = 1000
"""What four twisted pairs of category 5e or better carry over a permanent link (IEEE 802.3, clause 40; from memory)."""


@dataclass(frozen=True, slots=True)
class Planned:
    """What the plan says of one aspect: a value, a fact that is missing, or nothing (both None)."""

    value: str | None = None
    missing: Missing | None = None


def planned(walk: Walk, part: Unit | Switch, aspect: Aspect) -> Planned:
    """Return what the plan says of one of the aspects ``JUDGED``."""
    return _BY_ASPECT[aspect](walk, part)


def _of(field: str, word: str) -> Callable[[Walk, Unit | Switch], Planned]:
    def read(_: Walk, part: Unit | Switch) -> Planned:
        value = getattr(part, field, None)
        return Planned(str(value)) if value is not None else Planned(missing=Missing(part.KIND, word))

    return read


def _mask(walk: Walk, part: Unit | Switch) -> Planned:
    subnet = walk.find(Subnet, part.subnet)
    if subnet is None:
        return Planned(missing=Missing(part.KIND, "subnet"))
    try:
        return Planned(str(ip_network(subnet.cidr, strict=False).netmask))
    except ValueError:
        return Planned(missing=Missing(subnet.KIND, "range"))


def _gateway(walk: Walk, part: Unit | Switch) -> Planned:
    subnet = walk.find(Subnet, part.subnet)
    if subnet is None:
        return Planned(missing=Missing(part.KIND, "subnet"))
    return Planned(subnet.gateway) if subnet.gateway else Planned(missing=Missing(subnet.KIND, "gateway"))


def _vlan(walk: Walk, part: Unit | Switch) -> Planned:
    subnet = walk.find(Subnet, part.subnet)
    return Planned(None if subnet is None or subnet.vlan is None else str(subnet.vlan))


def registrar_of(walk: Walk, part: Unit | Switch) -> Unit | SipServer | None:
    """Return what a unit registers with by the plan, or None."""
    ident = part.registrar if isinstance(part, Unit) else None
    return walk.find(Unit, ident) or walk.find(SipServer, ident)


def _registrar(walk: Walk, part: Unit | Switch) -> Planned:
    if isinstance(part, Switch) or (part.kind is UnitKind.VCU and part.registrar is None):
        return Planned()  # a primary VCU registers with nobody
    registrar = registrar_of(walk, part)
    if registrar is None:
        return Planned(missing=Missing(part.KIND, "registrar"))
    if registrar.address is None:
        return Planned(missing=Missing(registrar.KIND, "address"))
    return Planned(registrar.address)


def _call_number(walk: Walk, part: Unit | Switch) -> Planned:
    if isinstance(part, Switch) or part.kind is UnitKind.VCU:
        return Planned()
    dwelling = walk.find(Dwelling, part.dwelling)
    number = part.call_number or (dwelling.call_number if dwelling else None)
    if number is None:
        return Planned(missing=Missing((dwelling or part).KIND, "call number"))
    return Planned(number)


def _position(_: Walk, part: Unit | Switch) -> Planned:
    if isinstance(part, Switch):
        return Planned()
    return Planned(str(part.position)) if part.position is not None else Planned(missing=Missing(part.KIND, "position"))


def _firmware(walk: Walk, part: Unit | Switch) -> Planned:
    if isinstance(part, Switch):
        return Planned()
    profile = walk.profile(part.profile)
    version = part.firmware or (profile.firmware_baseline if profile else None)
    return Planned(version) if version else Planned(missing=Missing(part.KIND, "firmware"))


def run_to(walk: Walk, part: Part) -> tuple[CableRun, Switch] | None:
    """Return the cable that feeds a part and the switch at its other end, or None."""
    for run in sorted(walk.runs_to(part.id), key=lambda run: run.id):
        switch = walk.find(Switch, run.near)
        if switch is not None:
            return run, switch
    return None


def _port(walk: Walk, part: Unit | Switch) -> Planned:
    if isinstance(part, Switch):
        return Planned()
    there = run_to(walk, part)
    if there is None:
        return Planned(missing=Missing(part.KIND, "cable run"))
    run, switch = there
    if run.near_port is None:
        return Planned(missing=Missing(run.KIND, "port"))
    return Planned(port_text(switch.name, run.near_port))


def _link(walk: Walk, part: Unit | Switch) -> Planned:
    there = run_to(walk, part)
    if there is None:
        return Planned(missing=Missing(part.KIND, "cable run"))
    kind = cable_kinds().get(there[0].cable or "")
    if kind is None:
        return Planned(missing=Missing(CableRun.KIND, "cable"))
    return Planned(f"{_link_mbps(walk, part, *there):g}" if kind.use is CableUse.DATA else None)


def _link_mbps(walk: Walk, part: Unit | Switch, run: CableRun, switch: Switch) -> float:
    """Return what the link should come up with: the slowest of cable and both ports, as far as profiles tell these."""
    own = walk.profile(part.profile)
    own_mbps = _port_mbps(walk, part, run.far_port) if isinstance(part, Switch) else own.port_mbps if own else None
    return min(rate for rate in (LINK_MBPS, _port_mbps(walk, switch, run.near_port), own_mbps) if rate is not None)


def _port_mbps(walk: Walk, switch: Switch, port: int | None) -> float | None:
    """Return the rate of a switch's port; the last of its ports are its uplinks."""
    profile = walk.profile(switch.profile)
    if profile is None:
        return None
    is_uplink = port is not None and port > profile.ports_count - profile.uplinks_count
    return profile.uplink_mbps if is_uplink and profile.uplink_mbps is not None else profile.port_mbps


def _name(_: Walk, part: Unit | Switch) -> Planned:
    return Planned(part.name) if part.name else Planned()


def _power(walk: Walk, part: Unit | Switch) -> Planned:
    """Return the most power that the plan reckons with at the port: the unit's draw and the cable's loss, else class.

    It is rounded up to tenths of a watt, as switches tell it.
    """
    profile = walk.profile(part.profile)
    if isinstance(part, Switch) or (profile is not None and profile.poe_class is None and profile.poe_draw_w is None):
        return Planned()
    answer = poe_at_unit(walk, part).value
    port_w = answer.port_w if answer is not None else None
    if port_w is None:
        if profile is None or profile.poe_class not in poe.CLASSES:
            return Planned(missing=Missing("profile", "PoE class") if profile else Missing(part.KIND, "profile"))
        port_w = poe.poe_class(profile.poe_class).port_w
    return Planned(f"{ceil(round(port_w * 10, 6)) / 10:g}")


def _registered(_: Walk, part: Unit | Switch) -> Planned:
    registers = isinstance(part, Unit) and part.registrar is not None
    return Planned("yes" if registers else None)


_BY_ASPECT: Final[Mapping[Aspect, Callable[[Walk, Unit | Switch], Planned]]] = MappingProxyType(
    {
        Aspect.NAME: _name,
        Aspect.SERIAL: _of("serial", "serial number"),
        Aspect.MAC: _of("mac", "MAC address"),
        Aspect.ADDRESS: _of("address", "address"),
        Aspect.MASK: _mask,
        Aspect.GATEWAY: _gateway,
        Aspect.VLAN: _vlan,
        Aspect.REGISTRAR: _registrar,
        Aspect.CALL_NUMBER: _call_number,
        Aspect.POSITION: _position,
        Aspect.FIRMWARE: _firmware,
        Aspect.PORT: _port,
        Aspect.LINK: _link,
        Aspect.POE: _power,
        Aspect.REGISTERED: _registered,
    }
)

JUDGED: Final = tuple(_BY_ASPECT)
"""The aspects of which the plan says something; what is right of an answer on the network stands in ``answers.py``."""
