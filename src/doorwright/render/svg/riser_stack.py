"""A stack: some columns of one building with all its levels as bands, measured but not yet placed on a sheet.

Here it is decided how many bands a level needs, how wide each column is, which cable takes which lane of a riser,
and which crosses from one riser to another. Lanes are the same on every sheet of a stack, so a cable that leaves one
sheet comes back on the next at the same place.
"""

from collections import Counter
from dataclasses import dataclass, field
from typing import Final, TypeAlias

from doorwright.model.place import Level
from doorwright.render.svg import riser_sizes as sizes
from doorwright.render.svg.geometry import lanes
from doorwright.render.svg.riser_bundles import Bundle
from doorwright.render.svg.riser_cables import Uplink
from doorwright.render.svg.riser_contents import Block, Cell, Contents, Panel
from doorwright.render.svg.riser_sizes import Shelf, Spare

LEVEL_NAMES_MM: Final = 22.0
PAD_MM: Final = 1.4
BRANCH_MM: Final = 3.0
RIGHT_MIN_MM: Final = 40.0
_LANE_MM: Final = 1.9
_SHAFT_MAX_MM: Final = 30.0
_CROSSING_MM: Final = 1.5
_CROSSINGS_MAX_MM: Final = 24.0
_PATCHES_MAX: Final = 6
"""How many uplinks between switches in one place are drawn; where there are more, their names alone tell them."""

Stop: TypeAlias = tuple[object, ...]
"""Where a line ends or branches: ("tile", part, link), ("branch", ...) or ("crossing", net)."""


@dataclass(frozen=True, slots=True)
class Net:
    """One drawn cable: a feeder's trunk, or an uplink. ``stops`` gives, by column, the bands and points it touches."""

    key: tuple[object, ...]
    title: str
    style: str
    stops: dict[str, tuple[tuple[int, Stop], ...]]
    crossing_band: int | None


@dataclass(frozen=True, slots=True)
class Slot:
    """What stands in one column of one band."""

    left: tuple[Shelf, ...]
    right: tuple[Shelf, ...]
    branches: tuple[Bundle, ...]

    @property
    def height_mm(self) -> float:
        """Branch lines above, shelves below."""
        tallest_mm = max(sum(shelf.height_mm for shelf in side) for side in (self.left, self.right))
        return len(self.branches) * BRANCH_MM + tallest_mm


@dataclass(slots=True)
class Band:
    """A level, or one part of a level that is too full for one."""

    level: Level
    part: int
    parts: int
    slots: dict[str, Slot]
    crossings: dict[tuple[object, ...], int] = field(default_factory=dict)

    @property
    def crossings_mm(self) -> float:
        """The height kept free under the slab for cables that cross."""
        lanes_used = max(self.crossings.values(), default=-1) + 1
        return min(lanes_used * _CROSSING_MM, _CROSSINGS_MAX_MM)

    def crossing_mm(self, net: tuple[object, ...]) -> float:
        """How far below the slab a crossing runs."""
        lanes_used = max(self.crossings.values()) + 1
        return PAD_MM + self.crossings[net] * self.crossings_mm / lanes_used

    @property
    def height_mm(self) -> float:
        """Everything in it, and air."""
        tallest_mm = max((slot.height_mm for slot in self.slots.values()), default=0.0)
        return max(2 * PAD_MM + self.crossings_mm + tallest_mm, 9.0)


@dataclass(slots=True)
class Column:
    """A core: what feeds at the left, the riser, what is fed at the right."""

    key: str
    name: str
    left_mm: float
    right_mm: float
    lane_by_net: dict[tuple[object, ...], int] = field(default_factory=dict)

    @property
    def shaft_mm(self) -> float:
        """The width of the riser."""
        return 3.0 + self.lane_pitch_mm * max(self._lanes, 2)

    @property
    def lane_pitch_mm(self) -> float:
        """The distance of its lanes."""
        return min(_LANE_MM, _SHAFT_MAX_MM / max(self._lanes, 1))

    @property
    def width_mm(self) -> float:
        """All of it."""
        return self.left_mm + self.shaft_mm + self.right_mm + 4 * PAD_MM

    @property
    def _lanes(self) -> int:
        return max(self.lane_by_net.values(), default=-1) + 1


@dataclass(frozen=True, slots=True)
class Stack:
    """Columns and bands of one building."""

    panel: Panel
    columns: tuple[Column, ...]
    bands: tuple[Band, ...]
    nets: tuple[Net, ...]

    @property
    def width_mm(self) -> float:
        """Level names and columns."""
        return LEVEL_NAMES_MM + sum(column.width_mm for column in self.columns)


@dataclass(frozen=True, slots=True)
class Cables:
    """What is to be drawn as lines: bundles, and uplinks one by one."""

    bundles: tuple[Bundle, ...]
    uplinks: tuple[Uplink, ...]


@dataclass(frozen=True, slots=True)
class Cut:
    """How a stack is to be cut: dwellings and tiles side by side, the widest stack and tallest band, spare lines."""

    per_row: int
    tiles_across: int
    width_mm: float
    band_mm: float
    spare: Spare


def build(panel: Panel, keys: tuple[str, ...], contents: Contents, cables: Cables, cut: Cut) -> Stack:
    """Measure the stack of these columns of a building."""
    names = dict(panel.columns)
    columns = tuple(_column(key, names[key], panel, cut) for key in keys)
    by_cell: dict[tuple[str, str], list[Bundle]] = {}
    for bundle in cables.bundles:
        if bundle.spot is not None and bundle.spot.building == panel.building:
            by_cell.setdefault((bundle.spot.column, bundle.spot.level), []).append(bundle)
    bands: list[Band] = []
    for level in panel.levels:
        bands += _bands(level, columns, panel, by_cell, cut)
    nets = _Nets(panel, columns, tuple(bands), contents).of(cables)
    for column in columns:
        mine = [net for net in nets if column.key in net.stops]
        spans = [(min(i for i, _ in net.stops[column.key]), max(i for i, _ in net.stops[column.key])) for net in mine]
        column.lane_by_net = {net.key: lane for net, lane in zip(mine, lanes(spans), strict=True)}
    order = {column.key: i for i, column in enumerate(columns)}
    for i, band in enumerate(bands):
        crossing = [net for net in nets if net.crossing_band == i]
        spans = [(min(order[c] for c in net.stops), max(order[c] for c in net.stops)) for net in crossing]
        band.crossings = {net.key: lane for net, lane in zip(crossing, lanes(spans), strict=True)}
    return Stack(panel, columns, tuple(bands), nets)


def _column(key: str, name: str, panel: Panel, cut: Cut) -> Column:
    cells = [cell for (column, _), cell in panel.cells.items() if column == key]
    left = [sized.width_mm for cell in cells for sized in _left(cell, cut)]
    left_mm = max(left, default=0.0)
    room_mm = cut.width_mm - LEVEL_NAMES_MM - left_mm - _SHAFT_MAX_MM - 3.0 - 4 * PAD_MM
    most = max((len(cell.homes) for cell in cells), default=0)
    right_mm = max(RIGHT_MIN_MM, _even(most, cut.per_row) * sizes.HOME_PITCH_MM - sizes.GAP_MM)
    if any(cell.right for cell in cells):
        most = max(len(section.tiles) for cell in cells for block in cell.right for section in block.sections)
        across = max(1, min(cut.tiles_across, most))
        right_mm = max(right_mm, across * (sizes.TILE_WIDTH_MM + sizes.BLOCK_PAD_MM) + sizes.BLOCK_PAD_MM)
    return Column(key, name, left_mm, min(right_mm, room_mm))


def _left(cell: Cell, cut: Cut) -> list[sizes.Sized]:
    sized = []
    for block in cell.left:
        columns = 1 if len(block.tiles) <= 8 else 2 if len(block.tiles) <= 24 else 3
        sized += [sizes.sized_block(piece, columns, cut.spare) for piece in sizes.divided(block, columns, cut.spare)]
    return sized


def _right(cell: Cell, right_mm: float, cut: Cut) -> list[Shelf]:
    columns = int((right_mm - sizes.BLOCK_PAD_MM) // (sizes.TILE_WIDTH_MM + sizes.BLOCK_PAD_MM))
    pieces: list[Block] = [piece for block in cell.right for piece in sizes.divided(block, columns, cut.spare)]
    shelves = sizes.shelved((sizes.sized_block(piece, columns, cut.spare) for piece in pieces), right_mm)
    per_row = _even(len(cell.homes), min(cut.per_row, int((right_mm + sizes.GAP_MM) // sizes.HOME_PITCH_MM)))
    homes = [sizes.sized_home(home) for home in cell.homes]
    return shelves + [Shelf(tuple(homes[i : i + per_row])) for i in range(0, len(homes), per_row)]


def _even(count: int, per_row: int) -> int:
    """Return how many stand in each row, when as few rows as ``per_row`` allows are filled alike."""
    rows = max(1, -(-count // max(per_row, 1)))
    return max(1, -(-count // rows))


def _bands(
    level: Level, columns: tuple[Column, ...], panel: Panel, by_cell: dict[tuple[str, str], list[Bundle]], cut: Cut
) -> list[Band]:
    sides: dict[str, tuple[list[tuple[Shelf, ...]], list[tuple[Shelf, ...]]]] = {}
    for column in columns:
        cell = panel.cells.get((column.key, level.id), Cell())
        left = [Shelf((sized,)) for sized in _left(cell, cut)]
        sides[column.key] = (_parts(left, cut.band_mm), _parts(_right(cell, column.right_mm, cut), cut.band_mm))
    count = max([1, *(len(side) for pair in sides.values() for side in pair)])
    bands = []
    for part in range(count):
        slots = {}
        for column in columns:
            left_parts, right_parts = sides[column.key]
            branches = sorted(by_cell.get((column.key, level.id), ()), key=lambda b: (b.is_power, b.feeder_name))
            slots[column.key] = Slot(
                left=left_parts[part] if part < len(left_parts) else (),
                right=right_parts[part] if part < len(right_parts) else (),
                branches=tuple(branches) if part == 0 else (),
            )
        bands.append(Band(level, part, count, slots))
    return bands


def _parts(shelves: list[Shelf], limit_mm: float) -> list[tuple[Shelf, ...]]:
    parts: list[list[Shelf]] = []
    filled_mm = 0.0
    for shelf in shelves:
        if not parts or filled_mm + shelf.height_mm > limit_mm:
            parts.append([])
            filled_mm = 0.0
        parts[-1].append(shelf)
        filled_mm += shelf.height_mm
    return [tuple(part) for part in parts]


class _Nets:
    """Finds the cables that can be drawn within one stack."""

    def __init__(self, panel: Panel, columns: tuple[Column, ...], bands: tuple[Band, ...], contents: Contents) -> None:
        self.building = panel.building
        self.keys = {column.key for column in columns}
        self.first_band = {band.level.id: i for i, band in reversed(list(enumerate(bands)))}
        self.spots = contents.spots
        self.band_of_tile = {
            tile.ident: i
            for i, band in enumerate(bands)
            for slot in band.slots.values()
            for shelf in slot.left
            for thing in shelf.things
            if isinstance(thing.what, Block)
            for tile in thing.what.tiles
        }

    def of(self, cables: Cables) -> tuple[Net, ...]:
        by_feeder: dict[str, list[Bundle]] = {}
        for bundle in cables.bundles:
            for feeder in bundle.feeders:
                by_feeder.setdefault(feeder, []).append(bundle)
        nets = [net for feeder, mine in by_feeder.items() if (net := self._trunk(feeder, mine)) is not None]
        patches = Counter(link.near.place for link in cables.uplinks if link.is_patch)
        for link in cables.uplinks:
            net = self._uplink(link)
            if net is not None and not (link.is_patch and patches[link.near.place] > _PATCHES_MAX):
                nets.append(net)
        return tuple(nets)

    def _here(self, part: str) -> bool:
        spot = self.spots.get(part)
        return spot is not None and spot.building == self.building and spot.column in self.keys

    def _trunk(self, feeder: str, bundles: list[Bundle]) -> Net | None:
        if not self._here(feeder):
            return None
        own = self.spots[feeder]
        key = ("trunk", feeder)
        stops: dict[str, list[tuple[int, Stop]]] = {own.column: [(self.band_of_tile[feeder], ("tile", feeder, ""))]}
        for bundle in bundles:
            spot = bundle.spot
            if spot is not None and spot.building == self.building and spot.column in self.keys:
                stops.setdefault(spot.column, []).append((self.first_band[spot.level], bundle.key))
        crossing_band = None
        if len(stops) > 1:
            crossing_band = self.first_band[own.level]
            for column in stops.values():
                column.append((crossing_band, ("crossing", key)))
        if sum(map(len, stops.values())) < 2:
            return None
        return Net(
            key=key,
            title="; ".join(bundle.title for bundle in bundles),
            style="power" if all(bundle.is_power for bundle in bundles) else "data",
            stops={column: tuple(found) for column, found in stops.items()},
            crossing_band=crossing_band,
        )

    def _uplink(self, link: Uplink) -> Net | None:
        near, far = link.near.id, link.far.id
        if near == far or not self._here(near) or not self._here(far):
            return None
        key = ("uplink", link.ident)
        stops: dict[str, list[tuple[int, Stop]]] = {}
        for switch in (near, far):
            stop: Stop = ("tile", switch, link.ident)
            stops.setdefault(self.spots[switch].column, []).append((self.band_of_tile[switch], stop))
        crossing_band = None
        if len(stops) > 1:
            crossing_band = self.first_band[self.spots[near].level]
            for column in stops.values():
                column.append((crossing_band, ("crossing", key)))
        return Net(
            key=key,
            title=f"Uplink {link.near.name} {link.words_at(near)}",
            style="uplink",
            stops={column: tuple(found) for column, found in stops.items()},
            crossing_band=crossing_band,
        )
