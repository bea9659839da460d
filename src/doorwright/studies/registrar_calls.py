"""Does a unit that others register with hold enough calls at once?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.traffic import blocked_ratio, busy_erl, call_hold_s
from doorwright.kernel.verdict import Missing
from doorwright.model.place import Dwelling
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.studies.entrance_traffic import HOUR_S
from doorwright.studies.study import Study, Trail
from doorwright.studies.visiting import mean_ring_limit_s

TITLE: Final = "Calls at once in a registrar (an estimate)"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegistrarCalls:
    """What a registrar meets in the busiest hour, by the site's assumed habits.

    ``callers_count`` call units can call through it, each once at a time; ``held_count`` is how many calls it holds.
    ``refused_ratio`` of the calls find it full.
    """

    dwellings_count: int
    assumed_calls_count: float
    assumed_hold_s: float
    offered_erl: float
    callers_count: int
    held_count: int
    refused_ratio: float


def registrar_calls(walk: Walk, unit: Unit) -> Study[RegistrarCalls]:
    """Study whether a registrar holds the calls to the dwellings that register with it.

    The question does not arise for a unit with which no dwelling's receivers register but those of its own dwelling.
    Where it holds as many calls as there are call units it can refuse none.
    """
    registered = walk.units_registered_with(unit.id)
    homes = {one.dwelling for one in registered if one.kind is UnitKind.URU and one.dwelling != unit.dwelling}
    dwellings = [found for home in homes if (found := walk.find(Dwelling, home)) is not None]
    if not dwellings:
        return Study(unit.subject, TITLE)
    profile = walk.profile(unit.profile)
    if profile is None:
        return Study(unit.subject, TITLE, missing=(Missing(Unit.KIND, "profile"),))
    if profile.calls_max_count is None:
        return Study(unit.subject, TITLE, missing=(Missing("profile", "calls at once"),))
    habits = walk.settings().habits
    callers = {
        one.id
        for dwelling in dwellings
        for entrance in walk.entrances_serving(dwelling)
        for one in walk.units_at(entrance.id)
    }
    trail = Trail()
    hold_s = trail.run(
        call_hold_s,
        answer_ratio=habits.answer_ratio,
        answer_s=habits.answer_s,
        talk_s=habits.talk_s,
        ring_limit_s=mean_ring_limit_s(walk, dwellings),
    )
    offered_erl = trail.run(
        busy_erl,
        dwellings_count=len(dwellings),
        day_calls_count=habits.calls_per_dwelling_count,
        busy_ratio=habits.busy_hour_ratio,
        hold_s=hold_s,
        busy_s=HOUR_S,
    )
    refused_ratio = 0.0
    if len(callers) > profile.calls_max_count:
        refused_ratio = trail.run(blocked_ratio, offered_erl=offered_erl, lines_count=profile.calls_max_count)
    return Study(
        unit.subject,
        TITLE,
        RegistrarCalls(
            dwellings_count=len(dwellings),
            assumed_calls_count=habits.calls_per_dwelling_count,
            assumed_hold_s=hold_s,
            offered_erl=offered_erl,
            callers_count=len(callers),
            held_count=profile.calls_max_count,
            refused_ratio=refused_ratio,
        ),
        steps=trail.steps,
    )
