"""Rehearse a building part by part, in this process and in others beside it where there are more processors."""

from collections import deque
from collections.abc import Callable, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import replace
from multiprocessing import get_context
from multiprocessing.synchronize import Event
from typing import Final, TypeAlias

from doorwright.model.walk import Walk
from doorwright.paths.proof import Proof
from doorwright.rehearse.building import Building
from doorwright.rehearse.journal import Entry, Told
from doorwright.rehearse.parts import Build, parts_of
from doorwright.rehearse.planned import Planned
from doorwright.rehearse.rehearsal import Played, Rehearsal, play_all, plays_of
from doorwright.rehearse.script import Outcome, Play
from doorwright.rehearse.wire import Carried, Heard

Progress: TypeAlias = Callable[[Building, int, int], None]
"""Is shown the building of the first part, and told how many calls were played of how many."""
_EVERY_S: Final = 0.5
"""How often progress is told where other processes alone are at work, so that whoever wants it to stop is heard."""


def rehearse_in_parts(
    walk: Walk,
    proof: Proof,
    plan: Planned,
    build: Build,
    *,
    workers_count: int = 1,
    told: Told | None = None,
    heard: Heard | None = None,
    progress: Progress = lambda _building, _count, _of_count: None,
) -> Rehearsal:
    """Rehearse the whole script; what comes out does not hang on how many processes share the work.

    The units are looked at in the building of the first part, which is rehearsed here. Where somebody is told of what
    happens, all parts are rehearsed here, and their clocks go on from one to the next.

    Args:
        walk: the site.
        proof: its call paths.
        plan: the boxes as planned, without faults.
        build: builds the building with the faults that it has; it goes to other processes, so it must be picklable.
        workers_count: how many processes share the work, this one among them.
        told: is told of all that happens.
        heard: is told of every packet.
        progress: is told how many calls were played of how many, and shown the building of the first part; whatever it
            raises stops the rehearsal, in the other processes too, and is raised here.
    """
    plays, not_played = plays_of(walk, proof, plan)
    parts = parts_of(plays, boxes_count=len(plan.boxes))
    others_count = 0 if told is not None or heard is not None else min(workers_count, len(parts)) - 1
    sharing = _Sharing(parts, build, _OneClock(told, heard), others_count, progress)
    building, results = sharing.done()
    outcomes = (outcome for number in range(len(parts)) for outcome in results[number])
    played = tuple(Played(play, outcome) for play, outcome in zip(plays, outcomes, strict=True))
    return Rehearsal(building=building, played=played, not_played=not_played)


class _Sharing:
    """Shares parts among this process and others: whoever is free takes the next."""

    def __init__(
        self,
        parts: Sequence[Sequence[Play]],
        build: Build,
        clock: "_OneClock",
        others_count: int,
        progress: Progress,
    ) -> None:
        self._parts = parts
        self._build = build
        self._clock = clock
        self._others_count = others_count
        self._progress = progress
        self._waiting = deque(range(1, len(parts)))  # the first is for this process
        self._elsewhere: dict[int, Future[tuple[Outcome, ...]]] = {}
        self._pool: ProcessPoolExecutor | None = None
        self._unwanted: Event | None = None
        self._done_count = 0
        self._results: dict[int, tuple[Outcome, ...]] = {}

    def done(self) -> tuple[Building, dict[int, tuple[Outcome, ...]]]:
        """Rehearse all parts; return the building of the first as it was left, and what became of each part's calls."""
        if self._others_count:
            context = get_context("spawn")
            self._unwanted = context.Event()
            self._pool = ProcessPoolExecutor(
                self._others_count, mp_context=context, initializer=_hear_of, initargs=(self._unwanted,)
            )
        try:
            first = self._build(told=self._clock.told, heard=self._clock.heard)
            self._play(0, first, shown=first)
            while self._waiting:
                building = self._build(told=self._clock.told, heard=self._clock.heard)
                self._play(self._waiting.popleft(), building, shown=first)
            while self._elsewhere:
                wait(self._elsewhere.values(), timeout=_EVERY_S, return_when=FIRST_COMPLETED)
                self._hand_out()
                self._progress(first, self._done_count, sum(map(len, self._parts)))
        finally:
            if self._unwanted is not None:
                self._unwanted.set()
            if self._pool is not None:
                # waited for, or one that still starts would look for an event that is gone
                self._pool.shutdown(wait=True, cancel_futures=True)
        return first, self._results

    def _play(self, number: int, building: Building, *, shown: Building) -> None:
        """Rehearse a part here, and see after each call whether another process is free."""
        of_count = sum(map(len, self._parts))

        def progress(count: int) -> None:
            self._hand_out()
            self._progress(shown, self._done_count + count, of_count)

        self._hand_out()
        self._results[number] = play_all(building, self._parts[number], progress=progress)
        self._done_count += len(self._parts[number])
        self._clock.part_is_over(building)

    def _hand_out(self) -> None:
        """Take what other processes have done, and give each that is free the next part."""
        for number in [number for number, future in self._elsewhere.items() if future.done()]:
            self._results[number] = self._elsewhere.pop(number).result()
            self._done_count += len(self._parts[number])
        while self._pool is not None and self._waiting and len(self._elsewhere) < self._others_count:
            number = self._waiting.popleft()
            self._elsewhere[number] = self._pool.submit(_elsewhere, self._build, self._parts[number])


class _UnwantedError(Exception):
    """What another process rehearses is wanted no more."""


_unwanted: list[Event] = []
"""In another process: set when nothing that it rehearses is wanted any more."""


def _hear_of(unwanted: Event) -> None:
    """Begin another process."""
    _unwanted.append(unwanted)


def _elsewhere(build: Build, plays: Sequence[Play]) -> tuple[Outcome, ...]:
    """Rehearse a part in another process."""

    def see_wanted(_count: int) -> None:
        if any(one.is_set() for one in _unwanted):
            raise _UnwantedError

    see_wanted(0)
    return play_all(build(), plays, progress=see_wanted)


class _OneClock:
    """Passes on what happens and what is sent as if all parts had one clock: each begins when the last one was over."""

    def __init__(self, told: Told | None, heard: Heard | None) -> None:
        self._told = told
        self._heard = heard
        self._begin_s = 0.0
        self.told = None if told is None else self._tell
        self.heard = None if heard is None else self._hear

    def part_is_over(self, building: Building) -> None:
        """Let the next part begin where this one ended."""
        self._begin_s += building.world.now_s

    def _tell(self, entry: Entry) -> None:
        if self._told is not None:
            self._told(replace(entry, at_s=self._begin_s + entry.at_s))

    def _hear(self, carried: Carried) -> None:
        if self._heard is not None:
            self._heard(replace(carried, at_s=self._begin_s + carried.at_s))
