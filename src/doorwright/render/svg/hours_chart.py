"""The hours of the simulated day: how many visitors come, and what share of them meets trouble, with intervals."""

from math import isfinite
from typing import Final

from doorwright.day.days import Figure, Played
from doorwright.day.design import HOURS_COUNT
from doorwright.day.interval import Estimate
from doorwright.kernel.words import counted
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet
from doorwright.render.svg.axes import TEXT_MM, Field, round_top
from doorwright.render.svg.canvas import BOLD, FINE, GREY, LINE, WASH, Canvas, Pen
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.sheet import Drawing, Entry, Numbering

_LEFT_MM: Final = 18.0
_HEAD_MM: Final = 7.0
_FOOT_MM: Final = 7.0
_GOAL: Final = Pen(0.35, dash_mm=(2.0, 1.2))


def hours_chart(played: Played, walk: Walk, *, revision: str, on: str, seed: int) -> Drawing:
    """Draw visitors, share that found the call unit taken, and share served by nobody, hour by hour, on one sheet.

    Args:
        played: the days.
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
        seed: the seed of the days, told so that they can be played again.
    """
    days = counted(int(played.visitors.shape[0]), "day")
    canvas = Canvas()
    field = canvas.view(sheet.FIELD.x_mm, sheet.FIELD.y_mm)
    goal = walk.settings().habits.busy_ratio
    visitors = [played.visitors_a_day(hour).estimate() for hour in range(HOURS_COUNT)]
    panels = (
        ("Visitors in the hour", visitors, 1.0, "", None),
        ("Tries that found the call unit taken", played.by_hour(Figure.FOUND_TAKEN), 100.0, " %", 100.0 * goal),
        ("Visitors served by nobody in the end", played.by_hour(Figure.GONE), 100.0, " %", None),
    )
    height_mm = sheet.FIELD.height_mm / len(panels)
    for i, (words, estimates, scale, unit, line_at) in enumerate(panels):
        bounds = [scale * bound for one in estimates for bound in (one.mean, one.high) if isfinite(bound)]
        box = Box(
            _LEFT_MM, i * height_mm + _HEAD_MM, sheet.FIELD.width_mm - _LEFT_MM - 1, height_mm - _HEAD_MM - _FOOT_MM
        )
        top = round_top(max([*bounds, line_at or 0.0], default=1.0))
        if unit:
            top = min(top, 100.0)
        chart = Field(box, top)
        chart.draw(field, words, unit=unit)
        _bars(field, chart, [_scaled(one, scale) for one in estimates], unit)
        if line_at is not None and line_at <= top:
            field.line((box.x_mm, chart.y_mm(line_at)), (box.right_mm, chart.y_mm(line_at)), pen=_GOAL)
    shows = f"{days} played with seed {seed}, {counted(len(played.building.entrances), 'call unit')}."
    numbering = Numbering("Visitors by the hour", "hours", revision, on, 1)
    return sheet.finish(canvas, walk.settings(), numbering, sheet=1, shows=shows, legend=_legend(played))


def _scaled(one: Estimate, scale: float) -> Estimate:
    return Estimate(scale * one.mean, scale * one.low, scale * one.high)


def _bars(canvas: Canvas, chart: Field, estimates: list[Estimate], unit: str) -> None:
    box = chart.box
    pitch_mm = box.width_mm / HOURS_COUNT
    for hour, one in enumerate(estimates):
        left_mm = box.x_mm + hour * pitch_mm
        canvas.text(
            left_mm + pitch_mm / 2, box.bottom_mm + 3.2, f"{hour:02d}-{hour + 1:02d}",
            room_mm=pitch_mm, size_mm=TEXT_MM, anchor="middle", colour=GREY,
        )  # fmt: skip
        if not isfinite(one.mean):
            continue  # nobody came in this hour of any day
        top_mm = chart.y_mm(one.mean)
        with canvas.group(f"{hour:02d}-{hour + 1:02d}: {one.mean:.2f}{unit}, from {one.low:.2f} to {one.high:.2f}"):
            bar = Box(left_mm + 0.2 * pitch_mm, top_mm, 0.6 * pitch_mm, box.bottom_mm - top_mm)
            if bar.height_mm > 0.0:
                canvas.box(bar, pen=LINE, fill=WASH)
            if isfinite(one.low) and isfinite(one.high):
                _whisker(canvas, left_mm + pitch_mm / 2, chart.y_mm(one.high), chart.y_mm(one.low))


def _whisker(canvas: Canvas, x_mm: float, high_mm: float, low_mm: float) -> None:
    canvas.line((x_mm, high_mm), (x_mm, low_mm), pen=BOLD)
    for y_mm in (high_mm, low_mm):
        canvas.line((x_mm - 1.2, y_mm), (x_mm + 1.2, y_mm), pen=FINE)


def _legend(played: Played) -> tuple[Entry, ...]:
    def mean(canvas: Canvas) -> None:
        canvas.box(Box(0, 0, 10, 3.4), pen=LINE, fill=WASH)

    def interval(canvas: Canvas) -> None:
        _whisker(canvas, 5, 0.2, 3.2)

    share = played.tally(Figure.FOUND_TAKEN, played.busiest_hour()).estimate()
    busiest = f"{100.0 * share.mean:.1f} %" if isfinite(share.mean) else "none"
    return (
        Entry(mean, "mean over the days played"),
        Entry(interval, "interval that holds the true mean of the model with 95 % confidence"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_GOAL), "what the site allows in its busiest hour"),
        Entry(lambda _: None, f"found taken in the busiest hour: {busiest}"),
        Entry(lambda _: None, "an estimate from assumed habits of visitors, not from counts"),
    )
