"""The week strips: for each entrance and whom it calls, the days as rows and whom a call rings across the hours.

Each behaviour has a letter and a pattern; colour only repeats what the pattern says. A day of the axis that is like its
weekday has no row of its own, and an entrance at which nothing changes all week has a single one.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.calling import DAY_MIN
from doorwright.model.door import Door
from doorwright.model.place import Entrance
from doorwright.model.walk import Walk
from doorwright.paths import week
from doorwright.paths.call import Behaviour, End, Target, TargetKind
from doorwright.paths.proof import Calls, DeskCalls, EntranceProof, Group, Proof
from doorwright.paths.telling import Row, clock, labels_of, named_desk, rows, tell_call, tell_frees, tell_spans
from doorwright.render.pdf.papers.homes import dwellings_in_words
from doorwright.render.svg import lettering, sheet
from doorwright.render.svg.canvas import FINE, GREY, HAIR, INK, PAPER, Canvas, Pen
from doorwright.render.svg.geometry import Box, shares
from doorwright.render.svg.sheet import FIELD, Drawing, Entry, Numbering

ROW_MM: Final = 4.6
TRADE_MM: Final = 1.0
_HEAD_MM: Final = 10.5
_FOOT_MM: Final = 4.0
_NAME_MM: Final = 31.0
_STRIP_MM: Final = 168.0
_WORDS_MM: Final = _NAME_MM + _STRIP_MM + 6.0
_INSET_MM: Final = 5.0
_ROOM_MM: Final = FIELD.width_mm - _WORDS_MM - _INSET_MM
_LINE_MM: Final = 3.8
_TEXT_MM: Final = 2.4
_LETTER_MM: Final = 2.0
_CHARACTER_MM: Final = 2.6
_WHO_X_MM: Final = 92.0
_WHO_MM: Final = FIELD.width_mm - _WHO_X_MM
_HATCH: Final = Pen(0.16, GREY)
_TRADE: Final = Pen(0.2, INK)

_WASH: Final = {
    TargetKind.CALLED: "#ffffff",
    TargetKind.DESK: "#dbe7f3",
    TargetKind.DWELLING: "#e6efd8",
}
_SILENT: Final = "#8a8a8a"
_LOST: Final = "#f0c9c0"


@dataclass(frozen=True, slots=True)
class _Block:
    """One strip: an entrance, a group of dwellings or a desk, the rows, and the words beside them."""

    entrance: Entrance
    proof: EntranceProof
    calls: Group | DeskCalls
    rows: tuple[Row, ...]
    lines: tuple[tuple[str, str], ...]

    @property
    def height_mm(self) -> float:
        """Its height on paper."""
        return _HEAD_MM + max(len(self.rows) * ROW_MM, len(self.lines) * _LINE_MM) + _FOOT_MM


def week_strips(walk: Walk, proof: Proof, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw whom calls ring through the week, on as many A3 sheets as it needs to stay legible.

    Args:
        walk: the site.
        proof: its call paths.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    blocks = list(_blocks(walk, proof))
    pages = shares([block.height_mm for block in blocks], FIELD.height_mm)
    numbering = Numbering("Week of calls", "week", revision, on, len(pages))
    drawings = []
    for number, page in enumerate(pages, start=1):
        canvas = Canvas()
        y_mm = FIELD.y_mm
        for block in (blocks[i] for i in page):
            _draw(walk, canvas.view(FIELD.x_mm, y_mm), block)
            y_mm += block.height_mm
        names = dict.fromkeys(blocks[i].entrance.name for i in page)
        shows = f"{', '.join(names)}."
        drawings.append(sheet.finish(canvas, walk.settings(), numbering, sheet=number, shows=shows, legend=_legend()))
    return tuple(drawings)


def _blocks(walk: Walk, proof: Proof) -> Iterator[_Block]:
    for ident, at in proof.entrances.items():
        entrance = walk.get(Entrance, ident)
        for calls in at.calls:
            yield _Block(entrance, at, calls, _rows(at, calls), _fitting(tuple(_lines(walk, at, calls))))


def _fitting(lines: tuple[tuple[str, str], ...]) -> tuple[tuple[str, str], ...]:
    """Return the lines that fit on one sheet; where there are more, the last says where they are told."""
    most = int((FIELD.height_mm - _HEAD_MM - _FOOT_MM) / _LINE_MM)
    if len(lines) <= most:
        return lines
    return (*lines[: most - 1], ("", f'{len(lines) - most + 1} more lines: see the paper "Who rings when".'))


def _rows(at: EntranceProof, calls: Calls) -> tuple[Row, ...]:
    of_day = [(tuple(_of_day(calls, day)), week.of_day(at.trade, day)) for day in range(week.DAYS_COUNT)]
    if len(set(of_day)) == 1:
        return (Row("every day", 0),)
    return rows(of_day)


def _of_day(calls: Calls, day: int) -> Iterator[tuple[int, int, Behaviour]]:
    """Yield the stretches of one day, in minutes of that day."""
    midnight = day * DAY_MIN
    for stretch in calls.stretches:
        start_min, end_min = max(stretch.start_min, midnight), min(stretch.end_min, midnight + DAY_MIN)
        if start_min < end_min:
            yield start_min - midnight, end_min - midnight, stretch.behaviour


def _letter(number: int) -> str:
    """Return A to Z, then AA and on."""
    return chr(65 + number) if number < 26 else _letter(number // 26 - 1) + _letter(number % 26)


def _lines(walk: Walk, at: EntranceProof, calls: Calls) -> Iterator[tuple[str, str]]:
    """Yield the lines beside a strip, each with the letter that it begins with or none."""
    for number, behaviour in enumerate(calls.behaviours):
        words = tell_call(walk, behaviour.call)
        if behaviour.frees:
            words += f". May free: {tell_frees(walk, behaviour)}"
        yield from _broken(_letter(number), f"{words[:1].upper()}{words[1:]}.")
    if at.trade:
        doors = [door.name for door in (walk.find(Door, ident) for ident in at.doors) if door]
        yield from _broken("", f"Trade release frees {', '.join(doors) or 'no door'}: {tell_spans(at.trade)}.")


def _broken(letter: str, text: str) -> Iterator[tuple[str, str]]:
    """Yield a text in lines that fit beside a strip, the first with its letter."""
    line = ""
    for word in text.split(" "):
        longer = f"{line} {word}" if line else word
        if line and lettering.width_mm(longer, _TEXT_MM) > _ROOM_MM:
            yield letter, line
            letter, longer = "", word
        line = longer
    yield letter, line


def _draw(walk: Walk, canvas: Canvas, block: _Block) -> None:
    letters = {behaviour: _letter(number) for number, behaviour in enumerate(block.calls.behaviours)}
    told = _told(walk, block.calls)
    with canvas.group(f"{block.entrance.name}: {told}", part=block.entrance.id):
        canvas.text(0, 3.6, block.entrance.name, room_mm=90, size_mm=3.2, bold=True)
        canvas.text(_WHO_X_MM, 3.6, told, room_mm=_WHO_MM, size_mm=_TEXT_MM)
        _hours(canvas, len(block.rows) * ROW_MM)
        for number, row in enumerate(block.rows):
            _draw_row(canvas.view(0, _HEAD_MM + number * ROW_MM), block, row, letters)
        for number, (letter, line) in enumerate(block.lines):
            y_mm = _HEAD_MM + number * _LINE_MM + 2.7
            canvas.text(_WORDS_MM, y_mm, letter, room_mm=_INSET_MM, size_mm=_TEXT_MM, bold=True)
            canvas.text(_WORDS_MM + _INSET_MM, y_mm, line, room_mm=_ROOM_MM, size_mm=_TEXT_MM)


def _told(walk: Walk, calls: Group | DeskCalls) -> str:
    if isinstance(calls, DeskCalls):
        return f"desk key or number: {named_desk(walk, calls.desk)}"
    count = counted(calls.dwellings_count, "dwelling")
    every = f"{count}: {dwellings_in_words(walk, calls.dwellings)}"
    if lettering.width_mm(every, _TEXT_MM) <= _WHO_MM:
        return every
    return f"{count}: {labels_of(walk, calls.dwellings)}"


def _hours(canvas: Canvas, height_mm: float) -> None:
    for hour in range(0, 25, 3):
        x_mm = _NAME_MM + _STRIP_MM * hour / 24
        canvas.text(x_mm, 8.6, clock(hour * 60), room_mm=12, size_mm=1.9, anchor="middle", colour=GREY)
        canvas.line((x_mm, _HEAD_MM - 1.2), (x_mm, _HEAD_MM + height_mm), pen=HAIR)


def _draw_row(canvas: Canvas, block: _Block, row: Row, letters: dict[Behaviour, str]) -> None:
    canvas.text(0, 3.2, row.name, room_mm=_NAME_MM - 1.5, size_mm=2.2, bold=True)
    tall_mm = ROW_MM - TRADE_MM - 0.4
    for start_min, end_min, behaviour in _of_day(block.calls, row.day):
        box = Box(_x(start_min), 0.2, _x(end_min) - _x(start_min), tall_mm)
        _fill(canvas, box, behaviour)
        letter = letters[behaviour]
        wide_mm = len(letter) * _CHARACTER_MM
        if box.width_mm >= wide_mm:
            middle_mm = box.x_mm + box.width_mm / 2
            canvas.box(Box(middle_mm - wide_mm / 2, 0.45, wide_mm, tall_mm - 0.5), pen=None, fill=PAPER)
            canvas.text(middle_mm, 2.6, letter, room_mm=wide_mm, size_mm=_LETTER_MM, bold=True, anchor="middle")
    for start_min, end_min in week.of_day(block.proof.trade, row.day):
        _trade(canvas, Box(_x(start_min), tall_mm + 0.2, _x(end_min) - _x(start_min), TRADE_MM))


def _x(minute: int) -> float:
    return _NAME_MM + _STRIP_MM * minute / DAY_MIN


def _fill(canvas: Canvas, box: Box, behaviour: Behaviour) -> None:
    call = behaviour.call
    rung = call.first_rung
    if call.end is End.SILENT:
        canvas.box(box, pen=FINE, fill=_SILENT)
    elif rung is None:
        canvas.box(box, pen=FINE, fill=_LOST)
        _zigzag(canvas, box, 1.4)
        _zigzag(canvas, box, 1.4, upside_down=True)
    else:
        canvas.box(box, pen=FINE, fill=_WASH[rung.kind])
        _hatch(canvas, box, rung)


def _hatch(canvas: Canvas, box: Box, rung: Target) -> None:
    if rung.kind is TargetKind.DESK:
        _zigzag(canvas, box, 2.2)
    elif rung.kind is TargetKind.DWELLING:
        for part in (1, 2):
            y_mm = box.y_mm + box.height_mm * part / 3
            canvas.line((box.x_mm, y_mm), (box.right_mm, y_mm), pen=_HATCH)


def _zigzag(canvas: Canvas, box: Box, step_mm: float, *, upside_down: bool = False) -> None:
    """Draw a zigzag through a box from edge to edge as one line."""
    levels = (box.y_mm, box.bottom_mm) if upside_down else (box.bottom_mm, box.y_mm)
    count, rest_mm = divmod(box.width_mm, step_mm)
    points = [(box.x_mm + i * step_mm, levels[i % 2]) for i in range(int(count) + 1)]
    if rest_mm > 0:
        near_mm, far_mm = levels[int(count) % 2], levels[(int(count) + 1) % 2]
        points.append((box.right_mm, near_mm + (far_mm - near_mm) * rest_mm / step_mm))
    canvas.line(*points, pen=_HATCH)


def _trade(canvas: Canvas, box: Box) -> None:
    canvas.box(box, pen=_TRADE, fill=PAPER)
    middle_mm = box.y_mm + box.height_mm / 2
    canvas.line((box.x_mm, middle_mm), (box.right_mm, middle_mm), pen=Pen(0.5, INK, (0.8, 0.6)))


def _legend() -> tuple[Entry, ...]:
    box = Box(0, 0, 10, 3.2)

    def rings(kind: TargetKind) -> Entry:
        def draw(canvas: Canvas) -> None:
            canvas.box(box, pen=FINE, fill=_WASH[kind])
            _hatch(canvas, box, Target(kind))

        return Entry(draw, f"{kind.value} rings first")

    def lost(canvas: Canvas) -> None:
        canvas.box(box, pen=FINE, fill=_LOST)
        _zigzag(canvas, box, 1.4)
        _zigzag(canvas, box, 1.4, upside_down=True)

    return (
        *(rings(kind) for kind in TargetKind),
        Entry(lambda canvas: canvas.box(box, pen=FINE, fill=_SILENT), "silent: the entrance lets no call through"),
        Entry(lost, "nobody rings: sent to nobody, round in a loop, or not registered"),
        Entry(
            lambda canvas: _trade(canvas, Box(0, 1.2, 10, TRADE_MM)), "trade release: the trade button frees the doors"
        ),
        Entry(
            lambda canvas: canvas.text(5, 2.6, "A", room_mm=5, size_mm=_LETTER_MM, bold=True, anchor="middle"),
            "what follows, told beside the strip under this letter",
        ),
    )
