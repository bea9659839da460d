"""The power drawing: each supply with battery and fuses, and single lines to everything that it feeds."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet, symbols
from doorwright.render.svg.canvas import BOLD, FINE, GREY, INK, LINE, PAPER, Canvas, Pen
from doorwright.render.svg.filling import filled, finished, laid
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.power_contents import Feeding, Row, feedings, power_notes
from doorwright.render.svg.sheet import Drawing, Entry, Numbering
from doorwright.render.svg.symbols import Sign

_CARD_MM: Final = 64.0
_BUS_MM: Final = 72.0
_LINE_MM: Final = 10.0
_LINES_MAX: Final = 21
_PITCH_MM: Final = 72.0
_LOADS_MM: Final = 74.0
"""Room that is kept at the right for what a load takes."""
_TEXT_MM: Final = 2.1
_FACT_MM: Final = 3.3
_NOTES_MM: Final = 9.0
_GAP_MM: Final = 6.0
_SCALES: Final = (1.4, 1.25, 1.1, 1.0)
_WIRE: Final = Pen(0.35)


@dataclass(frozen=True, slots=True)
class _Block:
    """A supply, or some of its lines where it has more than a sheet holds."""

    feeding: Feeding
    first: int
    lines_count: int

    @property
    def height_mm(self) -> float:
        return max(_card_mm(self.feeding), self.lines_count * _LINE_MM)


def power_lines(walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw every supply with what it feeds, on as many A3 sheets as it takes; nothing where the site has no supply.

    Args:
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    blocks = [block for feeding in feedings(walk) for block in _blocks(feeding)]
    if not blocks:
        return ()
    fewest = len(_laid(blocks, 1.0))
    scale, boxes = next((scale, boxes) for scale in _SCALES if len(boxes := _laid(blocks, scale)) == fewest)
    width_mm = sheet.FIELD.width_mm / scale
    pages = filled(blocks, boxes, lambda canvas, block: _draw(canvas, block, width_mm), scale=scale)
    notes = power_notes(walk)
    for page in pages:
        _write_below(page.canvas, notes)
    numbering = Numbering("Power, single lines", "power", revision, on, len(pages))
    return finished(pages, walk.settings(), numbering, shows=_shows, legend=_legend())


def _laid(blocks: Sequence[_Block], scale: float) -> tuple[tuple[Box, ...], ...]:
    width_mm = sheet.FIELD.width_mm / scale
    return laid([(width_mm, block.height_mm) for block in blocks], _GAP_MM, foot_mm=_NOTES_MM, scale=scale)


def _write_below(canvas: Canvas, notes: Sequence[str]) -> None:
    foot = canvas.view(sheet.FIELD.x_mm, sheet.FIELD.bottom_mm)
    for i, note in enumerate(notes):
        y_mm = -0.6 - (len(notes) - 1 - i) * _FACT_MM
        foot.text(0, y_mm, note, room_mm=sheet.FIELD.width_mm, size_mm=_TEXT_MM, colour=GREY)


def _shows(shown: Sequence[_Block]) -> str:
    names = list(dict.fromkeys(block.feeding.name for block in shown))
    runs = sum(1 for block in shown for row in _rows_of(block))
    what = names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}, {len(names)} supplies"
    return f"{what}: {counted(runs, 'run')}."


def _legend() -> tuple[Entry, ...]:
    signs = (Sign.SUPPLY, Sign.FAIL_SAFE, Sign.FAIL_SECURE, Sign.LOCK_UNKNOWN, Sign.SWITCH, Sign.VCU)
    return (
        *(sheet.sign_entry(sign) for sign in signs),
        Entry(lambda canvas: _fuse(canvas, 2.0, 1.7), "fuse at the beginning of a run; ? where it is not known"),
        Entry(lambda canvas: _battery(canvas, 5.0, 1.7), "battery of the supply"),
        Entry(lambda canvas: canvas.disc(5, 1.7, 0.8, pen=None, fill=INK), "junction: a run parts into several"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_WIRE), "run of two wires: name, cable, length"),
    )


def _card_mm(feeding: Feeding) -> float:
    return 7.0 + _FACT_MM * len(feeding.facts) + 1.0


def _blocks(feeding: Feeding) -> list[_Block]:
    count = max(1, -(-feeding.lines_count // _LINES_MAX))
    each = -(-feeding.lines_count // count)
    return [_Block(feeding, part * each, min(each, feeding.lines_count - part * each)) for part in range(count)]


def _rows_of(block: _Block) -> list[Row]:
    return [row for row in block.feeding.rows if block.first <= row.line < block.first + block.lines_count]


def _draw(canvas: Canvas, block: _Block, width_mm: float) -> None:
    feeding = block.feeding
    pitch_mm = min(_PITCH_MM, (width_mm - _BUS_MM - _LOADS_MM) / (feeding.depth + 1))
    rows = _rows_of(block)
    with canvas.group(f"Supply {feeding.name}: {'; '.join(feeding.facts)}", part=_part(block)):
        _card(canvas, block)
    if rows:
        canvas.line((_CARD_MM, _LINE_MM / 2), (_BUS_MM, _LINE_MM / 2), pen=BOLD)
    elif not feeding.rows:
        canvas.text(_BUS_MM, 6, "No run leads from it in the plan.", room_mm=100, size_mm=2.4)
    for row in rows:
        _row(canvas, row, block.first, pitch_mm, width_mm)


def _part(block: _Block) -> str:
    return "" if block.first else f"supply:{block.feeding.ident}"


def _card(canvas: Canvas, block: _Block) -> None:
    feeding = block.feeding
    canvas.box(Box(0, 0, _CARD_MM, _card_mm(feeding)), pen=Pen(0.4), fill=PAPER)
    symbols.draw(canvas, Sign.SUPPLY, 1.4, 1.0)
    name = f"{feeding.name}, continued" if block.first else feeding.name
    canvas.text(6.6, 4.0, name, room_mm=_CARD_MM - 16, size_mm=2.6, bold=True)
    if feeding.has_battery:
        _battery(canvas, _CARD_MM - 5.0, 3.2)
    for i, fact in enumerate(feeding.facts):
        canvas.text(1.6, 8.4 + i * _FACT_MM, fact, room_mm=_CARD_MM - 3, size_mm=_TEXT_MM)


def _row(canvas: Canvas, row: Row, first: int, pitch_mm: float, width_mm: float) -> None:
    start_mm, y_mm = _BUS_MM + row.depth * pitch_mm, (row.line - first + 0.5) * _LINE_MM
    end_mm = start_mm + pitch_mm
    from_line = max(row.parent or 0, first) - first
    with canvas.group(f"{row.cable} to {row.name}: {row.facts}; fuse {row.fuse or 'none of its own'}", part=row.part):
        above_mm = (from_line + 0.5) * _LINE_MM if (row.parent or 0) >= first else 0.0
        canvas.line((start_mm, above_mm), (start_mm, y_mm), pen=BOLD if row.depth == 0 else _WIRE)
        canvas.line((start_mm, y_mm), (end_mm, y_mm), pen=_WIRE)
        text_mm = start_mm + (10.0 if row.fuse else 2.0)
        if row.fuse:
            _fuse(canvas, start_mm + 2.5, y_mm)
            canvas.text(start_mm + 5.5, y_mm + 3.4, row.fuse, room_mm=12, size_mm=_TEXT_MM, anchor="middle")
        canvas.text(text_mm, y_mm - 1.0, row.cable, room_mm=end_mm - text_mm - 3.0, size_mm=_TEXT_MM)
        if row.sign is None and row.part:
            words = f"{row.name} · {row.facts}" if row.facts else row.name
            room_mm = pitch_mm - 15.0
            canvas.disc(end_mm, y_mm, 0.8, pen=None, fill=INK)
            canvas.text(end_mm - 2, y_mm + 3.4, words, room_mm=room_mm, size_mm=_TEXT_MM, anchor="end", colour=GREY)
            return
        if row.sign is not None:
            symbols.draw(canvas, row.sign, end_mm, y_mm - 1.7)
        right_mm = end_mm + 6.0
        canvas.text(right_mm, y_mm - 0.5, row.name, room_mm=width_mm - right_mm, size_mm=_TEXT_MM, bold=True)
        canvas.text(right_mm, y_mm + 2.6, row.facts, room_mm=width_mm - right_mm, size_mm=_TEXT_MM)


def _fuse(canvas: Canvas, x_mm: float, y_mm: float) -> None:
    """A long box with the wire through it, after IEC 60617."""
    canvas.box(Box(x_mm, y_mm - 0.9, 6.0, 1.8), pen=LINE, fill=PAPER)
    canvas.line((x_mm, y_mm), (x_mm + 6.0, y_mm), pen=FINE)


def _battery(canvas: Canvas, x_mm: float, y_mm: float) -> None:
    """A long and a short plate, twice, after IEC 60617."""
    for shift_mm in (-1.2, 0.6):
        canvas.line((x_mm + shift_mm, y_mm - 1.6), (x_mm + shift_mm, y_mm + 1.6), pen=FINE)
        canvas.line((x_mm + shift_mm + 0.6, y_mm - 0.8), (x_mm + shift_mm + 0.6, y_mm + 0.8), pen=BOLD)
    canvas.line((x_mm - 2.6, y_mm), (x_mm - 1.2, y_mm), pen=FINE)
    canvas.line((x_mm + 1.2, y_mm), (x_mm + 2.6, y_mm), pen=FINE)
