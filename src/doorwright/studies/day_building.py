"""The site as the simulated day sees it: call units, homes and the desk, with the site's assumed habits."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from doorwright.day.chance import Length
from doorwright.day.design import Building, Desk, Homes
from doorwright.model.calling import DivertCause
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.desk_queue import cause_of_divert
from doorwright.studies.homes import homes_of, mean_ring_limit_s
from doorwright.studies.visiting import SPREAD, call_units_at, desk_units

ANSWER_VARIATION_RATIO: Final = 0.5
"""How much the time to answer varies: less than by pure chance, since people walk to the receiver. Our assumption."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DayBuilding:
    """What is to be played, and in words what was taken for granted where the plan does not say."""

    building: Building
    assumptions: tuple[str, ...]


def day_building(
    walk: Walk, *, more_units: Mapping[str, int] | None = None, more_positions_count: int = 0
) -> DayBuilding | None:
    """Return the site as something to play, or None where nobody can be called from anywhere.

    Args:
        walk: the site.
        more_units: how many call units more than planned an entrance is to have, by its identifier.
        more_positions_count: how many positions more than planned the desk is to have.
    """
    lines = _lines(walk, more_units or {})
    homes, to_desk_ratio = _homes(walk, lines)
    if not homes:
        return None
    habits = walk.settings().habits
    positions_count = len(desk_units(walk)) + more_positions_count
    has_desk = positions_count > 0 and habits.desk_talk_s > 0.0
    building = Building(
        entrances=tuple(name for name, _ in lines),
        homes=homes,
        hours=habits.hour_weights,
        answer=Length(mean_s=habits.answer_s, variation_ratio=ANSWER_VARIATION_RATIO),
        talk=Length(mean_s=habits.talk_s),
        ring_limit_s=mean_ring_limit_s(homes_of(walk, walk.all(Dwelling))),
        desk=Desk(
            positions_count=positions_count,
            talk=Length(mean_s=habits.desk_talk_s),
            patience=Length(mean_s=habits.desk_patience_s),
        )
        if has_desk
        else None,
        desk_ratio=to_desk_ratio if has_desk else 0.0,
        retry_ratio=habits.retry_ratio,
        retry_after=Length(mean_s=habits.retry_after_s),
        calls_max_count=_calls_max_count(walk),
    )
    return DayBuilding(building=building, assumptions=tuple(_assumptions(walk, building)))


def _lines(walk: Walk, more_units: Mapping[str, int]) -> list[tuple[str, str]]:
    """Return the name of each call unit and the identifier of its entrance."""
    lines: list[tuple[str, str]] = []
    for entrance in sorted(walk.all(Entrance), key=lambda entrance: (entrance.name, entrance.id)):
        names = [unit.name for unit in call_units_at(walk, entrance)]
        more = more_units.get(entrance.id, 0)
        names += [f"further call unit {number}" for number in range(1, more + 1)]
        if len(names) == 1:
            lines.append((entrance.name, entrance.id))
        else:
            lines += [(f"{entrance.name}: {name}", entrance.id) for name in names]
    return lines


def _homes(walk: Walk, lines: list[tuple[str, str]]) -> tuple[tuple[Homes, ...], float]:
    """Return the homes that are called alike, and the share of all visitors who are for the desk at once."""
    habits = walk.settings().habits
    lines_count = {ident: sum(owner == ident for _, owner in lines) for _, ident in lines}
    counts: dict[tuple[tuple[str, ...], bool], int] = {}
    for_desk, dwellings_count = 0.0, 0
    for dwelling in walk.all(Dwelling):
        entrances = [entrance for entrance in walk.entrances_serving(dwelling) if entrance.id in lines_count]
        if not entrances:
            continue
        entrances.sort(key=lambda entrance: entrance.id)
        causes = [cause_of_divert(walk, dwelling, entrance.id) for entrance in entrances]
        key = (tuple(entrance.id for entrance in entrances), DivertCause.NO_ANSWER in causes)
        counts[key] = counts.get(key, 0) + 1
        dwellings_count += 1
        for entrance, cause in zip(entrances, causes, strict=True):
            direct = habits.desk_ratio if entrance.calls_desk else 0.0
            for_desk += (1.0 if cause is DivertCause.ALWAYS else direct) / len(entrances)
    homes = tuple(
        Homes(
            name=f"homes {number}",
            count=count,
            calls_per_day=habits.calls_per_dwelling_count,
            entrances=tuple(1.0 / lines_count[owner] if owner in called_from else 0.0 for _, owner in lines),
            answer_ratio=habits.answer_ratio,
            diverts=diverts,
        )
        for number, ((called_from, diverts), count) in enumerate(counts.items(), start=1)
    )
    return homes, for_desk / dwellings_count if dwellings_count else 0.0


def _calls_max_count(walk: Walk) -> int | None:
    """Return how many calls the one unit holds with which every receiver registers; None where there is no such one."""
    registrars = {
        unit.registrar for dwelling in walk.all(Dwelling) for unit in walk.units_in(dwelling.id) if not unit.position
    }
    registrar = walk.find(Unit, next(iter(registrars))) if len(registrars) == 1 else None
    profile = walk.profile(registrar.profile) if registrar else None
    return profile.calls_max_count or None if profile else None


def _assumptions(walk: Walk, building: Building) -> list[str]:
    habits = walk.settings().habits
    told = [
        f"visitors to a dwelling a day: {habits.calls_per_dwelling_count:g}; {habits.answer_ratio:.0%} of the calls"
        f" answered after {habits.answer_s:g} s, talks of {habits.talk_s:g} s",
        f"{SPREAD}, and over the call units of an entrance",
        f"one visitor at a call unit; the others stand in line, {building.line_patience.mean_s:g} s in the mean",
        f"{building.retry_ratio:.0%} of those whom nobody answers try again after {building.retry_after.mean_s:g} s,"
        f" {building.tries_max_count} times at most",
        f"ringing ends after {building.ring_limit_s:.0f} s",
    ]
    if building.desk is not None:
        told.append(
            f"{building.desk_ratio:.0%} of the visitors call the desk, talk {building.desk.talk.mean_s:g} s there and"
            f" wait {building.desk.patience.mean_s:g} s in the mean; any desk takes any call, at every hour"
        )
    if building.calls_max_count is not None:
        told.append(f"the unit with which all receivers register holds {building.calls_max_count} calls at once")
    return told
