"""How large the boxes of the riser drawing are, and how blocks are divided that would not fit a sheet. Millimetres."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from typing import Final

from doorwright.render.svg.riser_contents import Block, Home, Section, Tile

LABEL_MM: Final = 2.1
SMALL_MM: Final = 1.9
ROW_MM: Final = 2.6
GAP_MM: Final = 1.0

HOME_WIDTH_MM: Final = 15.5
HOME_HEIGHT_MM: Final = 7.0
HOME_PITCH_MM: Final = HOME_WIDTH_MM + GAP_MM

TILE_WIDTH_MM: Final = 37.0
TILE_TEXT_MM: Final = 5.6
BLOCK_PAD_MM: Final = 0.9
BLOCK_HEAD_MM: Final = 3.4
SECTION_HEAD_MM: Final = 3.2
BLOCK_MAX_MM: Final = 100.0

Spare = Callable[[str], bool]
"""Says whether the tile of a part keeps a line free for cables that leave the sheet."""


@dataclass(frozen=True, slots=True)
class Sized:
    """A block or dwelling with the room it takes; ``columns`` is how many tiles a block has side by side."""

    what: Block | Home
    width_mm: float
    height_mm: float
    columns: int = 1


@dataclass(frozen=True, slots=True)
class Shelf:
    """Things side by side."""

    things: tuple[Sized, ...]

    @property
    def height_mm(self) -> float:
        """Its tallest thing and the gap below."""
        return max(thing.height_mm for thing in self.things) + GAP_MM

    @property
    def width_mm(self) -> float:
        """The width of all it holds."""
        return sum(thing.width_mm + GAP_MM for thing in self.things) - GAP_MM


def tile_height_mm(tile: Tile, spare: Spare) -> float:
    """Return the height of a tile: its name, its lines, its uplinks, and one line to spare if it needs it."""
    rows = 1 + len(tile.lines) + len(tile.links) + (1 if spare(tile.ident) else 0)
    return max(4.6, 1.4 + ROW_MM * rows)


def tile_rows(tiles: tuple[Tile, ...], columns: int) -> list[tuple[Tile, ...]]:
    """Return the tiles row by row."""
    return [tiles[i : i + columns] for i in range(0, len(tiles), columns)]


def sized_block(block: Block, columns: int, spare: Spare) -> Sized:
    """Return a block with its tiles in so many columns."""
    columns = max(1, min(columns, max((len(section.tiles) for section in block.sections), default=1)))
    height_mm = BLOCK_HEAD_MM + BLOCK_PAD_MM
    for section in block.sections:
        height_mm += SECTION_HEAD_MM if section.heading else 0.0
        for row in tile_rows(section.tiles, columns):
            height_mm += max(tile_height_mm(tile, spare) for tile in row) + BLOCK_PAD_MM
    width_mm = columns * TILE_WIDTH_MM + (columns + 1) * BLOCK_PAD_MM
    return Sized(block, width_mm, height_mm, columns)


def sized_home(home: Home, width_mm: float = HOME_WIDTH_MM) -> Sized:
    """Return a dwelling's box."""
    return Sized(home, width_mm, HOME_HEIGHT_MM)


def divided(block: Block, columns: int, spare: Spare) -> list[Block]:
    """Return the block, or several of its name, none much taller than ``BLOCK_MAX_MM``."""
    if sized_block(block, columns, spare).height_mm <= BLOCK_MAX_MM:
        return [block]
    pieces: list[list[Section]] = [[]]
    filled_mm = 0.0
    for section in block.sections:
        first = True
        for row in tile_rows(section.tiles, columns) or [()]:
            tall_mm = max((tile_height_mm(tile, spare) for tile in row), default=0.0) + BLOCK_PAD_MM
            tall_mm += SECTION_HEAD_MM if section.heading and first else 0.0
            if pieces[-1] and filled_mm + tall_mm > BLOCK_MAX_MM - BLOCK_HEAD_MM - 2 * SECTION_HEAD_MM:
                pieces.append([])
                filled_mm = 0.0
            _append(pieces[-1], section, row, first=first)
            filled_mm += tall_mm
            first = False
    return [
        replace(
            block,
            heading=f"{block.heading} ({i + 1} of {len(pieces)})",
            part=block.part if i == 0 else "",
            sections=tuple(sections),
        )
        for i, sections in enumerate(pieces)
    ]


def _append(sections: list[Section], section: Section, row: tuple[Tile, ...], *, first: bool) -> None:
    if not first and sections and sections[-1].title == section.title:
        sections[-1] = replace(sections[-1], tiles=sections[-1].tiles + row)
    elif first:
        sections.append(replace(section, tiles=row))
    else:
        heading = f"{section.heading}, continued" if section.heading else ""
        sections.append(replace(section, heading=heading, part="", tiles=row))


def shelved(things: Iterable[Sized], room_mm: float) -> list[Shelf]:
    """Set things side by side from the left, on as many shelves as they need."""
    shelves: list[list[Sized]] = []
    used_mm = 0.0
    for thing in things:
        if not shelves or used_mm + thing.width_mm > room_mm + 1e-9:
            shelves.append([])
            used_mm = 0.0
        shelves[-1].append(thing)
        used_mm += thing.width_mm + GAP_MM
    return [Shelf(tuple(shelf)) for shelf in shelves]
