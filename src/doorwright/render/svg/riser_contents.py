"""What the riser drawing shows and where it belongs: which column and level, on which side of the riser, in what words.

Pure sorting, no millimetres. A column is a core of a building, or its common parts where no core is named. What has
no level, or contradicts itself, is kept for the strip of things not placed yet: nothing is left out.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Final

from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.render.svg.riser_cables import Cabling
from doorwright.render.svg.symbols import Sign, lock_sign

COMMON: Final = ""
"""The key of the column of a building's common parts."""

LINKS_MAX: Final = 16
"""How many uplinks a switch lists one by one; a central switch with more refers to the network tree for the rest."""

_SIGN: Final = {UnitKind.VCU: Sign.VCU, UnitKind.URU: Sign.URU, UnitKind.SMU: Sign.SMU}


@dataclass(frozen=True, slots=True)
class Spot:
    """A column of a building on a level."""

    building: str
    column: str
    level: str


@dataclass(frozen=True, slots=True)
class Tile:
    """One switch, supply, unit or door: symbol, name, lines of facts, and the uplinks that end at it."""

    part: str
    ident: str
    sign: Sign
    name: str
    lines: tuple[str, ...]
    title: str
    links: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Section:
    """Tiles that belong together, under the name of their entrance if they have one."""

    heading: str
    part: str
    title: str
    tiles: tuple[Tile, ...]


@dataclass(frozen=True, slots=True)
class Block:
    """A place with what stands in it. ``part`` is empty for the later blocks of a place that had to be divided."""

    heading: str
    part: str
    title: str
    sections: tuple[Section, ...]

    @property
    def tiles(self) -> tuple[Tile, ...]:
        """Every tile in it."""
        return tuple(tile for section in self.sections for tile in section.tiles)


@dataclass(frozen=True, slots=True)
class Home:
    """A dwelling: what its box says, and one title for each of its URUs."""

    part: str
    ident: str
    label: str
    number: str
    title: str
    units: tuple[tuple[str, str], ...]


@dataclass(slots=True)
class Cell:
    """One level of one column. ``left`` of the riser stands what feeds, ``right`` of it what is fed."""

    left: list[Block] = field(default_factory=list)
    right: list[Block] = field(default_factory=list)
    homes: list[Home] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Panel:
    """A building in section: its columns from left to right, its levels from the top down."""

    building: str
    name: str
    columns: tuple[tuple[str, str], ...]
    levels: tuple[Level, ...]
    cells: dict[tuple[str, str], Cell]


@dataclass(slots=True)
class Strip:
    """What stands in no section: outdoors, and not placed yet."""

    outdoors: list[Block] = field(default_factory=list)
    unplaced: list[Block] = field(default_factory=list)
    homes: list[Home] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Contents:
    """Everything the drawing shows: ``spots`` says where each part of a section is, ``feeds`` what is at the left."""

    panels: tuple[Panel, ...]
    strip: Strip
    spots: dict[str, Spot]
    feeds: frozenset[str]
    outdoors: frozenset[str]


def contents_of(walk: Walk, cabling: Cabling) -> Contents:
    """Sort everything in the site into sections and strip."""
    return _Sorter(walk, cabling).sorted()


class _Sorter:
    def __init__(self, walk: Walk, cabling: Cabling) -> None:
        self.walk = walk
        self.cabling = cabling
        self.cells: dict[Spot, Cell] = {}
        self.strip = Strip(notes=list(cabling.notes))
        self.spots: dict[str, Spot] = {}
        self.feeds: set[str] = set()
        self.outdoors: set[str] = set()

    def sorted(self) -> Contents:
        in_place: dict[str | None, list[Part]] = {}
        for entrance in self.walk.all(Entrance):
            in_place.setdefault(self._known(entrance.place), []).append(entrance)
        for switch in self.walk.all(Switch):
            in_place.setdefault(self._known(switch.place), []).append(switch)
        for supply in self.walk.all(Supply):
            in_place.setdefault(self._known(supply.place), []).append(supply)
        for door in self.walk.all(Door):
            if self.walk.find(Entrance, door.entrance) is None:
                in_place.setdefault(None, []).append(door)
        for unit in self.walk.all(Unit):
            if self._stands_alone(unit):
                in_place.setdefault(self._known(unit.place), []).append(unit)
        for place in self.walk.all(Place):
            self._place(place, in_place.get(place.id, []))
        self._homeless(in_place.get(None, []))
        for dwelling in sorted(self.walk.all(Dwelling), key=lambda dwelling: natural_key(dwelling.door_label)):
            self._dwelling(dwelling)
        return Contents(
            panels=tuple(self._panels()),
            strip=self.strip,
            spots=self.spots,
            feeds=frozenset(self.feeds),
            outdoors=frozenset(self.outdoors),
        )

    # where things are

    def _known(self, place: str | None) -> str | None:
        return place if self.walk.find(Place, place) else None

    def _stands_alone(self, unit: Unit) -> bool:
        at_entrance = self.walk.find(Entrance, unit.entrance) is not None
        return not at_entrance and self.walk.find(Dwelling, unit.dwelling) is None

    def _spot(self, core_id: str | None, level_id: str | None) -> Spot | None:
        level = self.walk.find(Level, level_id)
        core = self.walk.find(Core, core_id)
        if level is None or (core is not None and core.building != level.building):
            return None
        return Spot(level.building, core.id if core else COMMON, level.id)

    # places

    def _place(self, place: Place, parts: list[Part]) -> None:
        if not parts and place.kind is not PlaceKind.RISER_CUPBOARD:
            return
        spot = self._spot(place.core, place.level)
        feeding = any(isinstance(part, Switch | Supply) for part in parts) or place.kind is PlaceKind.RISER_CUPBOARD
        in_section = spot is not None
        title = f"{place.kind.value.capitalize()} {place.name}"
        heading = place.name
        if not in_section and place.kind is not PlaceKind.OUTDOORS:
            heading += " (level or core not known)"
        block = Block(heading, f"place:{place.id}", title, tuple(self._sections(parts, told=not in_section)))
        idents = self._idents(parts)
        if spot is not None:
            cell = self.cells.setdefault(spot, Cell())
            (cell.left if feeding else cell.right).append(block)
            self.spots.update(dict.fromkeys(idents, spot))
            if feeding:
                self.feeds.update(idents)
        elif place.kind is PlaceKind.OUTDOORS:
            self.strip.outdoors.append(block)
            self.outdoors.update(idents)
        else:
            self.strip.unplaced.append(block)

    def _homeless(self, parts: list[Part]) -> None:
        if parts:
            sections = tuple(self._sections(parts, told=True))
            self.strip.unplaced.append(Block("No place given", "", "Parts with no place", sections))

    def _idents(self, parts: Iterable[Part]) -> list[str]:
        idents = []
        for part in parts:
            idents.append(part.id)
            if isinstance(part, Entrance):
                idents += [unit.id for unit in self.walk.units_at(part.id)]
                idents += [door.id for door in self.walk.doors_of(part.id)]
        return idents

    def _sections(self, parts: list[Part], *, told: bool) -> Iterable[Section]:
        for entrance in sorted((p for p in parts if isinstance(p, Entrance)), key=lambda p: natural_key(p.name)):
            served = len(self.walk.dwellings_served(entrance))
            vcus = sorted(self.walk.units_at(entrance.id), key=lambda u: (u.position or 0, natural_key(u.name)))
            doors = sorted(self.walk.doors_of(entrance.id), key=lambda d: natural_key(d.name))
            tiles = (*(self._tile(unit, told=told) for unit in vcus), *(self._tile(door, told=told) for door in doors))
            title = f"Entrance {entrance.name}, serves {served} dwellings"
            yield Section(entrance.name, f"entrance:{entrance.id}", title, tiles)
        rest = sorted(
            (p for p in parts if not isinstance(p, Entrance)), key=lambda p: (type(p).__name__, natural_key(p.label))
        )
        if rest:
            yield Section("", "", "", tuple(self._tile(part, told=told) for part in rest))

    # dwellings

    def _dwelling(self, dwelling: Dwelling) -> None:
        inside = (unit for unit in self.walk.units_in(dwelling.id) if not self.walk.find(Entrance, unit.entrance))
        units = sorted(inside, key=lambda u: (u.position or 0, natural_key(u.name)))
        core, level = self.walk.find(Core, dwelling.core), self.walk.find(Level, dwelling.level)
        home = Home(
            part=f"dwelling:{dwelling.id}",
            ident=dwelling.id,
            label=dwelling.door_label,
            number=dwelling.call_number or "–",
            title=f"Dwelling {dwelling.door_label}, call number {dwelling.call_number or 'not given yet'}, "
            f"core {core.name if core else 'not known'}, level {level.name if level else 'not known'}",
            units=tuple((f"unit:{unit.id}", _unit_title(unit)) for unit in units),
        )
        spot = self._spot(dwelling.core, dwelling.level) if core else None
        if spot is None:
            self.strip.homes.append(home)
            return
        self.cells.setdefault(spot, Cell()).homes.append(home)
        self.spots[dwelling.id] = spot
        self.spots.update({unit.id: spot for unit in units})

    # panels

    def _panels(self) -> Iterable[Panel]:
        names = {building.id: building.name for building in self.walk.all(Building)}
        told = (*(core.building for core in self.walk.all(Core)), *(level.building for level in self.walk.all(Level)))
        for building in told:
            names.setdefault(building, f"{Building.KIND} not known".capitalize())
        for building, name in names.items():
            levels = [level for level in self.walk.all(Level) if level.building == building]
            cores = sorted(self.walk.cores_of(building), key=lambda core: natural_key(core.name))
            if not levels:
                listed = ", ".join(core.name for core in cores)
                self.strip.notes.append(f"{name}: no levels known yet" + (f" (cores {listed})" if listed else ""))
                continue
            levels = sorted(levels, key=lambda level: level.order)[::-1]
            columns = [(core.id, core.name) for core in cores]
            if not cores or any(spot.building == building and spot.column == COMMON for spot in self.cells):
                columns.insert(0, (COMMON, "Common parts"))
            cells = {(s.column, s.level): cell for s, cell in self.cells.items() if s.building == building}
            yield Panel(building, name, tuple(columns), tuple(levels), cells)

    # tiles

    def _tile(self, part: Part, *, told: bool) -> Tile:
        lines, title, sign = self._words(part)
        links = self.cabling.uplinks_at(part.id)
        shown = tuple(links if len(links) <= LINKS_MAX else links[: LINKS_MAX - 1])
        if len(shown) < len(links):
            lines += (f"{len(links) - len(shown)} more links: see network tree",)
        if told:  # outside the sections no cable can be drawn to it, so it is told
            told_lines = tuple(self.cabling.told_at(part.id))
            more = (f"{len(told_lines) - LINKS_MAX} more cables",) if len(told_lines) > LINKS_MAX else ()
            lines += told_lines[:LINKS_MAX] + more
            shown = ()
        return Tile(
            part=f"{part.KIND}:{part.id}",
            ident=part.id,
            sign=sign,
            name=part.label,
            lines=lines,
            title=title,
            links=tuple(link.ident for link in shown),
        )

    def _words(self, part: Part) -> tuple[tuple[str, ...], str, Sign]:
        match part:
            case Switch():
                profile = self.walk.profile(part.profile)
                ports = f"{self.cabling.ports_used(part.id)}/{profile.ports_count if profile else '?'} ports"
                line = f"{part.address or 'no address'} · {ports}"
                return (line,), f"Switch {part.name}, {line}", Sign.SWITCH
            case Supply():
                facts = self._supply_facts(part)
                return (facts,), f"Supply {part.name}, {facts}", Sign.SUPPLY
            case Door():
                return _door_words(part, self.walk.part(part.freed_by))
            case Unit():
                own = "primary" if part.position == 0 else f"position {part.position}"
                if part.kind is UnitKind.SMU:
                    own = f"call {part.call_number}" if part.call_number else "no call number"
                elif part.position is None:
                    own = "no position"
                return (f"{own} · {part.address or 'no address'}",), _unit_title(part), _SIGN[part.kind]
        raise TypeError(f"no tile for a {part.KIND}")

    def _supply_facts(self, supply: Supply) -> str:
        profile = self.walk.profile(supply.profile)
        output = "output not known"
        if profile and profile.output_v is not None:
            output = f"{profile.output_v:g} V" + (f" {profile.output_a:g} A" if profile.output_a is not None else "")
        return output + (f" · {supply.battery_ah:g} Ah" if supply.battery_ah is not None else " · no battery")


def _unit_title(unit: Unit) -> str:
    position = {None: "", 0: ", primary"}.get(unit.position, f", position {unit.position}")
    return f"{unit.kind.value} {unit.name}{position}, {unit.address or 'no address'}"


def _door_words(door: Door, freed_by: Part | None) -> tuple[tuple[str, ...], str, Sign]:
    mode = door.fail_mode.value if door.fail_mode else "fail mode?"
    lock = f" · {door.lock.value}" if door.lock else ""
    escape = {None: "ESC? not answered", True: "ESC on an escape route", False: ""}[door.escape_route]
    title = f"Door {door.name}, {mode}{lock}"
    title += f", freed by {freed_by.label}" if freed_by else ", nothing frees it yet"
    title += f", {escape}" if escape else ", on no escape route"
    return ((f"{mode}{lock}", escape) if escape else (f"{mode}{lock}",)), title, lock_sign(door.fail_mode)
