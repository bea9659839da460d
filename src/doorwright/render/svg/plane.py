"""Two number lines at right angles, in round steps that need not begin at 0: where a pair of figures stands on them."""

from dataclasses import dataclass
from math import ceil, floor, log10
from typing import Final

from doorwright.render.svg.canvas import FINE, GREY, HAIR, Canvas
from doorwright.render.svg.geometry import Box

_TEXT_MM: Final = 1.9
_LABEL_MM: Final = 10.0


def round_steps(low: float, high: float, at_most_count: int = 6) -> tuple[float, ...]:
    """Return round figures, 1, 2 or 5 of a power of ten apart, the outermost at or beyond ``low`` and ``high``."""
    span = high - low if high > low else max(abs(high), 1.0)
    power = 10.0 ** floor(log10(span / at_most_count))
    step = next(power * part for part in (1.0, 2.0, 5.0, 10.0) if span / (power * part) <= at_most_count)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    return tuple(round(number * step, 12) for number in range(first, max(last, first + 1) + 1))


@dataclass(frozen=True, slots=True)
class Plane:
    """Both lines in a box on a canvas; their steps say where they begin and end."""

    canvas: Canvas
    box: Box
    x_steps: tuple[float, ...]
    y_steps: tuple[float, ...]

    def x_mm(self, x: float) -> float:
        """Return where a figure of the horizontal line stands."""
        return self.box.x_mm + self.box.width_mm * _share(x, self.x_steps)

    def y_mm(self, y: float) -> float:
        """Return where a figure of the vertical line stands."""
        return self.box.bottom_mm - self.box.height_mm * _share(y, self.y_steps)

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Return where a pair of figures stands."""
        return self.x_mm(x), self.y_mm(y)

    def draw(self, *, x_words: str, y_words: str) -> None:
        """Draw both lines with their steps, figures and words."""
        box = self.box
        for x in self.x_steps:
            self.canvas.line((self.x_mm(x), box.y_mm), (self.x_mm(x), box.bottom_mm + 1.0), pen=HAIR)
            self.canvas.text(
                self.x_mm(x), box.bottom_mm + 3.6, f"{x:g}", room_mm=_LABEL_MM, size_mm=_TEXT_MM, anchor="middle",
                colour=GREY,
            )  # fmt: skip
        for y in self.y_steps:
            self.canvas.line((box.x_mm - 1.0, self.y_mm(y)), (box.right_mm, self.y_mm(y)), pen=HAIR)
            self.canvas.text(
                box.x_mm - 1.6, self.y_mm(y) + 0.7, f"{y:g}", room_mm=_LABEL_MM, size_mm=_TEXT_MM, anchor="end",
                colour=GREY,
            )  # fmt: skip
        self.canvas.box(box, pen=FINE)
        self.canvas.text(
            box.right_mm, box.bottom_mm + 6.6, x_words, room_mm=box.width_mm, size_mm=_TEXT_MM, anchor="end"
        )
        self.canvas.text(box.x_mm - _LABEL_MM + 1, box.y_mm - 2.8, y_words, room_mm=box.width_mm, size_mm=_TEXT_MM)


def _share(value: float, steps: tuple[float, ...]) -> float:
    return (value - steps[0]) / (steps[-1] - steps[0])
