"""The ladder of a rehearsed call: who takes part as lines side by side, and step below step who sends what to whom.

Every step has a row of its own, so rows tell the order and the figures at the left tell the time; where nothing happens
for a while a break stands across all lines. What kind of thing is sent shows in the shape of its arrow, colour in none.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, TypeAlias

from doorwright.kernel.words import counted
from doorwright.model.walk import Walk
from doorwright.rehearse.ladder import Ladder, Noted, Participant, Sent, Sort, Step
from doorwright.render.svg import lettering, sheet
from doorwright.render.svg.canvas import FINE, GREY, HAIR, INK, LINE, PAPER, WASH, Canvas, Pen
from doorwright.render.svg.geometry import Box, shares
from doorwright.render.svg.sheet import FIELD, Drawing, Entry, Numbering

BREAK_AFTER_S: Final = 1.0
"""A silence longer than this is a break; within shorter ones people see one thing."""
COLUMNS_MOST: Final = 24
"""Further participants share the last line, where each arrow says whose it is."""

_ROW_MM: Final = 5.1
_BREAK_MM: Final = 4.4
_TIME_MM: Final = 24.0
_HEAD_MM: Final = 11.0
_AFTER_HEAD_MM: Final = 1.6
_PITCH_MOST_MM: Final = 88.0
_TEXT_MM: Final = 2.2
_SMALL_MM: Final = 1.9
_CAPTION_MM: Final = 2.4
_CAPTION_LINE_MM: Final = 3.6
_LINE_AT_MM: Final = 4.3
_BASE_MM: Final = 2.85
_TIP_MM: Final = 2.0
_BAND_MM: Final = 0.7
_HATCH_MM: Final = 3.0
_NOTE_PAD_MM: Final = 1.6
_LOST_AT: Final = 0.75
"""How far along its way a lost packet is drawn."""

BANDS: Final = (Sort.SPEECH, Sort.PICTURE)
"""What is drawn as a band, with all packets of one direction."""

_REQUEST: Final = Pen(0.35)
_RESPONSE: Final = Pen(0.2)
_THIN: Final = (Sort.RESPONSE, Sort.REPORT)
_LOST: Final = (1.4, 1.0)


@dataclass(frozen=True, slots=True)
class Caption:
    """What stands above a ladder: the call, what ought to become of it, what did, and under which conditions."""

    told: str
    proved: str
    rehearsed: str
    as_proved: bool
    conditions: str


@dataclass(frozen=True, slots=True)
class _Break:
    """A row for a silence, in seconds."""

    lasts_s: float


_Row: TypeAlias = Step | _Break


def ladder_sheets(ladder: Ladder, walk: Walk, caption: Caption, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw a ladder on as many A3 sheets as it needs to stay legible; printed on A4 it can still be read.

    Args:
        ladder: the call.
        walk: the site, for the title block.
        caption: what stands above.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    said = tuple(_said(caption))
    top_mm = len(said) * _CAPTION_LINE_MM + 3.4
    rows = tuple(_rows(ladder))
    pages = shares([_tall_mm(row) for row in rows], FIELD.height_mm - top_mm - _HEAD_MM - _AFTER_HEAD_MM - 1.0)
    numbering = Numbering("Ladder of a call", "ladder", revision, on, max(len(pages), 1))
    drawings = []
    for number, page in enumerate(pages or (range(0),), start=1):
        canvas = Canvas()
        _caption(canvas.view(FIELD.x_mm, FIELD.y_mm), said)
        columns = _Columns(ladder.participants)
        _Panel(canvas.view(FIELD.x_mm, FIELD.y_mm + top_mm), columns).draw([rows[i] for i in page])
        drawings.append(
            sheet.finish(
                canvas, walk.settings(), numbering, sheet=number, shows=caption.told, legend=_legend(),
                scale="order, not time",
            )
        )  # fmt: skip
    return tuple(drawings)


def _rows(ladder: Ladder) -> Iterator[_Row]:
    """Yield the steps, and breaks between those that lie far apart."""
    before_s: float | None = None
    for step in ladder.steps:
        if before_s is not None and step.at_s - before_s > BREAK_AFTER_S:
            yield _Break(step.at_s - before_s)
        yield step
        before_s = step.at_s


def _tall_mm(row: _Row) -> float:
    return _BREAK_MM if isinstance(row, _Break) else _ROW_MM


# above


def _said(caption: Caption) -> Iterator[tuple[str, str]]:
    """Yield the lines of a caption, each with the word that it begins with or none."""
    verdict = "as proved" if caption.as_proved else "OTHERWISE THAN PROVED"
    for word, text in (
        ("Proved", caption.proved),
        ("Rehearsed", f"{caption.rehearsed} ({verdict})"),
        ("With", caption.conditions),
    ):
        lines = lettering.wrapped(text, FIELD.width_mm - _TIME_MM, _CAPTION_MM, 3)
        for number, line in enumerate(lines):
            yield (word if number == 0 else ""), line
    yield "", caption.told


def _caption(canvas: Canvas, said: tuple[tuple[str, str], ...]) -> None:
    *lines, (_, told) = said
    canvas.text(0, 3.2, told, room_mm=FIELD.width_mm, size_mm=3.2, bold=True)
    for number, (word, line) in enumerate(lines, start=1):
        y_mm = number * _CAPTION_LINE_MM + 3.6
        canvas.text(0, y_mm, word, room_mm=_TIME_MM - 2, size_mm=_CAPTION_MM, colour=GREY)
        canvas.text(_TIME_MM, y_mm, line, room_mm=FIELD.width_mm - _TIME_MM, size_mm=_CAPTION_MM)


# the ladder


class _Columns:
    """Where the lines of the participants stand."""

    def __init__(self, participants: tuple[Participant, ...]) -> None:
        self.participants = participants
        self.count = min(len(participants), COLUMNS_MOST)
        self.pitch_mm = min(_PITCH_MOST_MM, (FIELD.width_mm - _TIME_MM) / max(self.count, 1))

    def x_mm(self, place: int) -> float:
        """Return where the line of a participant stands."""
        return _TIME_MM + self.pitch_mm * (min(place, COLUMNS_MOST - 1) + 0.5)

    def shown(self) -> Iterator[tuple[int, Participant]]:
        """Yield the heads to be drawn; where participants share the last line its head says so."""
        alone_count = self.count if len(self.participants) <= COLUMNS_MOST else COLUMNS_MOST - 1
        yield from enumerate(self.participants[:alone_count])
        if alone_count < len(self.participants):
            yield alone_count, Participant("", f"{len(self.participants) - alone_count} others", "see the arrows")

    def sharing(self, *places: int) -> str:
        """Return the names of those who share the last line, for the words of an arrow."""
        if len(self.participants) <= COLUMNS_MOST:
            return ""
        return ", ".join(self.participants[place].name for place in places if place >= COLUMNS_MOST - 1)


class _Panel:
    """The lines and the rows of one sheet."""

    def __init__(self, canvas: Canvas, columns: _Columns) -> None:
        self._canvas = canvas
        self._columns = columns

    def draw(self, rows: list[_Row]) -> None:
        """Draw heads, lines and rows."""
        end_mm = _HEAD_MM + _AFTER_HEAD_MM + sum(map(_tall_mm, rows))
        for place, participant in self._columns.shown():
            x_mm = self._columns.x_mm(place)
            self._canvas.line((x_mm, _HEAD_MM), (x_mm, end_mm), pen=HAIR)
            self._head(x_mm, participant)
        y_mm = _HEAD_MM + _AFTER_HEAD_MM
        for row in rows:
            view = self._canvas.view(0, y_mm)
            if isinstance(row, _Break):
                self._break(view, row)
            elif isinstance(row, Noted):
                self._note(view, row)
            else:
                self._sent(view, row)
            y_mm += _tall_mm(row)

    def _head(self, x_mm: float, participant: Participant) -> None:
        wide_mm = min(self._columns.pitch_mm - 2.0, 46.0)
        room_mm = wide_mm - 1.6
        box = Box(x_mm - wide_mm / 2, 0, wide_mm, _HEAD_MM)
        pen = LINE if participant.part else Pen(0.25, INK, _LOST)
        with self._canvas.group(f"{participant.name}, {participant.address}", part=participant.part):
            self._canvas.box(box, pen=pen, fill=WASH)
            lines = lettering.wrapped(participant.name, room_mm, _CAPTION_MM, 2, bold=True)
            y_mm = 4.6 if len(lines) == 1 else 3.2
            for line in lines:
                self._canvas.text(
                    x_mm, y_mm, line, room_mm=room_mm, size_mm=_CAPTION_MM, bold=True, anchor="middle"
                )  # fmt: skip
                y_mm += 3.1
            self._canvas.text(
                x_mm, 9.6, participant.address, room_mm=room_mm, size_mm=_SMALL_MM, anchor="middle", colour=GREY
            )

    def _time(self, canvas: Canvas, at_s: float, base_mm: float) -> None:
        words = f"{at_s:.3f} s"
        canvas.text(_TIME_MM - 5, base_mm, words, room_mm=_TIME_MM - 5, size_mm=_SMALL_MM, anchor="end")

    def _break(self, canvas: Canvas, row: _Break) -> None:
        words = f"{row.lasts_s:.1f} s later"
        canvas.text(_TIME_MM - 5, 3.0, words, room_mm=_TIME_MM - 5, size_mm=_SMALL_MM, anchor="end", colour=GREY)
        for place, _ in self._columns.shown():
            x_mm = self._columns.x_mm(place)
            upper, lower = ((x_mm - 1.5, 2.1), (x_mm + 1.5, 0.9)), ((x_mm + 1.5, 2.5), (x_mm - 1.5, 3.7))
            canvas.area(*upper, *lower, pen=None, fill=PAPER)
            canvas.line(*upper, pen=FINE)
            canvas.line(*lower, pen=FINE)

    def _note(self, canvas: Canvas, row: Noted) -> None:
        whose = self._columns.sharing(row.at)
        words = f"{whose}: {row.words}" if whose else row.words
        x_mm = self._columns.x_mm(row.at)
        wide_mm = min(lettering.width_mm(words, _TEXT_MM) + 2 * _NOTE_PAD_MM, FIELD.width_mm - _TIME_MM)
        left_mm = min(max(x_mm - wide_mm / 2, _TIME_MM), FIELD.width_mm - wide_mm)
        name = self._columns.participants[row.at].name
        with canvas.group(f"{row.at_s:.3f} s, {name}: {row.words}"):
            self._time(canvas, row.at_s, 3.75)
            canvas.box(Box(left_mm, 0.9, wide_mm, 4.1), pen=FINE, fill=WASH, round_mm=1.2)
            room_mm = wide_mm - 2 * _NOTE_PAD_MM + 0.2
            canvas.text(left_mm + wide_mm / 2, 3.75, words, room_mm=room_mm, size_mm=_TEXT_MM, anchor="middle")

    def _sent(self, canvas: Canvas, row: Sent) -> None:
        sender, taker = (self._columns.participants[place].name for place in (row.sender, row.taker))
        start_mm, end_mm = self._columns.x_mm(row.sender), self._columns.x_mm(row.taker)
        if start_mm == end_mm:  # two who share a line
            end_mm = start_mm - min(self._columns.pitch_mm * 0.45, 12.0)
        words = _words(row)
        whose = self._columns.sharing(row.sender, row.taker)
        words = f"{words}, {whose}" if whose else words
        with canvas.group(f"{row.at_s:.3f} s, {sender} to {taker}: {words}"):
            self._time(canvas, row.at_s, _LINE_AT_MM + 0.4)
            self._label(canvas, (start_mm + end_mm) / 2, words)
            arrow(canvas, row.sort, start_mm, end_mm, lost=row.lost, again=row.again)

    def _label(self, canvas: Canvas, middle_mm: float, words: str) -> None:
        wide_mm = min(lettering.width_mm(words, _TEXT_MM), FIELD.width_mm - _TIME_MM - 2)
        middle_mm = min(max(middle_mm, _TIME_MM + wide_mm / 2 + 1), FIELD.width_mm - wide_mm / 2 - 1)
        canvas.box(Box(middle_mm - wide_mm / 2 - 0.5, 0.8, wide_mm + 1.0, 2.75), pen=None, fill=PAPER)
        canvas.text(middle_mm, _BASE_MM, words, room_mm=wide_mm + 0.2, size_mm=_TEXT_MM, anchor="middle")


def _words(row: Sent) -> str:
    """Return what stands above an arrow."""
    words = row.words
    count = len(row.packets)
    if row.sort in BANDS:
        words += f", {counted(count, 'packet')}"
        words += f" until {row.until_s:.3f} s" if row.until_s > row.at_s else ""
    elif row.sort is Sort.KEY:
        words += f" ({counted(count, 'packet')} in the speech)"
    if row.again:
        words += ", again"
    if row.lost:
        words += ": LOST"
    elif row.lost_count:
        words += f", {row.lost_count} lost"
    return words


# arrows


def arrow(canvas: Canvas, sort: Sort, start_mm: float, end_mm: float, *, lost: bool, again: bool) -> None:
    """Draw one arrow from x to x, in the shape of its sort; a lost one ends on the way with a cross."""
    to_mm = start_mm + (end_mm - start_mm) * (_LOST_AT if lost else 1.0)
    way = 1.0 if end_mm > start_mm else -1.0
    y_mm = _LINE_AT_MM
    if sort in BANDS:
        _band(canvas, start_mm, to_mm, way, lost=lost, hatched=sort is Sort.PICTURE)
    else:
        pen = _RESPONSE if sort in _THIN else _REQUEST
        pen = Pen(pen.width_mm, pen.colour, _LOST) if lost else pen
        shaft_mm = to_mm if lost or sort is Sort.RESPONSE else to_mm - way * _TIP_MM * 0.8
        canvas.line((start_mm, y_mm), (shaft_mm, y_mm), pen=pen)
        if not lost:
            _tip(canvas, to_mm, way, filled=sort is not Sort.RESPONSE)
    if sort is Sort.KEY:
        canvas.box(Box(start_mm + way * 2.2 - 0.7, y_mm - 0.7, 1.4, 1.4), pen=None, fill=INK)
    if again:
        canvas.disc(start_mm + way * 2.2, y_mm, 0.75, pen=FINE, fill=PAPER)
    if lost:
        for rise_mm in (0.9, -0.9):
            canvas.line((to_mm - 0.9, y_mm - rise_mm), (to_mm + 0.9, y_mm + rise_mm), pen=_REQUEST)


def _tip(canvas: Canvas, x_mm: float, way: float, *, filled: bool) -> None:
    y_mm, back_mm = _LINE_AT_MM, x_mm - way * _TIP_MM
    if filled:
        canvas.area((x_mm, y_mm), (back_mm, y_mm - 0.7), (back_mm, y_mm + 0.7), pen=None, fill=INK)
    else:
        canvas.line((back_mm, y_mm - 0.7), (x_mm, y_mm), (back_mm, y_mm + 0.7), pen=_RESPONSE)


def _band(canvas: Canvas, start_mm: float, to_mm: float, way: float, *, lost: bool, hatched: bool) -> None:
    """Draw a stream: a band with a tip, hatched for pictures; where none of it arrived its edge is broken."""
    y_mm, neck_mm = _LINE_AT_MM, to_mm - way * _TIP_MM
    points = (
        (start_mm, y_mm - _BAND_MM), (neck_mm, y_mm - _BAND_MM), (to_mm, y_mm), (neck_mm, y_mm + _BAND_MM),
        (start_mm, y_mm + _BAND_MM),
    )  # fmt: skip
    canvas.area(*points, pen=Pen(0.2, INK, _LOST if lost else ()), fill=WASH)
    if hatched:
        left_mm, right_mm = sorted((start_mm, neck_mm))
        for number in range(1, int((right_mm - left_mm) / _HATCH_MM)):
            x_mm = left_mm + number * _HATCH_MM
            canvas.line((x_mm - _BAND_MM, y_mm + _BAND_MM), (x_mm + _BAND_MM, y_mm - _BAND_MM), pen=HAIR)


def _legend() -> tuple[Entry, ...]:
    def sample(sort: Sort, *, lost: bool = False, again: bool = False) -> Entry:
        words = {
            Sort.REQUEST: "request, at the moment at which it is sent",
            Sort.RESPONSE: "response, and to which request",
            Sort.SPEECH: "speech of one direction, with all its packets",
            Sort.PICTURE: "pictures, likewise",
            Sort.KEY: "key pressed, told within the speech",
            Sort.REPORT: "report on the speech that came (RFC 3550)",
        }[sort]
        words = "lost on the way, or nobody there" if lost else "sent again, for lack of an answer" if again else words
        return Entry(
            lambda canvas: arrow(canvas.view(0, -_LINE_AT_MM + 1.7), sort, 0.0, 10.0, lost=lost, again=again), words
        )

    def broken(canvas: Canvas) -> None:
        canvas.line((3.5, 2.1), (6.5, 0.9), pen=FINE)
        canvas.line((3.5, 3.3), (6.5, 2.1), pen=FINE)

    return (
        sample(Sort.REQUEST),
        sample(Sort.RESPONSE),
        sample(Sort.SPEECH),
        sample(Sort.PICTURE),
        sample(Sort.KEY),
        sample(Sort.REPORT),
        sample(Sort.REQUEST, again=True),
        sample(Sort.REQUEST, lost=True),
        Entry(
            lambda canvas: canvas.box(Box(0, 0.1, 10, 3.2), pen=FINE, fill=WASH, round_mm=1.2),
            "what happens at this participant",
        ),
        Entry(broken, f"nothing happens for more than {BREAK_AFTER_S:g} s"),
    )
