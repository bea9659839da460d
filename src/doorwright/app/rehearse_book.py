"""Rehearse the building of a book's latest revision: every unit live on a virtual network, every call played."""

import json
from dataclasses import dataclass
from pathlib import Path

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.verdict import Finding
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.plan.edits.called import called, nearest
from doorwright.rehearse.building import Building
from doorwright.rehearse.faults import FAULTS, Fault, UnfitError, with_faults
from doorwright.rehearse.journal import Entry
from doorwright.rehearse.observed import observations
from doorwright.rehearse.planned import LeftOut, Planned, planned
from doorwright.rehearse.rehearsal import Rehearsal, rehearse
from doorwright.rehearse.symptoms import Symptom, symptoms
from doorwright.rehearse.trace import Line, entry_line, packet_line
from doorwright.rehearse.wire import Spot
from doorwright.rehearse.world import World
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.store.book import Book
from doorwright.store.files import write_whole

_EVERY_COUNT = 50


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsed:
    """A rehearsal of a revision, the faults that were put into it and where, and what was seen.

    ``findings`` are what the rules on found buildings say of the rehearsed one.
    """

    revision: int
    walk: Walk
    rehearsal: Rehearsal
    faults: tuple[tuple[Fault, str], ...]
    symptoms: tuple[Symptom, ...]
    observations: tuple[Observation, ...]
    findings: tuple[Finding, ...]
    left_out: tuple[LeftOut, ...]
    trace: Path | None

    @property
    def as_planned(self) -> bool:
        """Whether everything registered and every call went as the proof says."""
        return not self.symptoms and not self.rehearsal.differing


def rehearse_book(
    book_path: Path,
    means: Means,
    *,
    faults: tuple[str, ...] = (),
    seed: int = 1,
    delay_ms: float = 1.0,
    loss_ratio: float = 0.0,
    trace: Path | None = None,
) -> Rehearsed:
    """Rehearse the latest revision.

    Args:
        book_path: the book.
        means: the world.
        faults: faults to put in: a name, or a name, a colon and the name of a unit.
        seed: where all chance starts.
        delay_ms: of the wire.
        loss_ratio: of packets lost on it.
        trace: where to write each packet and each happening, a line of JSON each.

    Raises:
        Refused: the book cannot be read, nothing in it can be rehearsed, or a fault or unit is not known.
    """
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        revision = book.head().number
    plan = planned(walk, seed=seed)
    if not plan.boxes:
        raise Refused("no unit of this site has an address and a number yet", remedy="First: doorwright plan BOOK")
    wanted = tuple(_wanted(walk, plan, text) for text in faults)
    try:
        boxes, where = with_faults(plan, wanted, chance=World(seed=seed).chance("faults"))
    except UnfitError as why:
        raise Refused(str(why), remedy="Name another unit, or leave it to chance.") from None
    lines: list[Line] = []
    names = {box.id: box.name for box in plan.boxes.values()}

    def told(entry: Entry) -> None:
        lines.append(entry_line(entry, names))

    def heard(at_s: float, source: Spot, to: Spot, data: bytes, arrived: bool) -> None:
        lines.append(packet_line(at_s, source, to, data, arrived))

    building = Building(
        boxes.values(), plan.nets, seed=seed, delay_s=delay_ms / 1000, loss_ratio=loss_ratio,
        told=told if trace is not None else None, heard=heard if trace is not None else None,
    )  # fmt: skip

    def progress(count: int) -> None:
        if count % _EVERY_COUNT == 0:
            means.progress(f"{count} calls rehearsed")

    made = rehearse(walk, prove(walk), plan, building, progress=progress)
    seen = observations(walk, made, new_id=means.new_id, seen_at=means.now(), seen_by=means.who)
    if trace is not None:
        written = "".join(json.dumps(line, ensure_ascii=False) + "\n" for line in lines)
        write_whole(trace, written.encode())
    return Rehearsed(
        revision=revision,
        walk=walk,
        rehearsal=made,
        faults=tuple((FAULTS[name], ident) for (name, _), ident in zip(wanted, where, strict=True)),
        symptoms=symptoms(plan, made),
        observations=seen,
        findings=_findings(walk, means, seen),
        left_out=plan.left_out,
        trace=trace,
    )


def _wanted(walk: Walk, plan: Planned, text: str) -> tuple[str, str | None]:
    """Return the fault that a text names, and the box where it is to be."""
    name, colon, unit = (part.strip() for part in text.partition(":"))
    if name not in FAULTS:
        near = nearest(name, FAULTS) or list(FAULTS)
        raise Refused(f"there is no fault {name!r}", remedy=f"Faults: {', '.join(near)}.")
    if not colon:
        return name, None
    ident = next((box.id for box in plan.boxes.values() if box.name.casefold() == unit.casefold()), None)
    if ident is None:
        found: Unit = called(walk, unit, Unit)
        raise Refused(f"{found.name} cannot be rehearsed: its plan lacks something", remedy="doorwright plan BOOK")
    return name, ident


def _findings(walk: Walk, means: Means, seen: tuple[Observation, ...]) -> tuple[Finding, ...]:
    """Let the rules that judge a found building judge the rehearsed one."""
    facts = Facts(walk=walk, secrets=None, today=means.today(), observations=what_counts(seen, Stage.REHEARSED))
    rules = [rule for rule in RULES if rule.id.startswith("found-")]
    return judge(facts, rules).findings
