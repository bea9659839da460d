"""The schedule as a chart of bars: one row a technician, time to the right, cut into strips of an hour."""

from collections.abc import Iterable
from typing import Final

from doorwright.model.walk import Walk
from doorwright.plan.schedule import Schedule, Visit
from doorwright.render.svg import lettering, sheet
from doorwright.render.svg.canvas import BOLD, FINE, GREY, HAIR, INK, LINE, PALE, PAPER, WASH, Canvas, Pen
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.sheet import Drawing, Entry, Numbering

_STRIP_S: Final = 3_600
_TICK_S: Final = 600
_NAMES_MM: Final = 24.0
_MM_A_SECOND: Final = (sheet.FIELD.width_mm - _NAMES_MM - 1) / _STRIP_S
_AXIS_MM: Final = 5.0
_ROW_MM: Final = 12.6
_BAR_MM: Final = 9.4
_GAP_MM: Final = 4.0
_LANE_MM: Final = 2.6
"""Above the bars: the numbers of those that are too narrow to hold them."""
_TEXT_MM: Final = 1.9
_LINES_MM: Final = (2.1, 4.1, 6.1, 8.1)
"""The base lines of the words on a bar."""
_EDGE_MM: Final = 0.9
"""What a bar leaves free of its words at either side."""
_STRAY_MM: Final = 4.0
"""So far from its bar a number may stand where another is in its way."""
_HATCH_MM: Final = 1.5
_TESTS: Final = Pen(0.8)
_LOOKS: Final = Pen(0.25, dash_mm=(1.0, 0.6))
_ROWS_MAX: Final = int((sheet.FIELD.height_mm - _AXIS_MM - _GAP_MM) / _ROW_MM)


def gantt(schedule: Schedule, walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw a schedule on as many A3 sheets as it needs to stay legible; none where there is nothing to do.

    Args:
        schedule: the work shared among technicians.
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    strips = [
        (range(first, min(first + _ROWS_MAX, schedule.technicians)), begin_s)
        for first in range(0, schedule.technicians, _ROWS_MAX)
        for begin_s in range(0, schedule.finish_s, _STRIP_S)
    ]
    if not strips:
        return ()
    strip_mm = _AXIS_MM + _ROW_MM * len(strips[0][0]) + _GAP_MM
    a_sheet = max(1, int(sheet.FIELD.height_mm / strip_mm))
    sheets = [strips[at : at + a_sheet] for at in range(0, len(strips), a_sheet)]
    numbering = Numbering("Schedule of work", "schedule", revision, on, len(sheets))
    drawings = []
    for number, shown in enumerate(sheets, start=1):
        canvas = Canvas()
        for i, (technicians, begin_s) in enumerate(shown):
            field = canvas.view(sheet.FIELD.x_mm, sheet.FIELD.y_mm + i * strip_mm)
            _strip(field, schedule, technicians, begin_s)
        words = f"{schedule.technicians} technicians" if schedule.technicians > 1 else "1 technician"
        end_s = min(schedule.finish_s, shown[-1][1] + _STRIP_S)
        shows = f"{words}, {clock(shown[0][1])} to {clock(end_s)} of {clock(schedule.finish_s)} hours from the start."
        drawings.append(sheet.finish(canvas, walk.settings(), numbering, sheet=number, shows=shows, legend=_legend()))
    return tuple(drawings)


def clock(time_s: int) -> str:
    """Return a time since the start of the work as hours and minutes: "3:07"."""
    return f"{time_s // 3600}:{time_s % 3600 // 60:02d}"


def _legend() -> tuple[Entry, ...]:
    bar = Box(0, 0, 10, 3.4)
    return (
        Entry(lambda canvas: _bar(canvas, bar), "setting up and entering; the list of work tells each number in full"),
        Entry(lambda canvas: _bar(canvas, bar, is_look=True), "looking again whether units have registered"),
        Entry(lambda canvas: _bar(canvas, bar, is_test=True), "testing calls and releases"),
        Entry(lambda canvas: _hatch(canvas, bar), "waiting: nothing sooner to do at or near this place"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=BOLD), "walking"),
        Entry(lambda canvas: canvas.line((5, 0), (5, 3.4), pen=HAIR), f"every {_TICK_S // 60} minutes"),
    )


def _strip(canvas: Canvas, schedule: Schedule, technicians: range, begin_s: int) -> None:
    height_mm = _AXIS_MM + _ROW_MM * len(technicians)
    for tick_s in range(0, _STRIP_S + 1, _TICK_S):
        x_mm = _NAMES_MM + tick_s * _MM_A_SECOND
        canvas.line((x_mm, _AXIS_MM - 1), (x_mm, height_mm), pen=HAIR)
        anchor = "end" if tick_s == _STRIP_S else "middle"
        canvas.text(x_mm, 3.2, clock(begin_s + tick_s), room_mm=15, size_mm=_TEXT_MM, anchor=anchor, colour=GREY)
    for row, technician in enumerate(technicians):
        top_mm = _AXIS_MM + row * _ROW_MM
        canvas.line((0, top_mm + _ROW_MM), (sheet.FIELD.width_mm, top_mm + _ROW_MM), pen=Pen(0.13, PALE))
        canvas.text(0, top_mm + 7.6, f"Technician {technician + 1}", room_mm=_NAMES_MM - 2, size_mm=2.4, bold=True)
        filled_mm = _NAMES_MM
        for visit in schedule.of(technician):
            if visit.end_s > begin_s and visit.start_s - visit.wait_s - visit.walk_s < begin_s + _STRIP_S:
                filled_mm = _visit(canvas, visit, begin_s, top_mm + _LANE_MM, filled_mm)


def _visit(canvas: Canvas, visit: Visit, begin_s: int, top_mm: float, filled_mm: float) -> float:
    """Draw a visit and return up to where the numbers above the bars reach."""
    waits_s = visit.start_s - visit.wait_s
    walk = _span(waits_s - visit.walk_s, waits_s, begin_s, top_mm)
    wait = _span(waits_s, visit.start_s, begin_s, top_mm)
    if walk is not None:
        middle_mm = walk.y_mm + walk.height_mm / 2
        canvas.line((walk.x_mm, middle_mm), (walk.right_mm, middle_mm), pen=BOLD)
    if wait is not None:
        with canvas.group(f"wait {visit.wait_s // 60} min {visit.wait_s % 60} s"):
            _hatch(canvas, wait)
    box = _span(visit.start_s, visit.end_s, begin_s, top_mm)
    if box is None:
        return filled_mm
    job = visit.job
    number = str(job.number + 1)
    with canvas.group(f"{number} {job.action}; {job.where}; from {clock(visit.start_s)} to {clock(visit.end_s)}"):
        _bar(canvas, box, is_look=job.is_look, is_test=job.stage == "test")
        if lettering.width_mm(number, _TEXT_MM, bold=True) > box.width_mm - 2 * _EDGE_MM:
            return _number_above(canvas, number, box, filled_mm)
        _words(canvas, visit, box, is_continued=visit.start_s < begin_s)
    return filled_mm


def _number_above(canvas: Canvas, number: str, box: Box, filled_mm: float) -> float:
    """Write a number above its narrow bar, a little to the right where another stands already."""
    wide_mm = lettering.width_mm(number, _TEXT_MM, bold=True)
    x_mm = max(filled_mm, min(box.x_mm + (box.width_mm - wide_mm) / 2, sheet.FIELD.width_mm - wide_mm))
    if x_mm > box.right_mm + _STRAY_MM or x_mm + wide_mm > sheet.FIELD.width_mm:
        return filled_mm  # its title and the printed list tell it
    canvas.text(x_mm, box.y_mm - 0.6, number, room_mm=wide_mm, size_mm=_TEXT_MM, bold=True)
    return x_mm + wide_mm + 0.6


def _words(canvas: Canvas, visit: Visit, box: Box, *, is_continued: bool) -> None:
    """Write on a bar what fits it whole: nothing is cut, as the printed list tells every number in full."""
    job, room_mm = visit.job, box.width_mm - 2 * _EDGE_MM
    number = str(job.number + 1)
    head = _fitting((f"{number}, continued", number) if is_continued else (number,), room_mm, bold=True)
    part = (job.parts[0].label,) if len(job.parts) == 1 else ()
    action = _wrapped((job.action, *part, job.action.split(",")[0]), room_mm, 2)
    before, _, after = job.where.rpartition(": ")
    place = (job.where, after, before) if before else (job.where, job.where.rpartition(", ")[0])
    where = _wrapped(place, room_mm, len(_LINES_MM) - 1 - len(action))
    lines = ((head, True, INK), *((line, False, INK) for line in action), *((line, False, GREY) for line in where))
    for y_mm, (line, is_bold, colour) in zip(_LINES_MM, lines, strict=False):
        canvas.text(
            box.x_mm + _EDGE_MM, box.y_mm + y_mm, line,
            room_mm=room_mm, size_mm=_TEXT_MM, bold=is_bold, colour=colour,
        )  # fmt: skip


def _fitting(options: Iterable[str], room_mm: float, *, bold: bool = False) -> str:
    """Return the first of some words that fits on a line, or nothing."""
    return next((one for one in options if lettering.width_mm(one, _TEXT_MM, bold=bold) <= room_mm), "")


def _wrapped(options: Iterable[str], room_mm: float, lines_count: int) -> list[str]:
    """Return the first of some words that fits whole on so many lines, as lines, or none."""
    for words in filter(None, options):
        lines = [""]
        for word in words.split():
            joined = f"{lines[-1]} {word}".strip()
            if lines[-1] and not _fitting((joined,), room_mm):
                lines.append(word)
            else:
                lines[-1] = joined
        if len(lines) <= lines_count and all(_fitting((line,), room_mm) for line in lines):
            return lines
    return []


def _span(from_s: int, to_s: int, begin_s: int, top_mm: float) -> Box | None:
    """Return where a span of time stands in the strip that begins at ``begin_s``, or None where it does not."""
    from_s, to_s = max(from_s, begin_s) - begin_s, min(to_s, begin_s + _STRIP_S) - begin_s
    if to_s <= from_s:
        return None
    return Box(_NAMES_MM + from_s * _MM_A_SECOND, top_mm, (to_s - from_s) * _MM_A_SECOND, _BAR_MM)


def _bar(canvas: Canvas, box: Box, *, is_look: bool = False, is_test: bool = False) -> None:
    canvas.box(box, pen=_LOOKS if is_look else LINE, fill=WASH if is_look else PAPER)
    if is_test:
        canvas.line((box.x_mm, box.bottom_mm - 0.4), (box.right_mm, box.bottom_mm - 0.4), pen=_TESTS)


def _hatch(canvas: Canvas, box: Box) -> None:
    """Slanting strokes that end at the edges of the box."""
    canvas.box(box, pen=HAIR, fill=PAPER)
    along_mm = _HATCH_MM
    while along_mm < box.width_mm + box.height_mm:
        start = (min(along_mm, box.width_mm), max(0.0, along_mm - box.width_mm))
        end = (max(0.0, along_mm - box.height_mm), min(along_mm, box.height_mm))
        canvas.line(*((box.x_mm + x_mm, box.y_mm + y_mm) for x_mm, y_mm in (start, end)), pen=FINE)
        along_mm += _HATCH_MM
