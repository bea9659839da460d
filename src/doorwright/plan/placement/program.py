"""The whole problem as one linear program in whole numbers.

Like switches of one cupboard are one number, like demands are one number for each cupboard that may feed them. That is
the problem itself but for one thing: units of different power may not share out among the single switches of a cupboard
although they fit into all of them taken together. Where that happens (``split.py`` finds out) the cupboard is written
out switch by switch and the program is solved again.
"""

from dataclasses import dataclass
from itertools import pairwise

from doorwright.plan.placement.figures import Figures, Way, money
from doorwright.plan.placement.rows import Rows


@dataclass(frozen=True, slots=True)
class Goal:
    """An aim as a sum to be made small: terms and a constant."""

    what: str
    terms: tuple[tuple[int, int], ...]
    constant: int = 0


class Program:
    """Variables by what they mean. Groups are named by their index, cupboards, types and switches by their keys."""

    def __init__(self, figures: Figures, written_out: frozenset[str] = frozenset()) -> None:
        self.figures = figures
        self.rows = Rows()
        self.new: dict[tuple[str, str], int] = {}
        self.used: dict[str, int] = {}
        self.flow: dict[tuple[int, str], int] = {}
        self.kept: dict[tuple[int, str], int] = {}
        self.link: dict[tuple[str, str, bool], int] = {}
        self.way: dict[tuple[str, str, bool], Way] = {}
        self.hub: dict[tuple[str, str], int] = {}
        self.down: dict[str, int] = {}
        self.slots: dict[str, range] = {}
        """The variables of cupboards that are written out; they come after all others."""
        root = figures.problem.root
        self._root_to_choose = root.placed and root.switch is None
        self._place()
        self._feed()
        self._hubs()
        self._carry()
        self._carry_existing()
        self._link()
        for cupboard in sorted(written_out & set(self.used)):
            before = len(self.rows.bounds)
            self._write_out(cupboard)
            self.slots[cupboard] = range(before, len(self.rows.bounds))

    def types_in(self, cupboard: str) -> list[str]:
        """Return the types that new switches of a cupboard may be of."""
        return [kind for kind in self.figures.types if (cupboard, kind) in self.new]

    def _place(self) -> None:
        figures = self.figures
        for cupboard in figures.cupboards:
            room = figures.new_room(cupboard)
            kinds = [key for key in figures.types if figures.fits(key, cupboard)]
            if not room or not kinds:
                continue
            self.used[cupboard] = self.rows.variable(0, 1)
            for key in kinds:
                at_most = figures.types[key].at_most_count
                most = room if at_most is None else min(room, at_most)
                self.new[cupboard, key] = self.rows.variable(0, most)
            here = [(1, self.new[cupboard, key]) for key in kinds]
            self.rows.add([*here, (-1, self.used[cupboard])], low=0)
            self.rows.add([*here, (-room, self.used[cupboard])], high=0)
        for key, kind in figures.types.items():
            if kind.at_most_count is not None:
                self.rows.add([(1, at) for (_, other), at in self.new.items() if other == key], high=kind.at_most_count)

    def _feed(self) -> None:
        figures = self.figures
        for index, group in enumerate(figures.groups):
            ways = []
            for cupboard in group.reach:
                if cupboard in self.used:
                    at = self.flow[index, cupboard] = self.rows.variable(0, group.size)
                    self.rows.add([(1, at), (-group.size, self.used[cupboard])], high=0)
                    ways.append(at)
            for key, switch in figures.existing.items():
                strong_enough = group.power_mw <= figures.port_mw[switch.type]
                if (switch.cupboard in group.reach or group.now == key) and strong_enough and figures.free_count(key):
                    at = self.kept[index, key] = self.rows.variable(0, group.size)
                    ways.append(at)
            self.rows.add([(1, at) for at in ways], low=group.size, high=group.size)

    def _hubs(self) -> None:
        """Let the root be chosen, and one switch in each cupboard that may distribute."""
        main = self.figures.problem.root.cupboard
        for cupboard, one in self.figures.cupboards.items():
            is_main = cupboard == main
            if (is_main and not self._root_to_choose) or (not is_main and not one.distributes):
                continue
            kinds = self.types_in(cupboard)
            for key in kinds:
                self.hub[cupboard, key] = self.rows.variable(0, 1)
                self.rows.add([(1, self.new[cupboard, key]), (-1, self.hub[cupboard, key])], low=0)
            choice = [(1, self.hub[cupboard, key]) for key in kinds]
            self.rows.add(choice, low=1 if is_main else 0, high=1)
            if kinds:
                most = max(self.figures.usable_ports[key] for key in kinds)
                self.down[cupboard] = self.rows.variable(0, most)
                ports = [(self.figures.usable_ports[key], self.hub[cupboard, key]) for key in kinds]
                self.rows.add([*ports, (-1, self.down[cupboard])], low=0)

    def _carry(self) -> None:
        """Keep to ports and watts of the new switches of each cupboard, taken together."""
        figures = self.figures
        for cupboard in self.used:
            flows = [(index, at) for (index, other), at in self.flow.items() if other == cupboard]
            kinds = self.types_in(cupboard)
            down = [(-1, self.down[cupboard])] if cupboard in self.down else []
            ports = [(figures.usable_ports[key], self.new[cupboard, key]) for key in kinds]
            self.rows.add([*ports, *((-1, at) for _, at in flows), *down], low=0)
            watts = [(figures.usable_mw[key], self.new[cupboard, key]) for key in kinds]
            self.rows.add([*watts, *((-figures.groups[index].power_mw, at) for index, at in flows)], low=0)
            for level_mw in sorted({figures.groups[index].power_mw for index, _ in flows} - {0}):
                hungry = [(-1, at) for index, at in flows if figures.groups[index].power_mw >= level_mw]
                room = [(self.holds(key, level_mw), self.new[cupboard, key]) for key in kinds]
                self.rows.add([*room, *hungry], low=0)

    def holds(self, kind: str, power_mw: int) -> int:
        """Return how many units of a power a switch of a type takes."""
        figures = self.figures
        if figures.port_mw[kind] < power_mw:
            return 0
        ports = figures.usable_ports[kind]
        return min(ports, figures.usable_mw[kind] // power_mw) if power_mw else ports

    def _carry_existing(self) -> None:
        figures = self.figures
        root = figures.problem.root
        for key, switch in figures.existing.items():
            feeds = [(index, at) for (index, other), at in self.kept.items() if other == key]
            down = []
            if key == root.switch:
                most = figures.free_count(key)
                self.down[switch.cupboard] = self.rows.variable(0, most)
                down = [(1, self.down[switch.cupboard])]
            self.rows.add([*((1, at) for _, at in feeds), *down], high=figures.free_count(key))
            watts = [(figures.groups[index].power_mw, at) for index, at in feeds]
            self.rows.add(watts, high=figures.free(key).power_mw)

    def _link(self) -> None:
        """Give every new switch but the root its way up, and every switch that feeds others the ports for it."""
        figures = self.figures
        main = figures.problem.root.cupboard
        targets = [main, *(key for key, one in figures.cupboards.items() if one.distributes and key != main)]
        for cupboard in self.used:
            for to in targets:
                for way in figures.ways(cupboard, to):
                    at = self.rows.variable(0, figures.new_room(cupboard))
                    self.link[cupboard, to, way.optical], self.way[cupboard, to, way.optical] = at, way
            switches = [(1, self.new[cupboard, key]) for key in self.types_in(cupboard)]
            links = [(-1, at) for (start, _, _), at in self.link.items() if start == cupboard]
            roots = 1 if cupboard == main and self._root_to_choose else 0
            self.rows.add([*switches, *links], low=roots, high=roots)
            self._fibre(cupboard, main)
        for to in targets:
            self._ports_for_links(to, main)

    def _fibre(self, cupboard: str, main: str) -> None:
        """Fibre ends in switches that take it; a switch that distributes is linked to the root itself."""
        types = self.figures.types
        able = [(1, self.new[cupboard, key]) for key in self.types_in(cupboard) if types[key].optical]
        fibres = [(to, at) for (start, to, optical), at in self.link.items() if start == cupboard and optical]
        if fibres:
            self.rows.add([*able, *((-1, at) for _, at in fibres)], low=0)
        if cupboard == main or not self.figures.cupboards[cupboard].distributes:
            return
        hubs = [(key, self.hub[cupboard, key]) for key in self.types_in(cupboard)]
        up = [(1, self.link[cupboard, main, way]) for way in (False, True) if (cupboard, main, way) in self.link]
        self.rows.add([*up, *((-1, at) for _, at in hubs)], low=0)
        copper = up[:1] if (cupboard, main, False) in self.link else []
        self.rows.add([*copper, *((-1, at) for key, at in hubs if not types[key].optical)], low=0)
        aside = [(-1, at) for to, at in fibres if to != main]
        if aside:
            self.rows.add([*able, *((-1, at) for key, at in hubs if types[key].optical), *aside], low=0)

    def _ports_for_links(self, to: str, main: str) -> None:
        figures = self.figures
        root = figures.problem.root
        incoming = [(optical, at) for (_, other, optical), at in self.link.items() if other == to]
        if to == main and not root.placed:
            if root.ports_count is not None:
                self.rows.add([(1, at) for _, at in incoming], high=root.ports_count)
            return
        own = 0 if to == main else 1
        ports = [
            (max(0, figures.types[key].uplinks_count - own), at, figures.types[key].optical)
            for (cupboard, key), at in self.hub.items()
            if cupboard == to
        ]
        there = [
            (figures.free(key).uplinks_count, figures.types[switch.type].optical)
            for key, switch in figures.existing.items()
            if (key == root.switch if to == main else switch.cupboard == to and switch.fed_by is None)
        ]
        if to != main and not any(count for count, _ in there):
            # said of each link too, not of their sum alone: a tenth of a switch then feeds a tenth of each at most
            hubs = [at for (cupboard, _), at in self.hub.items() if cupboard == to]
            for _, at in incoming:
                self.rows.add([*((self.rows.bounds[at][1], hub) for hub in hubs), (-1, at)], low=0)
        links = [(-1, at) for _, at in incoming]
        down = [(1, self.down[to])] if to in self.down else []
        self.rows.add([*((count, at) for count, at, _ in ports), *down, *links], low=-sum(count for count, _ in there))
        fibres = [(-1, at) for optical, at in incoming if optical]
        if fibres:
            able = [(count, at) for count, at, optical in ports if optical]
            self.rows.add([*able, *fibres], low=-sum(count for count, optical in there if optical))

    def _write_out(self, cupboard: str) -> None:
        """Write the new switches of a cupboard out one by one, the one that feeds others first."""
        figures = self.figures
        flows = [(index, at) for (index, other), at in self.flow.items() if other == cupboard]
        levels = sorted({figures.groups[index].power_mw for index, _ in flows})
        kinds = self.types_in(cupboard)
        most = max(self.rows.bounds[self.new[cupboard, key]][1] for key in kinds)
        count = min(figures.new_room(cupboard), most * len(kinds))
        is_new_hub = (cupboard, kinds[0]) in self.hub
        units: dict[int, list[tuple[int, int]]] = {level: [] for level in levels}
        slots = []
        for number in range(count):
            chosen = {key: self.rows.variable(0, 1) for key in kinds}
            slots.append(chosen)
            self.rows.add([(1, at) for at in chosen.values()], high=1)
            taken = {level: self.rows.variable(0, max(figures.usable_ports[key] for key in kinds)) for level in levels}
            down = [(-1, self.down[cupboard])] if is_new_hub and not number else []
            ports = [(figures.usable_ports[key], at) for key, at in chosen.items()]
            self.rows.add([*ports, *((-1, at) for at in taken.values()), *down], low=0)
            watts = [(figures.usable_mw[key], at) for key, at in chosen.items()]
            self.rows.add([*watts, *((-level, at) for level, at in taken.items())], low=0)
            for level, at in taken.items():
                room = [(self.holds(key, level), one) for key, one in chosen.items()]
                self.rows.add([*room, (-1, at)], low=0)
                units[level].append((1, at))
            if is_new_hub and not number:
                for key in kinds:
                    self.rows.add([(1, chosen[key]), (-1, self.hub[cupboard, key])], low=0)
        for one, other in pairwise(slots[1 if is_new_hub else 0 :]):  # like switches in one order only
            order = [((len(kinds) - rank), at) for rank, at in enumerate(one.values())]
            self.rows.add([*order, *((rank - len(kinds), at) for rank, at in enumerate(other.values()))], low=0)
        for level, taken_here in units.items():
            here = [(-1, at) for index, at in flows if figures.groups[index].power_mw == level]
            self.rows.add([*taken_here, *here], low=0, high=0)
        for key in kinds:
            self.rows.add([*((1, slot[key]) for slot in slots), (-1, self.new[cupboard, key])], low=0, high=0)

    def goals(self) -> tuple[Goal, ...]:
        """Return the aims in order of weight."""
        figures = self.figures
        runs = [
            *((figures.run_cost(figures.groups[index], cupboard), at) for (index, cupboard), at in self.flow.items()),
            *(
                (figures.run_cost(figures.groups[index], figures.existing[key].cupboard), at)
                for (index, key), at in self.kept.items()
                if figures.groups[index].now != key
            ),
        ]
        links = [(self.way[key].cost, at) for key, at in self.link.items()]
        goals = []
        if figures.may_move:
            moves = tuple(
                (1, at)
                for (index, key), at in (*self.flow.items(), *self.kept.items())
                if figures.groups[index].now not in {None, key}
            )
            goals.append(Goal("existing runs moved", moves))
        if not figures.priced:
            goals.append(Goal("new switches", tuple((1, at) for at in self.new.values())))
            return (*goals, Goal("cable", (*runs, *links), figures.own_runs_cost))
        bought = [(money(figures.types[key].cost), at) for (_, key), at in self.new.items()]
        occupied = {one.cupboard for one in figures.problem.existing}
        opened = [
            (money(figures.cupboards[key].opening_cost), at) for key, at in self.used.items() if key not in occupied
        ]
        return (*goals, Goal("cost", (*bought, *opened, *runs, *links), figures.own_runs_cost))
