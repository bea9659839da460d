"""Traffic: visitors seldom find the call unit taken, the desk answers soon, a registrar holds enough calls.

Every figure here rests on assumed habits of visitors (``model/habits.py``), not on counts: the findings say so.
"""

from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.kernel.words import counted
from doorwright.model.habits import CallHabits
from doorwright.model.naming import named
from doorwright.model.network import SipServer
from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.rules.example import Edit, both, plus, put, put_profile, put_site
from doorwright.rules.rule import Example, Facts, Said, rule
from doorwright.rules.saying import answered
from doorwright.studies.desk_queue import DeskQueue, desk_queue
from doorwright.studies.entrance_traffic import EntranceTraffic, entrance_traffic
from doorwright.studies.registrar_calls import RegistrarCalls, registrar_calls

PLANNING: Final = (Phase.PLANNING,)
REFUSED_MAX_RATIO: Final = 0.01
"""Share of calls that a registrar may refuse in the busiest hour: one in a hundred, as trunk lines are sized."""
ESTIMATE: Final = "An estimate from assumed habits: counts of the site's own replace them"


@rule(
    over=Entrance,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("erlang1917"), Cite("iversen", "Erlang's B-formula and C-formula"), Cite("practice", "5 % may wait")),
    finds=Example("Each dwelling has 60 visitors a day.", put_site(habits=CallHabits(calls_per_dwelling_count=60.0))),
    passes=Example("Each has 3.", put_site(habits=CallHabits(calls_per_dwelling_count=3.0))),
)
def call_unit_often_taken(facts: Facts, entrance: Entrance) -> Said:
    """Visitors find the call unit of an entrance taken more often than the site allows.

    Why it matters: in the evening they stand in line in the rain, or slip in behind somebody who has a key.
    What to do: put up another call unit, count the visitors of a like building, or allow more of them to wait.
    """

    def wrong(traffic: EntranceTraffic) -> str | None:
        if traffic.taken_ratio <= traffic.goal_ratio:
            return None
        needed = counted(traffic.needed_count, "call unit") if traffic.needed_count is not None else "no number"
        keep = "keeps" if traffic.needed_count in (None, 1) else "keep"
        return (
            f"{named(facts.walk, entrance)}: {_percent(traffic.taken_ratio)} to"
            f" {_percent(traffic.taken_in_line_ratio)} of the visitors in the busiest hour find the call unit taken,"
            f" allowed {_percent(traffic.goal_ratio)}; {needed} {keep} that. {ESTIMATE}"
        )

    yield from answered(entrance_traffic(facts.walk, entrance), wrong)


@rule(
    over=Site,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("palm1957"), Cite("garnett2002", "the Erlang-A model"), Cite("practice", "80 % within 20 s")),
    finds=Example(
        "Each dwelling has 60 visitors a day, and the desk talks with each of its callers for a quarter of an hour.",
        put_site(habits=CallHabits(calls_per_dwelling_count=60.0, desk_talk_s=900.0)),
    ),
    passes=Example(
        "It talks with each for a minute.",
        put_site(habits=CallHabits(calls_per_dwelling_count=60.0, desk_talk_s=60.0)),
    ),
)
def desk_answers_late(facts: Facts, _: Site) -> Said:
    """The desk answers fewer callers in time than the site asks for.

    Why it matters: a visitor who hears nothing but ringing holds the call unit all the while, and leaves.
    What to do: staff another position in the busiest hour, or let fewer calls divert to the desk.
    """

    def wrong(queue: DeskQueue) -> str | None:
        if queue.in_time_ratio >= queue.goal_ratio:
            return None
        needed = counted(queue.needed_count, "position") if queue.needed_count is not None else "no number of positions"
        keep = "keeps" if queue.needed_count in (None, 1) else "keep"
        return (
            f"{counted(queue.positions_count, 'desk')}: {_percent(queue.in_time_ratio)} of the callers in the busiest"
            f" hour are answered within {queue.goal_wait_s:.0f} s, wanted {_percent(queue.goal_ratio)};"
            f" {_percent(queue.left_ratio)} give up; {needed} {keep} the goal. {ESTIMATE}"
        )

    yield from answered(desk_queue(facts.walk), wrong)


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("erlang1917"), Cite("practice", "one call in a hundred may be refused")),
    finds=Example(
        "The main VCU, with which the others register, holds one call at once.",
        put_profile("vcu-direct", calls_max_count=1),
    ),
    passes=Example("It holds three, one for each call unit.", put_profile("vcu-direct", calls_max_count=3)),
)
def registrar_holds_few_calls(facts: Facts, unit: Unit) -> Said:
    """A unit that others register with holds too few calls at once.

    Why it matters: a visitor calls, and nothing rings, because somebody talks at another entrance.
    What to do: let part of the units register elsewhere, or choose a registrar that holds more calls.
    """
    yield from _refused(facts, unit)


def _through_a_server(calls_max_count: int | None) -> Edit:
    """Let two receivers register with a SIP server, and be called very often."""
    server = SipServer(
        id="server", name="SIP 1", address="192.0.2.5", realm="doors.example", registrations_max=100,
        calls_max_count=calls_max_count,
    )  # fmt: skip
    registered = (put(Unit, ident, registrar="server") for ident in ("uru-2", "uru-3"))
    return both(plus(server), *registered, put_site(habits=CallHabits(calls_per_dwelling_count=60.0)))


@rule(
    over=SipServer,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("erlang1917"), Cite("practice", "one call in a hundred may be refused")),
    finds=Example("A SIP server is licensed for one call at once.", _through_a_server(1)),
    passes=Example("It is licensed for thirty.", _through_a_server(30)),
)
def server_holds_few_calls(facts: Facts, server: SipServer) -> Said:
    """A SIP server holds too few calls at once.

    Why it matters: a visitor calls, and nothing rings, because others talk elsewhere on the premises.
    What to do: have it licensed or sized for more calls at once, or share the buildings between servers.
    """
    yield from _refused(facts, server)


def _refused(facts: Facts, registrar: Unit | SipServer) -> Said:
    def wrong(calls: RegistrarCalls) -> str | None:
        if calls.refused_ratio <= REFUSED_MAX_RATIO:
            return None
        return (
            f"{named(facts.walk, registrar)} holds {counted(calls.held_count, 'call')} at once for"
            f" {counted(calls.callers_count, 'call unit')} and {counted(calls.dwellings_count, 'dwelling')}:"
            f" {_percent(calls.refused_ratio)} of the calls in the busiest hour are refused. {ESTIMATE}"
        )

    yield from answered(registrar_calls(facts.walk, registrar), wrong)


def _percent(ratio: float) -> str:
    return f"{100.0 * ratio:.1f} %"
