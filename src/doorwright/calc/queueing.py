"""Calls that wait for a position at the desk: with endless patience, or leaving after a while."""

from dataclasses import dataclass
from math import exp, expm1, inf, lgamma, log

from doorwright.calc.traffic import blocked_ratio
from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite

_MOST_TERMS = 50_000_000


@calculation("Share of calls that wait (Erlang C)", Cite("erlang1917"), Cite("iversen", "Erlang's C-formula"))
def waiting_ratio(*, offered_erl: float, positions_count: int) -> float:
    """Return the share of calls that find all positions taken and wait.

    Formula: C = n·B / (n - A·(1 - B)), B by Erlang B; 1 where A ≥ n.

    Valid when: many independent callers, exponential lengths of calls, nobody gives up. Where the load reaches the
    number of positions the line grows without end: every call waits.

    Args:
        offered_erl: offered load, erlang.
        positions_count: positions.

    Returns:
        Share of calls that wait.
    """
    if offered_erl >= positions_count:
        return 1.0 if offered_erl > 0.0 else 0.0
    blocking = blocked_ratio(offered_erl=offered_erl, lines_count=positions_count)
    return positions_count * blocking / (positions_count - offered_erl * (1.0 - blocking))


@calculation("Share of calls that wait longer (Erlang C)", Cite("erlang1917"), Cite("iversen", "waiting time, FCFS"))
def longer_ratio(*, offered_erl: float, positions_count: int, hold_s: float, wait_s: float) -> float:
    """Return the share of calls that wait longer than a time; one less it is the service level.

    Formula: P(W > t) = C·exp(-(n - A)·t/h).

    Valid when: as for Erlang C; calls are answered in order of coming.

    Args:
        offered_erl: offered load, erlang.
        positions_count: positions.
        hold_s: mean length of a call at the desk, seconds.
        wait_s: the time, seconds.

    Returns:
        Share of calls.
    """
    waiting = waiting_ratio(offered_erl=offered_erl, positions_count=positions_count)
    spare = max(positions_count - offered_erl, 0.0)
    return waiting * exp(-spare * wait_s / hold_s)


@calculation("Mean wait (Erlang C)", Cite("erlang1917"), Cite("iversen", "mean waiting times"))
def mean_wait_s(*, offered_erl: float, positions_count: int, hold_s: float) -> float:
    """Return the mean wait over all calls, also those that did not wait.

    Formula: W = C·h/(n - A); endless where A ≥ n.

    Valid when: as for Erlang C. The order of answering does not matter.

    Args:
        offered_erl: offered load, erlang.
        positions_count: positions.
        hold_s: mean length of a call at the desk, seconds.

    Returns:
        Mean wait, seconds.
    """
    waiting = waiting_ratio(offered_erl=offered_erl, positions_count=positions_count)
    if waiting == 0.0:
        return 0.0
    spare = positions_count - offered_erl
    return waiting * hold_s / spare if spare > 0.0 else inf


@calculation("Positions for a load and a wait (Erlang C)", Cite("erlang1917"), Cite("iversen", "Erlang's C-formula"))
def needed_positions_count(*, offered_erl: float, hold_s: float, wait_s: float, goal_ratio: float) -> int:
    """Return the fewest positions that answer the wanted share of calls within a time.

    Formula: the smallest n above A with 1 - P(W > t) ≥ goal.

    Valid when: as for Erlang C.

    Args:
        offered_erl: offered load, erlang.
        hold_s: mean length of a call at the desk, seconds.
        wait_s: the time within which calls are to be answered, seconds.
        goal_ratio: share of calls to be answered in it, below 1.

    Returns:
        Number of positions.
    """
    if not (goal_ratio < 1.0 and 0.0 <= offered_erl < inf):
        raise ValueError(f"no number of positions answers a share of {goal_ratio} of {offered_erl} E in time")
    positions, blocking = 0, 1.0
    while True:
        # the recursion of Erlang B, one position at a time, so that thousands of positions cost thousands of steps
        positions += 1
        passed = offered_erl * blocking
        blocking = passed / (positions + passed)
        if positions <= offered_erl:
            continue
        waiting = positions * blocking / (positions - offered_erl * (1.0 - blocking))
        if 1.0 - waiting * exp(-(positions - offered_erl) * wait_s / hold_s) >= goal_ratio:
            return positions


@dataclass(frozen=True, slots=True, kw_only=True)
class Service:
    """What calls meet at a desk that some of them do not wait for.

    ``left_ratio`` of all calls give up; ``mean_wait_s`` is over all calls, those that give up too; ``in_time_ratio`` is
    the share of all calls that are answered within the time asked for; ``busy_ratio`` the share of time that a position
    talks.
    """

    waiting_ratio: float
    left_ratio: float
    mean_wait_s: float
    in_time_ratio: float
    busy_ratio: float


@calculation(
    "Service where callers give up (Erlang A)",
    Cite("palm1957"),
    Cite("garnett2002", "M/M/N+M: the Erlang-A model"),
)
def desk_service(
    *, offered_erl: float, positions_count: int, hold_s: float, patience_s: float, wait_s: float
) -> Service:
    """Return what calls meet at a desk where each waits as long as its patience, and is then gone.

    Formula: with c = n·p/h, x = A·p/h (p mean patience, h mean length) and S(c, x) = Σ xʲ/((c+1)…(c+j)):
    P(wait) = S/(1/B - 1 + S), B by Erlang B; mean number waiting Q = P(wait)·Σ j·tⱼ/S; mean wait = Q·h/A;
    left = mean wait/p; P(answered after t) = P(wait)·c/(c+1)·S(c+1, y)/S(c, x)·exp(x - y - (c+1)·t/p),
    y = x·exp(-t/p).

    Valid when: many independent callers, exponential lengths of calls, exponential patience, calls answered in order.
    Patience keeps the line finite: any load is allowed.

    Args:
        offered_erl: offered load, erlang.
        positions_count: positions, at least 1.
        hold_s: mean length of a call at the desk, seconds.
        patience_s: mean patience, seconds, above 0.
        wait_s: the time within which calls are to be answered, seconds.

    Returns:
        Shares and mean wait.
    """
    if positions_count < 1 or not (hold_s > 0.0 and 0.0 < patience_s < inf):
        raise ValueError(f"no desk: {positions_count} positions, calls of {hold_s} s, patience of {patience_s} s")
    blocking = blocked_ratio(offered_erl=offered_erl, lines_count=positions_count)
    if blocking == 0.0:
        return Service(
            waiting_ratio=0.0, left_ratio=0.0, mean_wait_s=0.0, in_time_ratio=1.0,
            busy_ratio=offered_erl / positions_count,
        )  # fmt: skip
    c, x = positions_count * patience_s / hold_s, offered_erl * patience_s / hold_s
    line = _line(c, x)
    # 1/B - 1 is the weight of all states with a free position, in the scale of the first state without one
    waiting = line.total / ((1.0 / blocking - 1.0) * exp(-line.log_scale) + line.total)
    mean_wait = waiting * line.mean_count * hold_s / offered_erl
    left = mean_wait / patience_s
    late = 0.0
    passed = wait_s / patience_s
    y = x * exp(-passed)
    # x - y = -x·expm1(-t/p), without the cancellation at short times
    after = _line(c + 1.0, y)
    late_log = after.log_total - line.log_total - x * expm1(-passed) - (c + 1.0) * passed
    late = waiting * c / (c + 1.0) * exp(late_log)
    return Service(
        waiting_ratio=waiting,
        left_ratio=left,
        mean_wait_s=mean_wait,
        in_time_ratio=max(0.0, 1.0 - left - late),
        busy_ratio=offered_erl * (1.0 - left) / positions_count,
    )


@calculation(
    "Positions for callers who give up (Erlang A)",
    Cite("palm1957"),
    Cite("garnett2002", "M/M/N+M: the Erlang-A model"),
)
def patient_positions_count(
    *, offered_erl: float, hold_s: float, patience_s: float, wait_s: float, goal_ratio: float
) -> int:
    """Return the fewest positions that answer the wanted share of all calls within a time, those who give up counted.

    Formula: the smallest n whose share answered in time reaches the goal, by doubling and halving: it grows with n.

    Valid when: as for Erlang A. Who gives up counts as not answered. So patience far beyond the time asks for fewer
    positions than Erlang C, since who leaves makes room for the others; patience below it can ask for more.

    Args:
        offered_erl: offered load, erlang.
        hold_s: mean length of a call at the desk, seconds.
        patience_s: mean patience, seconds, above 0.
        wait_s: the time within which calls are to be answered, seconds.
        goal_ratio: share of all calls to be answered in it, below 1.

    Returns:
        Number of positions.
    """
    if not (goal_ratio < 1.0 and 0.0 <= offered_erl < inf):
        raise ValueError(f"no number of positions answers a share of {goal_ratio} of {offered_erl} E in time")

    def suffices(positions: int) -> bool:
        found = desk_service(
            offered_erl=offered_erl, positions_count=positions, hold_s=hold_s, patience_s=patience_s, wait_s=wait_s
        )
        return found.in_time_ratio >= goal_ratio

    low, high = 0, 1
    while not suffices(high):
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if suffices(middle) else (middle, high)
    return high


@dataclass(frozen=True, slots=True)
class _Line:
    """The terms tⱼ = xʲ/((c+1)…(c+j)) of the states with j calls waiting, as shares of the largest of them."""

    total: float
    mean_count: float
    log_scale: float

    @property
    def log_total(self) -> float:
        return log(self.total) + self.log_scale


def _line(c: float, x: float) -> _Line:
    """Sum the terms from the largest one down to both sides, so that no load and no patience overflows."""
    peak = max(0, int(x - c))
    # the first factors are near x/c: their product from the gamma function only where there are any
    log_peak = peak * log(x) - (lgamma(c + 1.0 + peak) - lgamma(c + 1.0)) if peak else 0.0
    total, weighted = 1.0, float(peak)
    term, j = 1.0, peak
    while term > 1e-18 * total and j - peak < _MOST_TERMS:
        j += 1
        term *= x / (c + j)
        total += term
        weighted += j * term
    term, j = 1.0, peak
    while j > 0 and term > 1e-18 * total:
        term *= (c + j) / x
        j -= 1
        total += term
        weighted += j * term
    return _Line(total, weighted / total, log_peak)
