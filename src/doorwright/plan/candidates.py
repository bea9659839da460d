"""Which pieces of settings, labels and legend strips a list of changes may alter, found by look-ups.

Too many candidates cost time, a missing one costs somebody a home that does not ring: each part says here what is
entered somewhere because of it, and a test compares with all settings of whole sites.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from doorwright.model.calling import Divert, Timetable
from doorwright.model.change import SITE_KIND, Add, Change, Remove
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place
from doorwright.model.site import PART_BY_KIND
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan import hours
from doorwright.plan.piece import Piece, PieceKind, holder_of
from doorwright.plan.settings import has_directory, pieces_of

LegendKey = tuple[str, int, int]
"""The place of one key: unit, module, slot."""


@dataclass(slots=True)
class Candidates:
    """What may differ: pieces of settings, the keys of legend strips, and holders with labels and work by hand.

    The dictionaries stand for sets that keep their order.
    """

    pieces: dict[Piece, None] = field(default_factory=dict)
    legends: dict[LegendKey, None] = field(default_factory=dict)
    holders: dict[str, None] = field(default_factory=dict)


def candidates(before: Walk, after: Walk, changes: Iterable[Change]) -> Candidates:
    """Return everything that the changes may alter at units, switches and servers."""
    found = Candidates()
    named: dict[tuple[type[Part], str], None] = {}
    for change in changes:
        match change:
            case Add(part) | Remove(part):
                named[type(part), part.id] = None
            case _ if change.kind == SITE_KIND:
                for_site = _OF_SITE.get(change.field)
                if for_site is not None:
                    found.pieces.update(dict.fromkeys(for_site(before, after)))
            case _:
                named[PART_BY_KIND[change.kind], change.id] = None
    routing = False
    for kind, ident in named:
        for walk in (before, after):
            version = walk.find(kind, ident)
            routing = routing or _is_routing(version)
            if version is not None:
                found.pieces.update(dict.fromkeys(_pieces(walk, version)))
                found.legends.update(dict.fromkeys(_legends(walk, version)))
                found.holders.update(dict.fromkeys(_holders(walk, version)))
    if routing:
        for walk in (before, after):
            found.pieces.update(dict.fromkeys(_routed(walk)))
    return found


def _is_routing(part: Part | None) -> bool:
    """Say whether it hangs on a part through which unit or server calls go, and so where diverts are entered."""
    return isinstance(part, Entrance | Core | SipServer) or (isinstance(part, Unit) and part.kind is UnitKind.VCU)


def _pieces(walk: Walk, part: Part) -> Iterator[Piece]:
    if isinstance(part, CableRun):
        yield from _ports_of(part)
        return
    about = _ABOUT.get(type(part))
    if about is not None:
        yield from about(walk, part)
    yield from _ports_to(walk, part)


# what the site's own fields are entered in


def _clocks(before: Walk, after: Walk) -> Iterator[Piece]:
    for walk in (before, after):
        for holder in (*walk.all(Unit), *walk.all(SipServer)):
            yield Piece(holder.id, PieceKind.CLOCK)


def _site_rings(before: Walk, after: Walk) -> Iterator[Piece]:
    old, new = before.settings().choices, after.settings().choices
    if (old.ring_mode, old.ring_s) == (new.ring_mode, new.ring_s):
        return
    for walk in (before, after):
        for dwelling in walk.all(Dwelling):
            yield from _ringing_of(walk, dwelling.id)
        for desk in walk.units_of_kind(UnitKind.SMU):
            yield Piece(desk.id, PieceKind.RINGING, desk.id)


def _site_types(before: Walk, after: Walk) -> Iterator[Piece]:
    """Yield the directories of VCUs whose type is described otherwise now: it may have gained or lost its directory."""
    for walk in (before, after):
        for unit in walk.units_of_kind(UnitKind.VCU):
            if before.profile(unit.profile) != after.profile(unit.profile):
                yield from (piece for piece in pieces_of(walk, unit) if piece.kind is PieceKind.DIRECTORY)


_OF_SITE: Final[dict[str, Callable[[Walk, Walk], Iterator[Piece]]]] = {
    "time_zone": _clocks, "holidays": _clocks, "choices": _site_rings, "profiles": _site_types,
}  # fmt: skip
"""What is entered somewhere because of a field of the site itself."""


# what the parts are entered in


def _about_dwelling(walk: Walk, dwelling: Dwelling) -> Iterator[Piece]:
    for unit in walk.units_in(dwelling.id):
        yield from _both_ends(unit)
    for key in walk.keys_ringing(dwelling.id):
        yield _of_key(key)
    for entrance in walk.entrances_serving(dwelling):
        yield from _directory_lines(walk, entrance, dwelling.id)
    yield from _ringing_of(walk, dwelling.id)
    for divert in (*walk.diverts_for(dwelling.id), *walk.diverts_to(dwelling.id)):
        yield from _about_divert(walk, divert)
    core = walk.find(Core, dwelling.core)
    for right in walk.all(ReleaseRight):
        of_building = core is not None and core.building in right.buildings
        if of_building or dwelling.core in right.cores or dwelling.id in right.dwellings:
            yield from _about_right(walk, right)


def _about_entrance(walk: Walk, entrance: Entrance) -> Iterator[Piece]:
    for unit in walk.units_at(entrance.id):
        yield from pieces_of(walk, unit)
    for door in walk.doors_of(entrance.id):
        yield from _about_door(walk, door)


def _about_core(walk: Walk, core: Core) -> Iterator[Piece]:
    for entrance in (*walk.entrances_naming(core.id), *walk.entrances_naming(core.building)):
        for unit in walk.units_at(entrance.id):
            yield from pieces_of(walk, unit)
    for right in walk.all(ReleaseRight):
        if core.id in right.cores or core.building in right.buildings:
            yield from _about_right(walk, right)


def _about_timetable(walk: Walk, timetable: Timetable) -> Iterator[Piece]:
    for unit in walk.units_at(timetable.entrance):
        yield from _kept_at(unit.id, timetable.id)
    for user in walk.users_of_hours(timetable.id):
        yield from _about_divert(walk, user) if isinstance(user, Divert) else _about_right(walk, user)


def _about_divert(walk: Walk, divert: Divert) -> Iterator[Piece]:
    for holder in hours.holders_of_divert(walk, divert):
        yield Piece(holder, PieceKind.DIVERT, divert.id)
        if divert.timetable is not None:
            yield from _kept_at(holder, divert.timetable)


def _about_right(walk: Walk, right: ReleaseRight) -> Iterator[Piece]:
    door = walk.find(Door, right.door)
    if door is not None:
        yield from _about_door(walk, door)


def _about_door(walk: Walk, door: Door) -> Iterator[Piece]:
    if door.freed_by is not None:
        yield Piece(door.freed_by, PieceKind.DOOR, door.id)
        for right in walk.rights_to(door.id):
            if right.timetable is not None:
                yield from _kept_at(door.freed_by, right.timetable)


def _about_subnet(walk: Walk, subnet: Subnet) -> Iterator[Piece]:
    for holder in walk.holders_in_subnet(subnet.id):
        yield from _both_ends(holder)
        yield from _ports_to(walk, holder)
    for switch in walk.all(Switch):  # what feeds another switch carries every VLAN
        if any(walk.find(Switch, run.far) for run in walk.runs_from(switch.id)):
            yield from _ports_to(walk, switch)


def _about_key(_walk: Walk, key: Key) -> Iterator[Piece]:
    yield _of_key(key)


def _about_secret(walk: Walk, mark: SecretMark) -> Iterator[Piece]:
    owner = holder_of(walk, mark.owner)
    if isinstance(owner, Unit | Switch):
        yield from _both_ends(owner)


def _about_server(walk: Walk, server: SipServer) -> Iterator[Piece]:
    yield from pieces_of(walk, server)
    for unit in walk.units_registered_with(server.id):
        yield Piece(unit.id, PieceKind.OWN)
        if unit.dwelling is not None:  # without the server, its receivers are told how they ring
            yield Piece(unit.id, PieceKind.RINGING, unit.dwelling)


def _about_unit(walk: Walk, unit: Unit) -> Iterator[Piece]:
    yield from pieces_of(walk, unit)
    yield from _both_ends(unit)
    for other in walk.units_registered_with(unit.id):
        yield Piece(other.id, PieceKind.OWN)
    if unit.dwelling is not None:  # a server lets calls fork to all units of a dwelling, by name
        for other in walk.units_in(unit.dwelling):
            yield from _both_ends(other)
        yield from _ringing_of(walk, unit.dwelling)
    for key in walk.keys_ringing(unit.id):
        yield _of_key(key)
    if unit.kind is UnitKind.VCU and unit.entrance is not None:
        for door in walk.doors_of(unit.entrance):
            yield from _about_door(walk, door)
    if unit.kind is UnitKind.SMU:
        for entrance in walk.all(Entrance):
            if entrance.calls_desk:
                yield from _directory_lines(walk, entrance, unit.id)
    yield from _as_desk(walk, unit)


def _as_desk(walk: Walk, unit: Unit) -> Iterator[Piece]:
    """Yield where a unit's own number is entered: diverts, timetables and rights that name it."""
    for divert in (*walk.diverts_for_desk(unit.id), *walk.diverts_to(unit.id)):
        yield from _about_divert(walk, divert)
    for timetable in walk.all(Timetable):
        if timetable.divert_to == unit.id:
            yield from _about_timetable(walk, timetable)
    for right in walk.all(ReleaseRight):
        if unit.id in right.desks:
            yield from _about_right(walk, right)


_ABOUT: Final[dict[type[Part], Callable[[Walk, Any], Iterator[Piece]]]] = {
    Unit: _about_unit, Dwelling: _about_dwelling, Entrance: _about_entrance, Core: _about_core, Subnet: _about_subnet,
    Key: _about_key, SecretMark: _about_secret, SipServer: _about_server, Switch: pieces_of, Door: _about_door,
    Timetable: _about_timetable, Divert: _about_divert, ReleaseRight: _about_right,
}  # fmt: skip
"""What is entered somewhere because of a part, by the kind of part."""


def _routed(walk: Walk) -> Iterator[Piece]:
    """Yield every divert where it is entered."""
    for divert in walk.all(Divert):
        yield from _about_divert(walk, divert)


def _ringing_of(walk: Walk, dwelling: str) -> Iterator[Piece]:
    for unit in walk.units_in(dwelling):
        yield Piece(unit.id, PieceKind.RINGING, dwelling)
        if unit.registrar is not None:
            yield Piece(unit.registrar, PieceKind.RINGING, dwelling)


def _kept_at(holder: str, timetable: str) -> Iterator[Piece]:
    """Yield a timetable in a holder, and its clock: what keeps a timetable keeps the holidays too."""
    yield Piece(holder, PieceKind.TIMETABLE, timetable)
    yield Piece(holder, PieceKind.CLOCK)


def _both_ends(holder: Unit | Switch) -> Iterator[Piece]:
    yield Piece(holder.id, PieceKind.OWN)
    if isinstance(holder, Unit) and holder.registrar is not None:
        yield Piece(holder.registrar, PieceKind.PAIRING, holder.id)


def _directory_lines(walk: Walk, entrance: Entrance, ident: str) -> Iterator[Piece]:
    for unit in walk.units_at(entrance.id):
        if has_directory(walk, unit):
            yield Piece(unit.id, PieceKind.DIRECTORY, ident)


def _of_key(key: Key) -> Piece:
    return Piece(key.unit, PieceKind.KEY, f"{key.module}.{key.slot}")


def _ports_to(walk: Walk, part: Part) -> Iterator[Piece]:
    for run in (*walk.runs_from(part.id), *walk.runs_to(part.id)):
        yield from _ports_of(run)


def _ports_of(run: CableRun) -> Iterator[Piece]:
    for end, port in ((run.near, run.near_port), (run.far, run.far_port)):
        if port is not None:
            yield Piece(end, PieceKind.PORT, str(port))


def _legends(walk: Walk, part: Part) -> Iterator[LegendKey]:
    match part:
        case Key():
            yield part.unit, part.module, part.slot
        case Dwelling() | Unit():
            for key in walk.keys_ringing(part.id):
                yield key.unit, key.module, key.slot


def _holders(walk: Walk, part: Part) -> Iterator[str]:
    """Yield whose label or work by hand a part has to do with."""
    match part:
        case Unit() | Switch() | SipServer():
            yield part.id
        case KeyModule():
            yield part.unit
        case Dwelling():
            yield from (unit.id for unit in walk.units_in(part.id))
        case Entrance():
            yield from (unit.id for unit in walk.units_at(part.id))
        case Core():
            for dwelling in walk.dwellings_of_core(part.id):
                yield from _holders(walk, dwelling)
        case Level():
            for dwelling in walk.dwellings_on(part.id):
                yield from _holders(walk, dwelling)
            yield from _mounted(walk, {place.id for place in walk.all(Place) if place.level == part.id})
        case Place():
            yield from _mounted(walk, {part.id})


def _mounted(walk: Walk, places: set[str]) -> Iterator[str]:
    mounted: list[Unit | Switch] = [*walk.units_of_kind(UnitKind.SMU), *walk.all(Switch)]
    yield from (one.id for one in mounted if one.place in places)
