"""Dwellings sorted by what can make their call paths differ, so that one proof serves all that are alike."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import TypeAlias

from doorwright.model.calling import RingMode
from doorwright.model.place import Dwelling
from doorwright.model.walk import Walk
from doorwright.paths.follow import receivers

Bundle: TypeAlias = tuple[str, ...]
"""Dwellings of one kind, core and set of rights."""


@dataclass(frozen=True, slots=True)
class Kind:
    """What the call paths to a dwelling hang on, its core and the rights that name it apart.

    ``turns`` is how long its receivers ring together, or how long each rings in turn and how many they are; None where
    none is registered. ``diverts`` hold what its own diverts say, whatever they are called. ``alone`` is the dwelling
    itself where a divert leads to it: a call sent on may then come back.
    """

    turns: tuple[int, int] | int | None
    diverts: tuple[tuple[str, ...], ...]
    alone: str


class Kinds:
    """The kinds of all dwellings, found out once for each."""

    def __init__(self, walk: Walk) -> None:
        self._walk = walk
        self._kind_of: dict[str, Kind] = {}
        self._of_core: dict[str, Mapping[Kind, Bundle]] = {}
        self._interned: dict[Kind, Kind] = {}
        self.heard: dict[str, int] = {}

    def of(self, dwelling: Dwelling) -> Kind:
        """Return the kind of a dwelling."""
        kind = self._kind_of.get(dwelling.id)
        if kind is None:
            made = self._made(dwelling)
            kind = self._kind_of[dwelling.id] = self._interned.setdefault(made, made)
        return kind

    def of_core(self, core: str) -> Mapping[Kind, Bundle]:
        """Return the dwellings of a core by kind."""
        bundles = self._of_core.get(core)
        if bundles is None:
            lists: dict[Kind, list[str]] = {}
            for dwelling in self._walk.dwellings_of_core(core):
                lists.setdefault(self.of(dwelling), []).append(dwelling.id)
            bundles = self._of_core[core] = MappingProxyType({kind: tuple(ids) for kind, ids in lists.items()})
        return bundles

    def _made(self, dwelling: Dwelling) -> Kind:
        walk = self._walk
        choices = walk.settings().choices
        ring_s = choices.ring_s if dwelling.ring_s is None else dwelling.ring_s
        count = self.heard[dwelling.id] = len(receivers(walk, dwelling.id))
        in_turn = (dwelling.ring_mode or choices.ring_mode) is RingMode.IN_TURN
        own = (
            (d.cause.value, d.entrance or "", d.timetable or "", d.to_desk or "", d.to_dwelling or "")
            for d in walk.diverts_for(dwelling.id)
        )
        alone = dwelling.id if walk.diverts_to(dwelling.id) else ""
        turns = (ring_s, count) if in_turn else ring_s
        return Kind(turns if count else None, tuple(sorted(own)), alone)
