"""What the level drawing shows: on each level the cores in the order in which they stand, and what is around each.

Pure sorting, no millimetres on paper. A core stands in the column of its x and the row of its y; how far apart columns
are is told in metres where it is known.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.label import natural_key
from doorwright.model.network import Junction, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place
from doorwright.model.power import Supply
from doorwright.model.walk import Walk

_NO_CORE: Final = "no core"
_DWELLINGS_MAX: Final = 72
"""More dwellings of a core on a level than this stand in a further cell."""


@dataclass(frozen=True, slots=True)
class Spoke:
    """A dwelling, a place or an entrance at a core: its name, and the way of its cable from the riser."""

    name: str
    run: str
    part: str
    is_entrance: bool = False


@dataclass(frozen=True, slots=True)
class Cell:
    """A core on a level. ``apart`` is how far its riser stands from the one in the cell before it."""

    core: str
    name: str
    apart: str
    row: int
    dwellings: tuple[Spoke, ...]
    others: tuple[Spoke, ...]


@dataclass(frozen=True, slots=True)
class Floor:
    """A level with its cells, by row and from left to right, and what the plan does not say of it."""

    level: str
    name: str
    facts: str
    crosses: bool
    cells: tuple[Cell, ...]
    missing: str


def floors(walk: Walk) -> tuple[Floor, ...]:
    """Return every level that has something on it, building by building, from the bottom up."""
    order = {building.id: i for i, building in enumerate(walk.all(Building))}
    levels = sorted(walk.all(Level), key=lambda level: (order.get(level.building, 0), level.order))
    switches = _by_place(walk, Switch)
    supplies = _by_place(walk, Supply)
    junctions = _by_place(walk, Junction)
    fittings = {place.id: _fittings(place, switches, supplies, junctions) for place in walk.all(Place)}
    places: dict[str, list[Place]] = {}
    for place in sorted(walk.all(Place), key=lambda place: natural_key(place.name)):
        places.setdefault(place.level or "", []).append(place)
    entrances: dict[str, list[Entrance]] = {}
    for entrance in sorted(walk.all(Entrance), key=lambda entrance: natural_key(entrance.name)):
        entrances.setdefault(entrance.place or "", []).append(entrance)
    found = [_floor(walk, level, places.get(level.id, []), entrances, fittings) for level in levels]
    known = {level.id for level in levels}
    nowhere = [place for ident, held in places.items() if ident not in known for place in held]
    loose = [spoke for place in nowhere for spoke in _spokes(place, entrances, fittings)]
    placed = {place.id for place in walk.all(Place)}
    loose += [_way_in(one) for ident, held in entrances.items() if ident not in placed for one in held]
    if loose:
        cell = Cell("", _NO_CORE, "", 0, (), tuple(loose))
        found.append(Floor("", "Without a level", "in the plan on no level", crosses=False, cells=(cell,), missing=""))
    return tuple(floor for floor in found if floor.cells)


def _spokes(place: Place, entrances: dict[str, list[Entrance]], fittings: dict[str, str]) -> Iterable[Spoke]:
    held = fittings[place.id]
    name = f"{place.name} · {held}" if held else place.name
    yield Spoke(name, _run(place.run_m), f"place:{place.id}")
    yield from map(_way_in, entrances.get(place.id, ()))


def _way_in(entrance: Entrance) -> Spoke:
    return Spoke(entrance.name, "", f"entrance:{entrance.id}", is_entrance=True)


def _by_place(walk: Walk, kind: type[Switch | Supply | Junction]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for part in walk.all(kind):
        if part.place is not None:
            counts[part.place] = counts.get(part.place, 0) + 1
    return counts


def _fittings(place: Place, *counts: dict[str, int]) -> str:
    words = []
    for kind, held in zip(("switch", "supply", "junction"), counts, strict=True):
        number = held.get(place.id, 0)
        room = place.switches_max_count
        if kind == "switch" and (room or (number and room is not None)):
            words.append(f"{number} of {counted(room, 'switch')}")
        elif number:
            words.append(counted(number, kind))
    return ", ".join(words)


def _floor(
    walk: Walk, level: Level, places: list[Place], entrances: dict[str, list[Entrance]], fittings: dict[str, str]
) -> Floor:
    dwellings: dict[str, list[Dwelling]] = {}
    for dwelling in walk.dwellings_on(level.id):
        dwellings.setdefault(dwelling.core, []).append(dwelling)
    others: dict[str, list[Spoke]] = {}
    for place in places:
        core_id = place.core if walk.find(Core, place.core) else None
        others.setdefault(core_id or "", []).extend(_spokes(place, entrances, fittings))
    idents = dict.fromkeys((*(core.id for core in walk.cores_of(level.building) if level.crosses), *dwellings, *others))
    cores = [core for ident in idents if (core := walk.find(Core, ident)) is not None]
    cores.sort(key=lambda core: (core.y_m or 0.0, core.x_m or 0.0, natural_key(core.name)))
    cells: list[Cell] = []
    rows = {y_m: i for i, y_m in enumerate(sorted({core.y_m or 0.0 for core in cores}))}
    before: Core | None = None
    for core in cores:
        row = rows[core.y_m or 0.0]
        apart = _apart(before, core) if before is not None and rows[before.y_m or 0.0] == row else ""
        cells += _cells(core, apart, row, dwellings.get(core.id, ()), others.get(core.id, ()))
        before = core
    homeless = [one for ident, found in dwellings.items() if walk.find(Core, ident) is None for one in found]
    if homeless or others.get(""):
        row = max(rows.values(), default=0)
        cells += _cells(None, "", row, homeless, others.get("", ()))
    return Floor(
        level.id, f"Level {level.name}" if level.name[:1].isdigit() or len(level.name) < 3 else level.name,
        _height(level), level.crosses, tuple(cells), _missing(cores, dwellings),
    )  # fmt: skip


def _cells(
    core: Core | None, apart: str, row: int, dwellings: Iterable[Dwelling], others: Iterable[Spoke]
) -> Iterable[Cell]:
    spokes = [
        Spoke(one.door_label, _run(one.run_m), f"dwelling:{one.id}")
        for one in sorted(dwellings, key=lambda one: natural_key(one.door_label))
    ]
    for start in range(0, max(len(spokes), 1), _DWELLINGS_MAX):
        part = tuple(spokes[start : start + _DWELLINGS_MAX])
        title = core.name if core else _NO_CORE
        name = f"{title}, continued" if start else title
        yield Cell(core.id if core else "", name, "" if start else apart, row, part, () if start else tuple(others))


def _apart(before: Core, core: Core) -> str:
    """Say how far apart the risers of two cores in a row are, along the row."""
    if before.x_m is None or core.x_m is None or before.y_m is None or core.y_m is None:
        return "distance not known"
    return f"{core.x_m - before.x_m:g} m"


def _run(run_m: float | None) -> str:
    return "" if run_m is None else f"{run_m:g} m"


def _height(level: Level) -> str:
    if level.height_m is None:
        return "height not given"
    if level.height_m == 0:
        return "at the ground floor"
    return f"{abs(level.height_m):g} m {'above' if level.height_m > 0 else 'below'} the ground floor"


def _missing(cores: list[Core], dwellings: dict[str, list[Dwelling]]) -> str:
    unplaced = sum(core.x_m is None or core.y_m is None for core in cores)
    homes = [dwelling for found in dwellings.values() for dwelling in found]
    unmeasured = sum(dwelling.run_m is None for dwelling in homes)
    words = []
    if unplaced and len(cores) > 1:
        words.append(f"position of {counted(unplaced, 'core')}")
    if unmeasured:
        words.append(f"way from the riser to {counted(unmeasured, 'dwelling')}")
    return f"Not in the plan: {', '.join(words)}." if words else ""
