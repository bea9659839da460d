"""How a site is spread over sheets: as few as can be, and on those as large as can be.

Whole buildings stand side by side where they fit; a building too wide is cut between cores, one too tall between
levels. Text is never made smaller than the least legible size to save a sheet.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.model.walk import Walk
from doorwright.render.svg import riser_sizes as sizes
from doorwright.render.svg.geometry import Box, shares
from doorwright.render.svg.riser_bundles import Bundle, bundles_of
from doorwright.render.svg.riser_cables import Cabling
from doorwright.render.svg.riser_contents import Contents, Panel, contents_of
from doorwright.render.svg.riser_layout import (
    BETWEEN_MM,
    HEAD_MM,
    MARK_MM,
    Field,
    Piece,
    SheetPlan,
    fits_beside,
    placed_sheet,
)
from doorwright.render.svg.riser_sizes import Spare
from doorwright.render.svg.riser_stack import LEVEL_NAMES_MM, Cables, Cut, build
from doorwright.render.svg.riser_strip import StripRow, strip_rows
from doorwright.render.svg.sheet import FIELD

_SCALES: Final = (1.5, 1.35, 1.2, 1.1, 1.0)
_PER_ROW: Final = (1, 2, 3, 4, 5, 6, 8, 10, 12, 16, 22)
_STRIP_SHARE: Final = 0.45
"""The part of a sheet that the strip may take beside a section; a longer one has sheets of its own."""


@dataclass(frozen=True, slots=True)
class RiserPlan:
    """The sheets, and what is needed to tell where things are on them."""

    contents: Contents
    cabling: Cabling
    bundles: tuple[Bundle, ...]
    sheets: tuple[SheetPlan, ...]


@dataclass(frozen=True, slots=True)
class _Arrangement:
    """One way of cutting: pages of sections, pages of the strip, and whether the first of each share a sheet."""

    scale: float
    pages: list[list[Piece]]
    strip_pages: list[list[StripRow]]
    room: Field
    shares_first: bool
    spare: Spare

    @property
    def sheets_count(self) -> int:
        return len(self.pages) + len(self.strip_pages) - (1 if self.shares_first else 0)

    @property
    def unevenness(self) -> float:
        """How far the fullest sheet is from using width and height alike."""
        page = max(self.pages, key=lambda page: sum(piece.stack.width_mm for piece in page), default=[])
        if not page:
            return 0.0
        wide = sum(piece.stack.width_mm for piece in page) / self.room.width_mm
        tall = (max(piece.above_mm for piece in page) + max(piece.below_mm for piece in page)) / self.room.height_mm
        return abs(wide - tall)


def plan(walk: Walk) -> RiserPlan:
    """Choose the sheets of a site's riser drawing and place everything on them."""
    cabling = Cabling(walk)
    contents = contents_of(walk, cabling)
    bundles = bundles_of(contents, cabling)
    finder = _Finder(contents, Cables(bundles, tuple(cabling.uplinks)))
    fewest = min(found.sheets_count for found in finder.arrangements(1.0))
    chosen = next(
        min(same, key=lambda found: (not found.shares_first, found.unevenness))
        for scale in _SCALES
        if (same := [found for found in finder.arrangements(scale) if found.sheets_count == fewest])
    )
    whole = finder.whole(chosen.scale)
    sheets = [(page, list[StripRow](), chosen.room) for page in chosen.pages]
    strips = list(chosen.strip_pages)
    if chosen.shares_first:
        sheets[0] = (chosen.pages[0], strips.pop(0), chosen.room)
    sheets += [([], rows, whole) for rows in strips]
    placed = (placed_sheet(page, rows, chosen.scale, room, chosen.spare) for page, rows, room in sheets)
    return RiserPlan(contents, cabling, bundles, tuple(placed) or (SheetPlan(1.0, (), ()),))


class _Finder:
    def __init__(self, contents: Contents, cables: Cables) -> None:
        self.contents = contents
        self.cables = cables
        self.off_section: set[str] = set()
        self.off_column: set[str] = set()
        for bundle in cables.bundles:
            for feeder in bundle.feeders:
                home = contents.spots.get(feeder)
                if home is None or bundle.spot is None or bundle.spot.building != home.building:
                    self.off_section.add(feeder)
                elif bundle.spot.column != home.column:
                    self.off_column.add(feeder)

    def whole(self, scale: float) -> Field:
        """The field of a sheet without a strip, or of one with nothing else."""
        width_mm, height_mm = FIELD.width_mm / scale, FIELD.height_mm / scale
        return Field(width_mm, height_mm, Box(0.0, 0.0, width_mm, height_mm))

    def arrangements(self, scale: float) -> Iterator[_Arrangement]:
        """Every way of cutting that is tried at one scale."""
        whole = self.whole(scale)
        rows = strip_rows(self.contents.strip, whole.width_mm, self._spare_all)
        heights_mm = [row.height_mm for row in rows]
        apart = [rows[part.start : part.stop] for part in shares(heights_mm, whole.height_mm)]
        rooms = [(whole, apart, False), *((room, [part], True) for room, part in self._shared(whole, rows))]
        for room, strip_pages, shares_first in rooms:
            for per_row, tiles_across in self._tries():
                pages, spare = self._pages(per_row, tiles_across, room)
                if all(fits_beside(page, room.width_mm, room.height_mm) for page in pages) and (
                    pages or not shares_first
                ):
                    yield _Arrangement(scale, pages, strip_pages, room, shares_first, spare)

    def _tries(self) -> Iterator[tuple[int, int]]:
        most = max((len(cell.homes) for panel in self.contents.panels for cell in panel.cells.values()), default=1)
        enough = next((per_row for per_row in _PER_ROW if per_row >= most), _PER_ROW[-1])
        return ((per_row, across) for per_row in _PER_ROW if per_row <= enough for across in (1, 2, 4))

    def _shared(self, whole: Field, rows: list[StripRow]) -> Iterator[tuple[Field, list[StripRow]]]:
        """The ways in which the strip can share the first sheet: below the section, or beside it on the ground."""
        if not rows:
            return
        tall_mm = sum(row.height_mm for row in rows)
        if tall_mm <= _STRIP_SHARE * whole.height_mm:
            below = Box(0.0, whole.height_mm - tall_mm, whole.width_mm, tall_mm)
            yield Field(whole.width_mm, below.y_mm, below), rows
        for across in (1, 2):
            wide_mm = across * (sizes.TILE_WIDTH_MM + sizes.BLOCK_PAD_MM) + sizes.BLOCK_PAD_MM
            beside = strip_rows(self.contents.strip, wide_mm, self._spare_all)
            tall_mm = sum(row.height_mm for row in beside)
            if tall_mm <= whole.height_mm - MARK_MM:
                width_mm = whole.width_mm - wide_mm - BETWEEN_MM
                box = Box(width_mm + BETWEEN_MM, whole.height_mm - tall_mm - MARK_MM, wide_mm, tall_mm)
                yield Field(width_mm, whole.height_mm, box), beside

    def _spare_few(self, part: str) -> bool:
        return part in self.off_section

    def _spare_all(self, part: str) -> bool:
        return part in self.off_section or part in self.off_column

    def _pages(self, per_row: int, tiles_across: int, room: Field) -> tuple[list[list[Piece]], Spare]:
        for spare in (self._spare_few, self._spare_all):
            # crossings and branch lines above the things in a band want up to 87 mm of the 220 mm of a whole sheet
            band_mm = max((room.height_mm - HEAD_MM - 2 * MARK_MM) * 0.59, sizes.BLOCK_MAX_MM)
            cut = Cut(per_row, tiles_across, room.width_mm, band_mm, spare)
            pages: list[list[Piece]] = []
            cut_between_cores = False
            for panel in self.contents.panels:
                pieces = self._pieces(panel, cut, room)
                cut_between_cores |= any(len(piece.stack.columns) < len(panel.columns) for piece in pieces)
                if len(pieces) == 1 and pages and self._joins(pages[-1], pieces[0], room):
                    pages[-1].append(pieces[0])
                else:
                    pages += [[piece] for piece in pieces]
            if not cut_between_cores:
                break
        return pages, spare

    def _joins(self, page: list[Piece], piece: Piece, room: Field) -> bool:
        whole = all(len(other.bands) == len(other.stack.bands) for other in page)
        return whole and fits_beside([*page, piece], room.width_mm, room.height_mm)

    def _pieces(self, panel: Panel, cut: Cut, room: Field) -> list[Piece]:
        keys = tuple(key for key, _ in panel.columns)
        whole = build(panel, keys, self.contents, self.cables, cut)
        pieces = []
        groups = shares([column.width_mm for column in whole.columns], room.width_mm - LEVEL_NAMES_MM)
        tall_mm = room.height_mm - HEAD_MM - 2 * MARK_MM
        for group in groups:
            stack = whole
            if len(groups) > 1:
                mine = keys[group.start : group.stop]
                stack = build(panel, mine, self.contents, self.cables, cut)
            pieces += [Piece(stack, bands) for bands in shares([band.height_mm for band in stack.bands], tall_mm)]
        return pieces
