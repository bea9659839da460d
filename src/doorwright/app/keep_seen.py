"""Write down what is seen while it comes: all that has come in one go, beside the asking."""

import asyncio
from collections.abc import Iterable

from doorwright.kernel.observation import Observation
from doorwright.store.book import Book


class Keeper:
    """Takes observations as they come and writes them into a book; ``new_count`` is how many the book gained."""

    def __init__(self, book: Book) -> None:
        self._book = book
        self._unwritten: list[Observation] = []
        self._news = asyncio.Event()
        self._is_over = False
        self._is_keeping = True
        self.new_count = 0

    def take(self, seen: Iterable[Observation]) -> None:
        """Take what is to be written down at once.

        Raises:
            InterruptedError: the book cannot be written any more, so that asking on would be for nothing.
        """
        if not self._is_keeping:
            raise InterruptedError("the book takes nothing more")
        self._unwritten += seen
        self._news.set()

    def close(self) -> None:
        """Say that nothing more will come."""
        self._is_over = True
        self._news.set()

    async def keep(self) -> None:
        """Write down what comes until nothing more will.

        Raises:
            Refused: the book cannot be written.
        """
        try:
            while self._unwritten or not self._is_over:
                await self._news.wait()
                self._news.clear()
                batch, self._unwritten = self._unwritten, []
                if batch:
                    self.new_count += await asyncio.to_thread(self._book.observe, batch)
        finally:
            self._is_keeping = False
