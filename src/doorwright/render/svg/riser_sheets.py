"""How a site is spread over sheets: as few as can be, and on those as large as can be.

Whole buildings stand side by side where they fit; a building too wide is cut between cores, one too tall between
levels. Text is never made smaller than the least legible size to save a sheet.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.render.svg import riser_sizes as sizes
from doorwright.render.svg.geometry import shares
from doorwright.render.svg.riser_bundles import Bundle, bundles_of
from doorwright.render.svg.riser_cables import Cabling
from doorwright.render.svg.riser_contents import Contents, Panel, contents_of
from doorwright.render.svg.riser_layout import HEAD_MM, MARK_MM, Piece, SheetPlan, fits_beside, placed_sheet
from doorwright.render.svg.riser_sizes import Spare
from doorwright.render.svg.riser_stack import LEVEL_NAMES_MM, Cut, build
from doorwright.render.svg.riser_strip import StripRow, strip_rows
from doorwright.render.svg.sheet import FIELD
from doorwright.model.walk import Walk

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
    scale: float
    per_row: int
    pages: list[list[Piece]]
    strip_pages: list[list[StripRow]]
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
        wide = sum(piece.stack.width_mm for piece in page) / FIELD.width_mm
        tall = (max(piece.above_mm for piece in page) + max(piece.below_mm for piece in page)) / FIELD.height_mm
        return abs(wide - tall)


def plan(walk: Walk) -> RiserPlan:
    """Choose the sheets of a site's riser drawing and place everything on them."""
    cabling = Cabling(walk)
    contents = contents_of(walk, cabling)
    bundles = bundles_of(contents, cabling)
    finder = _Finder(contents, cabling, bundles)
    fewest = min(finder.arrangements(1.0), key=lambda found: found.sheets_count).sheets_count
    chosen = next(
        min(same, key=lambda found: (not found.shares_first, found.unevenness))
        for scale in _SCALES
        if (same := [found for found in finder.arrangements(scale) if found.sheets_count == fewest])
    )
    width_mm, height_mm = FIELD.width_mm / chosen.scale, FIELD.height_mm / chosen.scale
    sheets: list[tuple[list[Piece], list[StripRow]]] = [(page, []) for page in chosen.pages]
    strips = list(chosen.strip_pages)
    if chosen.shares_first:
        sheets[0] = (sheets[0][0], strips.pop(0))
    sheets += [([], rows) for rows in strips]
    placed = (placed_sheet(page, rows, chosen.scale, width_mm, height_mm, chosen.spare) for page, rows in sheets)
    return RiserPlan(contents, cabling, bundles, tuple(placed) or (SheetPlan(1.0, (), ()),))


class _Finder:
    def __init__(self, contents: Contents, cabling: Cabling, bundles: tuple[Bundle, ...]) -> None:
        self.contents = contents
        self.cabling = cabling
        self.bundles = bundles
        self.off_section: set[str] = set()
        self.off_column: set[str] = set()
        for bundle in bundles:
            for feeder in bundle.feeders:
                home = contents.spots.get(feeder)
                if home is None or bundle.spot is None or bundle.spot.building != home.building:
                    self.off_section.add(feeder)
                elif bundle.spot.column != home.column:
                    self.off_column.add(feeder)

    def arrangements(self, scale: float) -> Iterator[_Arrangement]:
        """Every way of cutting that is tried at one scale."""
        width_mm, height_mm = FIELD.width_mm / scale, FIELD.height_mm / scale
        most = max((len(cell.homes) for panel in self.contents.panels for cell in panel.cells.values()), default=1)
        rows = strip_rows(self.contents.strip, width_mm, self._spare_all)
        strip_mm = sum(row.height_mm for row in rows)
        strip_pages = [rows[part.start : part.stop] for part in shares([row.height_mm for row in rows], height_mm)]
        for per_row in _PER_ROW:
            pages, spare = self._pages(per_row, width_mm, height_mm)
            if _fit(pages, width_mm, height_mm):
                yield _Arrangement(scale, per_row, pages, strip_pages, shares_first=False, spare=spare)
            if rows and pages and strip_mm <= _STRIP_SHARE * height_mm:
                pages, spare = self._pages(per_row, width_mm, height_mm - strip_mm)
                if _fit(pages, width_mm, height_mm - strip_mm):
                    yield _Arrangement(scale, per_row, pages, [rows], shares_first=True, spare=spare)
            if per_row >= most:
                return

    def _spare_few(self, part: str) -> bool:
        return part in self.off_section

    def _spare_all(self, part: str) -> bool:
        return part in self.off_section or part in self.off_column

    def _pages(self, per_row: int, width_mm: float, height_mm: float) -> tuple[list[list[Piece]], Spare]:
        for spare in (self._spare_few, self._spare_all):
            pages: list[list[Piece]] = []
            cut_between_cores = False
            for panel in self.contents.panels:
                groups = self._groups(panel, per_row, width_mm, height_mm, spare)
                cut_between_cores |= len({piece.stack.columns[0].key for piece in groups}) > 1
                if len(groups) == 1 and pages and self._joins(pages[-1], groups[0], width_mm, height_mm):
                    pages[-1].append(groups[0])
                else:
                    pages += [[piece] for piece in groups]
            if not cut_between_cores:
                break
        return pages, spare

    def _joins(self, page: list[Piece], piece: Piece, width_mm: float, height_mm: float) -> bool:
        whole = all(len(other.bands) == len(other.stack.bands) for other in page)
        return whole and fits_beside([*page, piece], width_mm, height_mm)

    def _groups(self, panel: Panel, per_row: int, width_mm: float, height_mm: float, spare: Spare) -> list[Piece]:
        room_mm = height_mm - HEAD_MM - 2 * MARK_MM
        # crossings and branch lines above the things in a band want up to 87 mm of the 220 mm of a whole sheet
        cut = Cut(per_row, width_mm, max(room_mm * 0.59, sizes.BLOCK_MAX_MM), spare)
        keys = tuple(key for key, _ in panel.columns)
        whole = build(panel, keys, self.contents, self.cabling, self.bundles, cut)
        pieces = []
        groups = shares([column.width_mm for column in whole.columns], width_mm - LEVEL_NAMES_MM)
        for group in groups:
            stack = whole
            if len(groups) > 1:
                mine = keys[group.start : group.stop]
                stack = build(panel, mine, self.contents, self.cabling, self.bundles, cut)
            pieces += [Piece(stack, bands) for bands in shares([band.height_mm for band in stack.bands], room_mm)]
        return pieces


def _fit(pages: list[list[Piece]], width_mm: float, height_mm: float) -> bool:
    return all(fits_beside(page, width_mm, height_mm) for page in pages)
