"""Where units and cupboards are on the ways of cables, and the ways themselves, read from a site."""

from collections import defaultdict
from collections.abc import Mapping
from typing import Final

from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.placement.lacking import Lacking
from doorwright.plan.placement.names import Names
from doorwright.plan.placement.routes import Crossing, Routes, Spot

_GIVE: Final = "Give it in the workbook, sheet {}, and take it in with doorwright import."


class Spots:
    """Finds spots, notes what is missing for them, and remembers which cores and levels were asked for."""

    def __init__(self, walk: Walk, names: Names, lacking: Lacking) -> None:
        self._walk = walk
        self._names = names
        self._lacking = lacking
        self._cores: dict[str, Core] = {}
        self._levels: dict[str, Level] = {}
        self.at_riser: dict[str, None] = {}
        """Cupboards whose run from the riser nobody has given: they count as standing at it."""

    def of_unit(self, unit: Unit) -> Spot | None:
        """Return where a unit is: in its dwelling, else in its place, else in the place of its entrance."""
        dwelling = self._walk.find(Dwelling, unit.dwelling)
        if dwelling is not None:
            return self._spot(dwelling, f"{dwelling.door_label}", dwelling.core, dwelling.level, dwelling.run_m)
        entrance = self._walk.find(Entrance, unit.entrance)
        place = self._walk.find(Place, unit.place or (entrance.place if entrance else None))
        if place is None:
            self._lacking.add(
                "units", "neither dwelling nor place is known", _GIVE.format("Units"), self._names.of(unit.id)
            )
            return None
        return self._spot(place, self._names.of(place.id), place.core, place.level, place.run_m)

    def of_cupboard(self, place: Place) -> Spot | None:
        """Return where a cupboard is. A riser cupboard without a run stands at the riser."""
        run_m = place.run_m
        if run_m is None and place.kind is PlaceKind.RISER_CUPBOARD:
            self.at_riser[self._names.of(place.id)] = None
            run_m = 0.0
        return self._spot(place, self._names.of(place.id), place.core, place.level, run_m)

    def _spot(
        self, part: Part, name: str, core_id: str | None, level_id: str | None, run_m: float | None
    ) -> Spot | None:
        table = "Dwellings" if isinstance(part, Dwelling) else "Places"
        kind = table.lower()
        core = self._walk.find(Core, core_id)
        level = self._walk.find(Level, level_id)
        if core is None:
            self._lacking.add(kind, "the core is not known", _GIVE.format(table), name)
        else:
            self._cores[core.id] = core
        if level is None:
            self._lacking.add(kind, "the level is not known", _GIVE.format(table), name)
        else:
            self._levels[level.id] = level
        if run_m is None:
            problem = "the run of the cable from the riser of the core is not known"
            self._lacking.add(kind, problem, _GIVE.format(table), name)
        if core is None or level is None or run_m is None:
            return None
        return Spot(core=self._names.of(core.id), level=self._names.of(level.id), run_m=run_m)

    def routes(self, *, link_max_m: float) -> Routes:
        """Return the ways between all spots asked for so far, and note which heights and positions are missing.

        Where a riser stands matters only in a building with several cores and a level on which cables may cross.
        """
        names = self._names
        cores_of: Mapping[str, list[Core]] = defaultdict(list)
        for core in self._cores.values():
            cores_of[core.building].append(core)
        crossing = [
            level for level in self._walk.all(Level) if level.crosses and len(cores_of.get(level.building, ())) > 1
        ]
        heights_m = {}
        for level in {one.id: one for one in (*self._levels.values(), *crossing)}.values():
            if level.height_m is None:
                self._lacking.add("levels", "the height is not known", _GIVE.format("Levels"), names.of(level.id))
            heights_m[names.of(level.id)] = level.height_m or 0.0
        risers_m = {}
        for core in self._cores.values():
            x_m, y_m = core.x_m, core.y_m
            if any(level.building == core.building for level in crossing) and (x_m is None or y_m is None):
                problem = "the position of the riser on the plan is not known"
                self._lacking.add("cores", problem, _GIVE.format("Cores"), names.of(core.id))
            risers_m[names.of(core.id)] = (x_m or 0.0, y_m or 0.0)
        return Routes(
            heights_m=heights_m,
            risers_m=risers_m,
            crossings=tuple(
                Crossing(
                    level=names.of(level.id),
                    cores=frozenset(names.of(core.id) for core in cores_of[level.building]),
                )
                for level in crossing
            ),
            slack_m=self._walk.settings().choices.slack_m,
            link_max_m=link_max_m,
        )


def cupboards_of(walk: Walk) -> Mapping[str, Place]:
    """Return the places that take switches by identifier: riser cupboards, places with room, places with a switch."""
    with_switch = {switch.place for switch in walk.all(Switch)}
    return {
        place.id: place
        for place in walk.all(Place)
        if place.kind is PlaceKind.RISER_CUPBOARD or place.switches_max_count or place.main or place.id in with_switch
    }
