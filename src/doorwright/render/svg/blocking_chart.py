"""How often visitors find all call units of an entrance taken, over the number of call units."""

from collections.abc import Sequence
from typing import Any, Final

from doorwright.calc.traffic import blocked_ratio
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of_subject
from doorwright.model.walk import Walk
from doorwright.render.svg import lettering, sheet
from doorwright.render.svg.axes import TEXT_MM, Field, round_top
from doorwright.render.svg.canvas import BOLD, GREY, INK, LINE, PAPER, Canvas, Pen
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.sheet import Drawing, Entry, Numbering
from doorwright.studies.entrance_traffic import EntranceTraffic
from doorwright.studies.study import Study

_CURVES_MOST: Final = 24
_NAMES_MM: Final = 92.0
_LEFT_MM: Final = 18.0
_LINE_MM: Final = 4.6
_GOAL: Final = Pen(0.35, dash_mm=(2.0, 1.2))
_LEAD: Final = Pen(0.13, GREY)


def blocking_chart(studies: Sequence[Study[Any]], walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw one curve an entrance on a sheet; entrances with the same load share one. None where nothing was studied.

    Args:
        studies: the site's studies; those of entrances are drawn.
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    curves: dict[tuple[float, int], list[str]] = {}
    for study in studies:
        if isinstance(study.value, EntranceTraffic):
            key = (round(study.value.offered_erl, 9), study.value.lines_count)
            curves.setdefault(key, []).append(name_of_subject(walk, study.subject))
    if not curves:
        return ()
    goal_ratio = walk.settings().habits.busy_ratio
    ordered = sorted(curves, key=lambda key: (-key[0], key[1]))
    shown = ordered[:_CURVES_MOST]
    most_count = max(4, 1 + max(count for _, count in shown))
    field = Field(
        Box(_LEFT_MM, 9, sheet.FIELD.width_mm - _LEFT_MM - _NAMES_MM, sheet.FIELD.height_mm - 22),
        min(100.0, round_top(100.0 * max(goal_ratio, blocked_ratio(offered_erl=shown[0][0], lines_count=1)))),
    )
    canvas = Canvas()
    view = canvas.view(sheet.FIELD.x_mm, sheet.FIELD.y_mm)
    field.draw(view, "Visitors in the busiest hour who find every call unit taken, if those who do go away", unit=" %")
    _counts(view, field, most_count)
    marks = []
    for offered_erl, lines_count in shown:
        points = [
            (
                _x_mm(field, count, most_count),
                field.y_mm(100.0 * blocked_ratio(offered_erl=offered_erl, lines_count=count)),
            )
            for count in range(1, most_count + 1)
        ]
        taken = 100.0 * blocked_ratio(offered_erl=offered_erl, lines_count=lines_count)
        names = ", ".join(sorted(curves[offered_erl, lines_count], key=natural_key))
        figures = f": {taken:.1f} % at {lines_count}, {offered_erl:.3g} E"
        with view.group(f"{names}{figures}"):
            view.line(*points, pen=LINE)
            for x_mm, y_mm in points:
                view.disc(x_mm, y_mm, 0.5, pen=None, fill=INK)
            view.disc(*points[lines_count - 1], 1.1, pen=BOLD, fill=PAPER)
        marks.append((points[lines_count - 1], names, figures))
    _write_names(view, sorted(marks, key=lambda mark: mark[0][1]), field.box)
    if goal_ratio > 0.0:
        y_mm = field.y_mm(100.0 * goal_ratio)
        view.line((field.box.x_mm, y_mm), (field.box.right_mm, y_mm), pen=_GOAL)
    more = f" The {len(shown)} busiest of {len(ordered)}." if len(shown) < len(ordered) else ""
    numbering = Numbering("Call units and visitors", "blocking", revision, on, 1)
    shows = f"Erlang B by the number of call units at each entrance.{more}"
    return (sheet.finish(canvas, walk.settings(), numbering, sheet=1, shows=shows, legend=_legend()),)


def _x_mm(field: Field, count: int, most_count: int) -> float:
    return field.box.x_mm + field.box.width_mm * (count - 0.5) / most_count


def _counts(canvas: Canvas, field: Field, most_count: int) -> None:
    for count in range(1, most_count + 1):
        x_mm = _x_mm(field, count, most_count)
        canvas.line((x_mm, field.box.bottom_mm), (x_mm, field.box.bottom_mm + 1.2), pen=LINE)
        canvas.text(x_mm, field.box.bottom_mm + 4.4, str(count), room_mm=10, size_mm=TEXT_MM, anchor="middle")
    canvas.text(
        field.box.x_mm,
        field.box.bottom_mm + 8.6,
        "call units at the entrance",
        room_mm=80,
        size_mm=TEXT_MM,
        colour=GREY,
    )


def _write_names(canvas: Canvas, marks: Sequence[tuple[tuple[float, float], str, str]], box: Box) -> None:
    """Write the curves' names to the right of the field, from the highest mark down, each as near to its own as can be.

    A name too long for the margin is cut, its figures are not.
    """
    room_mm = _NAMES_MM - 5
    free_mm = box.y_mm
    for i, (mark, names, figures) in enumerate(marks):
        below_mm = (len(marks) - i) * _LINE_MM
        y_mm = min(max(free_mm, mark[1]), box.bottom_mm - below_mm)
        free_mm = y_mm + _LINE_MM
        canvas.line(mark, (box.right_mm + 1, y_mm), (box.right_mm + 3, y_mm), pen=_LEAD)
        shown = lettering.fit(names, room_mm - lettering.width_mm(figures, TEXT_MM), TEXT_MM)
        canvas.text(box.right_mm + 4, y_mm + 0.8, f"{shown}{figures}", room_mm=room_mm, size_mm=TEXT_MM, colour=INK)


def _legend() -> tuple[Entry, ...]:
    def planned(canvas: Canvas) -> None:
        canvas.line((0, 1.7), (10, 1.7), pen=LINE)
        canvas.disc(9, 1.7, 0.5, pen=None, fill=INK)
        canvas.disc(5, 1.7, 1.1, pen=BOLD, fill=PAPER)

    return (
        Entry(planned, "an entrance; the ring stands at the number of call units planned"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_GOAL), "what the site allows"),
        Entry(lambda _: None, "E: erlang, the mean number of visitors who call at one time"),
        Entry(lambda _: None, "an estimate from assumed habits of visitors, not from counts"),
    )
