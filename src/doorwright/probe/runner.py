"""In which order, how fast and how many at once is asked. What plans takes the time as an argument; `run` does it."""

import asyncio
from collections.abc import Awaitable, Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final, TypeVar

from doorwright.kernel.verdict import Subject
from doorwright.probe.target import Target

T = TypeVar("T")
Whom = TypeVar("Whom")

ASKS_PER_S: Final = 20.0
"""Asks a second where nobody says otherwise; a repeated one counts (common practice: far below what units notice)."""
AT_ONCE_COUNT: Final = 16
"""Parts of the plan that are asked at the same time, each by one ask after the other."""


class Pace:
    """Gives each ask its moment, so that they follow each other at no more than a rate. Time is an argument."""

    def __init__(self, asks_per_s: float) -> None:
        if asks_per_s <= 0:
            raise ValueError("a rate is above 0")
        self._gap_s = 1.0 / asks_per_s
        self._free_at_s: float | None = None

    def take(self, now_s: float) -> float:
        """Return when the next ask may go: now, or once all those that were given a moment before have gone."""
        moment_s = now_s if self._free_at_s is None else max(now_s, self._free_at_s)
        self._free_at_s = moment_s + self._gap_s
        return moment_s


async def wait_turn(pace: Pace) -> None:
    """Wait until one more may be sent."""
    loop = asyncio.get_running_loop()
    wait_s = pace.take(loop.time()) - loop.time()
    if wait_s > 0:
        await asyncio.sleep(wait_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class Round:
    """Who is to be asked, in order, and who answered or was silent so lately that it is left in peace."""

    due: tuple[Target, ...]
    kept: tuple[Target, ...]


def round_of(
    targets: Sequence[Target], asked_at: Mapping[Subject, datetime], *, now: datetime, keep: timedelta
) -> Round:
    """Return a round: first those who were never asked, in the order given, then those asked longest ago.

    Args:
        targets: everybody.
        asked_at: when somebody was asked last at the address that is planned now.
        now: the present moment.
        keep: whoever was asked less than this ago is not asked again; nothing asks everybody.
    """
    kept = tuple(
        one for one in targets if one.subject in asked_at and timedelta(0) <= now - asked_at[one.subject] < keep
    )
    resting = {one.subject for one in kept}
    due = [one for one in targets if one.subject not in resting]
    due.sort(key=lambda one: (one.subject in asked_at, asked_at.get(one.subject, now)))  # stable: the order given stays
    return Round(due=tuple(due), kept=kept)


async def run(
    due: Iterable[Whom], ask: Callable[[Whom], Awaitable[T]], told: Callable[[T], None], *, at_once_count: int
) -> None:
    """Ask everybody, so many at once, and tell each result as it comes.

    Stopped, it asks nobody else; what was told stays told.
    """
    waiting = iter(due)

    async def work() -> None:
        for target in waiting:  # all workers take from the one list
            told(await ask(target))

    async with asyncio.TaskGroup() as group:
        for _ in range(at_once_count):
            group.create_task(work())
