"""The symbols of the drawings, each in a field 4 mm wide and 3.4 mm high, and their legend.

They are our own, in the manner of IEC 60617: a frame with a sign in it. Every difference of meaning is one of shape
and letters, so that a black-and-white copy says the same.
"""

from collections.abc import Callable
from enum import StrEnum
from typing import Final

from doorwright.model.door import FailMode
from doorwright.render.svg.canvas import ACCENT, FINE, INK, LINE, PAPER, Canvas, Pen
from doorwright.render.svg.geometry import Box

WIDTH_MM: Final = 4.0
HEIGHT_MM: Final = 3.4

DATA: Final = Pen(0.3)
UPLINK: Final = Pen(0.55, ACCENT)
POWER: Final = Pen(0.3, INK, (1.6, 0.5, 0.35, 0.5))
LOOP: Final = Pen(0.5, INK, (1.2, 0.8))


class Sign(StrEnum):
    """What a symbol stands for, in the words of the legend."""

    VCU = "visitor call unit (VCU)"
    URU = "user receiver unit (URU)"
    SMU = "security management unit (SMU)"
    SWITCH = "network switch"
    SUPPLY = "supply, extra-low voltage"
    FAIL_SAFE = "door, lock fail-safe: free without power"
    FAIL_SECURE = "door, lock fail-secure: held without power"
    LOCK_UNKNOWN = "door, fail mode not known"
    SERVER = "SIP server"


def lock_sign(mode: FailMode | None) -> Sign:
    """Return the symbol of a door whose lock fails this way."""
    if mode is None:
        return Sign.LOCK_UNKNOWN
    return Sign.FAIL_SAFE if mode is FailMode.SAFE else Sign.FAIL_SECURE


def draw(canvas: Canvas, sign: Sign, x_mm: float, y_mm: float) -> None:
    """Draw a symbol with its upper left corner at the point."""
    _DRAWN_BY[sign](canvas.view(x_mm, y_mm))


def _vcu(c: Canvas) -> None:  # a panel with its eye above and three keys below
    c.box(Box(0.6, 0, 2.8, 3.4), fill=PAPER)
    c.disc(2.0, 1.0, 0.5, pen=FINE)
    for x in (1.2, 2.0, 2.8):
        c.disc(x, 2.5, 0.22, pen=None, fill=INK)


def _uru(c: Canvas) -> None:  # a receiver: half round, on the wall
    c.line((0.4, 0.2), (0.4, 3.2), pen=Pen(0.5))
    c.area((0.4, 0.6), (2.4, 0.6), (3.2, 1.1), (3.2, 2.3), (2.4, 2.8), (0.4, 2.8), pen=LINE, fill=PAPER)
    c.disc(1.8, 1.7, 0.45, pen=None, fill=INK)


def _smu(c: Canvas) -> None:  # a desk with a unit on it
    c.box(Box(0.9, 0.1, 2.2, 1.7), fill=PAPER)
    c.disc(2.0, 0.95, 0.4, pen=None, fill=INK)
    c.line((0, 2.2), (4.0, 2.2), pen=Pen(0.5))
    c.line((0.5, 2.2), (0.5, 3.4))
    c.line((3.5, 2.2), (3.5, 3.4))


def _switch(c: Canvas) -> None:  # one line parting into many
    c.box(Box(0, 0.2, 4.0, 3.0), fill=PAPER)
    c.line((0.5, 1.7), (1.5, 1.7))
    for y in (0.9, 1.7, 2.5):
        c.line((1.5, 1.7), (2.3, y), (3.5, y))


def _supply(c: Canvas) -> None:  # alternating above, direct below the stroke
    c.box(Box(0.2, 0, 3.6, 3.4), fill=PAPER)
    c.line((0.2, 3.4), (3.8, 0), pen=FINE)
    c.line((0.7, 1.2), (0.95, 0.85), (1.2, 1.05), (1.45, 1.25), (1.7, 0.9), pen=FINE)
    c.line((2.2, 2.3), (3.3, 2.3), pen=FINE)
    c.line((2.2, 2.8), (3.3, 2.8), pen=Pen(0.18, INK, (0.3, 0.1)))


def _leaf(c: Canvas) -> None:
    c.line((0.3, 3.4), (0.3, 0.1), pen=Pen(0.5))
    c.line((0.3, 3.4), (3.9, 3.4), pen=FINE)


def _fail_safe(c: Canvas) -> None:  # an open ring: the way stands open
    _leaf(c)
    c.line((1.6, 2.3), (1.25, 1.9), (1.25, 1.3), (1.65, 0.8), (2.4, 0.65), (3.0, 0.9), (3.3, 1.4))
    c.line((1.6, 2.3), (2.2, 2.55), (2.8, 2.4))


def _fail_secure(c: Canvas) -> None:  # a solid block: the way is barred
    _leaf(c)
    c.box(Box(1.3, 0.7, 2.0, 1.9), fill=INK)


def _lock_unknown(c: Canvas) -> None:  # an empty, broken frame
    _leaf(c)
    c.box(Box(1.3, 0.7, 2.0, 1.9), pen=Pen(0.25, INK, (0.45, 0.3)))


def _server(c: Canvas) -> None:
    c.area((0.3, 1.7), (2.0, 0.1), (3.7, 1.7), (2.0, 3.3), fill=PAPER)
    c.line((1.3, 1.7), (2.7, 1.7))
    c.line((2.2, 1.3), (2.7, 1.7), (2.2, 2.1))


_DRAWN_BY: Final[dict[Sign, Callable[[Canvas], None]]] = {
    Sign.VCU: _vcu,
    Sign.URU: _uru,
    Sign.SMU: _smu,
    Sign.SWITCH: _switch,
    Sign.SUPPLY: _supply,
    Sign.FAIL_SAFE: _fail_safe,
    Sign.FAIL_SECURE: _fail_secure,
    Sign.LOCK_UNKNOWN: _lock_unknown,
    Sign.SERVER: _server,
}
