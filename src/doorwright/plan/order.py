"""The order in which people walk a building: by building, core, level, then label."""

from collections.abc import Iterable
from typing import Any, Final

from doorwright.model.label import NaturalKey, natural_key
from doorwright.model.place import Building, Core, Dwelling, Level
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk

_RANK: Final = {UnitKind.VCU: 0, UnitKind.SMU: 1, UnitKind.URU: 2}


class WalkingOrder:
    """Sort keys for one site, each core and level looked up once."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self._levels = {level.id: level.order for level in walk.all(Level)}
        building_name = {building.id: building.name for building in walk.all(Building)}
        self._cores: dict[str, tuple[NaturalKey, NaturalKey]] = {
            core.id: (natural_key(building_name.get(core.building, "")), natural_key(core.name))
            for core in walk.all(Core)
        }

    def cores(self) -> tuple[Core, ...]:
        """Return all cores in walking order."""
        return tuple(sorted(self._walk.all(Core), key=lambda core: self._cores[core.id]))

    def level(self, dwelling: Dwelling) -> int:
        """Return the level of a dwelling, counted upwards from 0 at the ground."""
        return self._levels.get(dwelling.level, 0)

    def core_key(self, dwelling: Dwelling) -> tuple[NaturalKey, NaturalKey]:
        """Return the sort key of a dwelling's building and core."""
        return self._cores.get(dwelling.core, ((), ()))

    def dwelling_key(self, dwelling: Dwelling) -> tuple[tuple[NaturalKey, NaturalKey], int, NaturalKey]:
        """Return the sort key of a dwelling."""
        return (self.core_key(dwelling), self.level(dwelling), natural_key(dwelling.door_label))

    def dwellings(self) -> list[Dwelling]:
        """Return all dwellings in walking order."""
        return sorted(self._walk.all(Dwelling), key=self.dwelling_key)

    def units(self, units: Iterable[Unit]) -> list[Unit]:
        """Return units in walking order: VCUs, SMUs, then URUs by dwelling, primaries before secondaries."""

        def key(unit: Unit) -> tuple[Any, ...]:
            dwelling = self._walk.find(Dwelling, unit.dwelling)
            where = self.dwelling_key(dwelling) if dwelling else (((), ()), 0, ())
            last = unit.position is None
            return (_RANK[unit.kind], where, last, unit.position or 0, natural_key(unit.name))

        return sorted(units, key=key)
