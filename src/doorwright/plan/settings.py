"""What is entered at one unit, switch or SIP server: its own end, the far end of what registers with it, keys, hours.

The settings come in pieces, each of which depends on few parts of the site. The touch list compares pieces, so that
one change in a large site asks for few of them. Secrets stand as their line on the sealed sheet and the identifier of
their mark, never as themselves: a renewed secret is another setting, although nobody can read which.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final

from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.sip_user import call_number_of
from doorwright.model.unit import SecretUse, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan import hours, releases
from doorwright.plan.pairing import Entry, address_entries, mark_of, pairing_of, secret_entry
from doorwright.plan.piece import Holder, Piece, PieceKind, holder_of

_MARK: Final = re.compile(r" \[mark ([^\]]*)\]\Z")


def settings_of(walk: Walk, holder: Holder) -> Mapping[str, str]:
    """Return everything that is entered at one unit, switch or server, by setting. What is not planned is left out.

    A setting is named by what is entered ("address"), or, where it is about something else, by the kind of its piece
    and what that is about: "pairing UNIT: serial number", "key 1.3", "directory DWELLING", "port 4", "divert DIVERT",
    "timetable TIMETABLE: windows", with identifiers for UNIT, DWELLING, DIVERT and TIMETABLE.
    """
    found: dict[str, str] = {}
    for piece in pieces_of(walk, holder):
        found |= settings_in(walk, piece)
    return found


def pieces_of(walk: Walk, holder: Holder) -> Iterator[Piece]:
    """Yield every piece of settings that a holder may have."""
    yield Piece(holder.id, PieceKind.OWN)
    match holder:
        case Switch():
            yield from (Piece(holder.id, PieceKind.PORT, str(port)) for port in _ports(walk, holder.id))
        case SipServer() | Unit():
            for unit in walk.units_registered_with(holder.id):
                yield Piece(holder.id, PieceKind.PAIRING, unit.id)
    yield from hours.pieces_in_hours(walk, holder)
    if isinstance(holder, Unit):
        yield from (Piece(holder.id, PieceKind.DOOR, door.id) for door in walk.doors_freed_by(holder.id))
        for number in dict.fromkeys(f"{key.module}.{key.slot}" for key in walk.keys_of(holder.id)):
            yield Piece(holder.id, PieceKind.KEY, number)
        entrance = walk.find(Entrance, holder.entrance)
        if entrance is not None and has_directory(walk, holder):
            listed: list[Part] = [*walk.dwellings_served(entrance), *walk.units_of_kind(UnitKind.SMU)]
            yield from (Piece(holder.id, PieceKind.DIRECTORY, part.id) for part in listed)


def settings_in(walk: Walk, piece: Piece) -> Mapping[str, str]:
    """Return the settings of one piece; none where its holder is gone or the piece is no longer its holder's."""
    holder = holder_of(walk, piece.holder)
    read = _READ.get((type(holder), piece.kind))
    return read(walk, holder, piece.about) if read is not None else {}


def has_directory(walk: Walk, unit: Unit) -> bool:
    """Say whether a unit's type lists dwellings by name."""
    profile = walk.profile(unit.profile)
    return unit.kind is UnitKind.VCU and profile is not None and profile.directory_max_count > 0


def shown(value: str) -> str:
    """Return a value as people read it: a secret by its line alone."""
    return _MARK.sub("", value)


def _own_of_unit(walk: Walk, unit: Unit, _about: str) -> dict[str, str]:
    return _entered(walk, unit, pairing_of(walk, unit).at_unit)


def _own_of_switch(walk: Walk, switch: Switch, _about: str) -> dict[str, str]:
    return _entered(walk, switch, (*address_entries(walk, switch), secret_entry(walk, switch, SecretUse.DEVICE)))


def _own_of_server(_walk: Walk, server: SipServer, _about: str) -> dict[str, str]:
    own = {"address": server.address, "port": str(server.port), "realm": server.realm}
    return {name: value for name, value in own.items() if value is not None}


def _far_end(walk: Walk, registrar: Unit | SipServer, ident: str) -> dict[str, str]:
    unit = walk.find(Unit, ident)
    if unit is None or unit.registrar != registrar.id:
        return {}
    return _entered(walk, unit, pairing_of(walk, unit).at_registrar, prefix=f"{PieceKind.PAIRING} {unit.id}: ")


def _entered(walk: Walk, owner: Unit | Switch, entries: tuple[Entry, ...], prefix: str = "") -> dict[str, str]:
    return {prefix + entry.name: _value(walk, owner, entry) for entry in entries if entry.value is not None}


def _value(walk: Walk, owner: Unit | Switch, entry: Entry) -> str:
    mark = mark_of(walk, owner, SecretUse(entry.name)) if entry.secret else None
    return f"{entry.value} [mark {mark.id}]" if mark is not None else entry.value or ""


def _key(walk: Walk, unit: Unit, number: str) -> dict[str, str]:
    keys = (key for key in walk.keys_of(unit.id) if f"{key.module}.{key.slot}" == number)
    rung = {_number(walk, ident) for key in keys for ident in (key.dwelling, key.desk) if ident}
    numbers = sorted(one for one in rung if one is not None)
    return {f"{PieceKind.KEY} {number}": ", ".join(numbers)} if numbers else {}


def _number(walk: Walk, ident: str) -> str | None:
    dwelling, desk = walk.find(Dwelling, ident), walk.find(Unit, ident)
    return dwelling.call_number if dwelling else call_number_of(walk, desk) if desk else None


def _directory_line(walk: Walk, unit: Unit, ident: str) -> dict[str, str]:
    entrance = walk.find(Entrance, unit.entrance)
    if entrance is None or not has_directory(walk, unit):
        return {}
    dwelling, desk = walk.find(Dwelling, ident), walk.find(Unit, ident)
    if dwelling is not None:
        listed = any(one.id == entrance.id for one in walk.entrances_serving(dwelling))
        name, number = dwelling.legend or dwelling.door_label, dwelling.call_number
    elif desk is not None and desk.kind is UnitKind.SMU:
        listed, name, number = entrance.calls_desk, desk.name, desk.call_number
    else:
        return {}
    return {f"{PieceKind.DIRECTORY} {ident}": f"{name}, {number}"} if listed and number is not None else {}


def _port(walk: Walk, switch: Switch, number: str) -> dict[str, str]:
    hanging = _ports(walk, switch.id).get(int(number), [])
    return {f"{PieceKind.PORT} {number}": "; ".join(sorted(hanging))} if hanging else {}


def _ports(walk: Walk, switch: str) -> dict[int, list[str]]:
    """Return what hangs on each port of a switch, by name, with the VLANs that the port carries."""
    hanging: dict[int, list[str]] = {}
    ends = [(run.near_port, run.far, run) for run in walk.runs_from(switch)]
    ends += [(run.far_port, run.near, run) for run in walk.runs_to(switch)]
    for port, ident, run in ends:
        if port is not None:
            hanging.setdefault(port, []).append(_end(walk, ident, run))
    return hanging


def _end(walk: Walk, ident: str, run: CableRun) -> str:
    part = walk.part(ident)
    if part is None:
        return run.name
    if isinstance(part, Switch):
        vlans = sorted({subnet.vlan for subnet in walk.all(Subnet) if subnet.vlan is not None})
        return f"{part.label}, all VLANs: {', '.join(map(str, vlans))}" if vlans else part.label
    subnet = walk.find(Subnet, part.subnet) if isinstance(part, Unit) else None
    return f"{part.label}, VLAN {subnet.vlan}" if subnet is not None and subnet.vlan is not None else part.label


_READ: Final[dict[tuple[type, PieceKind], Callable[[Walk, Any, str], Mapping[str, str]]]] = {
    (Unit, PieceKind.OWN): _own_of_unit,
    (Switch, PieceKind.OWN): _own_of_switch,
    (SipServer, PieceKind.OWN): _own_of_server,
    (Unit, PieceKind.PAIRING): _far_end,
    (SipServer, PieceKind.PAIRING): _far_end,
    (Unit, PieceKind.CLOCK): hours.clock,
    (SipServer, PieceKind.CLOCK): hours.clock,
    (Unit, PieceKind.TIMETABLE): hours.timetable,
    (SipServer, PieceKind.TIMETABLE): hours.timetable,
    (Unit, PieceKind.RINGING): hours.ringing,
    (SipServer, PieceKind.RINGING): hours.ringing,
    (Unit, PieceKind.DIVERT): hours.divert,
    (SipServer, PieceKind.DIVERT): hours.divert,
    (Unit, PieceKind.DOOR): releases.door,
    (Unit, PieceKind.KEY): _key,
    (Unit, PieceKind.DIRECTORY): _directory_line,
    (Switch, PieceKind.PORT): _port,
}
"""How each kind of piece is read from a site, by what holds it."""
