"""Which pieces of settings, labels and legend strips a list of changes may alter, found by look-ups.

Too many candidates cost time, a missing one costs somebody a home that does not ring: each part says here what is
entered somewhere because of it, and a test compares with all settings of whole sites.
"""

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any, Final

from doorwright.model.change import SITE_KIND, Add, Change, Remove
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place
from doorwright.model.site import PART_BY_KIND
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.settings import Piece, PieceKind, has_directory, holder_of, pieces_of

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
                if change.field == "profiles":  # a type may have gained or lost its directory
                    for walk in (before, after):
                        for unit in walk.units_of_kind(UnitKind.VCU):
                            found.pieces.update(dict.fromkeys(pieces_of(walk, unit)))
            case _:
                named[PART_BY_KIND[change.kind], change.id] = None
    for kind, ident in named:
        for walk in (before, after):
            version = walk.find(kind, ident)
            if version is not None:
                found.pieces.update(dict.fromkeys(_pieces(walk, version)))
                found.legends.update(dict.fromkeys(_legends(walk, version)))
                found.holders.update(dict.fromkeys(_holders(walk, version)))
    return found


def _pieces(walk: Walk, part: Part) -> Iterator[Piece]:
    if isinstance(part, CableRun):
        yield from _ports_of(part)
        return
    about = _ABOUT.get(type(part))
    if about is not None:
        yield from about(walk, part)
    for run in (*walk.runs_from(part.id), *walk.runs_to(part.id)):
        yield from _ports_of(run)


def _about_dwelling(walk: Walk, dwelling: Dwelling) -> Iterator[Piece]:
    for unit in walk.units_in(dwelling.id):
        yield from _both_ends(unit)
    for key in walk.keys_ringing(dwelling.id):
        yield _of_key(key)
    for entrance in walk.entrances_serving(dwelling):
        yield from _directory_lines(walk, entrance, dwelling.id)


def _about_entrance(walk: Walk, entrance: Entrance) -> Iterator[Piece]:
    for unit in walk.units_at(entrance.id):
        yield from pieces_of(walk, unit)


def _about_core(walk: Walk, core: Core) -> Iterator[Piece]:
    for entrance in (*walk.entrances_naming(core.id), *walk.entrances_naming(core.building)):
        yield from _about_entrance(walk, entrance)


def _about_subnet(walk: Walk, subnet: Subnet) -> Iterator[Piece]:
    for holder in walk.holders_in_subnet(subnet.id):
        yield from _both_ends(holder)


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


def _about_unit(walk: Walk, unit: Unit) -> Iterator[Piece]:
    yield from pieces_of(walk, unit)
    yield from _both_ends(unit)
    for other in walk.units_registered_with(unit.id):
        yield Piece(other.id, PieceKind.OWN)
    if unit.dwelling is not None:  # a server lets calls fork to all units of a dwelling, by name
        for other in walk.units_in(unit.dwelling):
            yield from _both_ends(other)
    for key in walk.keys_ringing(unit.id):
        yield _of_key(key)
    if unit.kind is UnitKind.SMU:
        for entrance in walk.all(Entrance):
            if entrance.calls_desk:
                yield from _directory_lines(walk, entrance, unit.id)


_ABOUT: Final[dict[type[Part], Callable[[Walk, Any], Iterator[Piece]]]] = {
    Unit: _about_unit, Dwelling: _about_dwelling, Entrance: _about_entrance, Core: _about_core, Subnet: _about_subnet,
    Key: _about_key, SecretMark: _about_secret, SipServer: _about_server, Switch: pieces_of,
}  # fmt: skip
"""What is entered somewhere because of a part, by the kind of part."""


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
