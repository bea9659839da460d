"""Calls to a desk: somebody hears them, and they do not go round."""

from collections.abc import Iterator
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.calling import Divert, DivertCause, TimetablePurpose
from doorwright.model.naming import named
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths import week
from doorwright.paths.call import End, Target, TargetKind
from doorwright.paths.follow import desk_at, desks_called
from doorwright.paths.proof import calls_to_desk, desk_calls_of
from doorwright.paths.telling import tell_spans, tell_target
from doorwright.paths.week import Spans
from doorwright.rules.example import both, plus, put
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, some

PLANNING: Final = (Phase.PLANNING, Phase.OPERATION)
PRACTICE: Final = Cite("practice", "a call path is walked through on paper before it is set")


def _sent_on(ident: str, cause: DivertCause = DivertCause.NO_ANSWER, **values: str) -> Divert:
    return Divert(id=ident, cause=cause, **values)  # type: ignore[arg-type]


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=(*PLANNING, Phase.COMMISSIONING),
    cites=(Cite("iec62820-1-1", "security management unit"), PRACTICE),
    finds=Example("The desk registers with something that is not there.", put(Unit, "smu-desk", registrar="gone")),
    passes=Example(
        "It does so, but 101 takes the desk's calls.",
        both(
            put(Unit, "smu-desk", registrar="gone"),
            plus(_sent_on("sent-1", DivertCause.NOT_REGISTERED, desk="smu-desk", to_dwelling="flat-1")),
        ),
    ),
)
def desk_never_rung(facts: Facts, entrance: Entrance) -> Said:
    """Calls from an entrance to a desk never ring anybody.

    Why it matters: a visitor, a courier or somebody in need presses the desk's key, and nobody ever hears it.
    What to do: let the desk register with a VCU or SIP server of the site, or divert its calls to somebody who hears.
    """
    walk = facts.walk
    for calls in desk_calls_of(walk, entrance):
        desk = desk_at(walk, calls.desk)
        if desk is None:
            continue  # a key that rings nothing has a rule of its own
        if calls.ever_rings or all(stretch.behaviour.call.end is End.SILENT for stretch in calls.stretches):
            yield HOLDS
        elif desk.registrar is None:
            yield lacks(desk, "registrar")
        else:
            yield Found(f"calls to {named(walk, desk)} from {named(walk, entrance)} never ring anybody", (desk,))


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("rfc3261", "section 16.3, item 4, loops"), PRACTICE),
    finds=Example(
        "The desk sends what it does not answer to 101, and 101 back to the desk.",
        plus(_sent_on("sent-1", desk="smu-desk", to_dwelling="flat-1"),
             _sent_on("sent-2", dwelling="flat-1", to_desk="smu-desk")),
    ),
    passes=Example(
        "The desk sends what it does not answer to 102.",
        plus(_sent_on("sent-1", desk="smu-desk", to_dwelling="flat-2")),
    ),
)  # fmt: skip
def desk_calls_go_round(facts: Facts, unit: Unit) -> Said:
    """Diverts send a call round in a loop that leads through a desk.

    Why it matters: desk and home ring in turn until somebody pulls a plug, or the server drops the call with 482.
    What to do: let the last of them end the call.
    """
    walk = facts.walk
    if unit.kind is not UnitKind.SMU:
        return
    if not walk.diverts_for_desk(unit.id):
        yield HOLDS
        return
    loops: dict[tuple[Target, ...], list[tuple[Entrance, Spans]]] = {}
    for entrance in sorted(walk.all(Entrance), key=lambda entrance: entrance.name):
        if _meets(walk, entrance, unit.id):
            for chain, spans in _loops(walk, entrance, unit):
                loops.setdefault(chain, []).append((entrance, spans))
    yield from found_or_holds(_loop_found(walk, chain, where) for chain, where in loops.items())


def _meets(walk: Walk, entrance: Entrance, desk: str) -> bool:
    """Say whether calls from an entrance can come to a desk."""
    return (
        desk in desks_called(walk, entrance)
        or any(
            timetable.divert_to == desk and timetable.purpose is TimetablePurpose.DIVERT
            for timetable in walk.timetables_of(entrance.id)
        )
        or any(divert.entrance in (None, entrance.id) for divert in walk.diverts_to(desk))
    )


def _loops(walk: Walk, entrance: Entrance, desk: Unit) -> Iterator[tuple[tuple[Target, ...], Spans]]:
    """Yield the loops that come back to this desk, if it is the one of their desks that speaks, and when they are."""
    own = Target(TargetKind.DESK, desk.id)
    for call, spans in calls_to_desk(walk, entrance, desk.id).rounds():
        desks = [target for target in call.chain if target.kind is TargetKind.DESK]
        if call.end is End.LOOP and call.chain[0] == own == min(desks):
            yield call.chain, spans


def _loop_found(walk: Walk, chain: tuple[Target, ...], where: list[tuple[Entrance, Spans]]) -> Found:
    spans = week.union(span for _, at in where for span in at)
    homes = (walk.find(Dwelling, target.id) for target in chain)
    return Found(
        f"calls from {some(named(walk, entrance) for entrance, _ in where)} go round in a loop:"
        f" {', '.join(tell_target(walk, target) for target in chain)} ({tell_spans(spans)})",
        tuple(home for home in homes if home is not None),
    )
