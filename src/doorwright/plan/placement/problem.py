"""Where switches may go and what they are to feed: the question, in values that know nothing of a site.

Units of money are the user's; lengths are in metres, power in watts. Everything is named by a key of its own kind.
"""

from dataclasses import dataclass, field
from decimal import Decimal

from doorwright.plan.placement.routes import Routes, Spot


@dataclass(frozen=True, slots=True, kw_only=True)
class Cupboard:
    """A place where switches may be mounted.

    ``room_count`` is how many it holds, those already there included; None where nobody has said, which limits nothing.
    ``distributes`` allows one switch in it to feed switches of other cupboards; that switch is fed by the root itself.
    """

    key: str
    spot: Spot
    room_count: int | None = None
    mains: bool = True
    opening_cost: Decimal = Decimal(0)
    distributes: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Demand:
    """A unit that wants a port. ``power_w`` is what the port must set aside for it: its PoE class at the switch."""

    key: str
    spot: Spot
    power_w: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class SwitchType:
    """A kind of switch that may be bought.

    ``ports_count`` are its access ports, ``uplinks_count`` those beside them; one uplink is the switch's own way up.
    ``optical`` says that its uplinks take optical modules. ``at_most_count`` is how many new ones there may be.
    """

    key: str
    ports_count: int
    uplinks_count: int = 1
    budget_w: float = 0.0
    port_w: float = 0.0
    optical: bool = False
    needs_mains: bool = True
    cost: Decimal = Decimal(0)
    at_most_count: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Kept:
    """A cable run that is there already: which unit, on which port, and its length where that is written down.

    A run of known length stays however long it is: whether it is too long is judged elsewhere.
    """

    demand: str
    port: int
    length_m: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Existing:
    """A switch that is there already. ``fed_by`` is the switch above it, None where that is the root."""

    key: str
    type: str
    cupboard: str
    runs: tuple[Kept, ...] = ()
    fed_by: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Root:
    """Where all uplinks lead in the end.

    Either equipment that is there or bought apart, with so many free ports (``ports_count``; None for enough), or, with
    ``placed``, one of the switches in its cupboard: ``switch`` where that one is there already, else one to be chosen.
    """

    cupboard: str
    ports_count: int | None = None
    placed: bool = False
    switch: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What cable costs: a run to a unit and a copper uplink by the metre; an optical uplink by the metre and each."""

    cable_per_m: Decimal
    copper_uplink_per_m: Decimal
    optical_uplink_per_m: Decimal = Decimal(0)
    optical_uplink_each: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """The whole question.

    Without ``prices`` the fewest new switches are sought, then the least cable; costs are then left out of account.
    ``spare_ports_ratio`` of the access ports and ``spare_power_ratio`` of the PoE budget of every switch stay free of
    new runs (common practice: 0.2 of each). What is there already stays, even where it eats into the spare.
    """

    cupboards: tuple[Cupboard, ...]
    demands: tuple[Demand, ...]
    types: tuple[SwitchType, ...]
    routes: Routes
    root: Root
    existing: tuple[Existing, ...] = ()
    prices: Prices | None = None
    spare_ports_ratio: float = 0.2
    spare_power_ratio: float = 0.2
    released: frozenset[str] = field(default_factory=frozenset)
    """Demands that may leave the switch they are on, because somebody asked."""
