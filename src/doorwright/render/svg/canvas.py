"""A small writer of SVG: shapes, text that fits its room, titles for screen readers. Escapes everything once, here.

Only presentation attributes are written: no style sheets, variables, scripts, transforms or outside references, so
that a browser, librsvg and the PDF writer draw the same thing. Lengths are millimetres on paper: one user unit each.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from doorwright.render.svg import lettering
from doorwright.render.svg.geometry import Box

INK: Final = "#1b1b1b"
GREY: Final = "#5a5a5a"
PALE: Final = "#b9b9b9"
WASH: Final = "#f3f3f1"
PAPER: Final = "#ffffff"
ACCENT: Final = "#1f4f7a"

FONTS: Final = "Noto Sans, DejaVu Sans, sans-serif"
TEXT_MIN_MM: Final = 1.8
"""The smallest font size on paper, about 5 pt."""

_DIRECTIONAL_ANCHOR: Final = {"start": 0.0, "middle": 0.5, "end": 1.0}


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is drawn: thickness on paper, colour, dashes."""

    width_mm: float
    colour: str = INK
    dash_mm: tuple[float, ...] = ()


HAIR: Final = Pen(0.13, GREY)
FINE: Final = Pen(0.18)
LINE: Final = Pen(0.25)
BOLD: Final = Pen(0.5)
HEAVY: Final = Pen(0.8)


class Canvas:
    """A sheet, or a part of one seen through ``view``: coordinates count from its origin and are scaled."""

    def __init__(self) -> None:
        self._parts: list[str] = []
        self._x_mm = 0.0
        self._y_mm = 0.0
        self._scale = 1.0

    def view(self, x_mm: float, y_mm: float, scale: float = 1.0) -> "Canvas":
        """Return the same sheet seen from another origin, everything drawn ``scale`` times as large."""
        view = Canvas()
        view._parts = self._parts
        view._x_mm = self._x_mm + x_mm * self._scale
        view._y_mm = self._y_mm + y_mm * self._scale
        view._scale = self._scale * scale
        return view

    # structure

    @contextmanager
    def group(self, title: str = "", *, part: str = "") -> Iterator[None]:
        """Draw what follows as one thing with a title; ``part`` marks the part of the site that it stands for."""
        mark = f" data-part={quoteattr(lettering.clean(part))}" if part else ""
        self._parts.append(f"<g{mark}>{_title(title)}")
        yield
        self._parts.append("</g>")

    def text_of(self, *, width_mm: float, height_mm: float, title: str, description: str) -> str:
        """Return the whole document."""
        return "".join(
            (
                '<?xml version="1.0" encoding="UTF-8"?>\n'
                f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_mm:g}mm" height="{height_mm:g}mm" '
                f'viewBox="0 0 {width_mm:g} {height_mm:g}" role="img" font-family="{FONTS}" '
                f'stroke-linecap="butt" stroke-linejoin="miter">'
                f"{_title(title)}<desc>{escape(lettering.clean(description))}</desc>\n",
                f'<rect width="{width_mm:g}" height="{height_mm:g}" fill="{PAPER}"/>\n',
                "\n".join(self._parts),
                "\n</svg>\n",
            )
        )

    def shapes(self) -> str:
        """Return what was drawn so far, without a document around it."""
        return "".join(self._parts)

    # shapes

    def line(self, *points_mm: tuple[float, float], pen: Pen = LINE) -> None:
        """Draw a line through the points."""
        self._shape("polyline", f'points="{self._points(points_mm)}"', pen, None)

    def area(self, *points_mm: tuple[float, float], pen: Pen | None = LINE, fill: str | None = None) -> None:
        """Draw a closed shape through the points."""
        self._shape("polygon", f'points="{self._points(points_mm)}"', pen, fill)

    def box(self, box: Box, *, pen: Pen | None = LINE, fill: str | None = None, round_mm: float = 0.0) -> None:
        """Draw a rectangle, its corners rounded by ``round_mm``."""
        s = self._scale
        corner = f' rx="{round_mm * s:.2f}"' if round_mm else ""
        place = f'x="{self._x(box.x_mm)}" y="{self._y(box.y_mm)}"'
        size = f'width="{box.width_mm * s:.2f}" height="{box.height_mm * s:.2f}"'
        self._shape("rect", f"{place} {size}{corner}", pen, fill)

    def disc(
        self, x_mm: float, y_mm: float, radius_mm: float, *, pen: Pen | None = LINE, fill: str | None = None
    ) -> None:
        """Draw a circle."""
        where = f'cx="{self._x(x_mm)}" cy="{self._y(y_mm)}" r="{radius_mm * self._scale:.2f}"'
        self._shape("circle", where, pen, fill)

    def text(
        self,
        x_mm: float,
        y_mm: float,
        text: str,
        *,
        room_mm: float,
        size_mm: float = 2.0,
        bold: bool = False,
        anchor: str = "start",
        colour: str = INK,
    ) -> None:
        """Write one line on the base line ``y_mm`` in at most ``room_mm``; what is cut stays in its title.

        Text that runs right to left is centred where it stands: renderers differ in which end its "start" is,
        but not in its middle.

        Raises:
            ValueError: the letters would be smaller on paper than ``TEXT_MIN_MM``.
        """
        if size_mm * self._scale < TEXT_MIN_MM - 1e-9:
            raise ValueError(f"text {text!r} would be {size_mm * self._scale:.2f} mm high, below {TEXT_MIN_MM} mm")
        whole = lettering.clean(text)
        if not whole:
            return
        shown = lettering.fit(whole, room_mm, size_mm, bold=bold)
        direction = ""
        if lettering.is_right_to_left(shown):
            wide_mm = lettering.width_mm(shown, size_mm, bold=bold)
            x_mm += wide_mm * (0.5 - _DIRECTIONAL_ANCHOR[anchor])
            anchor = "middle"
            direction = ' direction="rtl" unicode-bidi="embed"'
        attributes = f'x="{self._x(x_mm)}" y="{self._y(y_mm)}" font-size="{size_mm * self._scale:.2f}"{direction}'
        attributes += ' font-weight="bold"' if bold else ""
        attributes += f' text-anchor="{anchor}"' if anchor != "start" else ""
        title = _title(whole) if shown != whole else ""
        self._parts.append(f'<text {attributes} fill="{colour}">{title}{escape(shown)}</text>')

    def _shape(self, name: str, where: str, pen: Pen | None, fill: str | None) -> None:
        stroke = ""
        if pen is not None:
            stroke = f' stroke="{pen.colour}" stroke-width="{pen.width_mm:g}"'
            if pen.dash_mm:
                stroke += f' stroke-dasharray="{" ".join(f"{dash:g}" for dash in pen.dash_mm)}"'
        self._parts.append(f'<{name} {where} fill="{fill or "none"}"{stroke}/>')

    def _x(self, x_mm: float) -> str:
        return f"{self._x_mm + x_mm * self._scale:.2f}"

    def _y(self, y_mm: float) -> str:
        return f"{self._y_mm + y_mm * self._scale:.2f}"

    def _points(self, points_mm: Sequence[tuple[float, float]]) -> str:
        return " ".join(f"{self._x(x)},{self._y(y)}" for x, y in points_mm)


def _title(title: str) -> str:
    return f"<title>{escape(lettering.clean(title))}</title>" if title else ""
