"""The lines of the riser drawing: where each trunk, crossing and uplink runs on a sheet, and where it leaves it."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final, TypeAlias

from doorwright.render.svg.riser_layout import PlacedColumn, PlacedStack, PlacedTile
from doorwright.render.svg.riser_stack import Net, Stop

Point: TypeAlias = tuple[float, float]

_LEAVES_MM: Final = 2.0
_GUTTER_MM: Final = 0.45


@dataclass(frozen=True, slots=True)
class NetLines:
    """One cable as drawn on one sheet: its lines, its junctions, and the arrows where it leaves the sheet."""

    net: Net
    lines: tuple[tuple[Point, ...], ...]
    junctions: tuple[Point, ...]
    arrows: tuple[tuple[Point, int], ...]


@dataclass(frozen=True, slots=True)
class _Found:
    """The stops of a net in one column on this sheet, and whether it goes on above and below."""

    at_mm: tuple[tuple[float, Stop], ...]
    above: bool
    below: bool


def net_lines(placed: PlacedStack) -> tuple[NetLines, ...]:
    """Return the lines of every cable of a stack that touches the bands shown."""
    tiles = placed.tiles
    branch_mm = {branch.bundle.key: branch.y_mm for branch in placed.branches}
    drawn = (_drawn(net, placed, tiles, branch_mm) for net in placed.stack.nets)
    return tuple(lines for lines in drawn if lines.lines)


def trunk_mm(column: PlacedColumn, feeders: tuple[str, ...]) -> float | None:
    """Return the x at which a branch leaves its trunk, or None where the feeder stands in no riser of this stack."""
    known = [("trunk", feeder) for feeder in feeders if ("trunk", feeder) in column.column.lane_by_net]
    return min(column.lane_mm(key) for key in known) if known else None


def _drawn(net: Net, placed: PlacedStack, tiles: dict[str, PlacedTile], branch_mm: dict[Stop, float]) -> NetLines:
    lines: list[tuple[Point, ...]] = []
    junctions: list[Point] = []
    arrows: list[tuple[Point, int]] = []
    crossing_mm: float | None = None
    if net.crossing_band is not None and net.crossing_band in placed.bands:
        band = placed.stack.bands[net.crossing_band]
        crossing_mm = placed.band_boxes[net.crossing_band].y_mm + band.crossing_mm(net.key)
    crossed_at_mm: list[float] = []

    def points_mm(stop: Stop) -> float:
        return tiles[str(stop[1])].stop_mm(str(stop[2])) if stop[0] == "tile" else branch_mm[stop]

    for column in placed.columns:
        if column.column.key not in net.stops:
            continue
        found = _stops(net.stops[column.column.key], placed.bands, points_mm, crossing_mm)
        x_mm = column.lane_mm(net.key)
        if crossing_mm is not None:
            crossed_at_mm.append(x_mm)
        for y_mm, stop in found.at_mm:
            if stop[0] == "tile":
                lines.append(_to_tile(tiles[str(stop[1])], y_mm, x_mm))
        ys_mm = [_meets(stop, tiles, y_mm) for y_mm, stop in found.at_mm]
        if found.above:
            ys_mm.append(placed.box.y_mm - _LEAVES_MM)
            arrows.append(((x_mm, placed.box.y_mm - _LEAVES_MM), -1))
        if found.below:
            ys_mm.append(placed.box.bottom_mm + _LEAVES_MM)
            arrows.append(((x_mm, placed.box.bottom_mm + _LEAVES_MM), 1))
        if len(ys_mm) > 1 and max(ys_mm) > min(ys_mm):
            lines.append(((x_mm, min(ys_mm)), (x_mm, max(ys_mm))))
            junctions += [(x_mm, y) for y in ys_mm if min(ys_mm) < y < max(ys_mm)]
    if crossing_mm is not None and len(crossed_at_mm) > 1:
        lines.append(((min(crossed_at_mm), crossing_mm), (max(crossed_at_mm), crossing_mm)))
        junctions += [(x, crossing_mm) for x in crossed_at_mm if min(crossed_at_mm) < x < max(crossed_at_mm)]
    return NetLines(net, tuple(lines), tuple(dict.fromkeys(junctions)), tuple(arrows))


def _stops(
    stops: tuple[tuple[int, Stop], ...], bands: range, points_mm: Callable[[Stop], float], crossing_mm: float | None
) -> _Found:
    at_mm: list[tuple[float, Stop]] = []
    above = below = False
    for band, stop in stops:
        if band not in bands:
            above |= band < bands.start
            below |= band >= bands.stop
        elif stop[0] == "crossing" and crossing_mm is not None:
            at_mm.append((crossing_mm, stop))
        else:
            at_mm.append((points_mm(stop), stop))
    if not at_mm and not (above and below):
        above = below = False
    return _Found(tuple(at_mm), above, below)


def _meets(stop: Stop, tiles: dict[str, PlacedTile], y_mm: float) -> float:
    """The y at which the line from a stop comes to its lane."""
    if stop[0] == "tile" and not tiles[str(stop[1])].is_last_in_row:
        return tiles[str(stop[1])].row_bottom_mm + _GUTTER_MM
    return y_mm


def _to_tile(tile: PlacedTile, y_mm: float, x_mm: float) -> tuple[Point, ...]:
    """From a tile to its lane: straight, or through the gutter below its row where a neighbour stands in the way."""
    if tile.is_last_in_row:
        return ((tile.box.right_mm, y_mm), (x_mm, y_mm))
    gutter_mm, under_mm = tile.box.right_mm + _GUTTER_MM, tile.row_bottom_mm + _GUTTER_MM
    return ((tile.box.right_mm, y_mm), (gutter_mm, y_mm), (gutter_mm, under_mm), (x_mm, under_mm))
