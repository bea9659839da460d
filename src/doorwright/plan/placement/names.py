"""The words by which the question calls the parts of a site: short, each for one part, and the way back."""

from collections import Counter
from collections.abc import Mapping

from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Level, Place
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk


class Names:
    """A key for every core, level, place, switch and unit.

    The key is the label where no other part of the kind has it, else with the building, else with the identifier.
    """

    def __init__(self, walk: Walk) -> None:
        self._key: dict[str, str] = {}
        self._id: dict[tuple[type[Part], str], str] = {}
        of_building: Mapping[str, str] = {one.id: one.name for one in walk.all(Building)}
        for kind in (Core, Level, Place, Switch, Unit):
            parts: tuple[Part, ...] = walk.all(kind)
            labels = Counter(part.label for part in parts)
            longer = Counter(f"{_building(part, of_building)}{part.label}" for part in parts)
            for part in parts:
                key = part.label
                if labels[key] > 1 or not key.strip():
                    key = f"{_building(part, of_building)}{part.label}"
                    if longer[key] > 1 or not key.strip():
                        key = f"{key} ({part.id})"
                self._key[part.id] = key
                self._id[kind, key] = part.id

    def of(self, ident: str) -> str:
        """Return the key of a part.

        Raises:
            LookupError: the site has no such part of a kind that is placed.
        """
        return self._key[ident]

    def ident(self, kind: type[Part], key: str) -> str:
        """Return the identifier of the part that a key of this module stands for.

        Raises:
            LookupError: no part of the kind has this key.
        """
        return self._id[kind, key]


def _building(part: Part, names: Mapping[str, str]) -> str:
    building = part.building if isinstance(part, Core | Level | Place) else None
    return f"{names[building]} " if building is not None and building in names else ""
