"""What the planner answers: which switches where, what hangs on each, how good that is; or why it cannot be done."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum


class Status(StrEnum):
    """How good the plan is known to be."""

    BEST = "proven best"
    WITHIN = "within a known gap of the best"
    SIMPLE = "simple way alone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """A switch in its cupboard, new or there already."""

    key: str
    type: str
    cupboard: str
    new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A cable from a port of a switch to a unit."""

    demand: str
    switch: str
    port: int
    length_m: float
    new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Uplink:
    """The way up of a switch. ``to`` is a switch, or None for equipment at the root. A patch lead has the length 0."""

    switch: str
    to: str | None
    length_m: float
    optical: bool
    new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """Something that was made as small as could be: its value in the plan, and what no plan can go below.

    An aim's bound holds for plans that are no worse in the aims before it.
    """

    what: str
    value: Decimal
    bound: Decimal

    @property
    def gap_ratio(self) -> float:
        """By how much the value exceeds the bound, as a part of the value."""
        return float((self.value - self.bound) / self.value) if self.value else 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """A plan. ``aims`` stand in order of weight; ``made_by`` says in words how it was found.

    ``moved`` are demands that left the switch they were on, each with the reason. ``why`` tells each new switch's
    reasons by its key, and ``notes`` what holds for the whole.
    """

    status: Status
    switches: tuple[Placed, ...]
    runs: tuple[Run, ...]
    uplinks: tuple[Uplink, ...]
    root_switch: str | None
    aims: tuple[Aim, ...]
    cost: Decimal | None
    made_by: str
    moved: Mapping[str, str]
    why: Mapping[str, tuple[str, ...]]
    notes: tuple[str, ...]

    @property
    def cable_m(self) -> float:
        """The length of all new cable, runs and uplinks together."""
        runs_m = sum(run.length_m for run in self.runs if run.new)
        return round(runs_m + sum(link.length_m for link in self.uplinks if link.new), 2)

    @property
    def gap_ratio(self) -> float:
        """The gap of the first aim that is not proven; 0 where all are."""
        return next((aim.gap_ratio for aim in self.aims if aim.value != aim.bound), 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Impossible:
    """There is no such plan, or none was found: the reasons, and what to do. ``proven`` says which of the two."""

    reasons: tuple[str, ...]
    remedy: str
    proven: bool
