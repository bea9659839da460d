"""The timers of transactions and what they last (RFC 3261 Table 4, with L and M of RFC 6026 §7)."""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from doorwright.sip.errors import LocalError


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """The base figures, in seconds; every timer is made of them (Table 4).

    Attributes:
        t1_s: what a message takes to the other end and back, as estimated.
        t2_s: the longest wait between two copies of a request that is no INVITE, and of a response to an INVITE.
        t4_s: how long a message may stay in the network.
        d_s: how long copies of a refusal are awaited over UDP: 32 s at least, because the other end's T1 is not known.
        trying_s: the time after which an INVITE without any answer gets a 100 (§17.2.1).
        ringing_s: how often a provisional response is said again, lest a proxy gives up (§13.3.1.1).
        proxy_s: Timer C, how long a proxy lets an INVITE ring: more than three minutes (§16.6).
    """

    t1_s: float = 0.5
    t2_s: float = 4.0
    t4_s: float = 5.0
    d_s: float = 32.0
    trying_s: float = 0.2
    ringing_s: float = 60.0
    proxy_s: float = 181.0

    def __post_init__(self) -> None:
        if min(self.t1_s, self.t2_s, self.ringing_s) <= 0:
            raise LocalError("T1, T2 and the time between provisional responses are more than nothing")

    @property
    def patience_s(self) -> float:
        """64 times T1: after this without an answer, none will come."""
        return 64 * self.t1_s


class Timer(StrEnum):
    """A timer of a transaction, by its letter in Table 4; TRYING is the one without a letter in §17.2.1."""

    A = "A"
    B = "B"
    D = "D"
    E = "E"
    F = "F"
    G = "G"
    H = "H"
    I = "I"  # noqa: E741  (the letter that the RFC gives it)
    J = "J"
    K = "K"
    L = "L"
    M = "M"
    TRYING = "Trying"


@dataclass(frozen=True, slots=True, kw_only=True)
class Figure:
    """What Table 4 says of one timer.

    Attributes:
        formula: its length over UDP, in the letters of the RFC.
        meaning: what it is for.
        first_s: its length over UDP, from the base figures.
        clause: where it is set.
        reliable: its length over TCP; None where it is the same, 0 where nothing can come again. A timer of repeats
            that is 0 here is not started at all.
        repeats: whether each wait is twice the one before.
        capped: whether such waits end at T2.
    """

    formula: str
    meaning: str
    first_s: Callable[[Times], float]
    clause: str
    reliable: float | None = None
    repeats: bool = False
    capped: bool = False


FIGURES: dict[Timer, Figure] = {
    Timer.A: Figure(
        formula="T1, then doubled each time",
        meaning="send the INVITE again, UDP only",
        first_s=lambda times: times.t1_s,
        clause="RFC 3261 §17.1.1.2",
        reliable=0.0,
        repeats=True,
    ),
    Timer.B: Figure(
        formula="64·T1",
        meaning="the INVITE gets no response",
        first_s=lambda times: times.patience_s,
        clause="RFC 3261 §17.1.1.2",
    ),
    Timer.D: Figure(
        formula="at least 32 s",
        meaning="await copies of the refusal",
        first_s=lambda times: times.d_s,
        clause="RFC 3261 §17.1.1.2",
        reliable=0.0,
    ),
    Timer.E: Figure(
        formula="T1, then doubled each time up to T2",
        meaning="send the request again, UDP only",
        first_s=lambda times: times.t1_s,
        clause="RFC 3261 §17.1.2.2",
        reliable=0.0,
        repeats=True,
        capped=True,
    ),
    Timer.F: Figure(
        formula="64·T1",
        meaning="the request gets no final response",
        first_s=lambda times: times.patience_s,
        clause="RFC 3261 §17.1.2.2",
    ),
    Timer.G: Figure(
        formula="T1, then doubled each time up to T2",
        meaning="send the refusal again, UDP only",
        first_s=lambda times: times.t1_s,
        clause="RFC 3261 §17.2.1",
        reliable=0.0,
        repeats=True,
        capped=True,
    ),
    Timer.H: Figure(
        formula="64·T1",
        meaning="the refusal is not acknowledged",
        first_s=lambda times: times.patience_s,
        clause="RFC 3261 §17.2.1",
    ),
    Timer.I: Figure(
        formula="T4",
        meaning="await copies of the ACK",
        first_s=lambda times: times.t4_s,
        clause="RFC 3261 §17.2.1",
        reliable=0.0,
    ),
    Timer.J: Figure(
        formula="64·T1",
        meaning="await copies of the request",
        first_s=lambda times: times.patience_s,
        clause="RFC 3261 §17.2.2",
        reliable=0.0,
    ),
    Timer.K: Figure(
        formula="T4",
        meaning="await copies of the response",
        first_s=lambda times: times.t4_s,
        clause="RFC 3261 §17.1.2.2",
        reliable=0.0,
    ),
    Timer.L: Figure(
        formula="64·T1",
        meaning="await copies of an accepted INVITE, and its ACK",
        first_s=lambda times: times.patience_s,
        clause="RFC 6026 §7.1",
    ),
    Timer.M: Figure(
        formula="64·T1",
        meaning="await copies of the 2xx, and others from a fork",
        first_s=lambda times: times.patience_s,
        clause="RFC 6026 §7.2",
    ),
    Timer.TRYING: Figure(
        formula="200 ms",
        meaning="nobody has answered the INVITE yet: send 100",
        first_s=lambda times: times.trying_s,
        clause="RFC 3261 §17.2.1",
    ),
}
"""Every timer of a transaction. Timer C is the proxy's own and stands in `Times.proxy_s`."""


def first_wait_s(timer: Timer, times: Times, *, reliable: bool) -> float | None:
    """Seconds until the timer fires for the first time; None where it is not started over a reliable transport."""
    figure = FIGURES[timer]
    if reliable and figure.reliable is not None:
        return None if figure.repeats else figure.reliable
    return figure.first_s(times)


def next_wait_s(timer: Timer, times: Times, waited_s: float) -> float:
    """Seconds until a timer of repeats fires again after it waited so long."""
    return min(2 * waited_s, times.t2_s) if FIGURES[timer].capped else 2 * waited_s
