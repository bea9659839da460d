"""How long a lead-acid battery lasts: Peukert's law in both its forms, a standby hour by hour, series strings."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf, isfinite
from typing import Final

from doorwright.calc.standby import Stage
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

_LEAST_AH: Final = 1e-9
_HALVINGS: Final = 60


@calculation("Peukert's law for a capacity at one ampere", Cite("peukert1897", "t = C/Iᵏ"))
def one_ampere_runtime_h(*, capacity_ah: float, current_a: float, peukert_exponent: float) -> float:
    """Return how long a battery lasts whose capacity is quoted at a current of one ampere.

    Formula: t = C/Iᵏ, I in amperes.

    Valid when: C was measured at one ampere. Hardly any data sheet quotes it so: a battery of 100 Ah at 20 hours is for
    the other form of the law.

    Args:
        capacity_ah: capacity at one ampere, ampere-hours.
        current_a: constant current, amperes, above 0.
        peukert_exponent: k, above 1 for a real battery.

    Returns:
        Time to empty, hours.
    """
    runtime_h: float = capacity_ah / current_a**peukert_exponent
    return runtime_h


@calculation("Peukert's law for a capacity at a rated time", Cite("peukert1897", "t = H·(C/(I·H))ᵏ"))
def rated_runtime_h(*, capacity_ah: float, rate_h: float, current_a: float, peukert_exponent: float) -> float:
    """Return how long a battery lasts whose capacity is quoted for a discharge in a rated time.

    Formula: t = H·(C/(I·H))ᵏ.

    Valid when: the current is not far from the range in which k was found, the temperature that of the data sheet.
    Below the current C/H the law promises more than the rated capacity; a standby does not count on that (see
    ``drain_a``).

    Args:
        capacity_ah: rated capacity C, ampere-hours.
        rate_h: time H of the discharge at which it is quoted, hours.
        current_a: constant current, amperes, above 0.
        peukert_exponent: k, 1 for an ideal battery.

    Returns:
        Time to empty, hours; exactly H at the current C/H.
    """
    runtime_h: float = rate_h * (capacity_ah / (current_a * rate_h)) ** peukert_exponent
    return runtime_h


@calculation("Current as the battery feels it", Cite("peukert1897", "rated-time form, solved for the charge"))
def drain_a(*, capacity_ah: float, rate_h: float, current_a: float, peukert_exponent: float) -> float:
    """Return the rate at which a current uses up the rated capacity of a battery.

    Formula: I·(I·H/C)ᵏ⁻¹ above the current C/H, I itself below.

    Valid when: as for Peukert's law at a rated time. Stages of different currents add up their use, which no law
    promises but practice does. That slow discharge gives no more than the rated capacity is our own caution.

    Args:
        capacity_ah: rated capacity C, ampere-hours.
        rate_h: time H of the discharge at which it is quoted, hours.
        current_a: current drawn, amperes.
        peukert_exponent: k, 1 for an ideal battery.

    Returns:
        Use of rated capacity, amperes.
    """
    over_ratio = max(1.0, current_a * rate_h / capacity_ah)
    felt_a: float = current_a * over_ratio ** (peukert_exponent - 1.0)
    return felt_a


@calculation("Capacity left to an aged, cold battery", Cite("practice", "shares of capacity multiply"))
def usable_capacity_ah(*, capacity_ah: float, ageing_ratio: float = 1.0, temperature_ratio: float = 1.0) -> float:
    """Return what is left of a rated capacity at the end of the battery's life and at its temperature.

    Formula: C·a·t.

    Valid when: both shares come from the battery's maker or the practice that the site names. A margin of 1.25 on the
    capacity and an end of life at 80 % are the same thing: count it once.

    Args:
        capacity_ah: rated capacity, ampere-hours.
        ageing_ratio: share left at the end of life.
        temperature_ratio: share given at the temperature.

    Returns:
        Capacity, ampere-hours.
    """
    return capacity_ah * ageing_ratio * temperature_ratio


@dataclass(frozen=True, slots=True, kw_only=True)
class Bank:
    """Equal blocks as one battery."""

    bank_v: float
    bank_ah: float


@calculation("Blocks in series and side by side", Cite("practice", "series adds voltage, parallel adds capacity"))
def bank(*, block_v: float, block_ah: float, series_count: int, parallel_count: int = 1) -> Bank:
    """Return voltage and capacity of equal blocks wired as one battery.

    Formula: V = n·v, C = m·c for m strings of n blocks.

    Valid when: all blocks are of one type and one age; a weak one drags its string down.

    Args:
        block_v: voltage of a block, volts.
        block_ah: capacity of a block, ampere-hours.
        series_count: blocks in a string.
        parallel_count: strings side by side.

    Returns:
        Voltage, volts, and capacity, ampere-hours.
    """
    return Bank(bank_v=series_count * block_v, bank_ah=parallel_count * block_ah)


@dataclass(frozen=True, slots=True, kw_only=True)
class Battery:
    """A battery as its data sheet quotes it; ``usable_ratio`` is what age and cold leave of its capacity.

    Raises:
        ValueError: a capacity or time is not above zero, the exponent is below 1, the usable share not within 0 to 1.
    """

    capacity_ah: float
    rate_h: float = 20.0
    peukert_exponent: float = 1.0
    usable_ratio: float = 1.0

    def __post_init__(self) -> None:
        """Refuse what is no battery, naming every fault at once."""
        faults = []
        if not (isfinite(self.capacity_ah) and self.capacity_ah > 0.0):
            faults.append(f"its capacity of {self.capacity_ah:g} Ah needs to be above 0")
        if not (isfinite(self.rate_h) and self.rate_h > 0.0):
            faults.append(f"its rated time of {self.rate_h:g} h needs to be above 0")
        if not (isfinite(self.peukert_exponent) and self.peukert_exponent >= 1.0):
            faults.append(f"its Peukert exponent of {self.peukert_exponent:g} needs to be 1 or more")
        if not 0.0 < self.usable_ratio <= 1.0:
            faults.append(f"its usable share of {self.usable_ratio:g} needs to be above 0 and at most 1")
        if faults:
            raise ValueError(f"no battery: {'; '.join(faults)}")

    def drain_of(self, current_a: float) -> float:
        """Return the rate at which a current uses up the rated capacity, amperes."""
        return drain_a(
            capacity_ah=self.capacity_ah,
            rate_h=self.rate_h,
            current_a=current_a,
            peukert_exponent=self.peukert_exponent,
        )

    def runtime_h(self, current_a: float) -> float:
        """Return how long the usable capacity carries a constant current, hours; infinite for none."""
        felt_a = self.drain_of(current_a)
        return self.usable_ratio * self.capacity_ah / felt_a if felt_a else inf


@dataclass(frozen=True, slots=True, kw_only=True)
class BatteryPoint:
    """A battery at one instant of a standby; ``current_a`` flows from then on, ``stage`` names why."""

    time_h: float
    stage: str
    current_a: float
    left_ah: float
    left_ratio: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Discharge:
    """A standby on a battery: the corners of its state, which runs straight between them.

    ``empty_after_h`` is None where the battery outlasts every stage; the last point then says what is left.
    """

    points: tuple[BatteryPoint, ...]
    empty_after_h: float | None

    @property
    def lasts(self) -> bool:
        """Whether the battery carries the whole standby."""
        return self.empty_after_h is None

    @property
    def left_ratio(self) -> float:
        """The share of the usable capacity that is left at the end."""
        return self.points[-1].left_ratio

    def left_after(self, time_h: float) -> float:
        """Return the share of the usable capacity left after some hours, ratio."""
        before = self.points[0]
        for point in self.points:
            if point.time_h >= time_h:
                span_h = point.time_h - before.time_h
                part = (time_h - before.time_h) / span_h if span_h > 0.0 and time_h > before.time_h else 0.0
                return before.left_ratio + part * (point.left_ratio - before.left_ratio)
            before = point
        return self.left_ratio


def discharge(battery: Battery, stages: Sequence[Stage]) -> Discharge:
    """Return the state of a battery through the stages of a standby, to their end or until it is empty."""
    usable_ah = battery.usable_ratio * battery.capacity_ah
    left_ah, time_h = usable_ah, 0.0
    points: list[BatteryPoint] = []

    def mark(stage: str, current_a: float) -> None:
        points.append(
            BatteryPoint(
                time_h=time_h, stage=stage, current_a=current_a, left_ah=left_ah, left_ratio=left_ah / usable_ah
            )
        )

    for stage in stages:
        mark(stage.name, stage.current_a)
        felt_a = battery.drain_of(stage.current_a)
        if felt_a * stage.duration_h > left_ah:
            time_h += left_ah / felt_a
            left_ah = 0.0
            mark("empty", 0.0)
            return Discharge(points=tuple(points), empty_after_h=time_h)
        left_ah -= felt_a * stage.duration_h
        time_h += stage.duration_h
    mark("end", 0.0)
    return Discharge(points=tuple(points), empty_after_h=None)


def smallest_capacity_ah(
    stages: Sequence[Stage], *, rate_h: float = 20.0, peukert_exponent: float = 1.0, usable_ratio: float = 1.0
) -> float:
    """Return the least rated capacity that carries a standby, ampere-hours.

    Found by halving: the use of capacity falls and the capacity rises along the search, so they meet once. What would
    need less than a billionth of an ampere-hour is answered with that.

    Raises:
        ValueError: rate, exponent or usable share are those of no battery.
    """

    def carries(capacity_ah: float) -> bool:
        battery = Battery(
            capacity_ah=capacity_ah, rate_h=rate_h, peukert_exponent=peukert_exponent, usable_ratio=usable_ratio
        )
        used_ah = sum(battery.drain_of(stage.current_a) * stage.duration_h for stage in stages)
        return used_ah <= usable_ratio * capacity_ah

    carries(1.0)  # refuses bad figures before they are reckoned with
    # no battery gives more than its rated capacity, so the plain sum is the least there can be
    plain_ah = sum(stage.current_a * stage.duration_h for stage in stages) / usable_ratio
    short_ah = enough_ah = max(plain_ah, _LEAST_AH)
    while not carries(enough_ah):
        short_ah, enough_ah = enough_ah, 2.0 * enough_ah
    for _ in range(_HALVINGS):
        middle_ah = (short_ah + enough_ah) / 2.0
        if carries(middle_ah):
            enough_ah = middle_ah
        else:
            short_ah = middle_ah
    return enough_ah if plain_ah else 0.0
