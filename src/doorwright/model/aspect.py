"""What can be seen of a unit or switch in the real building, and how it is written down when it was seen."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType
from typing import Final

from doorwright.kernel.verdict import Subject
from doorwright.model.change import SITE_KIND

SITE_SUBJECT: Final = Subject(SITE_KIND, "")
"""The subject of what was seen and belongs to no part of the plan."""

DOWN: Final = "down"
"""The link speed of a port without a link."""

_NOT_IN_PLAN: Final = "not in the plan: "


class Aspect(StrEnum):
    """One thing that is seen. The value of each is text in one form, so that it can be compared.

    MAC addresses are written as in IEEE 802 (00-00-5E-00-53-01), positions as whole numbers from 0, link speeds in
    Mb/s or as "down", PoE power in watts, ports as "S1 port 7", registered as "yes" or "no".
    """

    NAME = "name"
    SERIAL = "serial number"
    MAC = "MAC address"
    ADDRESS = "IP address"
    MASK = "mask"
    GATEWAY = "gateway"
    VLAN = "VLAN"
    REGISTRAR = "registrar's address"
    CALL_NUMBER = "call number"
    POSITION = "position"
    FIRMWARE = "firmware"
    PORT = "switch port"
    LINK = "link speed"
    POE = "PoE power"
    REGISTERED = "registered"


_UNITS: Final[Mapping[str, str]] = MappingProxyType({Aspect.LINK: "Mb/s", Aspect.POE: "W"})


def with_unit(aspect: str, value: str) -> str:
    """Return a value as people read it, with its unit where it has one."""
    unit = _UNITS.get(aspect)
    return f"{value} {unit}" if unit and value and value != DOWN else value


def port_text(switch: str, port: int) -> str:
    """Return a switch port as it is written down: "S1 port 7"."""
    return f"{switch} port {port}"


def stranger(by: Aspect, identity: str) -> str:
    """Return the aspect under which the site keeps what was seen and is in no plan: known by one of its own values."""
    return f"{_NOT_IN_PLAN}{by} {identity}"


def stranger_of(aspect: str) -> tuple[Aspect, str] | None:
    """Return by what a stranger is known, and that value; None where the aspect speaks of no stranger."""
    if not aspect.startswith(_NOT_IN_PLAN):
        return None
    rest = aspect.removeprefix(_NOT_IN_PLAN)
    for by in Aspect:
        if rest.startswith(f"{by} "):
            return by, rest.removeprefix(f"{by} ")
    return None
