"""Rehearsal: every unit live on a virtual network, every call played; faults put in on purpose; what is seen then."""

import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.conditions import Conditions
from doorwright.app.means import Means
from doorwright.app.rehearse_book import rehearse_book
from doorwright.app.tell_rehearsal import (
    CallLine,
    EntranceLine,
    SeenLine,
    call_lines,
    entrance_lines,
    left_counts,
    name_in,
    registered_counts,
    seen_lines,
)
from doorwright.kernel.person import Role
from doorwright.kernel.verdict import Finding
from doorwright.model.label import natural_key
from doorwright.model.network import SipServer
from doorwright.model.unit import Unit
from doorwright.rehearse.faults import FAULTS
from doorwright.rehearse.outage import told_outage
from doorwright.web.answers import Answer, Begun, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.paging import Piece, piece, start_of
from doorwright.web.rehearsals import KeptRehearsal
from doorwright.web.showing import book_url

USUAL: Final = Conditions()
SEED_MOST: Final = 2**63 - 1
DELAY_MOST_MS: Final = 1000.0
LOSS_MOST_PERCENT: Final = 50.0
POWER_CUT_MOST_MIN: Final = 10_080.0
CALLS_MOST: Final = 100
OFFERS_MOST: Final = 2_000
_LABELS: Final = {"seed": "Seed", "delay_ms": "Delay", "loss_percent": "Loss", "power_cut_min": "Power cut"}
_AT: Final = "at:"
_KEEPS: Final = {"yes": True, "no": False}
"""Whether the book keeps what was seen; anything else leaves it to the usual: where no fault was put in."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultLine:
    """A fault that can be put in: its name, its cause, and what it looks like."""

    name: str
    cause: str
    look: str


@dataclass(frozen=True, slots=True, kw_only=True)
class KeptLine:
    """A rehearsal that can still be read; ``is_stale`` where the plan has changed since."""

    address: str
    revision: int
    by: str
    at: datetime
    calls_count: int
    otherwise_count: int
    faults: tuple[str, ...]
    is_stale: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalForm:
    """What may be chosen, with what is usual, and the rehearsals that can still be read, the newest first."""

    revision: int
    seed: int = USUAL.seed
    delay_ms: float = USUAL.delay_ms
    faults: tuple[FaultLine, ...]
    units: tuple[str, ...]
    kept: tuple[KeptLine, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """Which calls of a rehearsal are shown: from which entrance, how they went, and what they tell of."""

    entrance: str
    went: str
    sought: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CallRow:
    """A call, and where its ladder is drawn."""

    line: CallLine
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class RehearsalView:
    """What came of a rehearsal. ``faults`` are the causes put in and where."""

    revision: int
    newest: int
    is_stale: bool
    by: str
    at: datetime
    seed: int
    delay_ms: float
    loss_ratio: float
    faults: tuple[tuple[str, str], ...]
    outage: str
    as_planned: bool
    registered_count: int
    registering_count: int
    calls_count: int
    otherwise_count: int
    entrances: tuple[EntranceLine, ...]
    seen: tuple[SeenLine, ...]
    findings: Piece[Finding]
    left: tuple[tuple[str, int], ...]
    wanted: Wanted
    calls: Piece[CallRow]


def page(ask: Ask) -> Answer:
    """Ask how the building is to be rehearsed, and lead to what was rehearsed before."""
    head, walk = ask.book.now()
    names = sorted((*(one.name for one in walk.all(Unit)), *(one.name for one in walk.all(SipServer))), key=natural_key)
    view = RehearsalForm(
        revision=head.number,
        faults=tuple(FaultLine(name=one.name, cause=one.cause, look=one.look) for one in FAULTS.values()),
        units=tuple(dict.fromkeys(names)) if len(names) <= OFFERS_MOST else (),
        kept=tuple(
            KeptLine(
                address=book_url(ask.book.name, "rehearsal", key),
                revision=one.made.revision,
                by=one.by,
                at=one.at,
                calls_count=len(one.calls),
                otherwise_count=len(one.made.rehearsal.differing),
                faults=tuple(fault.cause for fault, _ in one.made.faults),
                is_stale=one.made.revision != head.number,
            )
            for key, one in ask.book.rehearsals.all()
        ),
    )
    return Page(template="rehearsal/rehearsal.html", title="Rehearsal", view=view)


def play(ask: Ask) -> Answer:
    """Begin to rehearse."""
    filled = Filled(ask, _LABELS)
    conditions = Conditions(
        faults=tuple(_faults(ask)),
        seed=filled.whole("seed", default=USUAL.seed, least=0, most=SEED_MOST),
        delay_ms=filled.number("delay_ms", default=USUAL.delay_ms, least=0, most=DELAY_MOST_MS),
        loss_ratio=filled.number("loss_percent", default=0.0, least=0, most=LOSS_MOST_PERCENT) / 100,
        power_cut_min=filled.number("power_cut_min", default=0.0, least=0, most=POWER_CUT_MOST_MIN) or None,
    )
    keep = _KEEPS.get(ask.text("keep"))
    filled.see("nothing was rehearsed")
    book, now = ask.book, ask.means.now()

    def work(means: Means) -> Go:
        made = rehearse_book(book.path, means, conditions, workers_count=os.cpu_count() or 1, keep=keep)
        if made.kept is not None:
            book.changed()
        means.progress("writing down how every call went")
        kept = KeptRehearsal(
            by=means.who,
            at=now,
            conditions=conditions,
            made=made,
            calls=tuple(call_lines(made)),
        )
        return Go(book_url(book.name, "rehearsal", book.rehearsals.keep(kept)))

    return Begun(ask.jobs.start("Rehearsing the building", book.name, work, ask.means))


def _faults(ask: Ask) -> Iterator[str]:
    """Yield the faults that are wanted, as the command takes them: a name, or a name, a colon and a unit's name."""
    ticked = set(ask.texts("fault"))
    yield from sorted(ticked - set(FAULTS))  # to be refused in the words of the command
    for name in FAULTS:
        units = [unit.strip() for unit in ask.text(f"{_AT}{name}").split(",") if unit.strip()]
        if units:
            yield from (f"{name}:{unit}" for unit in units)
        elif name in ticked:
            yield name


def result(ask: Ask) -> Answer:
    """Show what came of a rehearsal."""
    key = ask.path["result"]
    kept = kept_of(ask, key)
    made = kept.made
    newest = ask.book.now()[0].number
    registered_count, registering_count = registered_counts(made)
    otherwise_count, outage = len(made.rehearsal.differing), made.rehearsal.building.outage
    wanted = Wanted(
        entrance=ask.text("entrance"),
        went=ask.text("went", "otherwise" if otherwise_count else "all"),
        sought=ask.text("for"),
    )
    lines = tuple(line for line in kept.calls if _fits(line, wanted))
    here = piece(lines, start_of(ask), CALLS_MOST)
    view = RehearsalView(
        revision=made.revision,
        newest=newest,
        is_stale=newest != made.revision,
        by=kept.by,
        at=kept.at,
        seed=kept.conditions.seed,
        delay_ms=kept.conditions.delay_ms,
        loss_ratio=kept.conditions.loss_ratio,
        faults=tuple((fault.cause, name_in(made, ident)) for fault, ident in made.faults),
        outage=told_outage(outage) if outage is not None else "",
        as_planned=made.as_planned,
        registered_count=registered_count,
        registering_count=registering_count,
        calls_count=len(kept.calls),
        otherwise_count=otherwise_count,
        entrances=entrance_lines(made),
        seen=seen_lines(made),
        findings=piece(made.findings),
        left=left_counts(made),
        wanted=wanted,
        calls=Piece(
            rows=tuple(
                CallRow(line=line, address=book_url(ask.book.name, "rehearsal", key, "calls", str(line.number)))
                for line in here.rows
            ),
            start=here.start,
            total_count=here.total_count,
            next_start=here.next_start,
        ),
    )
    return Page(template="rehearsal/result.html", title="Rehearsed", view=view, facts={"key": key})


def kept_of(ask: Ask, key: str) -> KeptRehearsal:
    """Return a rehearsal that is still kept.

    Raises:
        HTTPException: it is not.
    """
    kept = ask.book.rehearsals.find(key)
    if kept is None:
        raise HTTPException(404, "this rehearsal is no longer kept here; rehearse again: the same seed gives the same")
    return kept


def _fits(line: CallLine, wanted: Wanted) -> bool:
    if wanted.entrance and line.entrance != wanted.entrance:
        return False
    if (wanted.went == "otherwise" and line.as_proved) or (wanted.went == "proved" and not line.as_proved):
        return False
    told = f"{line.unit} {line.call} {line.rehearsed} {line.proved}".casefold()
    return all(word in told for word in wanted.sought.casefold().split())


ROUTES: Final = (
    *get("/books/{book}/rehearsal", page),
    *post("/books/{book}/rehearsal", play, needs=Role.WORK),
    *get("/books/{book}/rehearsal/{result}", result),
)
