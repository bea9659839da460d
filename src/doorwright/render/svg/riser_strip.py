"""The strip below the sections: what stands outdoors, what is not placed yet, and what could not be drawn."""

from dataclasses import dataclass

from doorwright.render.svg import lettering
from doorwright.render.svg import riser_sizes as sizes
from doorwright.render.svg.riser_contents import Block, Strip
from doorwright.render.svg.riser_sizes import Shelf, Spare


@dataclass(frozen=True, slots=True)
class StripRow:
    """A heading, a line of a note, or a shelf of things."""

    height_mm: float
    heading: str = ""
    note: str = ""
    shelf: Shelf | None = None


def strip_rows(strip: Strip, width_mm: float, spare: Spare) -> list[StripRow]:
    """Return the rows of the strip for a field of this width; none where there is nothing to show."""
    rows: list[StripRow] = []
    if strip.outdoors:
        rows.append(StripRow(6.5, heading="Outdoors"))
        rows += _shelves(strip.outdoors, width_mm, spare)
    if strip.unplaced or strip.homes:
        rows.append(StripRow(6.5, heading="Not placed yet"))
        rows += _shelves(strip.unplaced, width_mm, spare)
        homes = sizes.shelved((sizes.sized_home(home) for home in strip.homes), width_mm)
        rows += [StripRow(shelf.height_mm, shelf=shelf) for shelf in homes]
    if strip.notes:
        rows.append(StripRow(6.5, heading="Not drawn"))
        rows += [StripRow(3.2, note=line) for note in strip.notes for line in _wrapped(note, width_mm - 2)]
    return rows


def _shelves(blocks: list[Block], width_mm: float, spare: Spare) -> list[StripRow]:
    sized = []
    for block in blocks:
        count = len(block.tiles)
        columns = 1 if count <= 2 else 2 if count <= 6 else 4 if count <= 24 else 9
        columns = min(columns, int((width_mm - sizes.BLOCK_PAD_MM) // (sizes.TILE_WIDTH_MM + sizes.BLOCK_PAD_MM)))
        sized += [sizes.sized_block(piece, columns, spare) for piece in sizes.divided(block, columns, spare)]
    return [StripRow(shelf.height_mm, shelf=shelf) for shelf in sizes.shelved(sized, width_mm)]


def _wrapped(text: str, room_mm: float) -> list[str]:
    lines = [""]
    for word in lettering.clean(text).split(" "):
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and lettering.width_mm(longer, 2.0) > room_mm:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines
