"""From numbers to single switches, units, ports and uplinks."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from doorwright.model.label import natural_key
from doorwright.plan.placement.bound import available
from doorwright.plan.placement.figures import Figures, milliwatts
from doorwright.plan.placement.packing import Room, pack
from doorwright.plan.placement.program import Goal, Program
from doorwright.plan.placement.result import Placed, Run, Uplink
from doorwright.plan.placement.routes import CM
from doorwright.plan.placement.rows import Rows
from doorwright.plan.placement.search import search

_EFFORT_S: Final = 5.0
"""For sharing out the units of one cupboard: some tens of units and a few switches."""


@dataclass(frozen=True, slots=True)
class Split:
    """The single switches. ``too_tight`` are cupboards whose units do not share out; the rest is then not told."""

    switches: tuple[Placed, ...] = ()
    runs: tuple[Run, ...] = ()
    uplinks: tuple[Uplink, ...] = ()
    root_switch: str | None = None
    too_tight: frozenset[str] = frozenset()


def split(program: Program, values: Sequence[int]) -> Split:
    """Return the plan that the values of the program stand for."""
    figures = program.figures
    onto_new, onto_kept = _units(program, values)
    switches = [
        Placed(key=one.key, type=one.type, cupboard=one.cupboard, new=False) for one in figures.problem.existing
    ]
    hubs = {cupboard: kind for (cupboard, kind), at in program.hub.items() if values[at]}
    hub_switch: dict[str, str] = {}
    runs: list[Run] = []
    too_tight = set()
    for cupboard in program.used:
        kinds = [kind for kind in program.types_in(cupboard) for _ in range(values[program.new[cupboard, kind]])]
        if cupboard in hubs:
            kinds.remove(hubs[cupboard])
            kinds.insert(0, hubs[cupboard])
        names = _names(cupboard, len(kinds), switches)
        if cupboard in hubs:
            hub_switch[cupboard] = names[0]
        switches.extend(
            Placed(key=name, type=kind, cupboard=cupboard, new=True) for name, kind in zip(names, kinds, strict=True)
        )
        down_count = values[program.down[cupboard]] if cupboard in hubs else 0
        shared = _share(figures, kinds, sorted(onto_new[cupboard], key=natural_key), down_count)
        if shared is None:
            too_tight.add(cupboard)
            continue
        for name, units in zip(names, shared, strict=True):
            runs.extend(
                Run(demand=unit, switch=name, port=port, length_m=figures.run_m(unit, cupboard), new=True)
                for port, unit in enumerate(units, start=1)
            )
    if too_tight:
        return Split(too_tight=frozenset(too_tight))
    runs.extend(_runs_of_existing(figures, onto_kept))
    root = figures.problem.root
    root_switch = root.switch or (hub_switch.pop(root.cupboard, None) if root.placed else None)
    uplinks = [*_uplinks_there(figures), *_new_uplinks(program, values, switches, hub_switch, root_switch)]
    return Split(tuple(switches), tuple(runs), tuple(uplinks), root_switch)


def _units(program: Program, values: Sequence[int]) -> tuple[Mapping[str, list[str]], Mapping[str, list[str]]]:
    """Return which demands go to the new switches of each cupboard, and which to each existing switch."""
    figures = program.figures
    heights = figures.problem.routes.heights_m
    rank = {key: (heights[one.spot.level], at) for at, (key, one) in enumerate(figures.cupboards.items())}
    onto_new: dict[str, list[str]] = defaultdict(list)
    onto_kept: dict[str, list[str]] = defaultdict(list)
    takers: dict[int, list[tuple[tuple[bool, float, int], list[str], int]]] = defaultdict(list)
    for (index, key), at in program.kept.items():
        leaves = figures.groups[index].now != key
        takers[index].append(((leaves, *rank[figures.existing[key].cupboard]), onto_kept[key], values[at]))
    for (index, key), at in program.flow.items():
        takers[index].append(((True, *rank[key]), onto_new[key], values[at]))
    for index, choices in takers.items():
        members = list(figures.groups[index].members)
        for _, taken, count in sorted(choices, key=lambda one: one[0]):
            taken.extend(members[:count])
            del members[:count]
    return onto_new, onto_kept


def _names(cupboard: str, count: int, switches: Sequence[Placed]) -> list[str]:
    known = {one.key for one in switches}
    names: list[str] = []
    number = 1
    while len(names) < count:
        name = f"{cupboard}/{number}"
        if name not in known:
            names.append(name)
        number += 1
    return names


def _share(figures: Figures, kinds: Sequence[str], units: Sequence[str], down_count: int) -> list[list[str]] | None:
    """Return the units of each new switch of a cupboard, or None where they do not fit on single switches."""
    rooms = [
        Room(
            figures.usable_ports[kind] - (down_count if number == 0 else 0),
            figures.usable_mw[kind],
            figures.port_mw[kind],
        )
        for number, kind in enumerate(kinds)
    ]
    powers = [milliwatts(figures.demands[unit].power_w) for unit in units]
    on = pack(rooms, powers)
    if on is None and available():
        on = _proven_share(rooms, powers)
    if on is None:
        return None
    return [[unit for unit, at in zip(units, on, strict=True) if at == number] for number in range(len(rooms))]


def _proven_share(rooms: Sequence[Room], powers: Sequence[int]) -> tuple[int, ...] | None:
    rows = Rows()
    levels = sorted(set(powers))
    count = {
        (number, level): rows.variable(0, powers.count(level) if level <= room.port_mw else 0)
        for number, room in enumerate(rooms)
        for level in levels
    }
    for number, room in enumerate(rooms):
        rows.add([(1, count[number, level]) for level in levels], high=room.ports_count)
        rows.add([(level, count[number, level]) for level in levels], high=room.power_mw)
    for level in levels:
        wanted = powers.count(level)
        rows.add([(1, count[number, level]) for number in range(len(rooms))], low=wanted, high=wanted)
    found = search(rows, Goal("", ()), hint=None, effort_s=_EFFORT_S)
    if found.values is None:
        return None
    takers = {
        level: [number for number in range(len(rooms)) for _ in range(found.values[count[number, level]])]
        for level in levels
    }
    return tuple(takers[power].pop(0) for power in powers)


def _runs_of_existing(figures: Figures, onto_kept: Mapping[str, list[str]]) -> list[Run]:
    runs: list[Run] = []
    for key, switch in figures.existing.items():
        on_now = {kept.demand: kept.port for kept in switch.runs}
        lengths_m = {kept.demand: kept.length_m for kept in switch.runs if kept.length_m is not None}
        stays = {kept.demand for kept in figures.stays.get(key, ())}
        stays |= {unit for unit in onto_kept.get(key, ()) if figures.may_move and unit in on_now}
        runs.extend(
            Run(
                demand=unit,
                switch=key,
                port=on_now[unit],
                length_m=lengths_m.get(unit, figures.run_m(unit, switch.cupboard)),
                new=False,
            )
            for unit in sorted(stays, key=natural_key)
        )
        taken = {on_now[unit] for unit in stays}
        free = [port for port in figures.free(key).ports if port not in taken]
        comers = sorted((unit for unit in onto_kept.get(key, ()) if unit not in stays), key=natural_key)
        runs.extend(
            Run(demand=unit, switch=key, port=free[at], length_m=figures.run_m(unit, switch.cupboard), new=True)
            for at, unit in enumerate(comers)
        )
    return runs


def _uplinks_there(figures: Figures) -> list[Uplink]:
    root = figures.problem.root
    uplinks = []
    for key, switch in figures.existing.items():
        if key == root.switch:
            continue
        to = switch.fed_by or root.switch
        above = figures.existing[to].cupboard if to else root.cupboard
        ways = figures.ways(switch.cupboard, above)
        way = ways[0] if ways else None
        uplinks.append(
            Uplink(
                switch=key,
                to=to,
                length_m=way.length_cm / CM if way else 0.0,
                optical=bool(way and way.optical),
                new=False,
            )
        )
    return uplinks


def _new_uplinks(
    program: Program,
    values: Sequence[int],
    switches: Sequence[Placed],
    hub_switch: Mapping[str, str],
    root_switch: str | None,
) -> list[Uplink]:
    figures = program.figures
    main = figures.problem.root.cupboard
    sockets = _sockets(figures, hub_switch, main)
    uplinks = []
    for cupboard in program.used:
        links = [
            (to, optical)
            for (start, to, optical), at in program.link.items()
            if start == cupboard
            for _ in range(values[at])
        ]
        links.sort(key=lambda one: (one[0] != main, not one[1]))  # the one that feeds others takes the first
        waiting = [one for one in switches if one.new and one.cupboard == cupboard and one.key != root_switch]
        waiting.sort(key=lambda one: (one.key != hub_switch.get(cupboard), not figures.types[one.type].optical))
        if waiting and waiting[0].key == hub_switch.get(cupboard) and not figures.types[waiting[0].type].optical:
            links.sort(key=lambda one: (one[0] != main, one[1]))
            links[1:] = sorted(links[1:], key=lambda one: not one[1])
        else:
            links[1:] = sorted(links[1:], key=lambda one: not one[1])
        for one, (to, optical) in zip(waiting, links, strict=True):
            way = program.way[cupboard, to, optical]
            above = root_switch if to == main else _socket(sockets[to], optical)
            uplinks.append(Uplink(switch=one.key, to=above, length_m=way.length_cm / CM, optical=optical, new=True))
    return uplinks


def _sockets(figures: Figures, hub_switch: Mapping[str, str], main: str) -> dict[str, list[tuple[str, int, bool]]]:
    """Return for each cupboard that distributes the switches that feed others: how many links each takes, and fibre."""
    sockets: dict[str, list[tuple[str, int, bool]]] = defaultdict(list)
    for key, switch in figures.existing.items():
        if figures.cupboards[switch.cupboard].distributes and switch.cupboard != main and switch.fed_by is None:
            kind = figures.types[switch.type]
            sockets[switch.cupboard].append((key, figures.free(key).uplinks_count, kind.optical))
    for cupboard, key in hub_switch.items():
        sockets[cupboard].append((key, len(figures.wanting) + len(figures.cupboards), True))
    return sockets


def _socket(sockets: list[tuple[str, int, bool]], optical: bool) -> str:
    for at, (key, count, takes_fibre) in enumerate(sockets):
        if count and (takes_fibre or not optical):
            sockets[at] = (key, count - 1, takes_fibre)
            return key
    raise ValueError("more uplinks were planned than the switches above have ports for")
