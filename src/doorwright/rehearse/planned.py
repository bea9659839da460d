"""The boxes of a site as the plan has them entered: each end of each pairing, keys, hours, diverts and rights.

Where each thing is entered is common practice; docs/explain/rehearsal.md lists it. Secrets are made up out of the seed,
alike at both ends: a rehearsal needs no vault.
"""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from hashlib import sha256
from ipaddress import AddressValueError, IPv4Address, IPv4Network
from math import inf
from typing import Final

from doorwright.model.calling import Divert, RingMode, Timetable, TimetablePurpose
from doorwright.model.door import ReleaseRight
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer, Subnet
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.profile import Profile
from doorwright.model.sip_user import call_number_of, own_user_of
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.follow import desks_called, rank
from doorwright.paths.week import spans_of
from doorwright.rehearse.box import (
    PCMU,
    SIP_PORT,
    Admitted,
    Box,
    Freers,
    Registration,
    Release,
    Ringing,
    Role,
    Sending,
)
from doorwright.rehearse.lock import lock_of
from doorwright.rehearse.picture import codecs_of
from doorwright.rehearse.plant import Plant
from doorwright.rehearse.plant_planned import planned_plant
from doorwright.rehearse.wire import Jack, Net
from doorwright.sip.formats import STATIC, Codec

DIGITS: Final = tuple("123456789")
"""What asks for the first, second, third door of an entrance, by name (our own choice: the model has no digits)."""

RESTART_S: Final = 60.0
"""How long a unit or server takes to start where its data sheet does not say (our own choice)."""
_ADDRESS: Final = "its IPv4 address"


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A part that cannot be rehearsed, and what the plan still lacks for it."""

    kind: str
    id: str
    lacks: str


@dataclass(frozen=True, slots=True)
class Planned:
    """Every box by the identifier of its part, the subnets, what is left out, and what carries and powers the boxes.

    ``power_cut_min`` is how long the mains are to fail in the rehearsal, None for not at all.
    """

    boxes: Mapping[str, Box]
    nets: tuple[Net, ...]
    left_out: tuple[LeftOut, ...]
    plant: Plant = field(default_factory=Plant)
    power_cut_min: float | None = None

    def is_of_boxes_alone(self, plan: "Planned") -> bool:
        """Say whether this differs from a plan in its boxes and in who has power and a link, and in nothing else."""
        contacts = (port.contacts_ohm for port in self.plant.ports.values())
        lossy = any(0.0 < ohm < inf for contact in contacts for ohm in contact)
        same = (self.nets, self.plant.uplinks, self.power_cut_min) == (plan.nets, plan.plant.uplinks, None)
        return same and not lossy


def planned(walk: Walk, *, seed: int = 0) -> Planned:
    """Return the boxes of a site, as planned.

    Args:
        walk: the site.
        seed: out of which the secrets are made.
    """
    return _Planning(walk, seed).made()


@dataclass(slots=True)
class _Planning:
    walk: Walk
    seed: int
    users: dict[str, str] = field(default_factory=dict)
    left_out: list[LeftOut] = field(default_factory=list)
    digits: tuple[str, ...] = ()

    def made(self) -> Planned:
        """Make every box."""
        walk = self.walk
        units = sorted(walk.all(Unit), key=lambda unit: (natural_key(unit.name), unit.id))
        self._name_users(units)
        most_doors_count = max((len(walk.doors_of(entrance.id)) for entrance in walk.all(Entrance)), default=0)
        self.digits = DIGITS[:most_doors_count]
        boxes: dict[str, Box] = {}
        for server in walk.all(SipServer):
            if server.address is None or not _is_ipv4(server.address):
                self.left_out.append(LeftOut(server.KIND, server.id, _ADDRESS))
            else:
                boxes[server.id] = self._server(server, server.address)
        for unit in units:
            box = self._unit(unit)
            if box is not None:
                boxes[unit.id] = box
        for dwelling in walk.all(Dwelling):
            if dwelling.call_number is None:
                self.left_out.append(LeftOut(dwelling.KIND, dwelling.id, "its call number"))
        nets = tuple(Net(subnet.cidr, subnet.gateway, subnet.vlan) for subnet in walk.all(Subnet))
        return Planned(boxes, nets, tuple(self.left_out), planned_plant(walk, boxes))

    # who is who

    def _name_users(self, units: Iterable[Unit]) -> None:
        """Give each unit its user at its registrar.

        A rehearsed server knows a user with one secret, so the receivers of a dwelling have users of their own there
        as well, where ``sip_user_of`` has them share one.
        """
        for unit in units:
            user = own_user_of(self.walk, unit)
            if user is not None:
                self.users[unit.id] = user

    def _number(self, unit: Unit) -> str | None:
        return call_number_of(self.walk, unit)

    def _secret(self, unit: str) -> str:
        return sha256(f"{self.seed}/secret/{unit}".encode()).hexdigest()[:12]

    def _serial(self, unit: Unit) -> str | None:
        """Return the serial number of a unit of a type that has them; one made up where it is not known yet."""
        profile = self.walk.profile(unit.profile)
        if profile is None or profile.serial_pattern is None:
            return None
        return unit.serial or sha256(f"{self.seed}/serial/{unit.id}".encode()).hexdigest()[:9]

    # boxes

    def _unit(self, unit: Unit) -> Box | None:
        walk = self.walk
        subnet = walk.find(Subnet, unit.subnet)
        address = unit.address or ""
        if not _is_ipv4(address) or unit.id not in self.users:
            lacks = "its call number" if _is_ipv4(address) else _ADDRESS
            self.left_out.append(LeftOut(unit.KIND, unit.id, lacks))
            return None
        registers = None
        registrar = walk.find(Unit, unit.registrar) or walk.find(SipServer, unit.registrar)
        if registrar is not None and registrar.address is not None and _is_ipv4(registrar.address):
            port = registrar.port if isinstance(registrar, SipServer) else SIP_PORT
            registers = Registration(
                address=registrar.address, port=port, user=self.users[unit.id], secret=self._secret(unit.id)
            )
        profile = walk.profile(unit.profile)
        jack = Jack(
            address=address,
            cidr=subnet.cidr if subnet else f"{address}/32",
            gateway=subnet.gateway if subnet else None,
            segment=subnet.vlan if subnet else None,
            mac=unit.mac or f"of {unit.name}",
        )
        return self._told(
            Box(
                id=unit.id,
                name=unit.name,
                role=Role(unit.kind.value),
                jack=jack,
                user=self.users[unit.id],
                entrance=unit.entrance,
                registers=registers,
                digits=self.digits,
                admits=self._admits(unit.id),
                room=profile.registrations_max_count if profile else None,
                serial=self._serial(unit),
                generation=_generation(unit, profile),
                audio=_audio(profile),
                video=codecs_of(profile),
                restart_s=profile.restart_s if profile and profile.restart_s else RESTART_S,
            ),
            unit,
        )

    def _server(self, server: SipServer, address: str) -> Box:
        subnet = next((one for one in self.walk.all(Subnet) if _lies_in(address, one)), None)
        jack = Jack(
            address=address,
            cidr=subnet.cidr if subnet else f"{address}/32",
            gateway=subnet.gateway if subnet else None,
            segment=subnet.vlan if subnet else None,
            mac=f"of {server.name}",
        )
        box = Box(
            id=server.id, name=server.name, role=Role.SERVER, jack=jack, user="server", admits=self._admits(server.id),
            room=server.registrations_max, sip_port=server.port,
        )  # fmt: skip
        return self._told(box, server)

    def _admits(self, registrar: str) -> tuple[Admitted, ...]:
        found = sorted(self.walk.units_registered_with(registrar), key=lambda unit: (natural_key(unit.name), unit.id))
        by_serial = self.walk.find(Unit, registrar) is not None  # a server pairs by user and secret alone
        return tuple(
            Admitted(
                unit=unit.id, user=self.users[unit.id], secret=self._secret(unit.id), entrance=unit.entrance,
                serial=self._serial(unit) if by_serial else None,
            )
            for unit in found
            if unit.id in self.users
        )  # fmt: skip

    def _told(self, box: Box, part: Unit | SipServer) -> Box:
        """Return the box with what it is told besides its pairings."""
        routes = isinstance(part, SipServer) or part.kind is UnitKind.VCU
        sending = self._sending() if routes and self._is_router(part) else {}
        told = replace(box, ringing=self._ringing(part), sending=sending)
        if isinstance(part, Unit) and part.kind is UnitKind.VCU:
            entrance = self.walk.find(Entrance, part.entrance)
            if entrance is not None:
                told = self._at_entrance(told, part, entrance)
        kept = {ident for lines in told.sending.values() for line in lines if (ident := line.timetable)}
        kept |= {ident for release in told.releases for one in release.freers if (ident := one.timetable)}
        kept |= {*told.call_hours, *(ident for ident, _ in told.desk_hours)}
        hours = {t.id: spans_of(t) for t in self.walk.all(Timetable) if t.id in kept}
        return replace(told, hours=hours)

    def _is_router(self, part: Unit | SipServer) -> bool:
        return isinstance(part, SipServer) or part.registrar is None

    # ringing

    def _ringing(self, part: Unit | SipServer) -> dict[str, tuple[Ringing, ...]]:
        """Return who rings for each number that the box routes."""
        walk = self.walk
        choices = walk.settings().choices
        if isinstance(part, Unit) and part.kind is UnitKind.SMU:
            return {self.users[part.id]: (Ringing(("",), choices.ring_s),)}
        homes: dict[str, list[Unit]] = {}
        others = [one for one in walk.units_registered_with(part.id) if one.id in self.users]
        if isinstance(part, Unit) and part.kind is UnitKind.URU:
            homes[self.users[part.id]] = [part, *others]
            others = []
        for unit in others:
            number = self._number(unit)
            if number is not None and unit.kind is not UnitKind.VCU:
                homes.setdefault(number, []).append(unit)
        return {number: tuple(self._stages(part, units)) for number, units in homes.items()}

    def _stages(self, part: Unit | SipServer, units: list[Unit]) -> Iterator[Ringing]:
        ordered = sorted(units, key=lambda u: (u.position is None, u.position or 0, natural_key(u.name), u.id))
        dwelling = self.walk.find(Dwelling, ordered[0].dwelling)
        choices = self.walk.settings().choices
        mode = (dwelling.ring_mode if dwelling else None) or choices.ring_mode
        ring_s = choices.ring_s if dwelling is None or dwelling.ring_s is None else dwelling.ring_s
        users = ["" if unit.id == part.id else self.users[unit.id] for unit in ordered]
        # a receiver that others register with rings them itself, so it needs as many turns
        turns = [1 if unit.id == part.id else self._turns(unit, mode) for unit in ordered]
        limits = [self._limit_s(part, unit, ring_s * turn) for unit, turn in zip(ordered, turns, strict=True)]
        if mode is RingMode.IN_TURN and dwelling is not None:
            yield from (Ringing((user,), limit_s) for user, limit_s in zip(users, limits, strict=True))
        else:
            yield Ringing(tuple(users), None if None in limits else max(one for one in limits if one is not None))

    def _turns(self, unit: Unit, mode: RingMode) -> int:
        return 1 + len(self.walk.units_registered_with(unit.id)) if mode is RingMode.IN_TURN else 1

    def _limit_s(self, part: Unit | SipServer, unit: Unit, limit_s: float) -> float | None:
        """Return how long a box lets a unit ring; None where the unit is told itself."""
        walk = self.walk
        if unit.id != part.id and isinstance(part, Unit):
            return None if part.kind is UnitKind.VCU else limit_s
        rings_others = bool(walk.units_registered_with(unit.id))
        if unit.id != part.id:
            return None if unit.kind is UnitKind.SMU or rings_others else limit_s
        above = walk.find(Unit, unit.registrar)
        of_server = walk.find(SipServer, unit.registrar) is not None
        return limit_s if rings_others or not (of_server or (above and above.dwelling == unit.dwelling)) else None

    # diverts

    def _sending(self) -> dict[str, tuple[Sending, ...]]:
        """Return the diverts of each number, the most particular first (docs/explain/call-paths.md, step 3)."""
        walk = self.walk
        found: dict[str, tuple[Sending, ...]] = {}
        general = walk.diverts_for(None)
        for dwelling in walk.all(Dwelling):
            passed = (d for d in general if d.to_desk is not None or d.to_dwelling != dwelling.id)
            lines = self._lines((*walk.diverts_for(dwelling.id), *passed))
            if dwelling.call_number is not None and lines:
                found[dwelling.call_number] = lines
        for desk in walk.units_of_kind(UnitKind.SMU):
            lines = self._lines(walk.diverts_for_desk(desk.id))
            if desk.call_number is not None and lines:
                found[desk.call_number] = lines
        return found

    def _lines(self, diverts: Iterable[Divert]) -> tuple[Sending, ...]:
        return tuple(
            Sending(
                divert.cause, divert.entrance, divert.timetable, self._number_of(divert.to_dwelling, divert.to_desk)
            )
            for divert in sorted(diverts, key=rank)
        )

    def _number_of(self, dwelling: str | None, desk: str | None) -> str | None:
        unit = self.walk.find(Unit, desk)
        if unit is not None:
            return unit.call_number
        home = self.walk.find(Dwelling, dwelling)
        return home.call_number if home else None

    # the entrance

    def _at_entrance(self, box: Box, unit: Unit, entrance: Entrance) -> Box:
        walk = self.walk
        timetables = sorted(walk.timetables_of(entrance.id), key=lambda t: (natural_key(t.name), t.id))
        desk_hours = (
            (t.id, self._number_of(None, t.divert_to) or "")
            for t in timetables
            if t.purpose is TimetablePurpose.DIVERT and t.divert_to is not None
        )
        keys = {
            key.label: number
            for key in sorted(walk.keys_of(unit.id), key=lambda key: (key.module, key.slot))
            if (number := self._number_of(key.dwelling, key.desk)) is not None
        }
        profile = walk.profile(unit.profile)
        dials = profile is not None and (profile.keypad or profile.directory_max_count > 0)
        served = {d.call_number: d.call_number for d in walk.dwellings_served(entrance) if d.call_number is not None}
        desks = {n: n for desk in desks_called(walk, entrance) if (n := self._number_of(None, desk)) is not None}
        return replace(
            box,
            call_hours=tuple(t.id for t in timetables if t.purpose is TimetablePurpose.CALL),
            desk_hours=tuple(desk_hours),
            keys=keys,
            lines={**served, **desks} if dials else {},
            releases=tuple(self._releases(entrance, frozenset({*served, *desks}))),
        )

    def _releases(self, entrance: Entrance, called: frozenset[str]) -> Iterator[Release]:
        doors = sorted(self.walk.doors_of(entrance.id), key=lambda door: (natural_key(door.name), door.id))
        for digit, door in zip(DIGITS, doors, strict=False):
            rights = self.walk.rights_to(door.id)
            freers = tuple(map(self._freers, rights)) if rights else (Freers(called, None),)
            relay = door.freed_by if door.output is not None else None
            yield Release(door=door.id, digit=digit, freers=freers, relay=relay, lock=lock_of(self.walk, door))

    def _freers(self, right: ReleaseRight) -> Freers:
        walk = self.walk
        cores = [*right.cores, *(core.id for building in right.buildings for core in walk.cores_of(building))]
        homes = [home for core in dict.fromkeys(cores) for home in walk.dwellings_of_core(core)]
        homes += [home for ident in right.dwellings if (home := walk.find(Dwelling, ident)) is not None]
        numbers = {home.call_number for home in homes}
        numbers |= {self._number_of(None, desk) for desk in right.desks}
        return Freers(frozenset(number for number in numbers if number is not None), right.timetable)


def _generation(unit: Unit, profile: Profile | None) -> int | None:
    """Return the pairing that a unit's firmware speaks; that of the baseline where its own is not known yet."""
    version = unit.firmware or (profile.firmware_baseline if profile else None)
    lines = profile.firmware if profile else ()
    return next((line.pairing_generation for line in lines if line.version == version), None)


def _audio(profile: Profile | None) -> tuple[Codec, ...]:
    names = profile.audio if profile is not None else ()
    known = {codec.encoding.lower(): codec for codec in STATIC.values() if codec.clock_hz == PCMU.clock_hz}
    return tuple(known.get(name.lower(), Codec(name, PCMU.clock_hz)) for name in names) or (PCMU,)


def _is_ipv4(address: str) -> bool:
    try:
        IPv4Address(address)
    except AddressValueError:
        return False
    return True


def _lies_in(address: str, subnet: Subnet) -> bool:
    try:
        return IPv4Address(address) in IPv4Network(subnet.cidr, strict=False)
    except (AddressValueError, ValueError):
        return False
