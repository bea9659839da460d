"""Where the work on site stands, and how long the walk from one place to another takes.

The way around a site is taken as a tree: doors and cupboards hang on a level of a core, levels on the ground of their
core, cores on their building, buildings on the open air. Whoever changes the core goes through its ground.
"""

from collections import Counter
from dataclasses import dataclass
from typing import Final

from doorwright.model.network import Switch
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Seconds on foot; common practice, for planning only. Lifts, keys and badges are in them."""

    door_s: int = 20
    """To another door, cupboard or entrance on the same level."""
    level_s: int = 30
    """For each level up or down."""
    core_s: int = 120
    """From the ground of one core to that of another in the same building."""
    building_s: int = 300
    """From one building to another; half of it to the open air, where a gate stands."""


@dataclass(frozen=True, slots=True)
class Spot:
    """Somewhere to work: the building and core, the storey (0 at the ground), and what stands there.

    Without a building it is in the open air; without a core it is on the common ground of its building.
    """

    building: str | None
    core: str | None
    storey: int
    name: str


OPEN_AIR: Final = Spot(None, None, 0, "")
"""Where a part is taken to be whose place nobody has given."""


def walk_s(pace: Pace, start: Spot, end: Spot) -> int:
    """Return the seconds to walk between two spots; never longer by going through a third."""
    if start == end:
        return 0
    if (start.building, start.core) == (end.building, end.core):
        return pace.door_s + pace.level_s * abs(start.storey - end.storey)
    whole_way = start.building != end.building
    return pace.door_s + _to_ground_s(pace, start, whole_way) + _to_ground_s(pace, end, whole_way)


def _to_ground_s(pace: Pace, spot: Spot, whole_way: bool) -> int:
    """Down to the ground of the core, on to the middle of the building, and out of it if the way leads out."""
    core_s = _half(pace.core_s) if spot.core else 0
    building_s = _half(pace.building_s) if whole_way and spot.building else 0
    return pace.level_s * abs(spot.storey) + core_s + building_s


def _half(way_s: int) -> int:
    return -(-way_s // 2)


class Ground:
    """Finds the spot of a part: from its place, else from what it serves or feeds, else the open air."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self.assumed: set[str] = set()
        """Names of the parts whose place was not given and had to be assumed."""

    def of_dwelling(self, dwelling: Dwelling, name: str) -> Spot:
        """Return the spot of a dwelling's door, called by ``name``."""
        return self._spot(None, dwelling.core, dwelling.level, name)

    def of_unit(self, unit: Unit) -> Spot:
        """Return the spot of a unit: its place, its entrance's, or its dwelling's door."""
        entrance = self._walk.find(Entrance, unit.entrance)
        dwelling = self._walk.find(Dwelling, unit.dwelling)
        place = self._walk.find(Place, unit.place)
        if place is None and entrance is not None:
            return self.of_entrance(entrance)
        if place is None and dwelling is not None:
            return self.of_dwelling(dwelling, dwelling.door_label)
        return self._of_place(place, unit.name)

    def of_entrance(self, entrance: Entrance) -> Spot:
        """Return the spot of an entrance; one without a place is at the ground of the one core it serves."""
        place = self._walk.find(Place, entrance.place)
        if place is not None:
            return self._of_place(place, entrance.name)
        self.assumed.add(entrance.name)
        if len(entrance.serves_cores) == 1 and not entrance.serves_buildings:
            return self._spot(None, entrance.serves_cores[0], None, entrance.name)
        if len(entrance.serves_buildings) == 1:
            return self._spot(entrance.serves_buildings[0], None, None, entrance.name)
        return Spot(None, None, 0, entrance.name)

    def of_switch(self, switch: Switch) -> Spot:
        """Return the spot of a switch; one without a place is at the ground of the core it feeds most."""
        place = self._walk.find(Place, switch.place)
        if place is not None:
            return self._of_place(place, switch.name)
        self.assumed.add(switch.name)
        fed = (self._walk.find(Unit, run.far) for run in self._walk.runs_from(switch.id))
        dwellings = (self._walk.find(Dwelling, unit.dwelling) for unit in fed if unit is not None)
        cores = Counter(dwelling.core for dwelling in dwellings if dwelling is not None)
        if not cores:
            return Spot(None, None, 0, switch.name)
        core = min(cores, key=lambda ident: (-cores[ident], ident))
        return self._spot(None, core, None, switch.name)

    def _of_place(self, place: Place | None, name: str) -> Spot:
        if place is None:
            self.assumed.add(name)
            return Spot(None, None, 0, name)
        return self._spot(place.building, place.core, place.level, place.id)

    def _spot(self, building: str | None, core: str | None, level: str | None, name: str) -> Spot:
        core_part, level_part = self._walk.find(Core, core), self._walk.find(Level, level)
        inside = (
            building or (core_part.building if core_part else None) or (level_part.building if level_part else None)
        )
        return Spot(inside, core_part.id if core_part else None, level_part.order if level_part else 0, name)
