"""Sheets that are filled one after the other: pieces of a drawing in rows, side by side, and each sheet finished."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from doorwright.model.site import Site
from doorwright.render.svg import sheet
from doorwright.render.svg.canvas import Canvas
from doorwright.render.svg.geometry import Box, shelved
from doorwright.render.svg.sheet import Drawing, Entry, Numbering

P = TypeVar("P")


@dataclass(frozen=True, slots=True)
class Page(Generic[P]):
    """A sheet before its frame: what is drawn, and the pieces that it was drawn of."""

    canvas: Canvas
    pieces: Sequence[P]


def laid(
    sizes_mm: Sequence[tuple[float, float]], gap_mm: float, *, foot_mm: float = 0.0, scale: float = 1.0
) -> tuple[tuple[Box, ...], ...]:
    """Return where pieces of (width, height) stand in the field of each sheet, in their order.

    ``foot_mm`` stays free at the bottom of the field; where pieces are drawn ``scale`` times as large, their sizes, the
    gap and the boxes are those before.
    """
    room = Box(0, 0, sheet.FIELD.width_mm / scale, (sheet.FIELD.height_mm - foot_mm) / scale)
    return shelved(sizes_mm, room, gap_mm)


def filled(
    pieces: Sequence[P], boxes: Iterable[Sequence[Box]], draw: Callable[[Canvas, P], None], *, scale: float = 1.0
) -> tuple[Page[P], ...]:
    """Draw each piece where it was laid; it draws itself from its upper left corner."""
    pages = []
    done = 0
    for of_sheet in boxes:
        canvas = Canvas()
        shown = pieces[done : done + len(of_sheet)]
        for piece, box in zip(shown, of_sheet, strict=True):
            draw(canvas.view(sheet.FIELD.x_mm + box.x_mm * scale, sheet.FIELD.y_mm + box.y_mm * scale, scale), piece)
        done += len(of_sheet)
        pages.append(Page(canvas, shown))
    return tuple(pages)


def finished(
    pages: Sequence[Page[P]],
    site: Site,
    numbering: Numbering,
    *,
    shows: Callable[[Sequence[P]], str],
    legend: tuple[Entry, ...],
    scale: str = "not to scale",
) -> tuple[Drawing, ...]:
    """Put frame, legend and title block on every sheet; ``shows`` says in words what its pieces are."""
    return tuple(
        sheet.finish(page.canvas, site, numbering, sheet=number, shows=shows(page.pieces), legend=legend, scale=scale)
        for number, page in enumerate(pages, start=1)
    )
