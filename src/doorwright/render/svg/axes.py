"""The field of a chart: its frame, round numbers along the side, and where a value stands."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import floor, log10
from typing import Final

from doorwright.render.svg.canvas import FINE, GREY, PALE, Canvas, Pen
from doorwright.render.svg.geometry import Box

TEXT_MM: Final = 2.2
_RULE: Final = Pen(0.13, PALE)
_STEPS: Final = {1.0: 5, 1.5: 3, 2.0: 4, 3.0: 3, 4.0: 4, 5.0: 5, 6.0: 3, 8.0: 4, 10.0: 5}
"""The first digits of a round top, and into how many steps it is cut."""


@dataclass(frozen=True, slots=True)
class Field:
    """A field on paper in which values from 0 to ``top`` stand one above the other."""

    box: Box
    top: float

    def y_mm(self, value: float) -> float:
        """Return how far down a value stands; what lies outside stands on the edge."""
        share = min(max(value / self.top, 0.0), 1.0)
        return self.box.bottom_mm - share * self.box.height_mm

    def draw(self, canvas: Canvas, words: str, *, unit: str) -> None:
        """Draw the frame, the rules at round numbers, and what is shown."""
        for value in ticks(self.top):
            y_mm = self.y_mm(value)
            canvas.line((self.box.x_mm, y_mm), (self.box.right_mm, y_mm), pen=_RULE)
            canvas.text(
                self.box.x_mm - 1.5, y_mm + 0.8, f"{value:g}{unit}",
                room_mm=14, size_mm=TEXT_MM, anchor="end", colour=GREY,
            )  # fmt: skip
        canvas.box(self.box, pen=FINE)
        canvas.text(self.box.x_mm, self.box.y_mm - 1.8, words, room_mm=self.box.width_mm, size_mm=2.6, bold=True)


def round_top(value: float) -> float:
    """Return the least round number that is not below a value: a digit or 1.5 with zeros, fit for even steps."""
    if not value > 0.0:
        return 1.0
    power: float = 10.0 ** floor(log10(value))
    return next(step * power for step in _STEPS if step * power >= value * (1.0 - 1e-12))


def ticks(top: float) -> Iterator[float]:
    """Yield a few round numbers from 0 up to a round top."""
    count = _STEPS[round(top / 10.0 ** floor(log10(top)), 6)]
    for i in range(count + 1):
        yield round(top * i / count, 12)
