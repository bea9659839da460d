"""Does the battery of a supply carry its loads for as long as the owner wants?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.battery import Battery, Discharge, discharge, rated_runtime_h, usable_capacity_ah
from doorwright.calc.cold import cold_ratio, lead_table
from doorwright.calc.standby import Stage, StandbyPractice, margin_capacity_ah, practices, requirement, stage_ah
from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door, LockKind
from doorwright.model.power import Supply
from doorwright.model.walk import Walk
from doorwright.studies.dc_branch import branches_of
from doorwright.studies.study import Study, Trail
from doorwright.studies.supply_network import missing_end_v, supply_network

TITLE: Final = "Standby of the supply"
REST: Final = "at rest"
BUSY: Final = "busy"


@dataclass(frozen=True, slots=True, kw_only=True)
class Standby:
    """What a standby asks of the battery at hand.

    ``standing_a`` flows at rest, ``busy_a`` with every lock worked all the time: both solved with the cables, the
    higher of mains and end of standby. ``required_ah`` is by ``practice``, times ``cold_ratio`` at ``battery_c``, the
    coldest that the battery gets. Where that is not known (``lacking_cold``), or colder than any factor goes, cold is
    not counted and what is asked is the least that it can be. ``course`` is the battery's, by Peukert's law, cold and
    without margin, None where its rated time or exponent is not known (``lacking``); ``runtime_h`` is for a standby at
    rest alone.
    """

    practice: StandbyPractice
    stages: tuple[Stage, ...]
    standing_a: float
    busy_a: float
    standby_h: float
    busy_h: float
    charge_ah: float
    margin_ratio: float
    battery_c: float | None
    cold_ratio: float
    required_ah: float
    battery_ah: float
    course: Discharge | None
    runtime_h: float | None
    lacking: tuple[Missing, ...]
    lacking_cold: tuple[Missing, ...]

    @property
    def spare_ratio(self) -> float:
        """The part of the battery that the practice does not ask for; negative where it asks for more."""
        return 1.0 - self.required_ah / self.battery_ah

    @property
    def empty_after_h(self) -> float | None:
        """When the battery is empty, hours; None where it outlasts the standby or its course is not known."""
        return None if self.course is None else self.course.empty_after_h


def standby(walk: Walk, supply: Supply) -> Study[Standby]:
    """Study the battery of a supply; the question does not arise for one without, or one that feeds nothing.

    Where nobody has said how much of the standby is busy, the busy time of the practice counts, if it has one.
    """
    if supply.battery_ah is None:
        return Study(supply.subject, TITLE)
    study = walk.once(supply_network, supply)
    circuits = study.value
    missing = dict.fromkeys((*study.missing, *missing_end_v(walk, supply)))
    if circuits is None and not study.missing:
        return Study(supply.subject, TITLE)
    missing.update(dict.fromkeys(_fail_modes_missing(walk, supply)))
    practice = practices().get(walk.settings().choices.standby_practice)
    lacking = {
        Missing("site", "standby practice"): practice is None,
        Missing(Supply.KIND, "battery capacity"): not supply.battery_ah,
        Missing(Supply.KIND, "standby"): supply.standby_h is None,
    }
    missing.update(dict.fromkeys(one for one, lacks in lacking.items() if lacks))
    busy_h = supply.standby_busy_h if supply.standby_busy_h is not None or practice is None else practice.busy_h
    if busy_h is None and practice is not None:
        missing[Missing(Supply.KIND, "busy standby")] = None
    if missing or circuits is None or practice is None or supply.standby_h is None or busy_h is None:
        return Study(supply.subject, TITLE, missing=tuple(missing))
    # the busy part is of the standby, at its end, where the battery is weakest
    busy_h = min(busy_h, supply.standby_h)
    stages = (
        Stage(name=REST, current_a=circuits.standing_a, duration_h=supply.standby_h - busy_h),
        Stage(name=BUSY, current_a=circuits.operated_a, duration_h=busy_h),
    )
    trail = Trail()
    factor, lacking_cold = _cold(supply, trail)
    needs = requirement(
        stages=stages,
        practice=practice,
        standby_h=supply.standby_h,
        capacity_ah=supply.battery_ah,
        cold_ratio=factor,
    )
    for stage, ratio in zip(stages, needs.high_rate_ratios, strict=True):
        trail.run(stage_ah, current_a=stage.current_a, duration_h=stage.duration_h, high_rate_ratio=ratio)
    trail.run(margin_capacity_ah, charge_ah=needs.charge_ah, margin_ratio=needs.margin_ratio, cold_ratio=factor)
    battery, waits_for = _battery(walk, supply, factor)
    if battery is not None and circuits.standing_a:
        trail.run(usable_capacity_ah, capacity_ah=battery.capacity_ah, temperature_ratio=battery.usable_ratio)
        # at the temperature of its data sheet; of the time found the cold leaves the same share as of the capacity
        trail.run(
            rated_runtime_h,
            capacity_ah=battery.capacity_ah,
            rate_h=battery.rate_h,
            current_a=circuits.standing_a,
            peukert_exponent=battery.peukert_exponent,
        )
    value = Standby(
        practice=practice,
        stages=stages,
        standing_a=circuits.standing_a,
        busy_a=circuits.operated_a,
        standby_h=supply.standby_h,
        busy_h=busy_h,
        charge_ah=needs.charge_ah,
        margin_ratio=needs.margin_ratio,
        battery_c=supply.battery_temperature_c,
        cold_ratio=factor,
        required_ah=needs.required_ah,
        battery_ah=supply.battery_ah,
        course=None if battery is None else discharge(battery, stages),
        runtime_h=None if battery is None else battery.runtime_h(circuits.standing_a),
        lacking=waits_for,
        lacking_cold=lacking_cold,
    )
    return Study(supply.subject, TITLE, value, steps=trail.steps)


def _fail_modes_missing(walk: Walk, supply: Supply) -> tuple[Missing, ...]:
    """Return what to say where it is not known whether a lock takes its current all the time."""
    unsaid = any(
        isinstance(door, Door) and door.fail_mode is None and door.lock is not LockKind.MAGNET
        for branch in branches_of(walk, supply)
        for door in branch.parts
    )
    return (Missing(Door.KIND, "fail mode"),) if unsaid else ()


def _cold(supply: Supply, trail: Trail) -> tuple[float, tuple[Missing, ...]]:
    """Return the factor for cold, 1 where it is not known, and what it then waits for."""
    if supply.battery_temperature_c is None:
        return 1.0, (Missing(Supply.KIND, "battery temperature"),)
    if supply.battery_temperature_c < lead_table().coldest_c:
        return 1.0, (Missing(Supply.KIND, f"factor for cold below {lead_table().coldest_c:g} °C"),)
    return trail.run(cold_ratio, battery_c=supply.battery_temperature_c), ()


def _battery(walk: Walk, supply: Supply, factor: float) -> tuple[Battery | None, tuple[Missing, ...]]:
    """Return the battery as Peukert's law sees it at its coldest, or what that waits for."""
    profile = walk.profile(supply.profile)
    exponent = profile.peukert_exponent if profile is not None else None
    lacking = {
        Missing(Supply.KIND, "battery rate"): not supply.battery_rate_h,
        Missing("profile", "Peukert exponent"): exponent is None or exponent < 1.0,
    }
    if supply.battery_ah and supply.battery_rate_h and exponent is not None and exponent >= 1.0:
        battery = Battery(
            capacity_ah=supply.battery_ah,
            rate_h=supply.battery_rate_h,
            peukert_exponent=exponent,
            usable_ratio=1.0 / factor,
        )
        return battery, ()
    return None, tuple(missing for missing, lacks in lacking.items() if lacks)
