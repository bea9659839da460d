"""Where everything in the riser drawing stands: rectangles and points on each sheet, before anything is drawn.

Coordinates are millimetres in the sheet's field divided by ``SheetPlan.scale``: sheets with room to spare are drawn
larger. Lines are in ``riser_lines``; how sheets are chosen is in ``riser_sheets``.
"""

from dataclasses import dataclass, field
from typing import Final

from doorwright.render.svg import riser_sizes as sizes
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.riser_bundles import Bundle
from doorwright.render.svg.riser_contents import Block, Home, Section, Tile
from doorwright.render.svg.riser_sizes import Shelf, Sized, Spare
from doorwright.render.svg.riser_stack import BRANCH_MM, LEVEL_NAMES_MM, PAD_MM, Band, Column, Stack
from doorwright.render.svg.riser_strip import StripRow

HEAD_MM: Final = 10.0
MARK_MM: Final = 4.5
BETWEEN_MM: Final = 8.0
_WIDEN_MAX: Final = 1.6
_AIR_MAX_MM: Final = 14.0
_HOME_MAX_MM: Final = 25.0


@dataclass(frozen=True, slots=True)
class PlacedTile:
    """A tile, and the heights at which its name and its uplinks meet their lines."""

    tile: Tile
    box: Box
    has_spare_line: bool
    row_bottom_mm: float
    is_last_in_row: bool

    def stop_mm(self, link: str) -> float:
        """The y at which the cable of an uplink ends, or the trunk for "" and for uplinks not listed."""
        if link in self.tile.links:
            row = 1 + len(self.tile.lines) + self.tile.links.index(link)
            return self.box.y_mm + self.baseline_mm(row) - 0.7
        return self.box.y_mm + self.baseline_mm(0) - 0.7

    def baseline_mm(self, row: int) -> float:
        """The base line of a row of its text, below its upper edge."""
        return 2.5 + sizes.ROW_MM * row


@dataclass(frozen=True, slots=True)
class PlacedBlock:
    """A block with its headings and tiles."""

    block: Block
    box: Box
    headings: tuple[tuple[Section, Box], ...]
    tiles: tuple[PlacedTile, ...]


@dataclass(frozen=True, slots=True)
class PlacedHome:
    """A dwelling's box."""

    home: Home
    box: Box


@dataclass(frozen=True, slots=True)
class PlacedBranch:
    """A bundle's line to its level: its text stands on it; ``drops`` lead down to what it feeds."""

    bundle: Bundle
    y_mm: float
    text: Box
    end_mm: float
    drops: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class PlacedColumn:
    """A column: the riser, and the zones beside it."""

    column: Column
    left: Box
    shaft: Box
    right: Box

    def lane_mm(self, net: tuple[object, ...]) -> float:
        """The x of a cable's lane."""
        pitch_mm = self.column.lane_pitch_mm
        return self.shaft.x_mm + 1.5 + (self.column.lane_by_net[net] + 0.5) * pitch_mm


@dataclass(slots=True)
class PlacedStack:
    """Some bands of a stack on a sheet; ``bands`` is the range of bands shown."""

    stack: Stack
    bands: range
    box: Box
    columns: tuple[PlacedColumn, ...]
    band_boxes: dict[int, Box]
    blocks: list[PlacedBlock] = field(default_factory=list)
    homes: list[PlacedHome] = field(default_factory=list)
    branches: list[PlacedBranch] = field(default_factory=list)

    @property
    def tiles(self) -> dict[str, PlacedTile]:
        """Its tiles by part."""
        return {placed.tile.ident: placed for block in self.blocks for placed in block.tiles}


@dataclass(frozen=True, slots=True)
class Piece:
    """The bands of a stack that go on one sheet."""

    stack: Stack
    bands: range

    @property
    def above_mm(self) -> float:
        """The height of its bands from the ground up."""
        return sum(self.stack.bands[i].height_mm for i in self.bands if self.stack.bands[i].level.order >= 0)

    @property
    def above_count(self) -> int:
        """How many of its bands stand from the ground up."""
        return sum(self.stack.bands[i].level.order >= 0 for i in self.bands)

    @property
    def below_mm(self) -> float:
        """The height of its bands below the ground."""
        return sum(self.stack.bands[i].height_mm for i in self.bands) - self.above_mm


@dataclass(frozen=True, slots=True)
class PlacedRow:
    """A row of the strip of things that stand in no section."""

    row: StripRow
    x_mm: float
    y_mm: float
    width_mm: float
    blocks: tuple[PlacedBlock, ...]
    homes: tuple[PlacedHome, ...]


@dataclass(frozen=True, slots=True)
class SheetPlan:
    """One sheet: its scale, the stacks on it, and the rows of the strip on it."""

    scale: float
    stacks: tuple[PlacedStack, ...]
    strip: tuple[PlacedRow, ...]


def fits_beside(pieces: list[Piece], width_mm: float, height_mm: float) -> bool:
    """Say whether the pieces can stand side by side, their grounds on one line."""
    wide_mm = sum(piece.stack.width_mm for piece in pieces) + BETWEEN_MM * (len(pieces) - 1)
    return wide_mm <= width_mm and _tall_mm(pieces) <= height_mm - HEAD_MM - 2 * MARK_MM + 1e-6


def _tall_mm(pieces: list[Piece]) -> float:
    return max(piece.above_mm for piece in pieces) + max(piece.below_mm for piece in pieces)


@dataclass(frozen=True, slots=True)
class Field:
    """The room on a sheet: for sections, and for rows of the strip below or beside them."""

    width_mm: float
    height_mm: float
    strip: Box


def placed_sheet(pieces: list[Piece], strip: list[StripRow], scale: float, room: Field, spare: Spare) -> SheetPlan:
    """Place the pieces of a sheet, spread over the room there is, and the rows of the strip in theirs."""
    stacks: list[PlacedStack] = []
    width_mm = room.width_mm
    if pieces:
        room_mm = room.height_mm - HEAD_MM - 2 * MARK_MM
        most = max(len(piece.bands) for piece in pieces)
        air_mm = min(_AIR_MAX_MM, (room_mm - _tall_mm(pieces)) / (2 * most if _is_mixed(pieces) else most))
        rights_mm = sum(column.right_mm for piece in pieces for column in piece.stack.columns)
        wide_mm = sum(piece.stack.width_mm for piece in pieces) + BETWEEN_MM * (len(pieces) - 1)
        wide = min(_WIDEN_MAX, 1 + (width_mm - wide_mm) / rights_mm)
        x_mm = max(0.0, width_mm - wide_mm - rights_mm * (wide - 1)) / 2
        above_mm = max(piece.above_mm + air_mm * piece.above_count for piece in pieces)
        below_mm = max(piece.below_mm + air_mm * (len(piece.bands) - piece.above_count) for piece in pieces)
        ground_mm = HEAD_MM + MARK_MM + (room_mm - above_mm - below_mm) / 2 + above_mm
        for piece in pieces:
            top_mm = ground_mm - piece.above_mm - air_mm * piece.above_count
            placed = _placed_stack(piece, (x_mm, top_mm), spare, wide=wide, air_mm=air_mm)
            stacks.append(placed)
            x_mm = placed.box.right_mm + BETWEEN_MM
    rows = []
    y_mm = room.strip.y_mm
    for row in strip:
        rows.append(_placed_row(row, room.strip.x_mm, y_mm, room.strip.width_mm, spare))
        y_mm += row.height_mm
    return SheetPlan(scale, tuple(stacks), tuple(rows))


def _is_mixed(pieces: list[Piece]) -> bool:
    """Whether one building may be the tallest above the ground and another the deepest below it."""
    return len(pieces) > 1 and any(piece.below_mm for piece in pieces)


def _placed_stack(
    piece: Piece, corner_mm: tuple[float, float], spare: Spare, *, wide: float, air_mm: float
) -> PlacedStack:
    """Place a piece: its zones ``wide`` times as wide as they must be, each band ``air_mm`` taller."""
    stack = piece.stack
    x_mm, y_mm = corner_mm
    height_mm = piece.above_mm + piece.below_mm + air_mm * len(piece.bands)
    columns = []
    at_mm = x_mm + LEVEL_NAMES_MM
    for column in stack.columns:
        left = Box(at_mm + PAD_MM, y_mm, column.left_mm, height_mm)
        shaft = Box(left.right_mm + PAD_MM, y_mm, column.shaft_mm, height_mm)
        right = Box(shaft.right_mm + PAD_MM, y_mm, column.right_mm * wide, height_mm)
        columns.append(PlacedColumn(column, left, shaft, right))
        at_mm = right.right_mm + PAD_MM
    boxes = {}
    top_mm = y_mm
    for i in piece.bands:
        boxes[i] = Box(x_mm, top_mm, at_mm - x_mm, stack.bands[i].height_mm + air_mm)
        top_mm += boxes[i].height_mm
    placed = PlacedStack(stack, piece.bands, Box(x_mm, y_mm, at_mm - x_mm, height_mm), tuple(columns), boxes)
    for i, box in boxes.items():
        for at in placed.columns:
            _fill(placed, stack.bands[i], box, at, spare)
    return placed


def _fill(placed: PlacedStack, band: Band, box: Box, column: PlacedColumn, spare: Spare) -> None:
    slot = band.slots[column.column.key]
    y_mm = box.bottom_mm - PAD_MM - sum(shelf.height_mm for shelf in slot.left)
    for shelf in slot.left:  # against the riser, so that no cable passes over a neighbour
        x_mm = column.left.right_mm - shelf.width_mm
        blocks, _ = _placed_shelf(shelf, x_mm, y_mm, sizes.HOME_PITCH_MM, spare)
        placed.blocks += blocks
        y_mm += shelf.height_mm
    y_mm = box.bottom_mm - PAD_MM - sum(shelf.height_mm for shelf in slot.right)
    per_row = max(1, int((column.column.right_mm + sizes.GAP_MM) // sizes.HOME_PITCH_MM))
    per_row = min(per_row, max((len(shelf.things) for shelf in slot.right if _is_homes(shelf)), default=per_row))
    pitch_mm = min((column.right.width_mm + sizes.GAP_MM) / per_row, _HOME_MAX_MM + sizes.GAP_MM)
    first: list[tuple[frozenset[str], Box]] = []
    for i, shelf in enumerate(slot.right):
        blocks, homes = _placed_shelf(shelf, column.right.x_mm, y_mm, pitch_mm, spare)
        placed.blocks += blocks
        placed.homes += homes
        if i == 0:
            first = [(frozenset(tile.ident for tile in b.block.tiles), b.box) for b in blocks]
            first += [(frozenset((h.home.ident,)), h.box) for h in homes]
        y_mm += shelf.height_mm
    _branch(placed, slot.branches, box.y_mm + PAD_MM + band.crossings_mm, column, first)


def _branch(
    placed: PlacedStack,
    bundles: tuple[Bundle, ...],
    top_mm: float,
    column: PlacedColumn,
    first: list[tuple[frozenset[str], Box]],
) -> None:
    lowest = max((i for i, bundle in enumerate(bundles) if bundle.side == "right"), default=-1)
    for i, bundle in enumerate(bundles):
        y_mm = top_mm + BRANCH_MM * (i + 1) - 0.7
        zone = column.right if bundle.side == "right" else column.left
        text = Box(zone.x_mm, y_mm - 2.2, zone.width_mm, 2.1)
        drops: tuple[tuple[float, float], ...] = ()
        end_mm = zone.right_mm if bundle.side == "right" else zone.x_mm
        if i == lowest:
            drops = tuple((box.x_mm + min(box.width_mm / 2, 8.0), box.y_mm) for fed, box in first if fed & bundle.fed)
            if drops:
                end_mm = max(x for x, _ in drops)
        placed.branches.append(PlacedBranch(bundle, y_mm, text, end_mm, drops))


def _is_homes(shelf: Shelf) -> bool:
    return isinstance(shelf.things[0].what, Home)


def _placed_shelf(
    shelf: Shelf, x_mm: float, y_mm: float, pitch_mm: float, spare: Spare
) -> tuple[list[PlacedBlock], list[PlacedHome]]:
    blocks, homes = [], []
    floor_mm = y_mm + shelf.height_mm - sizes.GAP_MM
    for thing in shelf.things:
        if isinstance(thing.what, Block):
            box = Box(x_mm, floor_mm - thing.height_mm, thing.width_mm, thing.height_mm)
            blocks.append(_placed_block(thing, thing.what, box, spare))
            x_mm += thing.width_mm + sizes.GAP_MM
        else:
            box = Box(x_mm, floor_mm - thing.height_mm, pitch_mm - sizes.GAP_MM, thing.height_mm)
            homes.append(PlacedHome(thing.what, box))
            x_mm += pitch_mm
    return blocks, homes


def _placed_block(thing: Sized, block: Block, box: Box, spare: Spare) -> PlacedBlock:
    pad_mm = sizes.BLOCK_PAD_MM
    y_mm = box.y_mm + sizes.BLOCK_HEAD_MM + pad_mm
    headings, tiles = [], []
    for section in block.sections:
        if section.heading:
            headings.append((section, Box(box.x_mm + pad_mm, y_mm, box.width_mm - 2 * pad_mm, sizes.SECTION_HEAD_MM)))
            y_mm += sizes.SECTION_HEAD_MM
        for row in sizes.tile_rows(section.tiles, thing.columns):
            tall_mm = max(sizes.tile_height_mm(tile, spare) for tile in row)
            for i, tile in enumerate(row):
                x_mm = box.x_mm + pad_mm + i * (sizes.TILE_WIDTH_MM + pad_mm)
                place = Box(x_mm, y_mm, sizes.TILE_WIDTH_MM, tall_mm)
                is_last = i == len(row) - 1
                tiles.append(PlacedTile(tile, place, spare(tile.ident), y_mm + tall_mm, is_last))
            y_mm += tall_mm + pad_mm
    return PlacedBlock(block, box, tuple(headings), tuple(tiles))


def _placed_row(row: StripRow, x_mm: float, y_mm: float, width_mm: float, spare: Spare) -> PlacedRow:
    blocks: list[PlacedBlock] = []
    homes: list[PlacedHome] = []
    if row.shelf is not None:
        blocks, homes = _placed_shelf(row.shelf, x_mm, y_mm, sizes.HOME_PITCH_MM, spare)
    return PlacedRow(row, x_mm, y_mm, width_mm, tuple(blocks), tuple(homes))
