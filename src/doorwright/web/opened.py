"""A book that is open in the server: its newest site at hand, and what the rules say of it, kept up to date."""

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any, Final

from doorwright.app.means import Means
from doorwright.app.show_table import Tabled
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.signoff import SignOff, standing
from doorwright.kernel.verdict import Subject
from doorwright.model.change import diff
from doorwright.model.naming import name_of_subject
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import Assessment, Watch
from doorwright.rules.rule import Facts
from doorwright.store.book import Book
from doorwright.store.record import Revision
from doorwright.web.bulletin import Bulletin, News
from doorwright.web.held import Tables
from doorwright.web.making import Makings
from doorwright.web.onsite import OnSite
from doorwright.web.patience import Patience
from doorwright.web.rehearsals import Rehearsals
from doorwright.web.verifying import Verifying

_AGAIN_AT: Final = 400
"""An edit of more changes than this (an import, a plan) is judged from the beginning: that is sooner done."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Judged:
    """What the rules say of one revision of a book. Secrets themselves are not judged here."""

    revision: int
    walk: Walk
    assessment: Assessment
    on: date

    def name(self, subject: Subject) -> str:
        """Return what a part is called."""
        return name_of_subject(self.walk, subject)


def judged_news(judged: Judged) -> News:
    """Return what open pages are told when the rules have looked."""
    counts = {severity.value: count for severity, count in judged.assessment.by_severity().items()}
    not_checked_count = len(judged.assessment.not_checked)
    return "findings", {"revision": judged.revision, "counts": counts, "not_checked_count": not_checked_count}


@dataclass(frozen=True, slots=True)
class _Watched:
    """A watch, the revision it stands at, and the facts beside the site that it was begun with."""

    watch: Watch
    walk: Walk
    revision: int
    observations: tuple[Observation, ...]
    sign_offs: tuple[SignOff, ...]
    today: date


class OpenBook:
    """One book of the shelf. Threads may share it."""

    def __init__(self, name: str, path: Path, means: Means, bulletin: Bulletin) -> None:
        self.name = name
        self.path = path
        self.makings = Makings()
        self.on_site = OnSite()
        self.tables = Tables(means.now)
        self.rehearsals = Rehearsals()
        self.verifying = Verifying()
        self._patience = Patience()
        self._means = means
        self._bulletin = bulletin
        self._book = Book.open(self.path)
        self.tabled = Tabled(self._book)
        self._lock = threading.Lock()
        self._known: tuple[Revision, Walk] | None = None
        self._watched: _Watched | None = None
        self._judged: Judged | None = None
        self._judging = ThreadPoolExecutor(1, thread_name_prefix="judge")
        self._wanted = False
        self._closed = False

    @property
    def topic(self) -> str:
        """The topic of the bulletin on which news of this book are told."""
        return f"book {self.name}"

    @property
    def book(self) -> Book:
        """The book itself, open for writing."""
        return self._book

    def now(self) -> tuple[Revision, Walk]:
        """Return the newest revision and the way around its site, whoever saved it."""
        head = self._book.head()
        with self._lock:
            if self._known is None or self._known[0].number != head.number:
                self._known = (head, Walk(self._book.site(head.number)))
            return self._known

    def changed(self) -> None:
        """Tell every open page that something was saved in the book, and have the rules look again."""
        head = self._book.head()
        self._bulletin.tell(self.topic, "revision", revision=head.number, by=head.made_by, message=head.message)
        self.judge_soon()

    def tell(self, event: str, **facts: Any) -> None:
        """Tell every open page something that no revision holds, such as work done on site."""
        self._bulletin.tell(self.topic, event, **facts)

    def wait_s(self, who: str, *, at_s: float) -> float:
        """Return how long somebody must wait before trying a passphrase; where that is 0, the try has begun.

        It counts as wrong until ``opened_by`` says otherwise: many at once gain nothing.
        """
        with self._lock:
            wait_s = self._patience.wait_s(who, at_s=at_s)
            if wait_s <= 0:
                self._patience.wrong(who, at_s=at_s)
        return wait_s

    def opened_by(self, who: str) -> None:
        """Forget somebody's wrong tries: the passphrase opened the vault."""
        with self._lock:
            self._patience.right(who)

    # what the rules say

    def judged(self) -> Judged | None:
        """Return what the rules say of the newest revision, or None while they are still looking."""
        judged = self._judged
        if judged is not None and judged.revision == self._book.head().number and judged.on == self._means.today():
            return judged
        self.judge_soon()
        return None

    def judge_now(self) -> Judged:
        """Return what the rules say of the newest revision, when they have looked."""
        self._judging.submit(self._judge).result()
        judged = self._judged
        if judged is None:
            raise Refused("the book was closed while it was checked")
        return judged

    def judge_soon(self) -> None:
        """Have the rules look at the newest revision in the background; ``findings`` is told when they have."""
        with self._lock:
            if self._wanted or self._closed:
                return
            self._wanted = True
        self._judging.submit(self._judge)

    def _judge(self) -> None:
        with self._lock:
            self._wanted = False
        if self._closed:
            return
        observations, sign_offs = self._book.observations(), self._book.sign_offs()
        head, walk = self.now()
        today = self._means.today()
        watched = self._watched
        same_facts = watched is not None and (watched.observations, watched.sign_offs, watched.today) == (
            observations,
            sign_offs,
            today,
        )
        changes = diff(watched.walk.site, walk.site) if watched is not None and same_facts else ()
        if watched is None or not same_facts or len(changes) > _AGAIN_AT:
            facts = Facts(
                walk=Walk(walk.site),  # its own: a watch notes every look, and pages look through the other meanwhile
                secrets=None,
                today=today,
                observations=what_counts(observations, Stage.FOUND),
                sign_offs=standing(sign_offs),
            )
            watch = Watch(facts, RULES)
        else:
            watch = watched.watch
            watch.change(changes)
        self._watched = _Watched(watch, walk, head.number, observations, sign_offs, today)
        assessment = watch.assessment(self._book.waivers())
        self._judged = Judged(revision=head.number, walk=walk, assessment=assessment, on=today)
        event, counts = judged_news(self._judged)
        self._bulletin.tell(self.topic, event, **counts)

    def close(self) -> None:
        """Let go of the book."""
        self._closed = True
        self._judging.shutdown(wait=True, cancel_futures=True)
        self.makings.close()
        self._book.close()
