"""Both ends of every pairing: what is entered at the unit, and what at the unit or server that it registers with.

The table of facts that must agree is the trade's (common practice). Secrets are named by their line on the sealed
sheet, never given.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from ipaddress import IPv4Network
from typing import TypeAlias

from doorwright.model.network import SipServer, Subnet, Switch
from doorwright.model.sip_user import call_number_of, sip_user_of
from doorwright.model.unit import SecretMark, SecretUse, Unit, UnitKind
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
    yield from address_entries(walk, unit)
    if registrar is None:
        yield secret_entry(walk, unit, SecretUse.DEVICE)
        return
    if isinstance(registrar, SipServer):
        yield Entry("realm", registrar.realm)
        yield Entry("registrar's address", registrar.address)
        yield Entry("registrar's port", str(registrar.port))
    else:
        yield Entry("registrar's address", registrar.address)
    yield secret_entry(walk, unit, SecretUse.DEVICE)
    yield secret_entry(walk, unit, SecretUse.SIP)


def _at_registrar(walk: Walk, unit: Unit, registrar: Registrar | None) -> Iterator[Entry]:
    if registrar is None:
        return
    if isinstance(registrar, SipServer):
        yield Entry("SIP user", sip_user_of(walk, unit))
        yield Entry("realm", registrar.realm)
        yield secret_entry(walk, unit, SecretUse.SIP)
        yield Entry("calls fork to", ", ".join(target.name for target in fork_targets(walk, unit, registrar)))
        return
    yield Entry("serial number", unit.serial)
    if _is_secondary(unit, registrar):
        yield Entry("position", _text(unit.position))
    else:
        yield Entry("call number", call_number_of(walk, unit))
    yield from address_entries(walk, unit)
    yield secret_entry(walk, unit, SecretUse.DEVICE)
    if not (_is_secondary(unit, registrar) and unit.kind is UnitKind.URU):
        yield secret_entry(walk, unit, SecretUse.SIP)


def fork_targets(walk: Walk, unit: Unit, server: SipServer) -> tuple[Unit, ...]:
    """Return the units that a call to a unit's number rings through the server, this one first.

    A dwelling's secondaries that register with its primary are rung by it, and are not the server's to call.
    """
    if unit.kind is not UnitKind.URU:
        return (unit,)
    others = [one for one in walk.units_in(unit.dwelling or "") if one.id != unit.id and one.registrar == server.id]
    return (unit, *sorted(others, key=lambda one: one.name))


def address_entries(walk: Walk, holder: Unit | Switch) -> Iterator[Entry]:
    """Yield the entries for a unit's or switch's own place in the network."""
    subnet = walk.find(Subnet, holder.subnet)
    yield Entry("address", holder.address)
    yield Entry("mask", _mask(subnet) if subnet else None)
    yield Entry("gateway", subnet.gateway if subnet else None)
    if subnet is not None and subnet.vlan is not None:
        yield Entry("VLAN", str(subnet.vlan))


def _mask(subnet: Subnet) -> str | None:
    try:
        return str(IPv4Network(subnet.cidr, strict=False).netmask)
    except ValueError:
        return None


def secret_entry(walk: Walk, holder: Unit | Switch, use: SecretUse) -> Entry:
    """Return the entry of one secret: its line on the sealed sheet."""
    mark = mark_of(walk, holder, use)
    return Entry(use.value, f"sealed sheet, line {mark.line}" if mark is not None else None, secret=True)


def mark_of(walk: Walk, holder: Unit | Switch, use: SecretUse) -> SecretMark | None:
    """Return the mark of the secret that holds: of several, which only a damaged plan has, that on the last line."""
    marks = (mark for mark in walk.secrets_of(holder.id) if mark.use is use)
    return max(marks, key=lambda mark: (mark.line, mark.id), default=None)


def _text(value: int | None) -> str | None:
    return None if value is None else str(value)
