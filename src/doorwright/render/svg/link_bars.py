"""How full calls can make the links of the network: a pair of bars each, the fullest first."""

from collections.abc import Iterator, Sequence
from typing import Any, Final

from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of
from doorwright.model.network import CableRun, Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet
from doorwright.render.svg.axes import TEXT_MM, round_top, ticks
from doorwright.render.svg.canvas import ACCENT, GREY, HAIR, LINE, PALE, WASH, Canvas, Pen
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.sheet import Drawing, Entry, Numbering
from doorwright.studies.link_streams import LinkStreams
from doorwright.studies.study import Study

_NAMES_MM: Final = 110.0
_FIGURES_MM: Final = 58.0
_HEAD_MM: Final = 8.0
_ROW_MM: Final = 5.6
_BAR_MM: Final = 1.9
_ROWS_MOST: Final = int((sheet.FIELD.height_mm - _HEAD_MM) / _ROW_MM)
_SCALES_MOST: Final = 4.0
"""A limit so many times beyond the fullest link is not drawn: the bars would be too short to tell apart."""
_LIMIT: Final = Pen(0.35, dash_mm=(2.0, 1.2))


def link_bars(studies: Sequence[Study[Any]], walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw the fullest links on a sheet; none where no link was studied.

    Args:
        studies: the site's studies; those of the streams on links are drawn.
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    links = [
        (study.value, walk.get(CableRun, study.subject.id)) for study in studies if isinstance(study.value, LinkStreams)
    ]
    if not links:
        return ()
    rows = sorted(_rows(walk, links), key=lambda row: (-row[0].use_ratio, natural_key(row[1])))
    shown = rows[:_ROWS_MOST]
    limit, fullest = 100.0 * walk.settings().media.link_use_ratio, 100.0 * shown[0][0].use_ratio
    is_near = limit <= _SCALES_MOST * fullest
    top = round_top(max(limit, fullest) if is_near else fullest)
    canvas = Canvas()
    view = canvas.view(sheet.FIELD.x_mm, sheet.FIELD.y_mm)
    wide_mm = sheet.FIELD.width_mm - _NAMES_MM - _FIGURES_MM
    bottom_mm = _HEAD_MM + len(shown) * _ROW_MM
    for percent in ticks(top):
        x_mm = _NAMES_MM + wide_mm * percent / top
        view.line((x_mm, _HEAD_MM - 1), (x_mm, bottom_mm), pen=Pen(0.13, PALE))
        view.text(x_mm, 4.6, f"{percent:g} %", room_mm=16, size_mm=TEXT_MM, anchor="middle", colour=GREY)
    for i, (value, words) in enumerate(shown):
        _row(view.view(0, _HEAD_MM + i * _ROW_MM), value, words, wide_mm / top)
    if is_near:
        limit_mm = _NAMES_MM + wide_mm * limit / top
        view.line((limit_mm, _HEAD_MM - 1), (limit_mm, bottom_mm), pen=_LIMIT)
    left_out = "" if len(shown) == len(rows) else f" The {len(shown)} fullest of {len(rows)} rows."
    shows = f"{counted(len(links), 'link')} with as many calls at once as there can be.{left_out}"
    numbering = Numbering("Use of the links", "links", revision, on, 1)
    legend = _legend(f"{limit:g} %{'' if is_near else ', beyond this scale'}")
    return (sheet.finish(canvas, walk.settings(), numbering, sheet=1, shows=shows, legend=legend),)


def _rows(walk: Walk, links: Sequence[tuple[LinkStreams, CableRun]]) -> Iterator[tuple[LinkStreams, str]]:
    """Yield the links with their words; those of one switch to units that carry the same share a row."""
    to_units: dict[tuple[str, LinkStreams], list[str]] = {}
    for value, run in links:
        near, far = walk.find(Switch, run.near), walk.find(Switch, run.far)
        unit = walk.find(Unit, run.far)
        if near is not None and far is not None:
            yield value, f"{run.label}: {name_of(walk, near)} to {name_of(walk, far)}"
        elif near is not None and unit is not None:
            to_units.setdefault((near.id, value), []).append(name_of(walk, unit))
    for (near_id, value), names in to_units.items():
        names.sort(key=natural_key)
        told = ", ".join(names[:2]) + (f" and {len(names) - 2} more" if len(names) > 2 else "")
        yield value, f"{name_of(walk, walk.get(Switch, near_id))} to {told}"


def _row(canvas: Canvas, value: LinkStreams, words: str, mm_a_percent: float) -> None:
    figures = f"{value.down_kbps / 1000.0:.1f} down, {value.up_kbps / 1000.0:.1f} up, of {value.link_mbps:g} Mb/s"
    with canvas.group(f"{words}; {figures}"):
        canvas.text(0, 3.2, words, room_mm=_NAMES_MM - 3, size_mm=TEXT_MM)
        for y_mm, kbps, fill in ((0.6, value.down_kbps, WASH), (0.6 + _BAR_MM, value.up_kbps, ACCENT)):
            long_mm = kbps / value.link_mbps / 10.0 * mm_a_percent
            if long_mm > 0.0:
                canvas.box(Box(_NAMES_MM, y_mm, long_mm, _BAR_MM), pen=HAIR, fill=fill)
        canvas.text(sheet.FIELD.width_mm, 3.2, figures, room_mm=_FIGURES_MM - 8, size_mm=1.9, anchor="end", colour=GREY)
    canvas.line((_NAMES_MM, 0), (_NAMES_MM, _ROW_MM), pen=LINE)


def _legend(limit: str) -> tuple[Entry, ...]:
    box = Box(0, 0.6, 10, 2.2)
    return (
        Entry(lambda canvas: canvas.box(box, pen=HAIR, fill=WASH), "away from the feeding end of the cable (down)"),
        Entry(lambda canvas: canvas.box(box, pen=HAIR, fill=ACCENT), "towards it (up)"),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_LIMIT), f"as full as a link may be: {limit}"),
        Entry(lambda _: None, "each call unit and each dwelling in one call"),
        Entry(lambda _: None, "speech and pictures alone: whatever else shares the network comes on top"),
    )
