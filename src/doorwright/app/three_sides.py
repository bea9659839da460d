"""Designed, rehearsed and found side by side: one table with three columns, a line for each thing that differs."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from doorwright.kernel.observation import Observation, Seen, Stage
from doorwright.kernel.verdict import Subject
from doorwright.model.label import natural_key
from doorwright.model.naming import where_is
from doorwright.model.network import SipServer, Switch
from doorwright.model.rehearsed import Head, Kept
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.differences import Difference, differences


@dataclass(frozen=True, slots=True, kw_only=True)
class Rehearsal:
    """The latest rehearsal that the book keeps, beside the plan as it is now.

    Attributes:
        head: what it was: of which revision, how many calls, on what conditions.
        at: when it was.
        by: who rehearsed.
        is_stale: whether the plan has changed since.
        seen: what was seen in it.
        differences: what was not as planned, each with where its part is.
    """

    head: Head
    at: datetime
    by: str
    is_stale: bool
    seen: Seen
    differences: tuple[tuple[Difference, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """One thing that is not the same on all sides: planned, rehearsed and found; empty where nothing is known of it.

    ``at`` says on which sides it is not as planned; ``seen`` is the latest such observation of the real building, else
    of the rehearsed one.
    """

    part: Unit | Switch | SipServer
    aspect: str
    planned: str
    rehearsed: str
    found: str
    to_do: str
    where: str
    at: tuple[Stage, ...]
    seen: Observation


def beside_plan(walk: Walk, kept: Kept, revision: int) -> Rehearsal:
    """Set the latest rehearsal beside a revision of the plan.

    Where the plan has changed since, what differs may be what was changed: then there is one thing to do.
    """
    is_stale = kept.head.revision != revision
    found = [(one, where_is(walk, one.part)) for one in differences(walk, kept.seen)]
    if is_stale:
        again = f"rehearse again: the plan has changed since revision {kept.head.revision}"
        found = [(replace(one, to_do=again), where) for one, where in found]
    return Rehearsal(
        head=kept.head,
        at=kept.at,
        by=kept.by,
        is_stale=is_stale,
        seen=kept.seen,
        differences=tuple(sorted(found, key=lambda pair: natural_key(pair[0].part.label))),
    )


def lines_of(
    found: Sequence[tuple[Difference, str]], found_seen: Seen, rehearsal: Rehearsal | None
) -> tuple[Line, ...]:
    """Return what differs in the real building or in the rehearsed one, part after part.

    What to do follows the real building where it differs there.

    Args:
        found: what differs in the real building, each with where its part is.
        found_seen: all that was seen there.
        rehearsal: the latest rehearsal.
    """
    rehearsed_seen: Seen = rehearsal.seen if rehearsal is not None else {}
    lines: dict[tuple[Subject, str], Line] = {}
    for one, where in found:
        there = _value(rehearsed_seen, one)
        lines[one.part.subject, one.aspect] = _line(one, where, rehearsed=there, found=one.found)
    for one, where in rehearsal.differences if rehearsal is not None else ():
        line = lines.get((one.part.subject, one.aspect))
        if line is not None:
            both = (Stage.REHEARSED, Stage.FOUND)
            lines[one.part.subject, one.aspect] = replace(line, rehearsed=one.found, at=both)
        else:
            there = _value(found_seen, one)
            lines[one.part.subject, one.aspect] = _line(one, where, rehearsed=one.found, found=there)
    return tuple(sorted(lines.values(), key=lambda line: natural_key(line.part.label)))


def _line(one: Difference, where: str, *, rehearsed: str, found: str) -> Line:
    return Line(
        part=one.part, aspect=one.aspect, planned=one.planned, rehearsed=rehearsed, found=found, to_do=one.to_do,
        where=where, at=(one.seen.stage,), seen=one.seen,
    )  # fmt: skip


def _value(seen: Seen, one: Difference) -> str:
    there: Mapping[str, Observation] = seen.get(one.part.subject, {})
    observation = there.get(one.aspect)
    return observation.value if observation is not None else ""
