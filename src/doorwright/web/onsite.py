"""The work on site of one open book, kept at hand: the tasks of its newest revision, and what was recorded of each."""

import threading
from collections import defaultdict

from doorwright.app.do_work import WorkSheet, placed_tasks, sheet_of
from doorwright.kernel.work import Progress, WorkRecord
from doorwright.model.walk import Walk
from doorwright.plan.runsheet import Task
from doorwright.store.book import Book


class OnSite:
    """Reads what was recorded since it last looked: records are append-only, so what it knows still holds."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._last = 0
        self._records: defaultdict[str, list[WorkRecord]] = defaultdict(list)
        self._progress: dict[str, Progress] = {}
        self._tasks: tuple[int, tuple[tuple[Task, str], ...]] = (0, ())

    def sheet(self, book: Book, revision: int, walk: Walk) -> WorkSheet:
        """Return the run sheet of a revision with everything that was recorded until now."""
        with self._lock:
            new = book.work(self._last)
            for one in new.records:
                self._records[one.task].append(one)
            for task in {one.task for one in new.records}:
                self._progress[task] = Progress(records=tuple(self._records[task]))
            self._last = new.last
            if self._tasks[0] != revision:
                self._tasks = (revision, placed_tasks(walk))
            return sheet_of(walk, revision, self._tasks[1], dict(self._progress))
