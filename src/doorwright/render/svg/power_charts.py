"""Charts of power: the voltage along the worst way of each supply, its battery over the standby, PoE budgets."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate
from typing import Final, TypeAlias, TypeVar

from doorwright.calc.battery import Discharge
from doorwright.calc.flow import Flow
from doorwright.calc.loading import Moment, worst
from doorwright.model.label import natural_key
from doorwright.model.naming import named
from doorwright.model.network import Switch
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.render.svg import sheet
from doorwright.render.svg.canvas import ACCENT, BOLD, GREY, INK, LINE, PALE, WASH, Canvas, Pen
from doorwright.render.svg.geometry import Box
from doorwright.render.svg.plane import Plane, round_steps
from doorwright.render.svg.sheet import Drawing, Entry, Numbering
from doorwright.studies.dc_branch import branch_to, circuit_of
from doorwright.studies.standby import Standby, standby
from doorwright.studies.study import Trail
from doorwright.studies.supply_network import SupplyNetwork, supply_network
from doorwright.studies.switch_power import SwitchPower, switch_power

Named = TypeVar("Named", Supply, Switch)

Chart: TypeAlias = Callable[[Canvas, Box], None]
"""Draws itself into a cell of a sheet, whose corner is the canvas's origin."""

_TEXT_MM: Final = 1.9
_HEAD_MM: Final = 19.0
_FOOT_MM: Final = 18.0
_BAR_ROW_MM: Final = 6.4
_BAR_MM: Final = 3.6
_BAR_NAMES_MM: Final = 42.0
_BAR_WORDS_MM: Final = 42.0

_MAINS: Final = BOLD
_END: Final = Pen(0.5, ACCENT, (2.0, 1.0))
_LEAST: Final = Pen(0.25, GREY, (0.6, 0.6))


@dataclass(frozen=True, slots=True)
class _Way:
    """The voltages along the way to the worst load of a supply, at the ends of its runs, against the way in metres."""

    metres: tuple[float, ...]
    mains_v: tuple[float, ...]
    end_v: tuple[float, ...]


def power_charts(walk: Walk, *, revision: str, on: str) -> tuple[Drawing, ...]:
    """Draw what is known of a site's power as charts, up to six to a sheet of A3; none where nothing is known.

    For each supply the voltage along the way to its worst load, for each battery what is left over the standby, and
    the PoE budgets of the switches as bars.

    Args:
        walk: the site.
        revision: the revision's name, printed as given.
        on: the date of the drawing, printed as given.
    """
    cells = [*_voltage_cells(walk), *_battery_cells(walk)]
    switches = _budgets(walk)
    # four charts to a sheet where that is all there are, else six
    columns, rows = (2, 2) if len(cells) + bool(switches) <= 4 else (3, 2)
    cell = Box(0, 0, sheet.FIELD.width_mm / columns, sheet.FIELD.height_mm / rows)
    bars_count = int((cell.height_mm - _HEAD_MM) / _BAR_ROW_MM)
    cells += [
        _budget_cell(walk, switches[at : at + bars_count], _most_w(switches))
        for at in range(0, len(switches), bars_count)
    ]
    pages = [cells[at : at + columns * rows] for at in range(0, len(cells), columns * rows)]
    numbering = Numbering("Charts of power", "power-charts", revision, on, len(pages))
    shows = "Voltages, batteries and PoE budgets, as reckoned."
    drawings = []
    for number, page in enumerate(pages, start=1):
        canvas = Canvas()
        for i, draw in enumerate(page):
            row, column = divmod(i, columns)
            place = canvas.view(sheet.FIELD.x_mm + column * cell.width_mm, sheet.FIELD.y_mm + row * cell.height_mm)
            draw(place, cell)
        drawings.append(sheet.finish(canvas, walk.settings(), numbering, sheet=number, shows=shows, legend=_legend()))
    return tuple(drawings)


def _legend() -> tuple[Entry, ...]:
    bar = Box(0, 0.4, 10, 2.6)
    return (
        Entry(
            lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_MAINS), "on mains, all operated; left of a new battery"
        ),
        Entry(lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_END), "voltage at the end of standby"),
        Entry(
            lambda canvas: canvas.line((0, 1.7), (10, 1.7), pen=_LEAST), "least voltage; wanted standby; wanted spare"
        ),
        Entry(lambda canvas: canvas.disc(5, 1.7, 0.8, fill=INK), "end of a run: junction or load"),
        Entry(lambda canvas: canvas.box(bar, pen=None, fill=WASH), "busy part of the standby"),
        Entry(lambda canvas: canvas.box(bar, pen=LINE), "PoE budget of a switch"),
        Entry(lambda canvas: canvas.box(bar, pen=None, fill=PALE), "to be held, by class or by LLDP"),
        Entry(
            lambda canvas: canvas.box(Box(0, 1.1, 10, 1.2), pen=None, fill=ACCENT), "drawn at the ports, cables counted"
        ),
    )


def _voltage_cells(walk: Walk) -> Iterator[Chart]:
    for supply in _by_name(walk.all(Supply)):
        circuits = supply_network(walk, supply).value
        if circuits is not None:
            yield _voltage_cell(walk, supply, circuits)


def _battery_cells(walk: Walk) -> Iterator[Chart]:
    for supply in _by_name(walk.all(Supply)):
        needs = standby(walk, supply).value
        if needs is not None and needs.course is not None:
            yield _battery_cell(walk, supply, needs, needs.course)


def _budgets(walk: Walk) -> list[tuple[Switch, SwitchPower]]:
    return [
        (switch, power)
        for switch in _by_name(walk.all(Switch))
        if (power := switch_power(walk, switch).value) is not None and power.fed_count and power.budget_w
    ]


def _most_w(switches: Sequence[tuple[Switch, SwitchPower]]) -> float:
    """Return the largest power that the bars must show, the same for all of them, watts."""
    return max(max(power.budget_w, power.needed_w, power.drawn_w or 0.0) for _, power in switches)


def _by_name(parts: Sequence[Named]) -> list[Named]:
    return sorted(parts, key=lambda part: (natural_key(part.name), part.id))


def _heads(canvas: Canvas, cell: Box, *lines: str) -> None:
    """Write the words above a chart, the first of them bold."""
    for i, words in enumerate(lines):
        canvas.text(
            1.0, 4.0 + 3.4 * i, words, room_mm=cell.width_mm - 6, size_mm=2.4 if i == 0 else _TEXT_MM, bold=i == 0
        )


def _plot_in(cell: Box) -> Box:
    return Box(11.0, _HEAD_MM, cell.width_mm - 20.0, cell.height_mm - _HEAD_MM - _FOOT_MM)


def _voltage_cell(walk: Walk, supply: Supply, circuits: SupplyNetwork) -> Chart:
    load = circuits.worst_load
    way = _way_of(walk, circuits)
    part = walk.part(load.part)
    name = named(walk, part) if part else ""

    def draw(canvas: Canvas, cell: Box) -> None:
        plot = _plot_in(cell)
        with canvas.group(f"voltage from {named(walk, supply)} to {name}", part=supply.id):
            end = "not known" if load.end_v is None else f"{load.end_v:.1f} V"
            _heads(
                canvas,
                cell,
                named(walk, supply),
                f"to {name}, {way.metres[-1]:.0f} m",
                f"there {load.operated_v:.1f} V on mains, {end} at the end of standby; needs {load.minimum_v:.1f} V",
            )
            low = min(*way.mains_v, *(way.end_v or way.mains_v), load.minimum_v)
            high = max(*way.mains_v, load.minimum_v)
            plane = Plane(canvas, plot, round_steps(0.0, way.metres[-1]), round_steps(max(0.0, low - 0.2), high))
            plane.draw(x_words="metres from the supply", y_words="volts")
            least_mm = plane.y_mm(load.minimum_v)
            canvas.line((plot.x_mm, least_mm), (plot.right_mm, least_mm), pen=_LEAST)
            for volts, pen in ((way.end_v, _END), (way.mains_v, _MAINS)):
                if volts:
                    points = [plane.at(x, y) for x, y in zip(way.metres, volts, strict=True)]
                    canvas.line(*points, pen=pen)
                    for x_mm, y_mm in points[1:]:
                        canvas.disc(x_mm, y_mm, 0.8, pen=None, fill=pen.colour)

    return draw


def _way_of(walk: Walk, circuits: SupplyNetwork) -> _Way:
    node = circuits.worst_load.part
    branch = branch_to(walk, node)
    circuit = circuit_of(walk, branch, Trail()) if branch is not None else ()
    if branch is None or isinstance(circuit, tuple):
        raise AssertionError("a supply whose circuits are known feeds its worst load")
    length_m = {run.id: line.length_m for run, line in zip(branch.runs, circuit.lines, strict=True)}
    way = circuit.way_to(node)

    def volts(output_v: float) -> tuple[float, ...]:
        outcome = worst(circuit.solved_at(output_v), node, Moment.STANDING, Moment.ALL_OPERATED)
        if not isinstance(outcome.flow, Flow):
            return (output_v, *(0.0 for _ in way))  # it collapses
        return (output_v, *(outcome.flow.node_v[run.far] for run in way))

    return _Way(
        metres=tuple(accumulate((length_m[run.name] for run in way), initial=0.0)),
        mains_v=volts(circuits.output_v),
        end_v=volts(circuits.end_v) if circuits.end_v is not None else (),
    )


def _battery_cell(walk: Walk, supply: Supply, needs: Standby, course: Discharge) -> Chart:
    def draw(canvas: Canvas, cell: Box) -> None:
        plot = _plot_in(cell)
        with canvas.group(f"battery of {named(walk, supply)}", part=supply.id):
            lasts = f"{course.left_ratio:.0%} left after {needs.standby_h:g} h"
            if course.empty_after_h is not None:
                lasts = f"empty after {course.empty_after_h:.1f} h"
            _heads(
                canvas,
                cell,
                named(walk, supply),
                f"{needs.battery_ah:g} Ah, {lasts}; {needs.standing_a:.2f} A at rest, {needs.busy_a:.2f} A busy",
                f"asked for: {needs.required_ah:.1f} Ah ({needs.practice.title}); age and cold are not in the curve",
            )
            plane = Plane(canvas, plot, round_steps(0.0, max(needs.standby_h, 0.1)), round_steps(0.0, 100.0, 5))
            busy = Box(
                plane.x_mm(needs.standby_h - needs.busy_h), plot.y_mm,
                plane.x_mm(needs.standby_h) - plane.x_mm(needs.standby_h - needs.busy_h), plot.height_mm,
            )  # fmt: skip
            canvas.box(busy, pen=None, fill=WASH)
            plane.draw(x_words="hours without mains", y_words="per cent left")
            wanted_mm = plane.x_mm(needs.standby_h)
            canvas.line((wanted_mm, plot.y_mm), (wanted_mm, plot.bottom_mm), pen=_LEAST)
            canvas.line(*(plane.at(point.time_h, 100.0 * point.left_ratio) for point in course.points), pen=_MAINS)

    return draw


def _budget_words(power: SwitchPower) -> str:
    drawn = "" if power.drawn_w is None else f", {power.drawn_w:.0f} W drawn"
    return f"{power.needed_w:.0f} of {power.budget_w:.0f} W{drawn}"


def _budget_cell(walk: Walk, switches: Sequence[tuple[Switch, SwitchPower]], most_w: float) -> Chart:
    spare_ratio = walk.settings().choices.spare_ratio

    def draw(canvas: Canvas, cell: Box) -> None:
        _heads(canvas, cell, "Power over Ethernet", "what each switch must hold and what its units draw, of its budget")
        for row, (switch, power) in enumerate(switches):
            name = named(walk, switch)
            with canvas.group(f"{name}: {_budget_words(power)}", part=switch.id):
                place = canvas.view(1.0, _HEAD_MM - 7.0 + row * _BAR_ROW_MM)
                _budget_bar(place, name, power, cell.width_mm - 7.0, most_w, spare_ratio=spare_ratio)

    return draw


def _budget_bar(
    canvas: Canvas, name: str, power: SwitchPower, width_mm: float, most_w: float, *, spare_ratio: float
) -> None:
    a_watt_mm = (width_mm - _BAR_NAMES_MM - _BAR_WORDS_MM) / most_w
    top_mm = (_BAR_ROW_MM - _BAR_MM) / 2
    canvas.text(0, top_mm + 2.5, name, room_mm=_BAR_NAMES_MM - 2, size_mm=_TEXT_MM)
    canvas.box(Box(_BAR_NAMES_MM, top_mm, power.needed_w * a_watt_mm, _BAR_MM), pen=None, fill=PALE)
    if power.drawn_w is not None:
        drawn = Box(_BAR_NAMES_MM, top_mm + 1.2, power.drawn_w * a_watt_mm, 1.2)
        canvas.box(drawn, pen=None, fill=ACCENT)
    budget = Box(_BAR_NAMES_MM, top_mm, power.budget_w * a_watt_mm, _BAR_MM)
    canvas.box(budget, pen=BOLD if power.needed_w > power.budget_w else LINE)
    spare_mm = _BAR_NAMES_MM + power.budget_w * (1.0 - spare_ratio) * a_watt_mm
    canvas.line((spare_mm, top_mm - 0.8), (spare_mm, top_mm + _BAR_MM + 0.8), pen=_LEAST)
    canvas.text(width_mm, top_mm + 2.5, _budget_words(power), room_mm=_BAR_WORDS_MM - 2, size_mm=_TEXT_MM, anchor="end")
