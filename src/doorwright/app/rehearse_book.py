"""Rehearse the building of a book's latest revision: every unit live on a virtual network, every call played."""

from dataclasses import dataclass
from pathlib import Path

from doorwright.app.conditions import Conditions, prepared
from doorwright.app.keep_rehearsal import InBook, keep_rehearsal
from doorwright.app.keep_trace import keeping_traces
from doorwright.app.means import Means
from doorwright.app.rehearse_in_parts import rehearse_in_parts
from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.verdict import Finding
from doorwright.kernel.words import counted
from doorwright.model.rehearsed import Head
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse.building import Building
from doorwright.rehearse.faults import Fault
from doorwright.rehearse.observed import observations
from doorwright.rehearse.planned import LeftOut
from doorwright.rehearse.rehearsal import Rehearsal
from doorwright.rehearse.symptoms import Symptom, symptoms
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.store.book import Book

_EVERY_COUNT = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """A rehearsal of a revision, the faults that were put into it and where, and what was seen.

    ``findings`` are what the rules on found buildings say of the rehearsed one. ``kept`` is what the book gained, None
    where the rehearsal was not kept.
    """

    revision: int
    walk: Walk
    rehearsal: Rehearsal
    faults: tuple[tuple[Fault, str], ...]
    symptoms: tuple[Symptom, ...]
    observations: tuple[Observation, ...]
    findings: tuple[Finding, ...]
    left_out: tuple[LeftOut, ...]
    kept: InBook | None
    trace: Path | None
    pcap: Path | None

    @property
    def as_planned(self) -> bool:
        """Whether everything registered and every call went as the proof says."""
        return not self.symptoms and not self.rehearsal.differing


def rehearse_book(
    book_path: Path,
    means: Means,
    conditions: Conditions,
    *,
    workers_count: int = 1,
    keep: bool | None = None,
    trace: Path | None = None,
    pcap: Path | None = None,
) -> Rehearsed:
    """Rehearse the latest revision.

    Args:
        book_path: the book.
        means: the world.
        conditions: of the rehearsal.
        workers_count: how many processes share the work; what comes out is the same.
        keep: whether the book keeps what was seen; None keeps it where no faults were put in.
        trace: where to write each packet and each happening, a line of JSON each.
        pcap: where to write the packets themselves, for programs that show what is on a network.

    Raises:
        Refused: the book cannot be read, or not be written where it is to keep the rehearsal; nothing in it can be
            rehearsed, or a fault or unit is not known.
    """
    is_kept = not conditions.faults if keep is None else keep
    with Book.open(book_path, read_only=not is_kept) as book:  # who cannot keep it learns that before, not after
        walk = Walk(book.site())
        revision = book.head().number
    ready = prepared(walk, conditions)
    names = {box.id: box.name for box in ready.planned.boxes.values()}
    last_count = 0

    def progress(building: Building, count: int, of_count: int) -> None:
        nonlocal last_count
        is_played_here = count == last_count + 1  # else it was played elsewhere, or that is waited for
        last_count = count
        if count % _EVERY_COUNT == 0 or not is_played_here:
            means.progress(f"{_registered(building)}; {count} of {of_count} calls rehearsed")

    means.progress(f"switching on {counted(len(ready.faulty.boxes), 'unit')}")
    with keeping_traces(trace, pcap, names) as traced:
        made = rehearse_in_parts(
            walk, prove(walk), ready.planned, ready.build, workers_count=workers_count, told=traced.told,
            heard=traced.heard, progress=progress,
        )  # fmt: skip
    now = means.now()
    seen = observations(walk, made, new_id=means.new_id, seen_at=now, seen_by=means.who)
    kept = None
    if is_kept:
        head = Head(
            revision=revision, calls_count=len(made.played), proved_count=len(made.played) - len(made.differing),
            conditions=ready.told,
        )  # fmt: skip
        with Book.open(book_path) as book:
            kept = keep_rehearsal(book, means, head, seen, at=now)
    return Rehearsed(
        revision=revision,
        walk=walk,
        rehearsal=made,
        faults=ready.faults,
        symptoms=symptoms(ready.planned, made),
        observations=seen,
        findings=_findings(walk, means, seen),
        left_out=ready.planned.left_out,
        kept=kept,
        trace=trace,
        pcap=pcap,
    )


def _registered(building: Building) -> str:
    registered = [actor.registered for actor in building.units() if actor.registered is not None]
    return f"{sum(registered)} of {counted(len(registered), 'unit')} registered"


def _findings(walk: Walk, means: Means, seen: tuple[Observation, ...]) -> tuple[Finding, ...]:
    """Let the rules that judge a found building judge the rehearsed one."""
    facts = Facts(walk=walk, secrets=None, today=means.today(), observations=what_counts(seen, Stage.REHEARSED))
    rules = [rule for rule in RULES if rule.id.startswith("found-")]
    return judge(facts, rules).findings
