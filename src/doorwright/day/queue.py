"""One set of lines by itself: callers who find all of them taken are lost, wait, or wait a while.

These are the models whose answers the formulas give. They run on the same ``Positions`` and the same streams as the
building, so that agreement here speaks for the engine there.
"""

from dataclasses import dataclass

import numpy as np

from doorwright.day.chance import GROUP_COUNT, Floats, Length, Times, stream_of
from doorwright.day.interval import Tally
from doorwright.day.positions import Positions


@dataclass(frozen=True, slots=True, kw_only=True)
class QueueRun:
    """What callers met, by run: each tally has one entry a run."""

    blocked: Tally
    """Callers who found no free line, of all callers."""
    lost: Tally
    """Callers who left unserved, of all callers."""
    wait_s: Tally
    """Seconds waited by all callers, also those who left."""
    waited_longer: Tally
    """Callers who waited longer than the given time, also those who left after it."""


def run_queue(
    *,
    gap: Length,
    hold: Length,
    patience: Length,
    lines_count: int,
    callers_count: int,
    settle_count: int = 0,
    runs_count: int,
    seed: int,
    longer_s: float = 0.0,
) -> QueueRun:
    """Play callers from an endless crowd, who come one after another with independent gaps between them.

    Args:
        gap: time from one caller to the next; exponential for Poisson arrivals.
        hold: time that a served caller holds a line.
        patience: how long a caller waits for a line: mean 0 for loss, infinite for delay.
        lines_count: lines.
        callers_count: callers counted in each run.
        settle_count: callers before them, who bring the queue from empty to its usual state and are not counted.
        runs_count: independent runs.
        seed: of all streams.
        longer_s: count those who wait longer than this, seconds.
    """
    rows = callers_count + settle_count
    gap_s = _draw(gap, seed, "gaps", rows, runs_count)
    hold_s = _draw(hold, seed, "holds", rows, runs_count)
    patience_s = _draw(patience, seed, "patience", rows, runs_count)
    at_s = np.zeros(runs_count)
    positions = Positions(runs_count, lines_count)
    blocked, lost, waited_s, longer = (np.zeros(runs_count) for _ in range(4))
    for row in range(rows):
        at_s += gap_s[row]
        wait_s, served = positions.admit(at_s, hold_s[row], patience_s[row])
        if row < settle_count:
            continue
        blocked += wait_s > 0.0
        lost += ~served
        if patience.mean_s > 0.0:
            wait_s = np.minimum(wait_s, patience_s[row])
            waited_s += wait_s
            longer += wait_s > longer_s
    of = np.full(runs_count, float(callers_count))
    return QueueRun(
        blocked=Tally(blocked, of), lost=Tally(lost, of), wait_s=Tally(waited_s, of), waited_longer=Tally(longer, of)
    )


def run_sources(
    *, idle: Length, hold: Length, sources_count: int, lines_count: int, until_s: float, settle_s: float = 0.0,
    runs_count: int, seed: int,
) -> Tally:  # fmt: skip
    """Play a few sources, each of which calls, and when served or blocked is idle for a while and calls again.

    Args:
        idle: how long a source is idle before it calls.
        hold: time that a served call holds a line and its source.
        sources_count: sources.
        lines_count: lines; who finds all taken is lost.
        until_s: end of each run, seconds.
        settle_s: calls before this time are not counted, seconds.
        runs_count: independent runs.
        seed: of all streams.

    Returns:
        The calls that were lost, of all calls, by run.
    """
    # Each source has its next time to call; the earliest of a run goes first.
    next_s: Times = np.stack(
        [_draw(idle, seed, f"first of {source}", 1, runs_count)[0] for source in range(sources_count)], axis=1
    ).astype(np.float64)
    positions = Positions(runs_count, lines_count)
    runs = np.arange(runs_count)
    never_s = np.zeros(runs_count)
    calls, lost = np.zeros(runs_count), np.zeros(runs_count)
    pool = 0
    while True:
        idle_s = _draw(idle, seed, f"idle {pool}", GROUP_COUNT, runs_count)
        hold_s = _draw(hold, seed, f"holds {pool}", GROUP_COUNT, runs_count)
        pool += 1
        for row in range(GROUP_COUNT):
            source = next_s.argmin(axis=1)
            at_s = next_s[runs, source]
            if at_s.min() >= until_s:
                return Tally(lost, calls)
            _, served = positions.admit(at_s, hold_s[row], never_s)
            next_s[runs, source] = at_s + np.where(served, hold_s[row], 0.0) + idle_s[row]
            counted = (at_s >= settle_s) & (at_s < until_s)
            calls += counted
            lost += counted & ~served


def _draw(length: Length, seed: int, component: str, rows: int, runs_count: int) -> Floats:
    groups = range(-(-runs_count // GROUP_COUNT))
    drawn = [length.draw(stream_of(seed, component, group), (rows, GROUP_COUNT)) for group in groups]
    return np.concatenate(drawn, axis=1)[:, :runs_count]
