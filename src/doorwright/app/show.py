"""Tables of a book's contents, for the screen."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any, Final

from doorwright.kernel.errors import Refused
from doorwright.model.calling import Divert, Timetable
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of, name_of_subject, where_is
from doorwright.model.network import CableRun, Junction, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.power import Supply
from doorwright.model.price import Price
from doorwright.model.unit import Key, Unit
from doorwright.model.walk import Walk
from doorwright.plan.materials import Bill, bill_of_materials
from doorwright.plan.order import WalkingOrder
from doorwright.plan.pairing import Entry, pairing_of
from doorwright.plan.runsheet import run_sheet
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A table: its title, the headings, and rows of text as long as the headings."""

    title: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def show(book_path: Path, what: str) -> Shown:
    """Return one table of the latest revision.

    Raises:
        Refused: there is no such table.
    """
    if what not in SUBJECTS:
        raise Refused(f"there is no table {what!r}", remedy=f"Tables: {', '.join(SUBJECTS)}")
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        if what in _OF_BOOK:
            headings, rows = _OF_BOOK[what](walk, book)
        else:
            headings, rows = _OF_SITE[what](walk)
    texts = tuple(tuple(_text(cell) for cell in row) for row in rows)
    return Shown(title=f"{walk.site.name}: {what}", headings=headings, rows=texts)


_Table = tuple[tuple[str, ...], Iterable[tuple[Any, ...]]]


def _text(cell: object) -> str:
    match cell:
        case None:
            return ""
        case bool():
            return "yes" if cell else "no"
        case float():
            return f"{cell:g}"
    return str(cell)


def _name(walk: Walk, ident: str | None) -> str:
    part = walk.part(ident)
    return name_of(walk, part) if part else ""


def _label(part: Part | None) -> str:
    return part.label if part else ""


def _by_name(parts: Iterable[Part]) -> list[Any]:
    return sorted(parts, key=lambda part: natural_key(part.label))


def _site(walk: Walk) -> _Table:
    site = walk.settings()
    rows: list[tuple[Any, ...]] = [
        ("name", site.name),
        ("reference", site.reference),
        ("time zone", site.time_zone),
        ("IEC 62820-1-1 edition", site.standard_edition),
        ("grade", site.grade),
        ("record keeper", site.record_keeper),
        ("numbering", site.choices.number_scheme.value),
        ("number prefix", site.choices.number_prefix.value),
        ("key order", site.choices.key_order.value),
        ("receivers ring", site.choices.ring_mode.value),
        ("ring time, s", site.choices.ring_s),
        ("reserved numbers", ", ".join(site.choices.reserved_numbers)),
        ("holidays", ", ".join(str(day) for day in sorted(site.holidays))),
        ("spare part of ports and PoE power", site.choices.spare_ratio),
        ("ambient temperature, °C", site.choices.ambient_c),
        ("slack of a cable, m", site.choices.slack_m),
        ("longest link, m", site.choices.link_max_m),
        ("waste of cable", site.choices.waste_ratio),
        ("spare parts", site.choices.spare_parts_ratio),
        ("practice of standby", site.choices.standby_practice),
        ("PoE drawn at once, of what all may draw", site.choices.poe_diversity_ratio),
        ("PoE given, of what a switch takes for it", site.choices.poe_efficiency_ratio),
        ("currency", site.currency),
    ]
    return ("what", "value"), rows


def _dwellings(walk: Walk) -> _Table:
    def row(dwelling: Dwelling) -> tuple[Any, ...]:
        units = ", ".join(sorted(unit.name for unit in walk.units_in(dwelling.id)))
        entrances = ", ".join(sorted(entrance.name for entrance in walk.entrances_serving(dwelling)))
        core, level = walk.get(Core, dwelling.core), walk.get(Level, dwelling.level)
        return core.name, level.name, dwelling.door_label, dwelling.call_number, units, entrances

    headings = ("core", "level", "dwelling", "call number", "units", "entrances")
    return headings, map(row, WalkingOrder(walk).dwellings())


def _entrances(walk: Walk) -> _Table:
    def row(entrance: Entrance) -> tuple[Any, ...]:
        units = ", ".join(sorted(unit.name for unit in walk.units_at(entrance.id)))
        doors = ", ".join(sorted(door.name for door in walk.doors_of(entrance.id)))
        return entrance.name, len(walk.dwellings_served(entrance)), units, doors, entrance.calls_desk

    return ("entrance", "dwellings served", "units", "doors", "calls desk"), map(row, _by_name(walk.all(Entrance)))


def _doors(walk: Walk) -> _Table:
    def row(door: Door) -> tuple[Any, ...]:
        entrance = walk.find(Entrance, door.entrance)
        return (
            door.name, entrance and entrance.name, door.lock, door.fail_mode, _name(walk, door.freed_by), door.output,
            door.escape_route, door.fire_door, door.fire_release, door.emergency_release,
        )  # fmt: skip

    headings = (
        "door", "entrance", "lock", "fails", "freed by", "output",
        "escape route", "fire door", "fire release", "emergency release",
    )  # fmt: skip
    return headings, map(row, _by_name(walk.all(Door)))


def _units(walk: Walk) -> _Table:
    def row(unit: Unit) -> tuple[Any, ...]:
        return (
            unit.name, unit.kind, unit.profile, where_is(walk, unit), unit.serial, unit.mac, unit.address,
            unit.position, _name(walk, unit.registrar),
        )  # fmt: skip

    headings = ("unit", "kind", "type", "where", "serial", "MAC", "address", "position", "registers with")
    return headings, map(row, WalkingOrder(walk).units(walk.all(Unit)))


def _keys(walk: Walk) -> _Table:
    def row(key: Key) -> tuple[Any, ...]:
        dwelling = walk.find(Dwelling, key.dwelling)
        number = dwelling.call_number if dwelling else None
        return _name(walk, key.unit), key.module, key.slot, _name(walk, key.dwelling or key.desk), number

    keys = sorted(walk.all(Key), key=lambda key: (natural_key(_name(walk, key.unit)), key.module, key.slot))
    return ("unit", "module", "key", "rings", "call number"), map(row, keys)


def _pairings(walk: Walk) -> _Table:
    def said(entries: tuple[Entry, ...]) -> str:
        return "; ".join(f"{entry.name} {entry.value or '(open)'}" for entry in entries)

    def row(unit: Unit) -> tuple[Any, ...]:
        pairing = pairing_of(walk, unit)
        return (
            unit.name, said(pairing.at_unit), pairing.registrar and pairing.registrar.name, said(pairing.at_registrar)
        )  # fmt: skip

    headings = ("unit", "enter at the unit", "registers with", "enter there")
    return headings, map(row, WalkingOrder(walk).units(walk.all(Unit)))


def _addresses(walk: Walk) -> _Table:
    holders: list[Unit | Switch] = [*_by_name(walk.all(Switch)), *WalkingOrder(walk).units(walk.all(Unit))]
    rows = [
        (part.address, part.name, walk.find(Subnet, part.subnet), part.mac, where_is(walk, part)) for part in holders
    ]
    rows.sort(key=lambda row: natural_key(row[0] or "~"))
    headings = ("address", "holder", "subnet", "MAC", "where")
    return headings, ((a, name, subnet and subnet.label, mac, where) for a, name, subnet, mac, where in rows)


def _subnets(walk: Walk) -> _Table:
    def row(subnet: Subnet) -> tuple[Any, ...]:
        held = len(walk.holders_in_subnet(subnet.id))
        return subnet.name, subnet.cidr, subnet.gateway, subnet.vlan, ", ".join(subnet.kinds) or "everything", held

    return ("subnet", "range", "gateway", "VLAN", "for", "holders"), map(row, _by_name(walk.all(Subnet)))


def _switches(walk: Walk) -> _Table:
    def row(switch: Switch) -> tuple[Any, ...]:
        profile = walk.profile(switch.profile)
        used = len(walk.runs_from(switch.id)) + len(walk.runs_to(switch.id))
        ports = profile.ports_count if profile else None
        return switch.name, switch.profile, where_is(walk, switch), switch.address, used, ports

    headings = ("switch", "type", "where", "address", "ports used", "ports")
    return headings, map(row, _by_name(walk.all(Switch)))


def _cables(walk: Walk) -> _Table:
    def row(run: CableRun) -> tuple[Any, ...]:
        return (
            run.name, _name(walk, run.near), run.near_port, _name(walk, run.far), run.far_port, run.cable, run.length_m
        )  # fmt: skip

    headings = ("cable run", "from", "port", "to", "port", "cable", "length, m")
    return headings, map(row, _by_name(walk.all(CableRun)))


def _supplies(walk: Walk) -> _Table:
    def row(supply: Supply) -> tuple[Any, ...]:
        feeds = ", ".join(sorted(_name(walk, run.far) for run in walk.runs_from(supply.id)))
        return supply.name, supply.profile, where_is(walk, supply), supply.battery_ah, supply.standby_h, feeds

    return ("supply", "type", "where", "battery, Ah", "standby, h", "feeds"), map(row, _by_name(walk.all(Supply)))


def _junctions(walk: Walk) -> _Table:
    def row(junction: Junction) -> tuple[Any, ...]:
        fed_by = ", ".join(sorted(_name(walk, run.near) for run in walk.runs_to(junction.id)))
        feeds = ", ".join(sorted(_name(walk, run.far) for run in walk.runs_from(junction.id)))
        return junction.name, where_is(walk, junction), fed_by, feeds

    return ("junction", "where", "fed by", "feeds"), map(row, _by_name(walk.all(Junction)))


def _prices(walk: Walk) -> _Table:
    currency = walk.settings().currency

    def row(price: Price) -> tuple[Any, ...]:
        profile = walk.profile(price.item)
        return price.item, profile and profile.title, f"{price.amount:f}", currency, price.per, price.drum_m

    return ("item", "what", "price", "currency", "per", "drum, m"), map(row, _by_name(walk.all(Price)))


def _servers(walk: Walk) -> _Table:
    def row(server: SipServer) -> tuple[Any, ...]:
        held = len(walk.units_registered_with(server.id))
        named_buildings = (_label(walk.find(Building, ident)) for ident in server.serves_buildings)
        buildings = ", ".join(named_buildings) or "all"
        sized_for = (server.registrations_max, server.calls_max_count)
        return server.name, server.address, server.port, server.realm, buildings, held, *sized_for

    headings = ("SIP server", "address", "port", "realm", "buildings", "registered", "at most", "calls at once")
    return headings, map(row, _by_name(walk.all(SipServer)))


def _timetables(walk: Walk) -> _Table:
    def row(timetable: Timetable) -> tuple[Any, ...]:
        closed = ("closed on holidays",) if timetable.closed_on_holidays else ()
        windows = "; ".join((*map(str, timetable.windows), *closed))
        return (
            timetable.name, _label(walk.find(Entrance, timetable.entrance)), timetable.purpose, windows,
            _name(walk, timetable.divert_to),
        )  # fmt: skip

    return ("timetable", "entrance", "what", "when", "diverts to"), map(row, _by_name(walk.all(Timetable)))


def _diverts(walk: Walk) -> _Table:
    def row(divert: Divert) -> tuple[Any, ...]:
        return (
            _dwelling_name(walk, divert.dwelling) or _name(walk, divert.desk) or "all",
            _label(walk.find(Entrance, divert.entrance)) or "everywhere", divert.cause,
            _label(walk.find(Timetable, divert.timetable)) or "always",
            _dwelling_name(walk, divert.to_dwelling) or _name(walk, divert.to_desk),
        )  # fmt: skip

    rows = sorted(map(row, walk.all(Divert)), key=lambda cells: [natural_key(str(cell)) for cell in cells])
    return ("calls to", "from", "cause", "when", "go to"), rows


def _rights(walk: Walk) -> _Table:
    def row(right: ReleaseRight) -> tuple[Any, ...]:
        buildings = [_label(walk.find(Building, ident)) or "the whole building" for ident in right.buildings]
        cores = [_label(walk.find(Core, ident)) for ident in right.cores]
        singles = sorted((_dwelling_name(walk, ident) for ident in right.dwellings), key=natural_key)
        desks = [_name(walk, ident) for ident in right.desks]
        who = ", ".join([*buildings, *cores, *singles, *desks])
        door = walk.find(Door, right.door)
        return (
            _label(door and walk.find(Entrance, door.entrance)), _label(door), who or "nobody",
            _label(walk.find(Timetable, right.timetable)) or "always",
        )  # fmt: skip

    rows = sorted(map(row, walk.all(ReleaseRight)), key=lambda cells: [natural_key(str(cell)) for cell in cells])
    return ("entrance", "door", "may be freed by", "when"), rows


def _dwelling_name(walk: Walk, ident: str | None) -> str:
    """Return the door label of a dwelling, behind its core where another dwelling has the same."""
    dwelling = walk.find(Dwelling, ident)
    if dwelling is None:
        return ""
    core = walk.find(Core, dwelling.core)
    alike = len(walk.dwellings_labelled(dwelling.door_label)) > 1 and core is not None and core.name
    return f"{core.name}/{dwelling.door_label}" if core and alike else dwelling.door_label


def _run_sheet(walk: Walk) -> _Table:
    rows = ((task.number, task.stage, task.where, task.action, task.minutes) for task in run_sheet(walk))
    return ("no.", "stage", "where", "action", "minutes"), rows


def _materials(walk: Walk) -> _Table:
    bill = bill_of_materials(walk)

    def rows() -> Iterable[tuple[Any, ...]]:
        for group in bill.groups:
            for line in bill.of(group):
                cost = bill.money(line.cost) or ("no price" if bill.has_prices else "")
                yield (
                    group, line.title, f"{line.amount:f}", line.measure, f"{line.order:f}", line.order_measure,
                    bill.money(line.price), cost, line.remark,
                )  # fmt: skip
            if bill.has_prices:
                yield f"{group}: total", "", "", "", "", "", "", bill.money(bill.total(group).cost), _told(bill, group)
        if bill.has_prices:
            yield "total", bill.currency, "", "", "", "", "", bill.money(bill.total().cost), _told(bill, None)

    return ("group", "what", "planned", "measure", "to order", "by", "price", "cost", "remark"), rows()


def _told(bill: Bill, group: str | None) -> str:
    total = bill.total(group)
    names = f": {', '.join(total.unpriced)}" if group is None and total.unpriced else ""
    return f"{total.leaves_out}{names}"


def _waivers(walk: Walk, book: Book) -> _Table:
    rows = (
        (
            waiver.rule, ", ".join(name_of_subject(walk, subject) for subject in waiver.subjects), waiver.reason,
            waiver.by, waiver.on, waiver.until,
        )
        for waiver in book.waivers()
    )  # fmt: skip
    return ("rule", "on", "reason", "by", "from", "until"), rows


def _artefacts(_: Walk, book: Book) -> _Table:
    rows = (
        (made.revision, made.name, made.bytes_count, made.sha256[:16], f"{made.made_at:%Y-%m-%d %H:%M}")
        for made in book.artefacts()
    )
    return ("revision", "file", "bytes", "SHA-256 begins", "made"), rows


_OF_SITE: Final[MappingProxyType[str, Callable[[Walk], _Table]]] = MappingProxyType(
    {
        "site": _site,
        "dwellings": _dwellings,
        "entrances": _entrances,
        "doors": _doors,
        "units": _units,
        "keys": _keys,
        "pairings": _pairings,
        "addresses": _addresses,
        "subnets": _subnets,
        "servers": _servers,
        "switches": _switches,
        "supplies": _supplies,
        "junctions": _junctions,
        "cables": _cables,
        "timetables": _timetables,
        "diverts": _diverts,
        "rights": _rights,
        "runsheet": _run_sheet,
        "prices": _prices,
        "materials": _materials,
    }
)
_OF_BOOK: Final[MappingProxyType[str, Callable[[Walk, Book], _Table]]] = MappingProxyType(
    {"waivers": _waivers, "artefacts": _artefacts}
)
SUBJECTS: Final = (*_OF_SITE, *_OF_BOOK)
"""What there is to show."""
