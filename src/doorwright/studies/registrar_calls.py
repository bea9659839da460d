"""Does a unit or SIP server that others register with hold enough calls at once?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.traffic import blocked_ratio, busy_erl, call_hold_s
from doorwright.kernel.verdict import Missing
from doorwright.model.network import SipServer
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.studies.entrance_traffic import HOUR_S
from doorwright.studies.homes import homes_registered, mean_ring_limit_s
from doorwright.studies.study import Study, Trail

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


def registrar_calls(walk: Walk, registrar: Unit | SipServer) -> Study[RegistrarCalls]:
    """Study whether a registrar holds the calls to the dwellings that register with it.

    The question does not arise for one with which no dwelling's receivers register but those of its own dwelling.
    Where it holds as many calls as there are call units it can refuse none.
    """
    homes = walk.once(homes_registered, registrar)
    if not homes:
        return Study(registrar.subject, TITLE)
    held_count = _held_count(walk, registrar)
    if isinstance(held_count, Missing):
        return Study(registrar.subject, TITLE, missing=(held_count,))
    habits = walk.settings().habits
    dwellings_count = sum(homes.values())
    entrances = {entrance for home in homes for entrance in home.entrances}
    callers_count = sum(len(walk.units_at(entrance)) for entrance in entrances)
    trail = Trail()
    hold_s = trail.run(
        call_hold_s,
        answer_ratio=habits.answer_ratio,
        answer_s=habits.answer_s,
        talk_s=habits.talk_s,
        ring_limit_s=mean_ring_limit_s(homes),
    )
    offered_erl = trail.run(
        busy_erl,
        dwellings_count=dwellings_count,
        day_calls_count=habits.calls_per_dwelling_count,
        busy_ratio=habits.busy_hour_ratio,
        hold_s=hold_s,
        busy_s=HOUR_S,
    )
    refused_ratio = 0.0
    if callers_count > held_count:
        refused_ratio = trail.run(blocked_ratio, offered_erl=offered_erl, lines_count=held_count)
    return Study(
        registrar.subject,
        TITLE,
        RegistrarCalls(
            dwellings_count=dwellings_count,
            assumed_calls_count=habits.calls_per_dwelling_count,
            assumed_hold_s=hold_s,
            offered_erl=offered_erl,
            callers_count=callers_count,
            held_count=held_count,
            refused_ratio=refused_ratio,
        ),
        steps=trail.steps,
    )


def _held_count(walk: Walk, registrar: Unit | SipServer) -> int | Missing:
    """Return how many calls a registrar holds: a server by what it is sized for, a unit by its profile."""
    if isinstance(registrar, SipServer):
        held_count = registrar.calls_max_count
        return Missing(SipServer.KIND, "calls at once") if held_count is None else held_count
    profile = walk.profile(registrar.profile)
    if profile is None:
        return Missing(Unit.KIND, "profile")
    return Missing("profile", "calls at once") if profile.calls_max_count is None else profile.calls_max_count
