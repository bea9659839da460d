"""Sites with firmware on them, and a checker that replays an order of work minute by minute.

The checker knows the site, the turns of the plan and the words of the package's model; it uses none of its code.
"""

from collections import defaultdict
from dataclasses import replace
from typing import Any

from doorwright.model.profile import FirmwareLine
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.firmware.waves import WavePlan
from tests.unit.plan.block import planned, set_profile

TYPES = ("vcu-direct", "vcu-keypad", "vcu-directory", "uru-video", "uru-audio", "smu-desk")


def line(version: str, generation: int, *, keeps: bool = True, step_s: float = 600.0, **values: Any) -> FirmwareLine:
    """Return a firmware line."""
    return FirmwareLine(version=version, keeps_settings=keeps, pairing_generation=generation, step_s=step_s, **values)


def stepping(site: Site, *lines: FirmwareLine, now: str, plan: bool = True, **times: Any) -> Site:
    """Return a site, planned, whose types all have these lines, and whose units all run ``now``."""
    made = planned(site).site if plan else site
    for key in TYPES:
        made = set_profile(made, key, firmware=lines, firmware_baseline=None, **times)
    return replace(made, units=tuple(replace(unit, firmware=now) for unit in made.units))


def generations(walk: Walk, unit: Unit, version: str | None) -> int:
    """Return the generation of a version."""
    profile = walk.profile(unit.profile)
    assert profile is not None
    return {line.version: line.pairing_generation for line in profile.firmware}[version or ""]


def speaking(walk: Walk, unit: Unit, plan: WavePlan, minute: float) -> int | None:
    """Return the generation that a unit speaks, None while it is down."""
    for wave in plan.waves:
        for turn in wave.turns:
            if turn.step.unit.id == unit.id:
                if minute < turn.start_min:
                    return generations(walk, unit, turn.step.version_from)
                return None if minute < turn.end_min else generations(walk, unit, turn.step.version_to)
    return generations(walk, unit, unit.firmware)


def reachable(walk: Walk, dwelling: Any, plan: WavePlan, minute: float) -> bool:
    """Say whether some entrance reaches a dwelling at a minute."""
    primary = next(unit for unit in walk.units_in(dwelling.id) if unit.position == 0)
    for entrance in walk.entrances_serving(dwelling):
        for vcu in walk.units_at(entrance.id):
            registrar = vcu.registrar or vcu.id
            if registrar != primary.registrar:
                continue
            units = {unit.id: unit for unit in (vcu, primary)}
            held_by = walk.find(Unit, registrar)
            if held_by is not None:
                units[held_by.id] = held_by
            spoken = {speaking(walk, unit, plan, minute) for unit in units.values()}
            if len(spoken) == 1 and None not in spoken:
                return True
    return False


def unreached_by_minute(walk: Walk, plan: WavePlan) -> list[int]:
    """Count the dwellings that nobody reaches, in the middle of every minute."""
    dwellings = walk.site.dwellings
    return [
        sum(not reachable(walk, dwelling, plan, minute + 0.5) for dwelling in dwellings)
        for minute in range(plan.finish_min)
    ]


def busy_by_slot(walk: Walk, plan: WavePlan) -> dict[int, int]:
    """Add up the technicians' minutes of every slot: a minute to start each unit, two for each end entered again."""
    visits: dict[tuple[str, int], list[Any]] = defaultdict(list)
    for wave in plan.waves:
        for turn in wave.turns:
            visits[turn.step.unit.dwelling or turn.step.unit.id, turn.start_min].append(turn)
    busy: dict[int, int] = defaultdict(int)
    for (_, start_min), turns in visits.items():
        units = [turn.step.unit for turn in turns]
        load_min = max(-int(-turn.step.load_s // 60) for turn in turns)
        ends = sum(1 + len(walk.units_registered_with(t.step.unit.id)) for t in turns if t.step.clears)
        entry_from = start_min + len(units) + load_min
        worked = [*range(start_min, start_min + len(units)), *range(entry_from, entry_from + 2 * ends)]
        for minute in worked:
            busy[minute // plan.slot_min] += 1
    return busy
