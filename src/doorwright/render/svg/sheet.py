"""The sheet of paper: A3 landscape, frame, title block, legend, cautions.

Margins after ISO 5457 (20 mm at the filing edge, 10 mm elsewhere; from memory); the title block holds what
ISO 7200 asks for, as far as a site knows it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from doorwright.model.naming import site_title
from doorwright.model.site import Site
from doorwright.render.svg import lettering, symbols
from doorwright.render.svg.canvas import BOLD, FINE, GREY, LINE, Canvas
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.symbols import Sign

WIDTH_MM: Final = 420.0
HEIGHT_MM: Final = 297.0
FRAME: Final = Box(20.0, 10.0, 390.0, 277.0)
FOOT_MM: Final = 31.0
FIELD: Final = Box(FRAME.x_mm + 3, FRAME.y_mm + 3, FRAME.width_mm - 6, FRAME.height_mm - FOOT_MM - 6)
"""Where the drawing itself may stand."""

_TITLE_BLOCK_MM: Final = 150.0
_LEGEND_ROWS: Final = 5
_CAUTION: Final = (
    "An aid to planning, not a certificate: measure on site. Locks on escape routes (marked ESC): release as the fire",
    "strategy and the local code ask; a competent person decides. Mains and fixed wiring: a licensed electrician.",
)


@dataclass(frozen=True, slots=True)
class Drawing:
    """One sheet: a name fit for a file, a title for people, the SVG text, and its size on paper."""

    name: str
    title: str
    svg: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a legend: what draws the sample in a field 10 mm by 3.4 mm, and what it means."""

    draw: Callable[[Canvas], None]
    words: str


@dataclass(frozen=True, slots=True)
class Numbering:
    """What the title block of a set of sheets says: what is drawn, of which revision, when, on how many sheets."""

    title: str
    name: str
    revision: str
    on: str
    sheets_count: int

    def name_of(self, sheet: int) -> str:
        """Return the name of a sheet, which counts from 1."""
        return self.name if self.sheets_count == 1 else f"{self.name}-{sheet:02d}"


def sign_entry(sign: Sign) -> Entry:
    """Return the legend of a symbol."""
    return Entry(lambda canvas: symbols.draw(canvas, sign, 3.0, 0.0), sign.value)


def finish(
    canvas: Canvas,
    site: Site,
    numbering: Numbering,
    *,
    sheet: int,
    shows: str,
    legend: tuple[Entry, ...],
    scale: str = "not to scale",
) -> Drawing:
    """Put frame, legend and title block on a sheet and return it. ``shows`` says in words what stands on it."""
    canvas.box(FRAME, pen=BOLD)
    foot_mm = FRAME.bottom_mm - FOOT_MM
    canvas.line((FRAME.x_mm, foot_mm), (FRAME.right_mm, foot_mm), pen=LINE)
    block_mm = FRAME.right_mm - _TITLE_BLOCK_MM
    canvas.line((block_mm, foot_mm), (block_mm, FRAME.bottom_mm), pen=LINE)
    _legend(canvas.view(FRAME.x_mm + 3, foot_mm + 2.2), legend, block_mm - FRAME.x_mm - 5)
    _title_block(canvas.view(block_mm, foot_mm), site, numbering, sheet=sheet, shows=shows, scale=scale)
    title = f"{site_title(site.name)}: {numbering.title}, sheet {sheet} of {numbering.sheets_count}"
    svg = canvas.text_of(
        width_mm=WIDTH_MM,
        height_mm=HEIGHT_MM,
        title=title,
        description=f"{shows} Revision {numbering.revision}, {numbering.on}. {scale.capitalize()}.",
    )
    return Drawing(numbering.name_of(sheet), title, svg, WIDTH_MM, HEIGHT_MM)


def _legend(canvas: Canvas, legend: tuple[Entry, ...], width_mm: float) -> None:
    columns = [legend[at : at + _LEGEND_ROWS] for at in range(0, len(legend), _LEGEND_ROWS)]
    x_mm = 0.0
    for column, pitch_mm in zip(columns, _pitches_mm(columns, width_mm), strict=True):
        for row, entry in enumerate(column):
            entry.draw(canvas.view(x_mm, row * 4.2))
            canvas.text(x_mm + 11.5, row * 4.2 + 2.5, entry.words, room_mm=pitch_mm - 13, size_mm=2.0)
        x_mm += pitch_mm
    for i, line in enumerate(_CAUTION):
        canvas.text(0, _LEGEND_ROWS * 4.2 + 2.4 + i * 2.9, line, room_mm=width_mm, size_mm=2.0, colour=GREY)


def _pitches_mm(columns: Sequence[Sequence[Entry]], width_mm: float) -> list[float]:
    """Return the widths of a legend's columns: all alike where their words fit so, else by what their words take.

    Where even that is too much, the widest give way.
    """
    wanted_mm = [13.1 + max(lettering.width_mm(entry.words, 2.0) for entry in column) for column in columns]
    alike_mm = width_mm / max(len(columns), 1)
    if max(wanted_mm, default=0.0) <= alike_mm:
        return [alike_mm] * len(columns)
    left_mm, pitches_mm = width_mm, dict.fromkeys(range(len(columns)), 0.0)
    for done, i in enumerate(sorted(pitches_mm, key=lambda i: wanted_mm[i])):
        pitches_mm[i] = min(wanted_mm[i], left_mm / (len(columns) - done))
        left_mm -= pitches_mm[i]
    return list(pitches_mm.values())


def _title_block(canvas: Canvas, site: Site, numbering: Numbering, *, sheet: int, shows: str, scale: str) -> None:
    w = _TITLE_BLOCK_MM
    canvas.line((0, 12), (w, 12), pen=FINE)
    canvas.line((0, 21.5), (w, 21.5), pen=FINE)
    _field(canvas, "Site", site_title(site.name), wide_mm=w - 45, size_mm=4.2, bold=True, drop_mm=8.6)
    canvas.line((w - 45, 0), (w - 45, 12), pen=FINE)
    _field(canvas.view(w - 45, 0), "Reference", site.reference or "–", wide_mm=45, size_mm=3.0, drop_mm=8.4)
    _field(canvas.view(0, 12), "Drawing", numbering.title, wide_mm=50, size_mm=3.2, bold=True, drop_mm=7.2)
    _field(canvas.view(50, 12), "Shows", shows, wide_mm=w - 50, size_mm=2.2, drop_mm=7.0)
    canvas.line((50, 12), (50, 21.5), pen=FINE)
    of = f"{sheet} of {numbering.sheets_count}"
    fields = (("Sheet", of, 30.0), ("Revision", numbering.revision, 45.0), ("Date", numbering.on, 37.0))
    x_mm = 0.0
    for name, value, wide_mm in (*fields, ("Scale", scale, 38.0)):
        if x_mm:
            canvas.line((x_mm, 21.5), (x_mm, FOOT_MM), pen=FINE)
        _field(canvas.view(x_mm, 21.5), name, value, wide_mm=wide_mm, size_mm=3.0, drop_mm=7.4)
        x_mm += wide_mm


def _field(
    canvas: Canvas,
    name: str,
    value: str,
    *,
    wide_mm: float,
    size_mm: float,
    drop_mm: float,
    bold: bool = False,
) -> None:
    canvas.text(1.5, 2.8, name, room_mm=wide_mm - 3, size_mm=1.9, colour=GREY)
    canvas.text(1.5, drop_mm, value, room_mm=wide_mm - 3, size_mm=size_mm, bold=bold)
