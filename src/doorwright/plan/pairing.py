"""Both ends of every pairing: what is entered at the unit, and what at the unit or server that it registers with.

The table of facts that must agree is the trade's (common practice). Secrets are named by their line on the sealed
sheet, never given.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import IPv4Network
from typing import TypeAlias

from doorwright.model.network import SipServer, Subnet
from doorwright.model.place import Dwelling
from doorwright.model.unit import SecretUse, Unit, UnitKind
from doorwright.model.walk import Walk

Registrar: TypeAlias = Unit | SipServer


@dataclass(frozen=True, slots=True)
class Entry:
    """One value to enter; None where the plan does not have it yet. A secret's value is its sealed-sheet line."""

    name: str
    value: str | None
    secret: bool = False


@dataclass(frozen=True, slots=True)
class Pairing:
    """A unit, what it registers with, and the entries at each end. ``registrar`` is None for a group's first unit."""

    unit: Unit
    registrar: Registrar | None
    at_unit: tuple[Entry, ...]
    at_registrar: tuple[Entry, ...]


def pairing_of(walk: Walk, unit: Unit) -> Pairing:
    """Return both ends of one unit's pairing."""
    registrar = walk.find(Unit, unit.registrar) or walk.find(SipServer, unit.registrar)
    return Pairing(unit, registrar, tuple(_at_unit(walk, unit, registrar)), tuple(_at_registrar(walk, unit, registrar)))


def _is_secondary(unit: Unit, registrar: Registrar | None) -> bool:
    return isinstance(registrar, Unit) and registrar.kind is unit.kind


def _at_unit(walk: Walk, unit: Unit, registrar: Registrar | None) -> Iterator[Entry]:
    if _is_secondary(unit, registrar) or registrar is None or unit.kind is UnitKind.VCU:
        yield Entry("position", _text(unit.position))
    if not _is_secondary(unit, registrar) and (number := call_number_of(walk, unit)) is not None:
        yield Entry("SIP user" if isinstance(registrar, SipServer) else "call number", number)
    yield from _own_address(walk, unit)
    if registrar is None:
        yield _secret(walk, unit, SecretUse.DEVICE)
        return
    if isinstance(registrar, SipServer):
        yield Entry("realm", registrar.realm)
        yield Entry("registrar's address", registrar.address)
        yield Entry("registrar's port", str(registrar.port))
    else:
        yield Entry("registrar's address", registrar.address)
    yield _secret(walk, unit, SecretUse.DEVICE)
    yield _secret(walk, unit, SecretUse.SIP)


def _at_registrar(walk: Walk, unit: Unit, registrar: Registrar | None) -> Iterator[Entry]:
    if registrar is None:
        return
    number = call_number_of(walk, unit)
    if isinstance(registrar, SipServer):
        yield Entry("SIP user", number)
        yield _secret(walk, unit, SecretUse.SIP)
        if unit.kind is UnitKind.URU:
            urus = walk.units_in(unit.dwelling or "")
            others = [uru.name for uru in urus if uru.id != unit.id and uru.registrar == registrar.id]
            yield Entry("calls fork to", ", ".join([unit.name, *sorted(others)]))
        return
    yield Entry("serial number", unit.serial)
    if _is_secondary(unit, registrar):
        yield Entry("position", _text(unit.position))
    else:
        yield Entry("call number", number)
    yield from _own_address(walk, unit)
    yield _secret(walk, unit, SecretUse.DEVICE)
    if not (_is_secondary(unit, registrar) and unit.kind is UnitKind.URU):
        yield _secret(walk, unit, SecretUse.SIP)


def call_number_of(walk: Walk, unit: Unit) -> str | None:
    """Return the number that rings a unit: its own, or its dwelling's."""
    dwelling = walk.find(Dwelling, unit.dwelling)
    return unit.call_number or (dwelling.call_number if dwelling else None)


def _own_address(walk: Walk, unit: Unit) -> Iterator[Entry]:
    subnet = walk.find(Subnet, unit.subnet)
    yield Entry("address", unit.address)
    yield Entry("mask", _mask(subnet) if subnet else None)
    yield Entry("gateway", subnet.gateway if subnet else None)
    if subnet is not None and subnet.vlan is not None:
        yield Entry("VLAN", str(subnet.vlan))


def _mask(subnet: Subnet) -> str | None:
    try:
        return str(IPv4Network(subnet.cidr, strict=False).netmask)
    except ValueError:
        return None


def _secret(walk: Walk, unit: Unit, use: SecretUse) -> Entry:
    line = next((mark.line for mark in walk.secrets_of(unit.id) if mark.use is use), None)
    return Entry(use.value, f"sealed sheet, line {line}" if line is not None else None, secret=True)


def _text(value: int | None) -> str | None:
    return None if value is None else str(value)
