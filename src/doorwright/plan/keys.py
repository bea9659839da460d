"""Which key of a direct-key VCU rings which dwelling, and how many modules carry the keys.

A key once given stays: a legend strip may hang beside it already. New dwellings take the next free keys. The built-in
key rings the desk where the entrance calls one.
"""

from collections.abc import Callable, Iterator

from doorwright.model.label import natural_key
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.profile import Profile
from doorwright.model.site import KeyOrder
from doorwright.model.unit import Key, KeyModule, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.order import WalkingOrder

Slot = tuple[int, int]
"""Module ordinal (0 for the unit itself) and key in it, counted from 1."""


def plan_keys(walk: Walk, new_id: Callable[[], str]) -> Draft:
    """Draft keys, and the modules that they need, for every direct-key VCU."""
    planner = _KeyPlanner(walk, new_id)
    for vcu in planner.order.units(walk.units_of_kind(UnitKind.VCU)):
        profile = walk.profile(vcu.profile)
        entrance = walk.find(Entrance, vcu.entrance)
        if profile is not None and entrance is not None and profile.keys_count > 0:
            planner.plan(vcu, profile, entrance)
    return planner.draft


class _KeyPlanner:
    """The draft of all keys as it grows, one VCU after the other."""

    def __init__(self, walk: Walk, new_id: Callable[[], str]) -> None:
        self.draft = Draft(walk.site)
        self.order = WalkingOrder(walk)
        self._walk = walk
        self._new_id = new_id
        self._key_order = walk.settings().choices.key_order

    def plan(self, vcu: Unit, profile: Profile, entrance: Entrance) -> None:
        keys = self._walk.keys_of(vcu.id)
        modules = {module.ordinal for module in self._walk.modules_of(vcu.id)}
        sizes = self._sizes(vcu, profile)
        free = _free_slots(sizes, {(key.module, key.slot) for key in keys})
        left_over: list[Unit | Dwelling] = []
        for target in self._wanting(entrance, {key.dwelling for key in keys} | {key.desk for key in keys}):
            slot = next(free, None)
            if slot is None:
                left_over.append(target)
                continue
            if slot[0] > 0 and slot[0] not in modules:
                modules.add(slot[0])
                self._add_module(vcu, profile, slot[0])
            self._add_key(vcu, slot, target)
        if left_over:
            names = ", ".join(target.label for target in left_over[:8]) + (" and more" if len(left_over) > 8 else "")
            self.draft.trouble(
                [vcu, *left_over],
                f"{vcu.name} carries at most {sum(sizes)} keys: {len(left_over)} more are wanted, for {names}",
                "Choose a unit with a keypad or a directory, or one that takes more keys.",
            )

    def _wanting(self, entrance: Entrance, rung: set[str | None]) -> list[Unit | Dwelling]:
        desks = self._walk.units_of_kind(UnitKind.SMU) if entrance.calls_desk else ()
        dwellings = [dwelling for dwelling in self._walk.dwellings_served(entrance) if dwelling.id not in rung]
        return [
            *(desk for desk in self.order.units(desks) if desk.id not in rung),
            *_in_key_order(self._key_order, self.order, dwellings),
        ]

    def _sizes(self, vcu: Unit, profile: Profile) -> list[int]:
        """Return how many keys the unit and each module carry: what is mounted counts as it is, a lock module as 0."""
        to_come = self._walk.profile(profile.module)
        keys_count = [to_come.keys_count if to_come else 0] * profile.modules_max_count
        for module in self._walk.modules_of(vcu.id):
            mounted = self._walk.profile(module.profile)
            if 1 <= module.ordinal <= len(keys_count):
                keys_count[module.ordinal - 1] = mounted.keys_count if mounted else 0
        return [profile.keys_count, *keys_count]

    def _add_module(self, vcu: Unit, profile: Profile, ordinal: int) -> None:
        module = KeyModule(id=self._new_id(), unit=vcu.id, profile=profile.module or "", ordinal=ordinal)
        self.draft.add(module, what="key module", value=f"{vcu.name}, module {ordinal}", why="to carry the keys")

    def _add_key(self, vcu: Unit, slot: Slot, target: Unit | Dwelling) -> None:
        key = Key(
            id=self._new_id(),
            unit=vcu.id,
            module=slot[0],
            slot=slot[1],
            dwelling=target.id if isinstance(target, Dwelling) else None,
            desk=target.id if isinstance(target, Unit) else None,
        )
        why = f"next free key, {self._key_order.value}"
        self.draft.add(key, what="key", value=f"{vcu.name} {key.label} rings {target.label}", why=why)


def _free_slots(sizes: list[int], used: set[Slot]) -> Iterator[Slot]:
    for ordinal, size in enumerate(sizes):
        for number in range(1, size + 1):
            if (ordinal, number) not in used:
                yield ordinal, number


def _in_key_order(key_order: KeyOrder, order: WalkingOrder, dwellings: list[Dwelling]) -> list[Dwelling]:
    match key_order:
        case KeyOrder.TOP_DOWN:
            return sorted(dwellings, key=lambda d: (order.core_key(d), -order.level(d), natural_key(d.door_label)))
        case KeyOrder.BOTTOM_UP:
            return sorted(dwellings, key=order.dwelling_key)
        case KeyOrder.DOOR:
            return sorted(dwellings, key=lambda d: (natural_key(d.door_label), order.core_key(d)))
