"""How large a standby battery must be: currents over hours, with the factors of a named practice."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import isfinite
from types import MappingProxyType
from typing import Any

from doorwright import data
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """A current that flows for some hours of the standby.

    Raises:
        ValueError: the current or the duration is negative, infinite or no number.
    """

    name: str
    current_a: float
    duration_h: float

    def __post_init__(self) -> None:
        """Refuse what no battery can be asked for."""
        if not (isfinite(self.current_a) and self.current_a >= 0.0):
            raise ValueError(f"the stage {self.name!r} takes {self.current_a:g} A; it needs 0 or more")
        if not (isfinite(self.duration_h) and self.duration_h >= 0.0):
            raise ValueError(f"the stage {self.name!r} lasts {self.duration_h:g} h; it needs 0 or more")


@dataclass(frozen=True, slots=True, kw_only=True)
class StandbyPractice:
    """A way to size a standby battery, from ``data/standby.toml``, and the editions for which its figures are known.

    ``margin_ratio`` covers age; a standby below ``short_h`` takes ``short_margin_ratio`` instead. A stage
    whose current is above the capacity over ``high_rate_h`` takes ``high_rate_ratio``. ``busy_h`` is the standard's
    busy stage.
    """

    key: str
    title: str
    margin_ratio: float
    short_h: float
    short_margin_ratio: float
    high_rate_ratio: float
    high_rate_h: float | None
    busy_h: float | None
    edition: str
    cite: Cite

    def margin_for(self, standby_h: float) -> float:
        """Return the factor on the whole sum for a standby of so many hours."""
        return self.short_margin_ratio if standby_h < self.short_h else self.margin_ratio


@cache
def practices() -> MappingProxyType[str, StandbyPractice]:
    """Return every practice by key."""
    return MappingProxyType({key: _practice(key, row) for key, row in data.table("standby").items()})


def _practice(key: str, row: dict[str, Any]) -> StandbyPractice:
    return StandbyPractice(
        key=key,
        title=row["title"],
        margin_ratio=row["margin_ratio"],
        short_h=row.get("short_h", 0.0),
        short_margin_ratio=row.get("short_margin_ratio", row["margin_ratio"]),
        high_rate_ratio=row.get("high_rate_ratio", 1.0),
        high_rate_h=row.get("high_rate_h"),
        busy_h=row.get("busy_h"),
        edition=row["edition"],
        cite=Cite(row["source"], row["place"]),
    )


@calculation("Charge of one stage of standby", Cite("practice", "charge is current times time"), Cite("bs5839-1"))
def stage_ah(*, current_a: float, duration_h: float, high_rate_ratio: float = 1.0) -> float:
    """Return the charge that a stage of standby asks of the battery.

    Formula: Q = D·I·T.

    Valid when: the current is the mean of the stage. D is 1, or the factor for a current above the rate at which the
    capacity is quoted, because a battery gives less when it is emptied faster.

    Args:
        current_a: current at the battery, amperes.
        duration_h: length of the stage, hours.
        high_rate_ratio: D.

    Returns:
        Charge, ampere-hours.
    """
    return high_rate_ratio * current_a * duration_h


@calculation(
    "Capacity for a charge with its margin",
    Cite("bs5839-1", "factor 1.25 for age"),
    Cite("vde0833-2"),
    Cite("nfpa72", "margin of 20 % to 2019, of 25 % from 2022"),
)
def margin_capacity_ah(*, charge_ah: float, margin_ratio: float, cold_ratio: float = 1.0) -> float:
    """Return the capacity that a battery must be sold with for a charge, with the margin of a practice and for cold.

    Formula: C = M·K·Q.

    Valid when: the margin is of the practice that the site names. The figures come from fire-alarm standards; nothing
    says that they hold for door entry. None of them is known to count cold, so that multiplies.

    Args:
        charge_ah: charge of all stages, ampere-hours.
        margin_ratio: M, the factor for age.
        cold_ratio: K, the factor for cold (``calc/cold.py``).

    Returns:
        Rated capacity, ampere-hours.
    """
    return margin_ratio * cold_ratio * charge_ah


@calculation(
    "Capacity for standby and a busy stage",
    Cite("bs5839-1", "C = 1.25·(T1·I1 + D·I2/2)"),
    Cite("vde0833-2", "K = 1.25·(I1·t1 + I2·t2)"),
    Cite("nfpa72", "standby and alarm currents over their times"),
)
def two_stage_capacity_ah(
    *,
    standby_a: float,
    standby_h: float,
    busy_a: float,
    busy_h: float,
    margin_ratio: float = 1.0,
    high_rate_ratio: float = 1.0,
) -> float:
    """Return the capacity for a standby of rest followed by a busy stage, in the form that all the standards share.

    Formula: C = M·(I1·T1 + D·I2·T2).

    Valid when: M and D are of one practice. Several busy stages add up in the same way.

    Args:
        standby_a: current at rest, amperes.
        standby_h: length of the rest, hours.
        busy_a: current of the busy stage, amperes.
        busy_h: its length, hours.
        margin_ratio: M, the factor for age.
        high_rate_ratio: D, the factor for a current above the rate at which the capacity is quoted.

    Returns:
        Rated capacity, ampere-hours.
    """
    return margin_ratio * (standby_a * standby_h + high_rate_ratio * busy_a * busy_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """What a standby asks of its battery: ``required_ah`` = ``margin_ratio`` · ``cold_ratio`` · ``charge_ah``.

    ``high_rate_ratios`` holds the factor of each stage, in their order.
    """

    practice: StandbyPractice
    stages: tuple[Stage, ...]
    high_rate_ratios: tuple[float, ...]
    charge_ah: float
    margin_ratio: float
    cold_ratio: float
    required_ah: float


def requirement(
    *,
    stages: Sequence[Stage],
    practice: StandbyPractice,
    standby_h: float | None = None,
    capacity_ah: float | None = None,
    maker_ratio: float | None = None,
    cold_ratio: float = 1.0,
) -> Requirement:
    """Return the capacity that a practice asks for a standby.

    Args:
        stages: the currents over hours.
        practice: whose factors to take.
        standby_h: how long the standby is; where None, the longest stage, so that a doubtful standby counts as short.
        capacity_ah: capacity of the battery at hand, against which a current counts as high. Where None, a stage counts
            as high unless the capacity reckoned without any factor for high rate would already take it for ordinary.
        maker_ratio: factor for high rate from the battery's maker, in place of the practice's.
        cold_ratio: factor for a cold battery.

    Returns:
        The capacity and what it is made of.
    """
    margin_ratio = practice.margin_for(
        max((s.duration_h for s in stages), default=0.0) if standby_h is None else standby_h
    )
    plain_ah = sum(stage_ah(current_a=s.current_a, duration_h=s.duration_h) for s in stages)
    against_ah = (
        margin_capacity_ah(charge_ah=plain_ah, margin_ratio=margin_ratio) if capacity_ah is None else capacity_ah
    )
    high_ratio = practice.high_rate_ratio if maker_ratio is None else maker_ratio
    ratios = tuple(
        high_ratio if practice.high_rate_h is not None and s.current_a * practice.high_rate_h > against_ah else 1.0
        for s in stages
    )
    charge_ah = sum(
        stage_ah(current_a=s.current_a, duration_h=s.duration_h, high_rate_ratio=ratio)
        for s, ratio in zip(stages, ratios, strict=True)
    )
    return Requirement(
        practice=practice,
        stages=tuple(stages),
        high_rate_ratios=ratios,
        charge_ah=charge_ah,
        margin_ratio=margin_ratio,
        cold_ratio=cold_ratio,
        required_ah=margin_capacity_ah(charge_ah=charge_ah, margin_ratio=margin_ratio, cold_ratio=cold_ratio),
    )
