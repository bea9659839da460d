"""The house: a building in section for the screen, from which one finds the way to every part.

Pure placing: which box stands for which part, in millimetres of the drawing. Its look is the page's own, so that it
follows day and night light; the signs are those of the papers. What stands where is sorted as for the riser drawing.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.place import Building, Core, Level
from doorwright.model.walk import Walk
from doorwright.render.svg import symbols
from doorwright.render.svg.canvas import INK, PAPER, Canvas
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.lettering import clean, fit, width_mm
from doorwright.render.svg.riser_cables import Cabling
from doorwright.render.svg.riser_contents import COMMON, Block, Cell, Contents, Home, Panel, Tile, contents_of
from doorwright.render.svg.symbols import Sign

HOMES_MOST_COUNT: Final = 1_500
"""So many dwellings are drawn at once; of a larger building some cores at a time."""

_LABEL_MM: Final = 3.2
_SMALL_MM: Final = 2.6
_HOME_HIGH_MM: Final = 6.6
_HOME_LEAST_MM: Final = 9.5
_HOME_MOST_MM: Final = 24.0
_TILE_HIGH_MM: Final = 5.6
_TILE_LEAST_MM: Final = 14.0
_TILE_MOST_MM: Final = 44.0
_SIGN_MM: Final = 6.0
_HEADING_MM: Final = 4.4
_GAP_MM: Final = 1.3
_PAD_MM: Final = 1.6
_CORE_GAP_MM: Final = 7.0
_ZONE_LEAST_MM: Final = 40.0
_NAMES_MM: Final = 26.0
_HEAD_MM: Final = 9.0
_LEVEL_LEAST_MM: Final = 9.0
_PER_ROW_COUNT: Final = 10


class Shape(StrEnum):
    """How a part is drawn."""

    HOME = "home"
    TILE = "tile"
    PLACE = "place"
    ENTRANCE = "entrance"
    CORE = "core"
    LEVEL = "level"


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One part on the drawing: its box, what is written in it, and what is told of it. ``sign`` names its symbol.

    ``heading`` is the height of a frame's heading; what stands in the frame is drawn after it.
    """

    shape: Shape
    kind: str
    id: str
    box: Box
    label: str
    title: str
    sign: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Storey:
    """A level: its band from the left to the right."""

    name: str
    box: Box
    is_ground: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class House:
    """A building as drawn: which one, which stretch of its cores, its levels from the top, and every part on it."""

    building: str
    name: str
    width_mm: float
    height_mm: float
    stretch: int
    stretches: tuple[str, ...]
    storeys: tuple[Storey, ...]
    parts: tuple[Drawn, ...]
    words: tuple[tuple[float, float, str], ...]
    ground_mm: float | None


def contents_for_screen(walk: Walk) -> Contents:
    """Sort everything on a site into its buildings, once for all of its houses."""
    return contents_of(walk, Cabling(walk))


def sign_ids() -> dict[str, str]:
    """Return the shapes of every sign as SVG by its identifier, drawn in the colour of the text around it."""
    drawn = {}
    for sign in Sign:
        canvas = Canvas()
        symbols.draw(canvas, sign, 0, 0)
        drawn[_sign_id(sign)] = canvas.shapes().replace(INK, "currentColor").replace(PAPER, "none")
    return drawn


def house(walk: Walk, contents: Contents, building: str, stretch: int = 0) -> House | None:
    """Place one building, and below it what stands outdoors or nowhere yet; None where the site has no such building.

    Args:
        walk: the site.
        contents: what stands where on it.
        building: the identifier of the building.
        stretch: which of the stretches of cores, where the building is too large to be drawn at once.
    """
    panel = next((panel for panel in contents.panels if panel.building == building), None)
    if panel is None and walk.find(Building, building) is None and contents.panels:
        return None
    return _Placer(walk, contents, panel, building, stretch).placed()


@dataclass(frozen=True, slots=True)
class _Sized:
    """Something of a cell before it has its place."""

    width_mm: float
    height_mm: float
    what: Home | Tile | Block


@dataclass(frozen=True, slots=True)
class _Row:
    things: tuple[_Sized, ...]

    @property
    def height_mm(self) -> float:
        return max(thing.height_mm for thing in self.things)


class _Placer:
    def __init__(self, walk: Walk, contents: Contents, panel: Panel | None, building: str, stretch: int) -> None:
        self.walk = walk
        self.contents = contents
        self.panel = panel
        self.building = building
        self.stretches = _stretches(panel) if panel else ((),)
        self.stretch = min(max(stretch, 0), len(self.stretches) - 1)
        self.columns = self.stretches[self.stretch]
        self.parts: list[Drawn] = []
        self.words: list[tuple[float, float, str]] = []
        homes = [home for cell in panel.cells.values() for home in cell.homes] if panel else contents.strip.homes
        self.home_mm = _home_wide_mm(homes)

    def placed(self) -> House:
        storeys: list[Storey] = []
        ground_mm = None
        right_mm = _NAMES_MM + _ZONE_LEAST_MM
        y_mm = _HEAD_MM
        if self.panel is not None:
            zones = self._zones(self.panel)
            right_mm = max([right_mm, *(x_mm + wide_mm for x_mm, wide_mm in zones.values())])
            self._cores(zones)
            for level in self.panel.levels:
                box = self._level(self.panel, level, zones, y_mm, right_mm)
                y_mm = box.bottom_mm
                is_ground = level.order == 0
                if is_ground:
                    ground_mm = y_mm
                storeys.append(Storey(name=level.name, box=box, is_ground=is_ground))
        right_mm = max(right_mm, 120.0)
        y_mm = self._strip(y_mm + 3.0, right_mm)
        building = self.walk.find(Building, self.building)
        return House(
            building=self.building,
            name=building.name if building else "",
            width_mm=right_mm + 3.0,
            height_mm=y_mm + 2.0,
            stretch=self.stretch,
            stretches=tuple(_span(columns) for columns in self.stretches) if len(self.stretches) > 1 else (),
            storeys=tuple(storeys),
            parts=tuple(self.parts),
            words=tuple(self.words),
            ground_mm=ground_mm,
        )

    # the section

    def _zones(self, panel: Panel) -> dict[str, tuple[float, float]]:
        zones = {}
        x_mm = _NAMES_MM
        for key, _ in self.columns:
            cells = [cell for (column, _), cell in panel.cells.items() if column == key]
            most = max((_per_row(len(cell.homes)) for cell in cells), default=0)
            wide_mm = most * (self.home_mm + _GAP_MM) - _GAP_MM
            if any(cell.left or cell.right for cell in cells) or not most:
                wide_mm = max(wide_mm, _ZONE_LEAST_MM)
            zones[key] = (x_mm, wide_mm)
            x_mm += wide_mm + _CORE_GAP_MM
        return zones

    def _cores(self, zones: dict[str, tuple[float, float]]) -> None:
        for key, name in self.columns:
            x_mm, wide_mm = zones[key]
            if key == COMMON:
                self.words.append((x_mm, _HEAD_MM - 3.4, name))
                continue
            count = len(self.walk.dwellings_of_core(key))
            self._add(
                Shape.CORE, f"{Core.KIND}:{key}", Box(x_mm, 0.8, wide_mm, _HEAD_MM - 2.4), name,
                f"Core {name}, {counted(count, 'dwelling')}",
            )  # fmt: skip

    def _level(
        self, panel: Panel, level: Level, zones: dict[str, tuple[float, float]], top_mm: float, right_mm: float
    ) -> Box:
        rows = {}
        for key, (_, wide_mm) in zones.items():
            cell = panel.cells.get((key, level.id), Cell())
            rows[key] = [*self._homes(cell.homes), *self._blocks((*cell.left, *cell.right), wide_mm)]
        tall_mm = max((_tall_mm(found) for found in rows.values()), default=0.0)
        box = Box(0.0, top_mm, right_mm, max(tall_mm + 2 * _PAD_MM, _LEVEL_LEAST_MM))
        named = Box(0.4, box.bottom_mm - _LEVEL_LEAST_MM + 1.2, _NAMES_MM - 3, 7.0)
        self._add(Shape.LEVEL, f"{Level.KIND}:{level.id}", named, level.name, f"Level {level.name}")
        for key, found in rows.items():
            self._rows(found, zones[key][0], box.bottom_mm - _PAD_MM - _tall_mm(found))
        return box

    def _homes(self, homes: Sequence[Home]) -> Iterator[_Row]:
        per_row = _per_row(len(homes))
        sized = [_Sized(self.home_mm, _HOME_HIGH_MM, home) for home in homes]
        for i in range(0, len(sized), max(per_row, 1)):
            yield _Row(tuple(sized[i : i + per_row]))

    def _blocks(self, blocks: Iterable[Block], wide_mm: float) -> Iterator[_Row]:
        yield from _shelved([self._sized(block, wide_mm) for block in blocks], wide_mm)

    def _sized(self, block: Block, most_mm: float) -> _Sized:
        inside_mm = most_mm - 2 * _PAD_MM
        wide_mm = min(inside_mm, _text_mm(block.heading))
        tall_mm = _HEADING_MM
        for section in block.sections:
            rows = list(_shelved([_tile(tile, inside_mm) for tile in section.tiles], inside_mm))
            if section.heading:
                tall_mm += _HEADING_MM
                wide_mm = max(wide_mm, min(inside_mm, _text_mm(section.heading) + 2))
            tall_mm += _tall_mm(rows) + (_GAP_MM if rows else 0.0)
            wide_mm = max([wide_mm, *(_wide_mm(row) for row in rows)])
        return _Sized(min(wide_mm, inside_mm) + 2 * _PAD_MM, tall_mm + _PAD_MM, block)

    # placing

    def _rows(self, rows: Iterable[_Row], x_mm: float, y_mm: float) -> float:
        for row in rows:
            at_mm = x_mm
            for thing in row.things:
                box = Box(at_mm, y_mm, thing.width_mm, thing.height_mm)
                match thing.what:
                    case Home():
                        self._home(thing.what, box)
                    case Tile():
                        self._tile(thing.what, box)
                    case Block():
                        self._block(thing.what, box)
                at_mm += thing.width_mm + _GAP_MM
            y_mm += row.height_mm + _GAP_MM
        return y_mm

    def _home(self, home: Home, box: Box) -> None:
        units = f", {counted(len(home.units), 'receiver')}"
        self._add(Shape.HOME, home.part, box, home.label, home.title + units)

    def _tile(self, tile: Tile, box: Box) -> None:
        self._add(Shape.TILE, tile.part, box, tile.name, tile.title, sign=_sign_id(tile.sign))

    def _block(self, block: Block, box: Box) -> None:
        if block.part:
            self._add(Shape.PLACE, block.part, box, block.heading, block.title)
        else:
            self.words.append((box.x_mm + _PAD_MM, box.y_mm + 3.4, block.heading))
        inside_mm = box.width_mm - 2 * _PAD_MM
        y_mm = box.y_mm + _HEADING_MM
        for section in block.sections:
            rows = list(_shelved([_tile(tile, inside_mm) for tile in section.tiles], inside_mm))
            if section.heading:
                high_mm = _HEADING_MM + _tall_mm(rows)
                frame = Box(box.x_mm + 0.8, y_mm, box.width_mm - 1.6, high_mm + 0.6)
                self._add(Shape.ENTRANCE, section.part, frame, section.heading, section.title)
                y_mm += _HEADING_MM
            y_mm = self._rows(rows, box.x_mm + _PAD_MM, y_mm)

    def _strip(self, y_mm: float, right_mm: float) -> float:
        strip = self.contents.strip
        wide_mm = right_mm - _NAMES_MM
        for heading, blocks in (("Outdoors", strip.outdoors), ("Not placed yet", strip.unplaced)):
            if blocks:
                self.words.append((0.4, y_mm + 3.4, heading))
                y_mm = self._rows(self._blocks(blocks, wide_mm), _NAMES_MM, y_mm) + _PAD_MM
        homes = strip.homes[:HOMES_MOST_COUNT]
        if homes:
            self.words.append((0.4, y_mm + 3.4, "Homes without"))
            self.words.append((0.4, y_mm + 6.9, "core or level"))
            sized = [_Sized(self.home_mm, _HOME_HIGH_MM, home) for home in homes]
            y_mm = self._rows(_shelved(sized, wide_mm), _NAMES_MM, y_mm)
        return y_mm

    def _add(self, shape: Shape, mark: str, box: Box, text: str, title: str, *, sign: str = "") -> None:
        """Draw a part; ``mark`` is its kind and identifier, as on the papers."""
        kind, _, ident = mark.partition(":")
        size_mm = _LABEL_MM if shape in {Shape.HOME, Shape.CORE, Shape.LEVEL} else _SMALL_MM
        room_mm = box.width_mm - (_SIGN_MM if sign else 0.0) - 1.2
        bold = shape in {Shape.HOME, Shape.CORE}
        label = fit(clean(text), room_mm, size_mm, bold=bold)
        self.parts.append(Drawn(shape=shape, kind=kind, id=ident, box=box, label=label, title=clean(title), sign=sign))


def _stretches(panel: Panel) -> tuple[tuple[tuple[str, str], ...], ...]:
    """Divide the cores of a building into stretches that can be drawn at once."""
    homes: dict[str, int] = {}
    for (column, _), cell in panel.cells.items():
        homes[column] = homes.get(column, 0) + len(cell.homes)
    stretches: list[list[tuple[str, str]]] = [[]]
    count = 0
    for key, name in panel.columns:
        if stretches[-1] and count + homes.get(key, 0) > HOMES_MOST_COUNT:
            stretches.append([])
            count = 0
        stretches[-1].append((key, name))
        count += homes.get(key, 0)
    return tuple(map(tuple, stretches))


def _span(columns: Sequence[tuple[str, str]]) -> str:
    names = sorted((name for _, name in columns), key=natural_key)
    return names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"


def _home_wide_mm(homes: Iterable[Home]) -> float:
    widest_mm = max((width_mm(clean(home.label), _LABEL_MM, bold=True) for home in homes), default=0.0)
    return min(max(widest_mm + 2.6, _HOME_LEAST_MM), _HOME_MOST_MM)


def _per_row(count: int) -> int:
    """Return how many homes stand in each row, when as few rows as can be are filled alike."""
    if not count:
        return 0
    rows = -(-count // _PER_ROW_COUNT)
    return -(-count // rows)


def _tile(tile: Tile, most_mm: float) -> _Sized:
    wide_mm = min(max(_SIGN_MM + _text_mm(tile.name) + 1.5, _TILE_LEAST_MM), _TILE_MOST_MM, most_mm)
    return _Sized(wide_mm, _TILE_HIGH_MM, tile)


def _shelved(things: Sequence[_Sized], wide_mm: float) -> Iterator[_Row]:
    row: list[_Sized] = []
    used_mm = 0.0
    for thing in things:
        if row and used_mm + thing.width_mm > wide_mm + 0.01:
            yield _Row(tuple(row))
            row, used_mm = [], 0.0
        row.append(thing)
        used_mm += thing.width_mm + _GAP_MM
    if row:
        yield _Row(tuple(row))


def _tall_mm(rows: Sequence[_Row]) -> float:
    return sum(row.height_mm + _GAP_MM for row in rows) - (_GAP_MM if rows else 0.0)


def _wide_mm(row: _Row) -> float:
    return sum(thing.width_mm + _GAP_MM for thing in row.things) - _GAP_MM


def _text_mm(text: str) -> float:
    return width_mm(clean(text), _SMALL_MM) + 1.2


def _sign_id(sign: Sign) -> str:
    return f"sign-{sign.name.lower().replace('_', '-')}"
