"""The riser drawing: the building in section with its units, doors, cupboards and cables, drawn from its layout."""

from collections.abc import Callable
from typing import Final

from doorwright.model.naming import titled
from doorwright.model.place import Building
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.render.svg import riser_sizes as sizes
from doorwright.render.svg import sheet, symbols
from doorwright.render.svg.canvas import BOLD, FINE, GREY, HAIR, HEAVY, INK, LINE, PALE, PAPER, WASH, Canvas, Pen
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.lettering import width_mm
from doorwright.render.svg.riser_contents import Home
from doorwright.render.svg.riser_layout import (
    HEAD_MM,
    PlacedBlock,
    PlacedBranch,
    PlacedColumn,
    PlacedHome,
    PlacedRow,
    PlacedStack,
    PlacedTile,
    SheetPlan,
)
from doorwright.render.svg.riser_lines import NetLines, net_lines, trunk_mm
from doorwright.render.svg.riser_sheets import RiserPlan, plan
from doorwright.render.svg.riser_stack import LEVEL_NAMES_MM
from doorwright.render.svg.riser_words import Wheres
from doorwright.render.svg.sheet import Drawing, Entry, Numbering
from doorwright.render.svg.symbols import Sign

_PEN: Final = {"data": symbols.DATA, "power": symbols.POWER, "uplink": symbols.UPLINK}
_HOME_SIGNS_MAX: Final = 2
_SLAB: Final = Pen(0.35)


def riser(walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw the building in section, on as many A3 sheets as it needs to stay legible.

    Args:
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    planned = plan(walk)
    site = walk.settings()
    numbering = Numbering("Riser drawing", "riser", revision, on, len(planned.sheets))
    wheres = Wheres(planned)
    return tuple(_sheet(planned, i, site, numbering, wheres) for i in range(len(planned.sheets)))


def _sheet(planned: RiserPlan, index: int, site: Site, numbering: Numbering, wheres: Wheres) -> Drawing:
    one = planned.sheets[index]
    canvas = Canvas()
    field = canvas.view(sheet.FIELD.x_mm, sheet.FIELD.y_mm, one.scale)
    for placed in one.stacks:
        _Section(field, placed, planned, wheres).draw()
    for row in one.strip:
        _strip_row(field, row, wheres)
    if not one.stacks and not one.strip:
        field.text(2, 8, "Nothing to draw yet: the site has no levels, dwellings or units.", room_mm=300, size_mm=4)
    return sheet.finish(canvas, site, numbering, sheet=index + 1, shows=_shows(one), legend=_legend())


def _shows(one: SheetPlan) -> str:
    said = []
    for placed in one.stacks:
        levels = [placed.stack.bands[i].level.name for i in placed.bands]
        cores = [column.column.name for column in placed.columns]
        span = levels[0] if len(set(levels)) == 1 else f"{levels[-1]} to {levels[0]}"
        building = f"{placed.stack.panel.name}: " if placed.stack.panel.name else ""
        said.append(f"{building}{', '.join(cores)}; {span}.")
    if one.strip:
        headings = [row.row.heading.lower() for row in one.strip if row.row.heading]
        said.append(f"Also: {', '.join(headings)}." if headings else "Also: continued.")
    return " ".join(said) or "An empty site."


def _legend() -> tuple[Entry, ...]:
    def line(pen: Pen) -> Entry:
        words = {
            symbols.DATA: "cables from a switch, bundled: count × kind, longest",
            symbols.UPLINK: "uplink between two switches",
            symbols.POWER: "power from a supply",
        }[pen]
        return Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=pen), words)

    def elsewhere(canvas: Canvas) -> None:
        canvas.disc(2, 1.7, 0.6, fill=PAPER)
        canvas.line((2.6, 1.7), (10, 1.7), pen=symbols.DATA)

    def home(canvas: Canvas) -> None:
        canvas.box(Box(0.5, 0.1, 9, 3.3), pen=LINE, fill=PAPER)
        canvas.text(1.2, 2.5, "door", room_mm=8, size_mm=1.9, bold=True)

    def number(canvas: Canvas) -> None:
        canvas.text(2.0, 2.5, "123", room_mm=8, size_mm=1.9)
        symbols.draw(canvas, Sign.URU, 6.2, 0.0)

    return (
        sheet.sign_entry(Sign.VCU),
        sheet.sign_entry(Sign.URU),
        sheet.sign_entry(Sign.SMU),
        sheet.sign_entry(Sign.SWITCH),
        sheet.sign_entry(Sign.SUPPLY),
        sheet.sign_entry(Sign.FAIL_SAFE),
        sheet.sign_entry(Sign.FAIL_SECURE),
        sheet.sign_entry(Sign.LOCK_UNKNOWN),
        Entry(home, "dwelling: door label; below it"),
        Entry(number, "call number (– none yet), its URUs"),
        line(symbols.DATA),
        line(symbols.UPLINK),
        line(symbols.POWER),
        Entry(elsewhere, "comes from or goes to elsewhere, as told beside it"),
    )


class _Section:
    """Draws one stack on a sheet."""

    def __init__(self, canvas: Canvas, placed: PlacedStack, planned: RiserPlan, wheres: Wheres) -> None:
        self.canvas = canvas
        self.placed = placed
        self.planned = planned
        self.wheres = wheres

    def draw(self) -> None:
        with self.canvas.group(f"Section through {titled(Building.KIND, self.placed.stack.panel.name)}"):
            self._shell()
            self._head()
            for block in self.placed.blocks:
                _block(self.canvas, block, self._rows)
                self._stubs(block)
            for lines in net_lines(self.placed):  # over the blocks: some cables run between the tiles of one
                _net(self.canvas, lines)
            columns = {column.column.key: column for column in self.placed.columns}
            for branch in self.placed.branches:
                assert branch.bundle.spot is not None  # noqa: S101  (a branch is placed at its spot)
                self._branch(branch, columns[branch.bundle.spot.column])
            for home in self.placed.homes:
                _home(self.canvas, home)
            self._marks()

    def _shell(self) -> None:
        placed, canvas = self.placed, self.canvas
        box = placed.box
        walls_mm = box.x_mm + LEVEL_NAMES_MM
        for column in placed.columns:
            canvas.box(column.shaft, pen=None, fill=WASH)
            for x_mm in (column.shaft.x_mm, column.shaft.right_mm):
                canvas.line((x_mm, box.y_mm), (x_mm, box.bottom_mm), pen=FINE)
            edge_mm = column.right.right_mm + 1.4
            canvas.line((edge_mm, box.y_mm), (edge_mm, box.bottom_mm), pen=FINE)
        canvas.line((walls_mm, box.y_mm), (walls_mm, box.bottom_mm), pen=BOLD)
        canvas.line((box.right_mm, box.y_mm), (box.right_mm, box.bottom_mm), pen=BOLD)
        if placed.bands.start == 0:
            canvas.line((walls_mm - 2, box.y_mm), (box.right_mm, box.y_mm), pen=BOLD)
        for i, band_box in placed.band_boxes.items():
            band = placed.stack.bands[i]
            room_mm = LEVEL_NAMES_MM - 3
            if band.part == 0 or i == placed.bands.start:
                name = band.level.name if band.part == 0 else f"{band.level.name}, continued"
                self.canvas.text(band_box.x_mm, band_box.bottom_mm - 4.2, name, room_mm=room_mm, size_mm=2.6, bold=True)
                if band.level.height_m is not None:
                    height = f"{band.level.height_m:+.2f} m" if band.level.height_m else "±0.00 m"
                    canvas.text(
                        band_box.x_mm, band_box.bottom_mm - 1.3, height, room_mm=room_mm, size_mm=1.9, colour=GREY
                    )
            last = band.part == band.parts - 1
            self._floor(band_box, walls_mm, is_slab=last, is_ground=last and self._is_ground(i))

    def _is_ground(self, index: int) -> bool:
        bands = self.placed.stack.bands
        below = bands[index + 1].level.order if index + 1 < len(bands) else -1
        return bands[index].level.order >= 0 > below

    def _floor(self, box: Box, walls_mm: float, *, is_slab: bool, is_ground: bool) -> None:
        y_mm = box.bottom_mm
        if not is_slab:
            self.canvas.line((walls_mm, y_mm), (box.right_mm, y_mm), pen=Pen(0.2, GREY, (0.6, 1.2)))
            return
        self.canvas.line((box.x_mm, y_mm), (walls_mm, y_mm), pen=HAIR)
        self.canvas.line((walls_mm, y_mm), (box.right_mm, y_mm), pen=HEAVY if is_ground else _SLAB)
        if is_ground:  # the ground outside, hatched as in any section
            for start_mm, end_mm in ((walls_mm - 4.5, walls_mm), (box.right_mm, box.right_mm + 1.8)):
                self.canvas.line((start_mm, y_mm), (end_mm, y_mm), pen=HEAVY)
                x_mm = start_mm + 0.9
                while x_mm <= end_mm + 0.01:
                    self.canvas.line((x_mm, y_mm), (x_mm - 0.9, y_mm + 1.1), pen=FINE)
                    x_mm += 0.9

    def _head(self) -> None:
        box, canvas = self.placed.box, self.canvas
        top_mm = box.y_mm - HEAD_MM - 3.2
        room_mm = box.width_mm - 1
        canvas.text(box.x_mm, top_mm + 4.2, self.placed.stack.panel.name, room_mm=room_mm, size_mm=3.6, bold=True)
        for column in self.placed.columns:
            start_mm = column.left.x_mm
            room_mm = column.right.right_mm - start_mm
            name = column.column.name
            canvas.text(start_mm, top_mm + 9.6, name, room_mm=room_mm, size_mm=2.8, bold=True)

    def _marks(self) -> None:
        """Say at the cuts on which sheets the section goes on."""
        placed = self.placed
        panel = placed.stack.panel
        bands = placed.stack.bands
        above, below = (placed.bands.start - 1, placed.box.y_mm - 1.0), (placed.bands.stop, placed.box.bottom_mm + 3.4)
        for index, y_mm in (above, below):
            if not 0 <= index < len(bands):
                continue
            level = bands[index].level
            other = self.wheres.of_band(placed, index)
            words = f"{level.name} continues on sheet {other}"
            if placed.columns:
                x_mm = placed.columns[0].shaft.right_mm + 2
                self.canvas.text(x_mm, y_mm, words, room_mm=placed.box.right_mm - x_mm, size_mm=2.1, colour=GREY)
        others = sorted(
            {
                number
                for key, _ in panel.columns
                if key not in {column.column.key for column in placed.columns}
                for band in placed.bands
                if (number := self.wheres.of_cell(panel.building, key, bands[band].level.id))
            }
        )
        if others:
            whose = f" of {panel.name}" if panel.name else ""
            sheets = f"sheet{'s' if len(others) > 1 else ''} {', '.join(map(str, others))}"
            words = f"Other cores{whose} continue on {sheets}"
            x_mm = placed.box.right_mm - 1
            room_mm = placed.box.width_mm * 0.45
            self.canvas.text(
                x_mm, placed.box.bottom_mm + 3.4, words, room_mm=room_mm, size_mm=2.1, colour=GREY, anchor="end"
            )

    def _branch(self, branch: PlacedBranch, column: PlacedColumn) -> None:
        bundle = branch.bundle
        pen = symbols.POWER if bundle.is_power else symbols.DATA
        start_mm = trunk_mm(column, bundle.feeders)
        name = bundle.feeder_name
        with self.canvas.group(bundle.title):
            if start_mm is None:
                start_mm = column.shaft.right_mm - 1.4 if bundle.side == "right" else column.shaft.x_mm + 1.4
                self.canvas.disc(start_mm, branch.y_mm, 0.6, fill=PAPER)
                start_mm += 0.6 if bundle.side == "right" else -0.6
                name = f"{name} ({self.wheres.of_part(bundle.feeders[0])})"
            self.canvas.line((start_mm, branch.y_mm), (branch.end_mm, branch.y_mm), pen=pen)
            for x_mm, y_mm in branch.drops:
                self.canvas.line((x_mm, branch.y_mm), (x_mm, y_mm), pen=pen)
            if not branch.drops:
                way = 1 if bundle.side == "right" else -1
                end = (branch.end_mm, branch.y_mm)
                tips = ((end[0] - 1.3 * way, end[1] - 0.45), (end[0] - 1.3 * way, end[1] + 0.45))
                self.canvas.area(end, *tips, pen=None, fill=INK)
            room_mm = branch.text.width_mm - 0.5
            words = f"{name}: {bundle.words}"
            if width_mm(words, sizes.SMALL_MM) > room_mm:
                words = f"{name}: {bundle.short_words}"
            self.canvas.text(branch.text.x_mm, branch.y_mm - 0.65, words, room_mm=room_mm, size_mm=sizes.SMALL_MM)

    def _rows(self, tile: PlacedTile) -> list[str]:
        return self.wheres.rows_of(tile, self.placed)

    def _stubs(self, block: PlacedBlock) -> None:
        """Draw the beginnings of uplinks whose other end stands elsewhere."""
        told = {net.key for net in self.placed.stack.nets}
        told |= {("uplink", link.ident) for link in self.planned.cabling.uplinks if link.is_patch}
        for tile in block.tiles:
            for link in tile.tile.links:
                if ("uplink", link) not in told and tile.is_last_in_row:
                    y_mm = tile.stop_mm(link)
                    end_mm = block.box.right_mm + 2.2
                    self.canvas.line((tile.box.right_mm, y_mm), (end_mm, y_mm), pen=symbols.UPLINK)
                    self.canvas.disc(end_mm + 0.6, y_mm, 0.6, fill=PAPER)


def _net(canvas: Canvas, lines: NetLines) -> None:
    pen = _PEN[lines.net.style]
    with canvas.group(lines.net.title):
        for points in lines.lines:
            canvas.line(*points, pen=pen)
        for x_mm, y_mm in lines.junctions:
            canvas.disc(x_mm, y_mm, 0.5, pen=None, fill=pen.colour)
        for (x_mm, y_mm), way in lines.arrows:
            back_mm = y_mm - 1.2 * way
            canvas.area((x_mm, y_mm), (x_mm - 0.5, back_mm), (x_mm + 0.5, back_mm), pen=None, fill=pen.colour)


def _home(canvas: Canvas, placed: PlacedHome) -> None:
    home, box = placed.home, placed.box
    with canvas.group(home.title, part=home.part):
        canvas.box(box, pen=LINE, fill=PAPER)
        room_mm = box.width_mm - 1.6
        canvas.text(box.x_mm + 0.8, box.y_mm + 2.7, home.label, room_mm=room_mm, size_mm=sizes.LABEL_MM, bold=True)
        signs_mm = _home_signs(canvas, home, box)
        room_mm = box.width_mm - 1.6 - signs_mm
        canvas.text(box.x_mm + 0.8, box.y_mm + 5.9, home.number, room_mm=room_mm, size_mm=sizes.SMALL_MM)


def _home_signs(canvas: Canvas, home: Home, box: Box) -> float:
    """Draw the URUs at the right, or one and their count where they are many, and return the room they took."""
    count = len(home.units)
    shown = count if count <= _HOME_SIGNS_MAX else 1
    x_mm = box.right_mm - 0.5
    for i, (part, title) in enumerate(home.units):
        with canvas.group(title, part=part):
            if i < shown:
                x_mm -= 3.5
                symbols.draw(canvas, Sign.URU, x_mm, box.y_mm + 3.3)
    if count > shown:
        x_mm -= 0.2
        canvas.text(x_mm, box.y_mm + 5.9, f"{count}×", room_mm=4.2, size_mm=sizes.SMALL_MM, anchor="end")
        x_mm -= 3.4
    return box.right_mm - x_mm


def _block(canvas: Canvas, placed: PlacedBlock, rows: Callable[[PlacedTile], list[str]]) -> None:
    block, box = placed.block, placed.box
    with canvas.group(block.title, part=block.part):
        canvas.box(box, pen=Pen(0.2, GREY), fill=PAPER)
        y_mm = box.y_mm + 2.9
        canvas.text(box.x_mm + 1, y_mm, block.heading, room_mm=box.width_mm - 2, size_mm=sizes.SMALL_MM, colour=GREY)
        for section, heading in placed.headings:
            with canvas.group(section.title, part=section.part):
                canvas.text(
                    heading.x_mm, heading.y_mm + 2.3, section.heading, room_mm=heading.width_mm, size_mm=2.1, bold=True
                )
        for tile in placed.tiles:
            _tile(canvas, tile, rows(tile))


def _tile(canvas: Canvas, placed: PlacedTile, rows: list[str]) -> None:
    tile, box = placed.tile, placed.box
    with canvas.group(tile.title, part=tile.part):
        canvas.box(box, pen=Pen(0.2, PALE), fill=PAPER)
        symbols.draw(canvas, tile.sign, box.x_mm + 0.8, box.y_mm + 0.7)
        x_mm = box.x_mm + sizes.TILE_TEXT_MM
        room_mm = box.right_mm - x_mm - 0.6
        canvas.text(x_mm, box.y_mm + placed.baseline_mm(0), tile.name, room_mm=room_mm, size_mm=2.1, bold=True)
        for i, text in enumerate((*tile.lines, *rows)):
            y_mm = box.y_mm + placed.baseline_mm(i + 1)
            if i == len(tile.lines):  # what is said of cables has the whole width, below the symbol
                room_mm, x_mm = box.width_mm - 1.4, box.x_mm + 0.9
            canvas.text(x_mm, y_mm, text, room_mm=room_mm, size_mm=sizes.SMALL_MM)


def _strip_row(canvas: Canvas, placed: PlacedRow, wheres: Wheres) -> None:
    row, x_mm, width_mm = placed.row, placed.x_mm, placed.width_mm
    if row.heading:
        canvas.line((x_mm, placed.y_mm + 1.0), (x_mm + width_mm, placed.y_mm + 1.0), pen=LINE)
        canvas.text(x_mm, placed.y_mm + 4.8, row.heading, room_mm=width_mm, size_mm=2.8, bold=True)
    if row.note:
        canvas.text(x_mm, placed.y_mm + 2.3, row.note, room_mm=width_mm, size_mm=2.0)
    for block in placed.blocks:
        _block(canvas, block, lambda tile: wheres.rows_of(tile, None))
    for home in placed.homes:
        _home(canvas, home)
