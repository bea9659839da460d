"""How often do visitors find the call unit of an entrance taken?"""

from dataclasses import dataclass
from math import fsum
from typing import Final

from doorwright.calc.queueing import waiting_ratio
from doorwright.calc.traffic import blocked_ratio, busy_erl, call_hold_s, needed_lines_count
from doorwright.model.place import Entrance
from doorwright.model.walk import Walk
from doorwright.studies.homes import Home, callers_at, homes_served, mean_ring_limit_s
from doorwright.studies.study import Study, Trail
from doorwright.studies.visiting import desk_units

TITLE: Final = "Visitors at the entrance in the busiest hour (an estimate)"
HOUR_S: Final = 3600.0


@dataclass(frozen=True, slots=True, kw_only=True)
class EntranceTraffic:
    """What the call units of an entrance meet in the busiest hour, by the site's assumed habits.

    ``assumed_calls_count`` is how often a mean dwelling is called *from this entrance* on a day, under the assumption
    that visitors spread evenly over the entrances from which a dwelling can be called; ``assumed_busy_hour_ratio`` and
    ``assumed_hold_s`` follow from the habits. ``lines_count`` is how many visitors can call at once. ``taken_ratio`` of
    the visitors find all of them taken if those who do go away, ``taken_in_line_ratio`` if all of them stand in line:
    the truth lies between. ``needed_count`` call units bring the former down to ``goal_ratio``; None where the goal is
    that nobody may find them taken, which no number of units keeps.
    """

    dwellings_count: int
    assumed_calls_count: float
    assumed_busy_hour_ratio: float
    assumed_hold_s: float
    offered_erl: float
    lines_count: int
    taken_ratio: float
    taken_in_line_ratio: float
    goal_ratio: float
    needed_count: int | None


def entrance_traffic(walk: Walk, entrance: Entrance) -> Study[EntranceTraffic]:
    """Study how often visitors find the call units of an entrance taken.

    One visitor stands at a call unit, so it has one call of its own at a time, however many it carries for others that
    register with it. Visitors who come back after nobody answered, and who wait for the desk, are not in it: playing
    the day counts them. The question does not arise where there is no call unit, or nobody to call.
    """
    lines_count = len(walk.once(callers_at, entrance))
    homes = walk.once(homes_served, entrance)
    if not lines_count or not homes:
        return Study(entrance.subject, TITLE)
    habits = walk.settings().habits
    dwellings_count = sum(homes.values())
    # the sum is the same in any order of the dwellings
    share = fsum(count / _ways_count(walk, home) for home, count in homes.items()) / dwellings_count
    calls_count = habits.calls_per_dwelling_count * share
    trail = Trail()
    home_s = trail.run(
        call_hold_s,
        answer_ratio=habits.answer_ratio,
        answer_s=habits.answer_s,
        talk_s=habits.talk_s,
        ring_limit_s=mean_ring_limit_s(homes),
    )
    to_desk_ratio = habits.desk_ratio if entrance.calls_desk and desk_units(walk) else 0.0
    hold_s = (1.0 - to_desk_ratio) * home_s + to_desk_ratio * habits.desk_talk_s
    offered_erl = trail.run(
        busy_erl,
        dwellings_count=dwellings_count,
        day_calls_count=calls_count,
        busy_ratio=habits.busy_hour_ratio,
        hold_s=hold_s,
        busy_s=HOUR_S,
    )
    needed_count = None
    if habits.busy_ratio > 0.0:
        needed_count = trail.run(needed_lines_count, offered_erl=offered_erl, goal_ratio=habits.busy_ratio)
    return Study(
        entrance.subject,
        TITLE,
        EntranceTraffic(
            dwellings_count=dwellings_count,
            assumed_calls_count=calls_count,
            assumed_busy_hour_ratio=habits.busy_hour_ratio,
            assumed_hold_s=hold_s,
            offered_erl=offered_erl,
            lines_count=lines_count,
            taken_ratio=trail.run(blocked_ratio, offered_erl=offered_erl, lines_count=lines_count),
            taken_in_line_ratio=trail.run(waiting_ratio, offered_erl=offered_erl, positions_count=lines_count),
            goal_ratio=habits.busy_ratio,
            needed_count=needed_count,
        ),
        steps=trail.steps,
    )


def _ways_count(walk: Walk, home: Home) -> int:
    """Return from how many entrances a visitor can call a home."""
    return sum(bool(walk.once_of(callers_at, Entrance, ident)) for ident in home.entrances)
