"""Which key of a direct-key VCU rings which dwelling, and how many modules carry the keys.

A key once given stays: a legend strip may hang beside it already. New dwellings take spare keys first, in the module of
their level if it has one. The desk has the first built-in key where the entrance calls one. In new modules the keys of
a level stay together where that costs no further module; what is spare then lies at the end of a module, and else at
the end of all.
"""

from collections.abc import Callable, Iterator, Sequence
from functools import cache
from itertools import groupby

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

Target = Unit | Dwelling
"""What a key rings: a desk or a dwelling."""


def plan_keys(walk: Walk, new_id: Callable[[], str]) -> Draft:
    """Draft keys, and the modules that they need, for every direct-key VCU."""
    planner = _KeyPlanner(walk, new_id)
    for vcu in planner.order.units(walk.units_of_kind(UnitKind.VCU)):
        profile = walk.profile(vcu.profile)
        entrance = walk.find(Entrance, vcu.entrance)
        if profile is not None and entrance is not None and _has_keys(profile):
            planner.plan(vcu, profile, entrance)
    return planner.draft


def _has_keys(profile: Profile) -> bool:
    """Say whether dwellings get keys: on built-in ones always, on modules alone where nothing else calls them."""
    alone = profile.modules_max_count > 0 and not profile.keypad and not profile.directory_max_count
    return profile.keys_count > 0 or alone


def fill(blocks: Sequence[int], sizes: Sequence[int]) -> tuple[int, ...]:
    """Return how many keys each module takes so that the fewest blocks are cut, in no more modules than are needed.

    Of ways that cut as few, the one whose spare keys come last.

    Args:
        blocks: how many keys belong together, in order; those that the modules cannot carry are left out at the end.
        sizes: how many keys each module carries, in order.
    """
    ends = {sum(blocks[:upto]) for upto in range(len(blocks) + 1)}
    wanted = min(sum(blocks), sum(sizes))
    needed = next(count for count in range(len(sizes) + 1) if sum(sizes[:count]) >= wanted)

    @cache
    def best(module: int, placed: int) -> tuple[int, tuple[int, ...]] | None:
        if module == needed:
            return (0, ()) if placed == wanted else None
        found: tuple[int, tuple[int, ...]] | None = None
        for taken in range(min(sizes[module], wanted - placed), -1, -1):
            rest = best(module + 1, placed + taken)
            if rest is not None:
                cut = placed + taken not in ends and placed + taken < wanted
                cuts_count = rest[0] + (1 if cut and taken else 0)
                if found is None or cuts_count < found[0]:
                    found = (cuts_count, (taken, *rest[1]))
        return found

    return (best(0, 0) or (0, ()))[1]


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
        sizes = self._sizes(vcu, profile)
        wanting = self._wanting(entrance, {key.dwelling for key in keys} | {key.desk for key in keys})
        taken_by_spares, rest = self._onto_spares(keys, sizes, wanting)
        fresh = [ordinal for ordinal in range(1, len(sizes)) if not any(key.module == ordinal for key in keys)]
        placed = [*taken_by_spares, *self._into_modules([(ordinal, sizes[ordinal]) for ordinal in fresh], rest)]
        modules = {module.ordinal for module in self._walk.modules_of(vcu.id)}
        for slot, target in sorted(placed, key=lambda one: one[0]):
            if slot[0] > 0 and slot[0] not in modules:
                modules.add(slot[0])
                self._add_module(vcu, profile, slot[0])
            self._add_key(vcu, slot, target)
        left_over = rest[len(placed) - len(taken_by_spares) :]
        if left_over:
            names = ", ".join(target.label for target in left_over[:8]) + (" and more" if len(left_over) > 8 else "")
            self.draft.trouble(
                [vcu, *left_over],
                f"{vcu.name} carries at most {sum(sizes)} keys: {len(left_over)} more are wanted, for {names}",
                "Choose a unit with a keypad or a directory, or one that takes more keys.",
            )

    def _onto_spares(
        self, keys: Sequence[Key], sizes: list[int], wanting: list[Target]
    ) -> tuple[list[tuple[Slot, Target]], list[Target]]:
        """Give out the spare keys of the unit itself and of modules in use; return what they ring, and who is left."""
        used = {(key.module, key.slot) for key in keys}
        in_use = {0, *(key.module for key in keys)}
        spare = [slot for slot in _slots(sizes) if slot[0] in in_use and slot not in used]
        module_of_level = self._modules_of_levels(keys)
        placed: list[tuple[Slot, Target]] = []
        rest: list[Target] = []
        for target in wanting:
            if not spare:
                rest.append(target)
                continue
            home = module_of_level.get((target.core, target.level)) if isinstance(target, Dwelling) else None
            slot = next((one for one in spare if one[0] == home), spare[0])
            spare.remove(slot)
            placed.append((slot, target))
        return placed, rest

    def _modules_of_levels(self, keys: Sequence[Key]) -> dict[tuple[str, str], int]:
        """Return the last module in which each level of a core has a key."""
        found: dict[tuple[str, str], int] = {}
        for key in sorted(keys, key=lambda key: key.module):
            dwelling = self._walk.find(Dwelling, key.dwelling)
            if dwelling is not None:
                found[dwelling.core, dwelling.level] = key.module
        return found

    def _into_modules(self, modules: list[tuple[int, int]], targets: list[Target]) -> Iterator[tuple[Slot, Target]]:
        """Yield the keys of modules that carry none yet."""
        blocks = [len(list(group)) for _, group in groupby(targets, key=self._belongs)]
        upcoming = iter(targets)
        for (ordinal, _), count in zip(modules, fill(blocks, [size for _, size in modules]), strict=False):
            for slot in range(1, count + 1):
                yield (ordinal, slot), next(upcoming)

    def _belongs(self, target: Target) -> object:
        """Return what keeps keys together: core and level, but for plans by door label, where levels do not count."""
        together = isinstance(target, Dwelling) and self._key_order is not KeyOrder.DOOR
        return (target.core, target.level) if together and isinstance(target, Dwelling) else target.id

    def _wanting(self, entrance: Entrance, rung: set[str | None]) -> list[Target]:
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

    def _add_key(self, vcu: Unit, slot: Slot, target: Target) -> None:
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


def _slots(sizes: list[int]) -> Iterator[Slot]:
    for ordinal, size in enumerate(sizes):
        for number in range(1, size + 1):
            yield ordinal, number


def _in_key_order(key_order: KeyOrder, order: WalkingOrder, dwellings: list[Dwelling]) -> list[Dwelling]:
    match key_order:
        case KeyOrder.TOP_DOWN:
            return sorted(dwellings, key=lambda d: (order.core_key(d), -order.level(d), natural_key(d.door_label)))
        case KeyOrder.BOTTOM_UP:
            return sorted(dwellings, key=order.dwelling_key)
        case KeyOrder.DOOR:
            return sorted(dwellings, key=lambda d: (natural_key(d.door_label), order.core_key(d)))
