"""Under which conditions a building is rehearsed: faults put in, where chance starts, the network, a power cut."""

from dataclasses import dataclass
from functools import partial

from doorwright.app.put_faults import put_faults
from doorwright.kernel.errors import Refused
from doorwright.model.naming import name_of
from doorwright.model.walk import Walk
from doorwright.rehearse.building import Building
from doorwright.rehearse.faults import Fault
from doorwright.rehearse.parts import Build
from doorwright.rehearse.planned import Planned, planned


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """What the plan does not say of a rehearsal.

    Attributes:
        faults: faults to put in: a name, or a name, a colon and the name of a unit.
        seed: where all chance starts.
        delay_ms: of the wire.
        loss_ratio: of packets lost on it.
        power_cut_min: for how long the mains fail before the first call; None for not at all.
    """

    faults: tuple[str, ...] = ()
    seed: int = 1
    delay_ms: float = 1.0
    loss_ratio: float = 0.0
    power_cut_min: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """A building that can be rehearsed: as planned, as it is with its faults, and where these are."""

    walk: Walk
    conditions: Conditions
    planned: Planned
    faulty: Planned
    faults: tuple[tuple[Fault, str], ...]

    @property
    def build(self) -> Build:
        """What builds it, in this process or another; nothing is on yet."""
        faulty, conditions = self.faulty, self.conditions
        return partial(
            Building, tuple(faulty.boxes.values()), faulty.nets, plant=faulty.plant, seed=conditions.seed,
            power_cut_min=faulty.power_cut_min, delay_s=conditions.delay_ms / 1000, loss_ratio=conditions.loss_ratio,
        )  # fmt: skip

    @property
    def told(self) -> str:
        """The conditions in words."""
        lost_percent = self.conditions.loss_ratio * 100
        told = [
            f"seed {self.conditions.seed}",
            f"delay {self.conditions.delay_ms:g} ms",
            f"{lost_percent:g} % of packets lost" if lost_percent else "no packets lost",
        ]
        if self.faulty.power_cut_min is not None:
            told.append(f"power cut {self.faulty.power_cut_min:.0f} min")
        return ", ".join([*told, *(f"{fault.cause} at {_name(self.walk, ident)}" for fault, ident in self.faults)])


def prepared(walk: Walk, conditions: Conditions) -> Prepared:
    """Return the building of a site under these conditions.

    Raises:
        Refused: nothing can be rehearsed, or a fault or unit is not known.
    """
    plan = planned(walk, seed=conditions.seed)
    if not plan.boxes:
        raise Refused("no unit of this site has an address and a number yet", remedy="First: doorwright plan BOOK")
    faulty, put_in = put_faults(
        walk, plan, conditions.faults, seed=conditions.seed, power_cut_min=conditions.power_cut_min
    )
    return Prepared(walk=walk, conditions=conditions, planned=plan, faulty=faulty, faults=put_in)


def _name(walk: Walk, ident: str) -> str:
    part = walk.part(ident)
    return name_of(walk, part) if part is not None else ident
