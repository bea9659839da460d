"""Are callers of the desk answered soon enough?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc.queueing import desk_service, patient_positions_count
from doorwright.calc.traffic import busy_erl
from doorwright.kernel.verdict import Missing
from doorwright.model.aspect import SITE_SUBJECT
from doorwright.model.calling import DivertCause
from doorwright.model.change import SITE_KIND
from doorwright.model.place import Dwelling
from doorwright.model.walk import Walk
from doorwright.studies.entrance_traffic import HOUR_S
from doorwright.studies.study import Study, Trail
from doorwright.studies.visiting import desk_units, entrances_calling

TITLE: Final = "Calls to the desk in the busiest hour (an estimate)"


@dataclass(frozen=True, slots=True, kw_only=True)
class DeskQueue:
    """What callers of the desk meet in the busiest hour, by the site's assumed habits.

    ``assumed_calls_count`` is how many calls reach the desk on a day: those for the desk, and those that diverts bring
    to it. Every security management unit is one position, and any of them takes any call. ``in_time_ratio`` of all
    callers are answered within ``goal_wait_s``, ``left_ratio`` give up; ``needed_count`` positions answer
    ``goal_ratio`` of them in time, None where the goal
    is that all are, which no number of positions keeps.
    """

    assumed_calls_count: float
    assumed_talk_s: float
    assumed_patience_s: float
    offered_erl: float
    positions_count: int
    in_time_ratio: float
    left_ratio: float
    mean_wait_s: float
    goal_wait_s: float
    goal_ratio: float
    needed_count: int | None


def desk_queue(walk: Walk) -> Study[DeskQueue]:
    """Study how soon the desk answers; the question does not arise where there is no desk, or nobody calls it.

    A divert counts as if its hours held the busiest hour; of calls that divert on no answer, as many reach the desk as
    nobody answers.
    """
    positions_count = len(desk_units(walk))
    calls_count = desk_calls_count(walk) if positions_count else 0.0
    if not calls_count:
        return Study(SITE_SUBJECT, TITLE)
    habits = walk.settings().habits
    lacking = {
        "talking time of the desk above 0 s": not habits.desk_talk_s > 0.0,
        "patience at the desk above 0 s": not habits.desk_patience_s > 0.0,
    }
    if any(lacking.values()):
        return Study(
            SITE_SUBJECT, TITLE, missing=tuple(Missing(SITE_KIND, name) for name, lacks in lacking.items() if lacks)
        )
    trail = Trail()
    offered_erl = trail.run(
        busy_erl,
        dwellings_count=1,  # the calls of all dwellings together stand for one
        day_calls_count=calls_count,
        busy_ratio=habits.busy_hour_ratio,
        hold_s=habits.desk_talk_s,
        busy_s=HOUR_S,
    )
    service = trail.run(
        desk_service,
        offered_erl=offered_erl,
        positions_count=positions_count,
        hold_s=habits.desk_talk_s,
        patience_s=habits.desk_patience_s,
        wait_s=habits.desk_wait_s,
    )
    needed_count = None
    if habits.desk_within_ratio < 1.0:
        needed_count = trail.run(
            patient_positions_count,
            offered_erl=offered_erl,
            hold_s=habits.desk_talk_s,
            patience_s=habits.desk_patience_s,
            wait_s=habits.desk_wait_s,
            goal_ratio=habits.desk_within_ratio,
        )
    return Study(
        SITE_SUBJECT,
        TITLE,
        DeskQueue(
            assumed_calls_count=calls_count,
            assumed_talk_s=habits.desk_talk_s,
            assumed_patience_s=habits.desk_patience_s,
            offered_erl=offered_erl,
            positions_count=positions_count,
            in_time_ratio=service.in_time_ratio,
            left_ratio=service.left_ratio,
            mean_wait_s=service.mean_wait_s,
            goal_wait_s=habits.desk_wait_s,
            goal_ratio=habits.desk_within_ratio,
            needed_count=needed_count,
        ),
        steps=trail.steps,
    )


def desk_calls_count(walk: Walk) -> float:
    """Return how many calls reach the desk on a mean day, first tries only."""
    habits = walk.settings().habits
    total = 0.0
    for dwelling in walk.all(Dwelling):
        entrances = entrances_calling(walk, dwelling)
        for entrance in entrances:
            calls = habits.calls_per_dwelling_count / len(entrances)
            direct = habits.desk_ratio if entrance.calls_desk else 0.0
            total += calls * (direct + (1.0 - direct) * diverted_ratio(walk, dwelling, entrance.id))
    return total


def diverted_ratio(walk: Walk, dwelling: Dwelling, entrance: str) -> float:
    """Return the share of a dwelling's calls from an entrance that diverts bring to a desk."""
    cause = cause_of_divert(walk, dwelling, entrance)
    if cause is None:
        return 0.0
    return 1.0 if cause is DivertCause.ALWAYS else 1.0 - walk.settings().habits.answer_ratio


def cause_of_divert(walk: Walk, dwelling: Dwelling, entrance: str) -> DivertCause | None:
    """Return why calls to a dwelling from an entrance go to a desk: always, on no answer, or None where they do not.

    A divert for the dwelling itself wins over one for all.
    """
    for cause in (DivertCause.ALWAYS, DivertCause.NO_ANSWER):
        for owner in (dwelling.id, None):
            found = [
                divert
                for divert in walk.diverts_for(owner)
                if divert.cause is cause and divert.entrance in (None, entrance)
            ]
            if found:
                return cause if any(divert.to_desk is not None for divert in found) else None
    return None
