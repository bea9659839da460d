"""How many calls meet how many lines: offered load, and calls that are lost when all lines are taken."""

from dataclasses import dataclass
from math import inf

from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

_HALVINGS = 200
"""More than enough to bring any interval of doubles down to neighbours."""


@calculation(
    "Mean time that a call holds its entrance",
    Cite("iversen", "holding times: the mean over calls of different kinds"),
)
def call_hold_s(*, answer_ratio: float, answer_s: float, talk_s: float, ring_limit_s: float) -> float:
    """Return how long a call holds the entrance on the mean, answered or not.

    Formula: h = p·(a + t) + (1 - p)·r.

    Valid when: the answered calls ring `answer_s` on the mean, and an unanswered one rings until the limit and ends.

    Args:
        answer_ratio: share of calls that are answered.
        answer_s: mean time to answer of those, seconds.
        talk_s: mean talk, seconds.
        ring_limit_s: time after which ringing ends, seconds.

    Returns:
        Mean holding time, seconds.
    """
    return answer_ratio * (answer_s + talk_s) + (1.0 - answer_ratio) * ring_limit_s


@calculation(
    "Traffic offered in the busy hour",
    Cite("itu-e600", "traffic intensity: calling rate times mean holding time"),
    Cite("iversen", "busy hour and its share of the day"),
)
def busy_erl(*, dwellings_count: int, day_calls_count: float, busy_ratio: float, hold_s: float, busy_s: float) -> float:
    """Return the load that the dwellings' calls offer in the busiest part of the day.

    Formula: A = D·c·k·h / T.

    Valid when: calls a dwelling and day, and the share of the busy hour, are known or assumed: a report must say which.
    Tries that follow a failed one are not in it.

    Args:
        dwellings_count: dwellings.
        day_calls_count: calls to one dwelling on a mean day.
        busy_ratio: share of the day's calls that fall into the busiest part.
        hold_s: mean time that a call holds what carries it, seconds.
        busy_s: length of the busiest part, 3600 s for the busy hour.

    Returns:
        Offered load, erlang.
    """
    return dwellings_count * day_calls_count * busy_ratio * hold_s / busy_s


@calculation("Blocking of lines without waiting (Erlang B)", Cite("erlang1917"), Cite("iversen", "Erlang's B-formula"))
def blocked_ratio(*, offered_erl: float, lines_count: int) -> float:
    """Return the share of calls that find all lines taken and are lost.

    Formula: B(0) = 1, B(n) = A·B(n-1) / (n + A·B(n-1)).

    Valid when: many independent callers (Poisson arrivals), lost calls do not come back. The lengths of calls may
    follow any law. The recursion adds and multiplies positive numbers alone, so it is sound for any number of lines.

    Args:
        offered_erl: offered load, erlang.
        lines_count: lines.

    Returns:
        Blocking, a ratio.
    """
    _refuse_unreal(offered_erl, lines_count)
    blocking = 1.0
    for line in range(1, lines_count + 1):
        passed = offered_erl * blocking
        blocking = passed / (line + passed)
    return blocking


@calculation("Lines for a load and a blocking (Erlang B)", Cite("erlang1917"), Cite("iversen", "Erlang's B-formula"))
def needed_lines_count(*, offered_erl: float, goal_ratio: float) -> int:
    """Return the fewest lines that lose no larger share of the load than the goal.

    Formula: the smallest n with B(n) ≤ goal, found along the recursion of B.

    Valid when: as for Erlang B.

    Args:
        offered_erl: offered load, erlang.
        goal_ratio: largest blocking allowed, above 0.

    Returns:
        Number of lines.
    """
    _refuse_unreal(offered_erl, 0)
    if not goal_ratio > 0.0:
        raise ValueError(f"no number of lines brings blocking down to {goal_ratio}")
    lines, blocking = 0, 1.0
    while blocking > goal_ratio:
        lines += 1
        passed = offered_erl * blocking
        blocking = passed / (lines + passed)
    return lines


@calculation("Load that lines carry at a blocking (Erlang B)", Cite("erlang-b-table"), Cite("erlang1917"))
def allowed_erl(*, lines_count: int, goal_ratio: float) -> float:
    """Return the largest offered load of which the lines lose no larger share than the goal.

    Formula: A with B(A, n) = goal, by bisection: B grows with A.

    Valid when: as for Erlang B.

    Args:
        lines_count: lines, at least 1.
        goal_ratio: blocking, above 0 and below 1.

    Returns:
        Offered load, erlang.
    """
    if lines_count < 1 or not 0.0 < goal_ratio < 1.0:
        raise ValueError(f"no load belongs to {lines_count} lines and a blocking of {goal_ratio}")
    # what is carried, A·(1 - B), is below n: so the load lies below n / (1 - B)
    low, high = 0.0, lines_count / (1.0 - goal_ratio)
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        if blocked_ratio(offered_erl=middle, lines_count=lines_count) <= goal_ratio:
            low = middle
        else:
            high = middle
        if high - low <= 1e-15 * high:
            break
    return low


@dataclass(frozen=True, slots=True, kw_only=True)
class Congestion:
    """Blocking of few sources: as time sees it, as calls see it, and the loads.

    ``time_ratio`` is the share of time in which all lines are taken, ``call_ratio`` the share of calls that find them
    so. The sources' own calls are seldom made just then, so the calls see less of it.
    """

    time_ratio: float
    call_ratio: float
    offered_erl: float
    carried_erl: float


@calculation(
    "Blocking of few sources, by idle source (Engset)", Cite("engset1918"), Cite("iversen", "Engset's formula")
)
def few_sources_congestion(*, sources_count: int, lines_count: int, idle_source_erl: float) -> Congestion:
    """Return the congestion of few sources, each of which calls at a known rate while it is idle.

    Formula: E = C(S,n)·βⁿ / Σ C(S,i)·βⁱ; B the same with S - 1; carried Y = β/(1 + β)·(S - (S - n)·E),
    offered A = S·β/(1 + β·(1 - B)). E by the recursion E(0) = 1, E(i) = x/(i + x) with x = (S - i + 1)·β·E(i-1).

    Valid when: sources are alike and independent; a blocked one is idle again at once. β is the load of an *idle*
    source: its calling rate while idle times the mean holding time. Not the load that it offers over all time.

    Args:
        sources_count: sources S, at least 1.
        lines_count: lines n.
        idle_source_erl: load β of one idle source, erlang.

    Returns:
        Congestion and loads.
    """
    _refuse_unreal(idle_source_erl, lines_count)
    if sources_count < 1:
        raise ValueError(f"there must be a source, not {sources_count}")
    time_ratio = _taken_ratio(sources_count, lines_count, idle_source_erl)
    call_ratio = _taken_ratio(sources_count - 1, lines_count, idle_source_erl)
    return Congestion(
        time_ratio=time_ratio,
        call_ratio=call_ratio,
        offered_erl=sources_count * idle_source_erl / (1.0 + idle_source_erl * (1.0 - call_ratio)),
        carried_erl=idle_source_erl
        / (1.0 + idle_source_erl)
        * (sources_count - max(sources_count - lines_count, 0) * time_ratio),
    )


@calculation(
    "Blocking of few sources, by offered load (Engset)",
    Cite("engset1918"),
    Cite("iversen", "Engset's formula: offered traffic per source"),
)
def offered_sources_congestion(*, sources_count: int, lines_count: int, source_erl: float) -> Congestion:
    """Return the congestion of few sources, each of which offers a known load over all time, busy or idle.

    Formula: β = α/(1 - α·(1 - B)) with B = B(S, n, β), the one fixed point, by bisection in B.

    Valid when: as for the idle-source form; α < 1 where nothing is blocked: a source cannot be busy all the time.

    Args:
        sources_count: sources S, at least 1.
        lines_count: lines n, at least 1.
        source_erl: load α that one source offers, erlang, below 1.

    Returns:
        Congestion and loads.
    """
    if not 0.0 <= source_erl < 1.0:
        raise ValueError(f"one source offers less than 1 erlang, not {source_erl}")

    def at(blocking: float) -> Congestion:
        idle_source_erl = source_erl / (1.0 - source_erl * (1.0 - blocking))
        return few_sources_congestion(
            sources_count=sources_count, lines_count=lines_count, idle_source_erl=idle_source_erl
        )

    # More blocking leaves the sources more idle, with less load each: so B(β(b)) - b falls, and has one root.
    low, high = 0.0, 1.0
    while high - low > 1e-16:
        middle = (low + high) / 2.0
        if middle in {low, high}:
            break
        if at(middle).call_ratio > middle:
            low = middle
        else:
            high = middle
    return at(high)


def _taken_ratio(sources_count: int, lines_count: int, idle_source_erl: float) -> float:
    """Return the share of time in which all lines are taken by so many sources."""
    if lines_count > sources_count:
        return 0.0
    taken = 1.0
    for line in range(1, lines_count + 1):
        passed = (sources_count - line + 1) * idle_source_erl * taken
        taken = passed / (line + passed)
    return taken


def _refuse_unreal(load_erl: float, lines_count: int) -> None:
    if not 0.0 <= load_erl < inf or lines_count < 0:
        raise ValueError(f"neither {load_erl} E nor {lines_count} lines may be negative or endless")
