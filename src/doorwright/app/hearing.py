"""Ask everybody and take each result as it comes: written down at once, told to whoever listens."""

import asyncio
from collections.abc import Awaitable, Callable, Iterable
from datetime import datetime
from typing import Generic, Protocol, TypeVar

from doorwright.app.keep_seen import Keeper
from doorwright.app.means import Means
from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.verdict import Subject
from doorwright.probe.runner import run
from doorwright.store.book import Book


class Result(Protocol):
    """What was heard of one part, and when."""

    @property
    def subject(self) -> Subject:
        """The part."""

    @property
    def at(self) -> datetime:
        """When."""


Asked = TypeVar("Asked")
Told = TypeVar("Told", bound=Result)


class Hearing(Generic[Told]):
    """Takes results for a keeper and whoever listens; ``heard`` are all, ``seen`` what was written down of them."""

    def __init__(
        self,
        book: Book,
        means: Means,
        due_count: int,
        sightings: Callable[[Told], Iterable[tuple[str, str]]],
        listen: Callable[[Told, int, int], None] | None,
        *,
        stage: Stage = Stage.FOUND,
    ) -> None:
        """Prepare; ``sightings`` are the aspects and values to be written down of a result."""
        self._means = means
        self._due_count = due_count
        self._sightings = sightings
        self._listen = listen
        self._stage = stage
        self.keeper = Keeper(book)
        self.heard: list[Told] = []
        self.seen: list[Observation] = []

    def take(self, heard: Told) -> None:
        """Take a result, to be written down at once, and tell it.

        Raises:
            InterruptedError: the book cannot be written any more, so that asking on would be for nothing.
        """
        news = [
            Observation(
                id=self._means.new_id(),
                stage=self._stage,
                subject=heard.subject,
                aspect=aspect,
                value=value,
                seen_at=heard.at,
                seen_by=self._means.who,
            )
            for aspect, value in self._sightings(heard)
        ]
        self.keeper.take(news)
        self.seen += news
        self.heard.append(heard)
        if self._listen is not None:
            self._listen(heard, len(self.heard), self._due_count)


async def hear_all(
    due: Iterable[Asked], ask: Callable[[Asked], Awaitable[Told]], hearing: Hearing[Told], *, at_once_count: int
) -> None:
    """Ask everybody, so many at once; also where somebody stops it, what was heard is written down first."""
    keeping = asyncio.create_task(hearing.keeper.keep())
    try:
        await run(due, ask, hearing.take, at_once_count=at_once_count)
    finally:
        hearing.keeper.close()
        await keeping
