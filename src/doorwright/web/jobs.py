"""Long work: done in the background, with its present step told, and stopped where somebody asks."""

import secrets
import threading
import traceback
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any, Final

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.web.bulletin import Bulletin

_AT_ONCE: Final = 2
_KEPT: Final = 100
"""So many ended jobs can still be looked at."""


class State(StrEnum):
    """How far a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    REFUSED = "refused"
    STOPPED = "stopped"
    FAILED = "failed"


class Stopped(Exception):  # noqa: N818  (somebody's wish, not an error)
    """Raised inside a job, at its next step, after somebody asked it to stop; what it had begun is not saved."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One piece of long work, as it stands. ``answer`` is what it gave, ``refused`` why it could not be done."""

    id: str
    title: str
    book: str
    by: str
    state: State = State.WAITING
    step: str = ""
    answer: Any = None
    refused: Refused | None = None

    @property
    def has_ended(self) -> bool:
        """Whether nothing more comes of it."""
        return self.state not in {State.WAITING, State.RUNNING}


class Jobs:
    """The jobs of one server."""

    def __init__(self, bulletin: Bulletin) -> None:
        self._bulletin = bulletin
        self._pool = ThreadPoolExecutor(_AT_ONCE, thread_name_prefix="job")
        self._jobs: dict[str, Job] = {}
        self._stops: dict[str, threading.Event] = {}
        self._lock = threading.Lock()

    def start(self, title: str, book: str, work: Callable[[Means], Any], means: Means) -> Job:
        """Begin a job and return it. ``work`` gets means whose ``progress`` tells the step, and stops it when asked."""
        job = Job(id=secrets.token_urlsafe(9), title=title, book=book, by=means.who)
        stop = threading.Event()
        with self._lock:
            self._jobs[job.id] = job
            self._stops[job.id] = stop
            for old in [ident for ident, one in self._jobs.items() if one.has_ended][:-_KEPT]:
                del self._jobs[old], self._stops[old]

        def progress(step: str) -> None:
            if stop.is_set():
                raise Stopped
            self._note(job.id, step=step)

        self._pool.submit(self._run, job.id, work, replace(means, progress=progress))
        return job

    def find(self, ident: str) -> Job | None:
        """Return a job as it stands, or None."""
        return self._jobs.get(ident)

    def stop(self, ident: str) -> None:
        """Ask a job to stop at its next step."""
        stop = self._stops.get(ident)
        if stop is not None:
            stop.set()

    def close(self) -> None:
        """Stop whatever runs and wait for it."""
        for stop in self._stops.values():
            stop.set()
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _run(self, ident: str, work: Callable[[Means], Any], means: Means) -> None:
        try:
            self._note(ident, state=State.RUNNING)
            means.progress("beginning")
            self._note(ident, state=State.DONE, answer=work(means))
        except Stopped:
            self._note(ident, state=State.STOPPED)
        except Refused as refused:
            self._note(ident, state=State.REFUSED, refused=refused)
        except Exception:  # noqa: BLE001  (the last net of a thread: it must be seen, and told as our fault)
            traceback.print_exc()
            self._note(ident, state=State.FAILED)

    def _note(self, ident: str, **facts: Any) -> None:
        with self._lock:
            job = self._jobs[ident] = replace(self._jobs[ident], **facts)
        self._bulletin.tell(f"job {ident}", "job", state=job.state, step=job.step)
