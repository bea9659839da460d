"""What calls to a dwelling depend on, and how many dwellings are alike in it.

A site has thousands of dwellings but few kinds of them: a study of many reckons with the kinds and their counts.
"""

from collections import Counter
from collections.abc import Iterable, Mapping
from math import fsum
from typing import NamedTuple

from doorwright.model.calling import RingMode
from doorwright.model.network import SipServer, Switch
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.studies.switch_tree import switch_of
from doorwright.studies.visiting import ring_limit_s


class Receiver(NamedTuple):
    """A unit that may be called: of what kind and type, and the switch that feeds it."""

    kind: UnitKind
    profile: str
    switch: str | None


class Caller(NamedTuple):
    """A call unit: of what type, and the switch that feeds it."""

    id: str
    profile: str
    switch: str | None


class Home(NamedTuple):
    """A kind of dwelling: the identifiers of the entrances that serve it, how it rings, and what rings in it."""

    entrances: tuple[str, ...]
    in_turn: bool
    ring_limit_s: float
    receivers: tuple[Receiver, ...]


def home_of(walk: Walk, dwelling: Dwelling) -> Home:
    """Return of what kind a dwelling is."""
    mode = dwelling.ring_mode or walk.settings().choices.ring_mode
    return Home(
        entrances=tuple(sorted(entrance.id for entrance in walk.entrances_serving(dwelling))),
        in_turn=mode is RingMode.IN_TURN,
        ring_limit_s=ring_limit_s(walk, dwelling),
        receivers=tuple(sorted((receiver_of(walk, unit) for unit in walk.units_in(dwelling.id)), key=_order)),
    )


def _order(receiver: Receiver) -> tuple[str, str, str]:
    return receiver.kind.value, receiver.profile, receiver.switch or ""


def receiver_of(walk: Walk, unit: Unit) -> Receiver:
    """Return a unit as one that may be called."""
    return Receiver(unit.kind, unit.profile, walk.once(switch_of, unit))


def dwellings_served(walk: Walk, entrance: Entrance) -> frozenset[str]:
    """Return the identifiers of the dwellings that visitors can call from an entrance."""
    return frozenset(dwelling.id for dwelling in walk.dwellings_served(entrance))


def homes_served(walk: Walk, entrance: Entrance) -> Mapping[Home, int]:
    """Return how many dwellings of each kind visitors can call from an entrance."""
    return _homes(walk, walk.once(dwellings_served, entrance))


def dwellings_registered(walk: Walk, registrar: Unit | SipServer) -> frozenset[str]:
    """Return the identifiers of the dwellings, but for a unit's own, whose receivers register with a unit or server."""
    own = registrar.dwelling if isinstance(registrar, Unit) else None
    units = (unit for unit in walk.units_registered_with(registrar.id) if unit.kind is UnitKind.URU)
    return frozenset(unit.dwelling for unit in units if unit.dwelling is not None and unit.dwelling != own)


def homes_registered(walk: Walk, registrar: Unit | SipServer) -> Mapping[Home, int]:
    """Return how many dwellings of each kind, but for a unit's own, have receivers that register with it."""
    return _homes(walk, walk.once(dwellings_registered, registrar))


def mean_ring_limit_s(homes: Mapping[Home, int]) -> float:
    """Return the mean of the ring limits of some dwellings, the same in whatever order they come."""
    return fsum(count * home.ring_limit_s for home, count in homes.items()) / sum(homes.values())


def homes_fed(walk: Walk, switch: Switch) -> Mapping[Home, int]:
    """Return how many dwellings of each kind have a receiver that a switch feeds."""
    idents = {unit.dwelling for unit in _units_fed(walk, switch) if unit.kind is UnitKind.URU}
    return _homes(walk, (ident for ident in idents if ident is not None))


def homes_of(walk: Walk, dwellings: Iterable[Dwelling]) -> Mapping[Home, int]:
    """Return how many of some dwellings are of each kind."""
    return Counter(walk.once(home_of, dwelling) for dwelling in dwellings)


def _homes(walk: Walk, idents: Iterable[str]) -> Mapping[Home, int]:
    homes = (walk.once_of(home_of, Dwelling, ident) for ident in idents)
    return Counter(home for home in homes if home is not None)


def entrances_fed(walk: Walk, switch: Switch) -> frozenset[str]:
    """Return the identifiers of the entrances with a call unit that a switch feeds."""
    units = (unit for unit in _units_fed(walk, switch) if unit.kind is UnitKind.VCU)
    return frozenset(unit.entrance for unit in units if unit.entrance is not None)


def _units_fed(walk: Walk, switch: Switch) -> list[Unit]:
    units = (walk.find(Unit, run.far) for run in walk.runs_from(switch.id))
    return [unit for unit in units if unit is not None and walk.once(switch_of, unit) == switch.id]


def callers_at(walk: Walk, entrance: Entrance) -> tuple[Caller, ...]:
    """Return the call units of an entrance."""
    units = (unit for unit in walk.units_at(entrance.id) if unit.kind is UnitKind.VCU)
    return tuple(sorted(Caller(unit.id, unit.profile, walk.once(switch_of, unit)) for unit in units))
