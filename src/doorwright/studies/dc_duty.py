"""What a door's lock, a unit or a switch takes of the supply that feeds it."""

from typing import TypeAlias

from doorwright.calc.circuit import Draw
from doorwright.calc.loading import Duty
from doorwright.calc.poe import switch_draw_w
from doorwright.kernel.verdict import Missing
from doorwright.model.door import Door, FailMode, LockKind, LockTakes
from doorwright.model.network import Switch
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.study import Trail
from doorwright.studies.switch_power import switch_power

Fed: TypeAlias = Door | Unit | Switch
"""What a supply can feed."""


def fed_part(walk: Walk, ident: str) -> Fed | None:
    """Return the door, unit or switch of an identifier, or None."""
    return walk.find(Door, ident) or walk.find(Unit, ident) or walk.find(Switch, ident)


def flows_always(door: Door) -> bool:
    """Say whether the lock takes its current all the time the door is locked: a magnet, or any fail-safe lock."""
    return door.lock is LockKind.MAGNET or door.fail_mode is FailMode.SAFE


def duty_of(walk: Walk, part: Fed, trail: Trail | None = None) -> Duty | tuple[Missing, ...]:
    """Return what a part takes standing, working and at its first instant, or all that is missing for it.

    A lock whose data sheet names no inrush starts with its operating current, one without a current of its own for
    holding holds with it too. A unit or switch takes what ``converter_w`` says.
    """
    return _lock(part) if isinstance(part, Door) else _converter(walk, part, trail)


def converter_w(walk: Walk, part: Unit | Switch, trail: Trail | None = None) -> float | tuple[Missing, ...]:
    """Return what a unit or switch takes of its supply, watts, or all that is missing for it.

    A switch whose profile says what it takes for itself takes what leaves its ports at once on top, over the efficiency
    of its profile or else that which the site assumes; the calculation goes into ``trail``. Where its profile says only
    what it takes with all that it feeds, that counts.
    """
    profile = walk.profile(part.profile)
    if profile is None:
        return (Missing(part.KIND, "profile"),)
    if not isinstance(part, Switch) or profile.own_draw_w is None:
        return (Missing("profile", "DC draw"),) if profile.dc_draw_w is None else profile.dc_draw_w
    power = walk.once(switch_power, part)
    if power.value is None:
        return power.missing
    efficiency_ratio = profile.poe_efficiency_ratio or walk.settings().choices.poe_efficiency_ratio
    if power.value.at_once_w and not efficiency_ratio:
        return (Missing("profile", "PoE efficiency"),)
    return (trail or Trail()).run(
        switch_draw_w,
        own_draw_w=profile.own_draw_w,
        ports_w=power.value.at_once_w,
        efficiency_ratio=efficiency_ratio or 1.0,
    )


def minimum_v_of(walk: Walk, part: Fed) -> float | None:
    """Return the least voltage at which the maker of a part promises operation, volts; None where it is not known."""
    if isinstance(part, Door):
        return part.lock_minimum_v
    profile = walk.profile(part.profile)
    return None if profile is None else profile.dc_minimum_v


def missing_minimum_v(walk: Walk, part: Fed) -> tuple[Missing, ...]:
    """Return what to say where the least voltage of a part is not known; nothing where it is."""
    if minimum_v_of(walk, part) is not None:
        return ()
    return (
        Missing(Door.KIND, "lock minimum voltage")
        if isinstance(part, Door)
        else Missing("profile", "least DC voltage"),
    )


def _lock(door: Door) -> Duty | tuple[Missing, ...]:
    missing: list[Missing] = []
    if door.lock_operate_a is None:
        missing.append(Missing(Door.KIND, "lock operating current"))
    if door.lock_takes is not LockTakes.CURRENT and not door.lock_rated_v:
        missing.append(Missing(Door.KIND, "lock rated voltage"))
    if missing or door.lock_operate_a is None:
        return tuple(missing)
    operated = _draw(door, door.lock_operate_a)
    hold = operated if door.lock_hold_a is None else _draw(door, door.lock_hold_a)
    return Duty(
        name=door.id,
        node=door.id,
        standing=hold if flows_always(door) else Draw(),
        operated=operated,
        inrush=None if door.lock_inrush_a is None else _draw(door, door.lock_inrush_a),
    )


def _draw(door: Door, current_a: float) -> Draw:
    """Return a current of the data sheet, which holds at the rated voltage, as what stays the same of it."""
    rated_v = door.lock_rated_v
    if door.lock_takes is LockTakes.CURRENT or not rated_v or not current_a:
        return Draw(current_a=current_a)
    if door.lock_takes is LockTakes.POWER:
        return Draw(power_w=rated_v * current_a)
    return Draw(resistance_ohm=rated_v / current_a)


def _converter(walk: Walk, part: Unit | Switch, trail: Trail | None) -> Duty | tuple[Missing, ...]:
    power_w = converter_w(walk, part, trail)
    return power_w if isinstance(power_w, tuple) else Duty(name=part.id, node=part.id, standing=Draw(power_w=power_w))
