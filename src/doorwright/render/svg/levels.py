"""The levels as schematic plans: cores in the order in which they stand, dwellings, cupboards and entrances around."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet
from doorwright.render.svg.canvas import FINE, GREY, INK, LINE, PALE, PAPER, WASH, Canvas, Pen
from doorwright.render.svg.filling import filled, finished, laid
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.level_contents import Cell, Floor, Spoke, floors
from doorwright.render.svg.sheet import Drawing, Entry, Numbering

_CELL_MM: Final = 92.0
_CELLS_MAX: Final = 4
_CORE_MM: Final = 15.0
_SPOKE_MM: Final = 5.0
_BOX_MM: Final = 3.8
_HEAD_MM: Final = 11.0
_STRIP_MM: Final = 6.5
"""Above the cores of a row: where cables cross from one to the next, and how far apart they are."""
_GAP_MM: Final = 5.3
_TEXT_MM: Final = 2.0
_CROSSING: Final = Pen(0.35, INK, (2.0, 0.8))


@dataclass(frozen=True, slots=True)
class _Panel:
    """A level, or as many cells of it as fit side by side, in rows."""

    floor: Floor
    rows: tuple[tuple[Cell, ...], ...]
    is_continued: bool

    @property
    def width_mm(self) -> float:
        return _CELL_MM * max(len(row) for row in self.rows)

    @property
    def head_mm(self) -> float:
        return _HEAD_MM if self.floor.missing else _HEAD_MM - 3.2

    @property
    def height_mm(self) -> float:
        return self.head_mm + sum(_row_mm(row) for row in self.rows)


def level_plans(walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw every level with something on it, as many to an A3 sheet as stay legible; nothing where there is none.

    Args:
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    panels = [panel for floor in floors(walk) for panel in _panels(floor)]
    if not panels:
        return ()
    pages = filled(panels, laid([(panel.width_mm, panel.height_mm) for panel in panels], _GAP_MM), _draw)
    numbering = Numbering("Levels, schematic", "levels", revision, on, len(pages))
    return finished(pages, walk.settings(), numbering, shows=_shows, legend=_legend())


def _shows(shown: Sequence[_Panel]) -> str:
    names = list(dict.fromkeys(panel.floor.name for panel in shown))
    if len(names) == 1:
        return f"{names[0]}."
    return f"{names[0]} to {names[-1]}, {counted(len(names), 'level')}."


def _legend() -> tuple[Entry, ...]:
    return (
        Entry(
            lambda canvas: _riser(canvas, Box(3, 0, 4, 3.4)), "core with its riser, in the order in which cores stand"
        ),
        Entry(lambda canvas: canvas.box(Box(1, 0, 8, 3.4), pen=FINE, fill=PAPER), "dwelling, way from the riser"),
        Entry(lambda canvas: canvas.box(Box(1, 0, 8, 3.4), pen=LINE, fill=WASH), "place: cupboard, lobby, office"),
        Entry(lambda canvas: _arrow(canvas, 5.0, 1.7), "entrance"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_CROSSING), "cables may cross between cores"),
        Entry(lambda canvas: _measure(canvas, 0, 10, 1.7), "how far apart the risers are, from left to right"),
    )


def _panels(floor: Floor) -> list[_Panel]:
    """Cut a level into panels that fit a sheet: rows of at most four cells."""
    rows: list[tuple[Cell, ...]] = []
    for _, found in groupby(floor.cells, key=lambda cell: cell.row):
        cells = tuple(found)
        rows += [cells[at : at + _CELLS_MAX] for at in range(0, len(cells), _CELLS_MAX)]
    panels: list[_Panel] = []
    room_mm = sheet.FIELD.height_mm - _HEAD_MM
    taken: list[tuple[Cell, ...]] = []
    for row in rows:
        if taken and sum(map(_row_mm, taken)) + _row_mm(row) > room_mm:
            panels.append(_Panel(floor, tuple(taken), bool(panels)))
            taken = []
        taken.append(row)
    return [*panels, _Panel(floor, tuple(taken), bool(panels))]


def _row_mm(row: Sequence[Cell]) -> float:
    return _STRIP_MM + max(_cell_mm(cell) for cell in row) + 2.0


def _core_mm(cell: Cell) -> float:
    return max(-(-len(cell.dwellings) // 2), 2) * _SPOKE_MM + 1.0


def _cell_mm(cell: Cell) -> float:
    return _core_mm(cell) + len(cell.others) * _SPOKE_MM + 1.0


def _draw(canvas: Canvas, panel: _Panel) -> None:
    floor = panel.floor
    room_mm = panel.width_mm - 2
    crosses = " · cables may cross between cores" if floor.crosses else ""
    name = f"{floor.name}, continued" if panel.is_continued else floor.name
    part = f"level:{floor.level}" if floor.level and not panel.is_continued else ""
    with canvas.group(f"{name}, {floor.facts}{crosses}. {floor.missing}", part=part):
        canvas.line((0, 0.4), (room_mm, 0.4), pen=LINE)
        canvas.text(0, 4.2, name, room_mm=room_mm * 0.4, size_mm=2.8, bold=True)
        canvas.text(
            room_mm, 4.2, f"{floor.facts}{crosses}", room_mm=room_mm * 0.58, size_mm=_TEXT_MM, anchor="end",
            colour=GREY,
        )  # fmt: skip
        canvas.text(0, 7.6, floor.missing, room_mm=room_mm, size_mm=_TEXT_MM, colour=GREY)
        y_mm = panel.head_mm
        for row in panel.rows:
            for i, cell in enumerate(row):
                _cell(canvas.view(i * _CELL_MM, y_mm), cell, is_first=i == 0, crosses=floor.crosses)
            y_mm += _row_mm(row)


def _cell(canvas: Canvas, cell: Cell, *, is_first: bool, crosses: bool) -> None:
    middle_mm = (_CELL_MM - 2.0) / 2
    core = Box(middle_mm - _CORE_MM / 2, _STRIP_MM, _CORE_MM, _core_mm(cell))
    if not is_first and cell.apart:
        between_mm = middle_mm - _CELL_MM
        canvas.text(
            (between_mm + middle_mm) / 2, 2.4, cell.apart, room_mm=_CELL_MM * 0.6, size_mm=_TEXT_MM, anchor="middle"
        )
        _measure(canvas, between_mm, middle_mm, 3.4)
        if crosses:
            edge_mm, from_mm, to_mm = core.y_mm - 1.3, between_mm + 3.0, middle_mm - 3.0
            canvas.line((from_mm, core.y_mm), (from_mm, edge_mm), (to_mm, edge_mm), (to_mm, core.y_mm), pen=_CROSSING)
    for i, spoke in enumerate(cell.dwellings):
        _dwelling(canvas, spoke, core, core.y_mm + 1.6 + (i // 2) * _SPOKE_MM, is_left=i % 2 == 0)
    if cell.core:
        _riser(canvas, core)
    canvas.box(
        Box(core.x_mm + 0.6, core.y_mm + core.height_mm / 2 - 2.2, core.width_mm - 1.2, 3.6), pen=None, fill=PAPER
    )
    canvas.text(
        middle_mm, core.y_mm + core.height_mm / 2 + 0.6, cell.name, room_mm=_CORE_MM - 1.4, size_mm=_TEXT_MM, bold=True,
        anchor="middle",
    )  # fmt: skip
    for i, spoke in enumerate(cell.others):
        _other(canvas, spoke, core.bottom_mm + 1.2 + i * _SPOKE_MM)


def _dwelling(canvas: Canvas, spoke: Spoke, core: Box, y_mm: float, *, is_left: bool) -> None:
    wide_mm = 15.0
    box = Box(0 if is_left else _CELL_MM - 2.0 - wide_mm, y_mm, wide_mm, _BOX_MM)
    inner_mm, edge_mm = (box.right_mm, core.x_mm) if is_left else (core.right_mm, box.x_mm)
    with canvas.group(f"Dwelling {spoke.name}, {spoke.run or 'way from the riser not given'}", part=spoke.part):
        canvas.box(box, pen=FINE, fill=PAPER)
        middle_mm = y_mm + _BOX_MM / 2
        canvas.text(
            box.x_mm + wide_mm / 2, middle_mm + 0.75, spoke.name, room_mm=wide_mm - 1.2, size_mm=_TEXT_MM,
            anchor="middle",
        )  # fmt: skip
        canvas.line((inner_mm, middle_mm), (edge_mm, middle_mm), pen=FINE)
        canvas.text(
            (inner_mm + edge_mm) / 2, middle_mm - 0.5, spoke.run, room_mm=edge_mm - inner_mm - 1, size_mm=1.9,
            anchor="middle", colour=GREY,
        )  # fmt: skip


def _other(canvas: Canvas, spoke: Spoke, y_mm: float) -> None:
    right_mm = _CELL_MM - 2.0
    with canvas.group(f"{spoke.name} {spoke.run}".strip(), part=spoke.part):
        baseline_mm = y_mm + _BOX_MM / 2 + 0.75
        if spoke.is_entrance:
            _arrow(canvas, 5.5, y_mm + _BOX_MM / 2)
            canvas.text(11.0, baseline_mm, spoke.name, room_mm=right_mm - 11.0, size_mm=_TEXT_MM, bold=True)
            return
        canvas.box(Box(0, y_mm, right_mm, _BOX_MM), pen=Pen(0.18, PALE), fill=WASH)
        canvas.text(1.2, baseline_mm, spoke.name, room_mm=right_mm - 22, size_mm=_TEXT_MM)
        way = f"{spoke.run} from the riser" if spoke.run else ""
        canvas.text(right_mm - 1, baseline_mm, way, room_mm=26, size_mm=1.9, anchor="end", colour=GREY)


def _riser(canvas: Canvas, box: Box) -> None:
    canvas.box(box, pen=Pen(0.5), fill=PAPER)
    canvas.line((box.x_mm, box.y_mm), (box.right_mm, box.bottom_mm), pen=Pen(0.13, PALE))
    canvas.line((box.x_mm, box.bottom_mm), (box.right_mm, box.y_mm), pen=Pen(0.13, PALE))


def _arrow(canvas: Canvas, x_mm: float, y_mm: float) -> None:
    canvas.line((x_mm - 4, y_mm), (x_mm + 2, y_mm), pen=Pen(0.5))
    canvas.area((x_mm + 4, y_mm), (x_mm + 1.4, y_mm - 1.3), (x_mm + 1.4, y_mm + 1.3), pen=None, fill=INK)


def _measure(canvas: Canvas, from_mm: float, to_mm: float, y_mm: float) -> None:
    """A line with a slanting stroke at either end."""
    canvas.line((from_mm, y_mm), (to_mm, y_mm), pen=FINE)
    for x_mm in (from_mm, to_mm):
        canvas.line((x_mm - 0.7, y_mm + 0.7), (x_mm + 0.7, y_mm - 0.7), pen=LINE)
