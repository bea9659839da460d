"""Each entrance seen from outside, with the height of its call unit beside the ranges that accessibility sources give.

Heights are drawn 1:20; nothing else is: the plan knows neither the size of a leaf nor where beside it a unit is fixed.
"""

from collections.abc import Iterator, Sequence
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.door import Door
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.place import Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.reach import DECIDES, REACHES, Reach
from doorwright.render.svg import lettering, sheet, symbols
from doorwright.render.svg.canvas import BOLD, FINE, GREY, HAIR, INK, LINE, PAPER, WASH, Canvas, Pen
from doorwright.render.svg.filling import filled, finished, laid
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.sheet import Drawing, Entry, Numbering
from doorwright.render.svg.symbols import Sign, lock_sign

SCALE: Final = 20
"""Millimetres of the building in one on paper."""
_SHOWN_MM: Final = 1860
"""Up to this height above the floor is drawn; what is higher is told in words."""
_WIDTH_MM: Final = 124.0
_HEIGHT_MM: Final = 117.0
_GAP_MM: Final = 6.0
_FLOOR_MM: Final = 102.0
_REACH_MM: Final = 15.0
_LEAF_MM: Final = 61.0
_LEAF_WIDTH_MM: Final = 38.0
_UNITS_MM: Final = 101.0
_UNITS_MAX: Final = 2
_NAME_MM: Final = 13.8
_DOORS_MAX: Final = 2
_TEXT_MM: Final = 2.0
_GUIDE: Final = Pen(0.18, GREY, (1.0, 0.8))
_PANEL: Final = Box(-3.2, 0, 6.4, 7.0)
"""The drawn unit: its size is a sign, its upper control lies on the measured height."""


def elevations(walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw every entrance, six to an A3 sheet; nothing where the site has none.

    Args:
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    entrances = sorted(walk.all(Entrance), key=lambda entrance: natural_key(entrance.name))
    if not entrances:
        return ()
    boxes = laid([(_WIDTH_MM, _HEIGHT_MM)] * len(entrances), _GAP_MM)
    pages = filled(entrances, boxes, lambda canvas, entrance: _entrance(canvas, walk, entrance))
    numbering = Numbering("Entrances, heights", "entrances", revision, on, len(pages))
    scale = f"heights 1:{SCALE} on A3"
    return finished(pages, walk.settings(), numbering, shows=_shows, legend=_legend(), scale=scale)


def _shows(shown: Sequence[Entrance]) -> str:
    names = shown[0].name if len(shown) == 1 else f"{shown[0].name} to {shown[-1].name}"
    return f"{names}: {counted(len(shown), 'entrance')} from outside."


def _legend() -> tuple[Entry, ...]:
    def control(canvas: Canvas) -> None:
        canvas.line((1, 1.7), (9, 1.7), pen=FINE)
        canvas.disc(5, 1.7, 0.5, pen=None, fill=INK)

    def bar(canvas: Canvas) -> None:
        canvas.box(Box(3.5, 0, 3, 3.4), pen=LINE, fill=WASH)

    def cited(reach: Reach) -> Entry:
        place = reach.cite.place
        clause = place.partition(", ")[2] if place.startswith("volume ") else place
        return Entry(bar, f"{reach.name}: {clause}; {reach.what} ({reach.cite.held})")

    return (
        *(cited(reach) for reach in REACHES),
        Entry(control, f"highest control above the finished floor, mm. {DECIDES}"),
        Entry(lambda canvas: canvas.box(Box(3.3, 0, 3.4, 3.4), fill=PAPER), "call unit; its size is not in the plan"),
        Entry(lambda canvas: _button(canvas, 5, 1.7), "exit button inside, at its height"),
        *(sheet.sign_entry(sign) for sign in (Sign.FAIL_SAFE, Sign.FAIL_SECURE, Sign.LOCK_UNKNOWN)),
        Entry(_broken, "leaf, its height not in the plan"),
    )


def _broken(canvas: Canvas) -> None:
    canvas.line((1, 3.4), (1, 1.2), (3, 1.2), (4.4, 0.2), (5.6, 2.2), (7, 1.2), (9, 1.2), (9, 3.4))


def _y_mm(height_mm: float) -> float:
    return _FLOOR_MM - height_mm / SCALE


def _entrance(canvas: Canvas, walk: Walk, entrance: Entrance) -> None:
    doors = sorted(walk.doors_of(entrance.id), key=lambda door: natural_key(door.name))
    units = [unit for unit in walk.units_at(entrance.id) if unit.kind is UnitKind.VCU]
    units.sort(key=lambda unit: natural_key(unit.name))
    place = where_is(walk, entrance) or "place not given"
    served = counted(len(walk.dwellings_served(entrance)), "dwelling")
    with canvas.group(f"Entrance {entrance.name}, {place}", part=f"entrance:{entrance.id}"):
        canvas.text(0, 3.4, entrance.name, room_mm=_WIDTH_MM, size_mm=2.9, bold=True)
        canvas.text(0, 6.8, f"{place} · serves {served}", room_mm=_WIDTH_MM, size_mm=_TEXT_MM, colour=GREY)
        canvas.line((0, _FLOOR_MM), (_WIDTH_MM - 2, _FLOOR_MM), pen=BOLD)
        canvas.text(0, _FLOOR_MM + 3.0, "finished floor", room_mm=40, size_mm=_TEXT_MM, colour=GREY)
        drawn = [unit for unit in units if unit.height_mm is not None and 0 < unit.height_mm <= _SHOWN_MM]
        for unit in drawn[:_UNITS_MAX]:
            guide_mm = _y_mm(unit.height_mm or 0)
            canvas.line((0, guide_mm), (_UNITS_MM, guide_mm), pen=_GUIDE)
        for i, reach in enumerate(REACHES):
            _reach(canvas, reach, i * _REACH_MM + 1.0)
        _leaves(canvas, doors)
        for i, unit in enumerate(drawn[:_UNITS_MAX]):
            _unit(canvas, unit, _UNITS_MM + 4.0 + i * 14.5)
        for i, line in enumerate(_told(doors, units, drawn[:_UNITS_MAX])):
            canvas.text(0, _FLOOR_MM + 6.4 + i * 3.1, line, room_mm=_WIDTH_MM, size_mm=_TEXT_MM)


def _told(doors: list[Door], units: list[Unit], drawn: list[Unit]) -> Iterator[str]:
    """Yield four lines at most: the exit buttons, then the units and doors that are not drawn, and why."""
    yield from (f"{_exit(door)}." for door in doors[:_DOORS_MAX])
    if not doors:
        yield "No door in the plan."
    if not units:
        yield "No visitor call unit in the plan."
    others = [unit for unit in units if unit not in drawn]
    if others:
        yield "Not drawn: " + "; ".join(_height(unit) for unit in others) + "."
    if len(doors) > _DOORS_MAX:
        yield "Further doors: " + ", ".join(door.name for door in doors[_DOORS_MAX:]) + "."


def _exit(door: Door) -> str:
    if door.exit_button is None:
        return f"{door.name}: exit button not answered"
    if not door.exit_button:
        return f"{door.name}: no exit button"
    height_mm = door.exit_button_height_mm
    has = "its height not in the plan" if height_mm is None else f"{height_mm} mm above the floor"
    return f"{door.name}: exit button inside, {has}"


def _height(unit: Unit) -> str:
    return f"{unit.name}, height not planned" if unit.height_mm is None else f"{unit.name} at {unit.height_mm} mm"


def _reach(canvas: Canvas, reach: Reach, x_mm: float) -> None:
    top_mm, bottom_mm = _y_mm(reach.high_mm), _y_mm(reach.low_mm)
    middle_mm = x_mm + _REACH_MM / 2
    with canvas.group(f"{reach.name}: {reach.low_mm} to {reach.high_mm} mm, {reach.what}"):
        canvas.box(Box(middle_mm - 2.2, top_mm, 4.4, bottom_mm - top_mm), pen=FINE, fill=WASH)
        canvas.line((middle_mm - 4, top_mm), (middle_mm + 4, top_mm), pen=FINE)
        canvas.line((middle_mm - 4, bottom_mm), (middle_mm + 4, bottom_mm), pen=FINE)
        for y_mm, words, bold in (
            (_y_mm(1300), reach.name, True),
            (top_mm - 0.8, str(reach.high_mm), False),
            (bottom_mm + 2.4, str(reach.low_mm), False),
        ):
            wide_mm = lettering.width_mm(words, 1.9, bold=bold) if not bold else 0.0
            canvas.box(Box(middle_mm - wide_mm / 2, y_mm - 1.6, wide_mm, 1.8), pen=None, fill=PAPER)
            canvas.text(
                middle_mm, y_mm, words, room_mm=_REACH_MM - 0.6, size_mm=1.9, bold=bold, anchor="middle",
            )  # fmt: skip


def _leaves(canvas: Canvas, doors: list[Door]) -> None:
    shown = doors[:_DOORS_MAX]
    wide_mm = _LEAF_WIDTH_MM / max(len(shown), 1)
    for i, door in enumerate(shown):
        x_mm, top_mm = _LEAF_MM + i * wide_mm, 10.5
        right_mm, middle_mm = x_mm + wide_mm - 1.0, x_mm + (wide_mm - 1.0) / 2
        with canvas.group(f"Door {door.name}", part=f"door:{door.id}"):
            canvas.line(
                (x_mm, _FLOOR_MM), (x_mm, top_mm), (middle_mm - 2, top_mm), (middle_mm - 0.8, top_mm - 1.6),
                (middle_mm + 0.8, top_mm + 1.6), (middle_mm + 2, top_mm), (right_mm, top_mm), (right_mm, _FLOOR_MM),
            )  # fmt: skip
            symbols.draw(canvas, lock_sign(door.fail_mode), x_mm + 2, top_mm + 4)
            name = lettering.wrapped(door.name, wide_mm - 3.4, _TEXT_MM, 3, bold=True)
            words = [*name, door.lock.value if door.lock else "lock not chosen"]
            words.append(door.fail_mode.value if door.fail_mode else "fail mode ?")
            words += ["ESC"] if door.escape_route else []
            if door.exit_button and 0 < (door.exit_button_height_mm or 0) <= _SHOWN_MM:
                _button(canvas, right_mm - 2.0, _y_mm(door.exit_button_height_mm or 0))
            for k, line in enumerate(words):
                y_mm = top_mm + 11.5 + k * 3.2
                canvas.text(x_mm + 1.4, y_mm, line, room_mm=wide_mm - 3.4, size_mm=_TEXT_MM, bold=k < len(name))


def _button(canvas: Canvas, x_mm: float, y_mm: float) -> None:
    """Draw an exit button at its height; it is on the other side of the leaf."""
    canvas.disc(x_mm, y_mm, 1.0, pen=FINE, fill=PAPER)
    canvas.disc(x_mm, y_mm, 0.35, pen=None, fill=GREY)


def _unit(canvas: Canvas, unit: Unit, x_mm: float) -> None:
    """Draw a unit at its height, and the dimension from the floor."""
    height_mm = unit.height_mm or 0
    y_mm = _y_mm(height_mm)
    with canvas.group(f"{unit.name}: highest control {height_mm} mm above the finished floor", part=f"unit:{unit.id}"):
        panel = Box(x_mm + _PANEL.x_mm, y_mm - 2.2, _PANEL.width_mm, _PANEL.height_mm)
        canvas.box(panel, pen=LINE, fill=PAPER)
        canvas.disc(x_mm, y_mm, 0.5, pen=None, fill=INK)
        canvas.line((panel.x_mm, y_mm), (panel.right_mm, y_mm), pen=HAIR)
        name = lettering.wrapped(unit.name, _NAME_MM, _TEXT_MM, 3, bold=True)
        for i, line in enumerate(reversed(name)):
            above_mm = panel.y_mm - 1.0 - i * 2.8
            canvas.text(x_mm, above_mm, line, room_mm=_NAME_MM, size_mm=_TEXT_MM, bold=True, anchor="middle")
        foot_mm = x_mm
        canvas.line((foot_mm, panel.bottom_mm), (foot_mm, _FLOOR_MM), pen=FINE)
        for tip_mm, sign in ((panel.bottom_mm, 1.0), (_FLOOR_MM, -1.0)):
            canvas.area(
                (foot_mm, tip_mm), (foot_mm - 0.6, tip_mm + 1.8 * sign), (foot_mm + 0.6, tip_mm + 1.8 * sign),
                pen=None, fill=INK,
            )  # fmt: skip
        middle_mm = (panel.bottom_mm + _FLOOR_MM) / 2
        if _FLOOR_MM - panel.bottom_mm > 9:
            canvas.box(Box(foot_mm - 4, middle_mm - 1.6, 8, 3.2), pen=None, fill=PAPER)
            canvas.text(foot_mm, middle_mm + 0.8, str(height_mm), room_mm=9, size_mm=2.2, anchor="middle")
        else:
            canvas.text(foot_mm + 4.2, middle_mm, str(height_mm), room_mm=9, size_mm=2.2)
