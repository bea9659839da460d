"""Call paths: no call goes round or to nobody, and every dwelling is reached at hours that somebody has read."""

from collections.abc import Iterator
from datetime import date
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.calling import HOLIDAY, Divert, DivertCause, Timetable, TimetablePurpose, Window
from doorwright.model.naming import named
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths import week
from doorwright.paths.call import CALLED, End, Target, TargetKind
from doorwright.paths.follow import DIVERTS_MOST, receivers, target_of
from doorwright.paths.proof import partition_of
from doorwright.paths.telling import tell_spans
from doorwright.paths.week import Spans
from doorwright.rules.example import both, plus, put, put_site
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, some

PLANNING: Final = (Phase.PLANNING, Phase.OPERATION)
SIP: Final = Cite("rfc3261", "section 16.7, what a proxy does with responses; section 16.3, item 4, loops")
PRACTICE: Final = Cite("practice", "a call path is walked through on paper before it is set")

_WORKDAYS: Final = (0, 1, 2, 3, 4)


def _hours(ident: str, entrance: str, purpose: TimetablePurpose, *windows: Window) -> Timetable:
    return Timetable(id=ident, name="Hours", entrance=entrance, purpose=purpose, windows=windows)


def _divert(ident: str, dwelling: str | None, to: str, cause: DivertCause = DivertCause.NO_ANSWER) -> Divert:
    return Divert(id=ident, cause=cause, dwelling=dwelling, to_dwelling=to)


def _divert_to_desk(desk: str) -> Divert:
    return Divert(id="sent-1", cause=DivertCause.NO_ANSWER, dwelling="flat-1", to_desk=desk)


@rule(
    over=Entrance,
    severity=Severity.NOTE,
    phases=(*PLANNING, Phase.HANDOVER),
    cites=(PRACTICE,),
    finds=Example(
        "Calls from the rear go through on workdays from 08:00 to 18:00 only.",
        plus(_hours("t", "entrance-rear", TimetablePurpose.CALL, Window(days=_WORKDAYS, start_min=480, end_min=1080))),
    ),
    passes=Example(
        "Calls from the rear go through at all hours of all days.",
        plus(_hours("t", "entrance-rear", TimetablePurpose.CALL, Window(days=tuple(range(7)), start_min=0, end_min=0))),
    ),
)
def entrance_silent_at_times(facts: Facts, entrance: Entrance) -> Said:
    """An entrance lets no call through at some hours.

    Why it matters: a visitor, a doctor or a locked-out child stands before a unit that does nothing.
    What to do: read the hours to the client; where they are meant, accept the finding and put a notice at the unit.
    """
    timetables = sorted(facts.walk.timetables_of(entrance.id), key=lambda timetable: timetable.id)
    hours = [t for t in timetables if t.purpose is TimetablePurpose.CALL]
    silent = week.outside(week.union(span for timetable in hours for span in week.spans_of(timetable))) if hours else ()
    if silent:
        yield Found(f"{named(facts.walk, entrance)} lets no call through: {tell_spans(silent)}", tuple(hours))
    else:
        yield HOLDS


@rule(
    over=Divert,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(PRACTICE, Cite("iec62820-1-1", "security management unit")),
    finds=Example("Calls that 101 does not answer go to a desk that is not there.", plus(_divert_to_desk("smu-9"))),
    passes=Example("They go to the desk.", plus(_divert_to_desk("smu-desk"))),
)
def divert_leads_nowhere(facts: Facts, divert: Divert) -> Said:
    """A divert leads to nobody, or is for something that the site does not have.

    Why it matters: a call that is sent to nobody is lost, and the visitor hears it ring.
    What to do: name the dwelling or the desk (SMU) that takes the calls, and correct what else the divert names.
    """
    walk, about = facts.walk, _about(facts.walk, divert)
    faults = [
        f"its {word} {ident!r} is not of the site"
        for word, kind, ident in (
            ("dwelling", Dwelling, divert.dwelling),
            ("desk", Unit, divert.desk),
            ("entrance", Entrance, divert.entrance),
            ("timetable", Timetable, divert.timetable),
            ("target dwelling", Dwelling, divert.to_dwelling),
            ("target desk", Unit, divert.to_desk),
        )
        if ident is not None and walk.find(kind, ident) is None
    ]
    desks = (walk.find(Unit, divert.desk), walk.find(Unit, divert.to_desk))
    faults += [
        f"{named(walk, desk)} is no desk" for desk in desks if desk is not None and desk.kind is not UnitKind.SMU
    ]
    if divert.dwelling is not None and divert.desk is not None:
        faults.append("it is for a dwelling and for a desk, and a divert is for one")
    if divert.to_dwelling is None and divert.to_desk is None:
        faults.append("it does not say where calls go")
    if divert.to_dwelling is not None and divert.to_desk is not None:
        faults.append("it names a dwelling and a desk, and a call goes to one")
    yield from found_or_holds(Found(f"{about}: {fault}") for fault in faults)


@rule(
    over=Divert,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(PRACTICE,),
    finds=Example(
        "Calls that 101 does not answer go to 102 and to 201.",
        plus(_divert("sent-1", "flat-1", "flat-2"), _divert("sent-2", "flat-1", "flat-3")),
    ),
    passes=Example(
        "Those not answered go to 102, those at a busy receiver to 201.",
        plus(_divert("sent-1", "flat-1", "flat-2"), _divert("sent-2", "flat-1", "flat-3", DivertCause.BUSY)),
    ),
)
def diverts_clash(facts: Facts, divert: Divert) -> Said:
    """Two diverts of one rank send the same call to different places.

    Why it matters: nobody can say which one a unit will follow, and two makes of unit will differ.
    What to do: take one of them away, or give them hours that do not overlap.
    """
    walk = facts.walk
    rivals = [
        other
        for other in _alongside(walk, divert)
        if other.id > divert.id
        and (other.cause, other.entrance) == (divert.cause, divert.entrance)
        and (other.to_desk, other.to_dwelling) != (divert.to_desk, divert.to_dwelling)
    ]
    yield from found_or_holds(
        Found(f"{_about(walk, divert)}: another divert of the same rank leads elsewhere at the same hours", (other,))
        for other in rivals
        if _hours_meet(walk, divert, other)
    )


def _alongside(walk: Walk, divert: Divert) -> tuple[Divert, ...]:
    """Return the diverts that are for the same dwelling or desk, or like it for all dwellings."""
    if divert.dwelling is None and divert.desk is not None:
        return walk.diverts_for_desk(divert.desk)
    return walk.diverts_for(divert.dwelling)


def _about(walk: Walk, divert: Divert) -> str:
    whose: Dwelling | Unit | None = walk.find(Dwelling, divert.dwelling) or walk.find(Unit, divert.desk)
    entrance = walk.find(Entrance, divert.entrance)
    of = f" of {named(walk, whose)}" if whose else ""
    at = f" at {named(walk, entrance)}" if entrance else ""
    return f"divert ({divert.cause.value}){of}{at}"


def _hours_meet(walk: Walk, one: Divert, other: Divert) -> bool:
    if one.timetable is None or other.timetable is None:
        return one.timetable is other.timetable  # the one with hours goes first: that is no clash
    first, second = walk.find(Timetable, one.timetable), walk.find(Timetable, other.timetable)
    if first is None or second is None:
        return False
    return any(week.within(week.spans_of(second), *span) for span in week.spans_of(first))


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(SIP, PRACTICE),
    finds=Example(
        "101 sends what it does not answer to 102, and 102 back to 101.",
        plus(_divert("sent-1", "flat-1", "flat-2"), _divert("sent-2", "flat-2", "flat-1")),
    ),
    passes=Example(
        "101 sends on what it does not answer, 102 only what comes while it is busy, to 201.",
        plus(_divert("sent-1", "flat-1", "flat-2"), _divert("sent-2", "flat-2", "flat-3", DivertCause.BUSY)),
    ),
)
def calls_go_round(facts: Facts, dwelling: Dwelling) -> Said:
    """Diverts send a call round in a loop.

    Why it matters: two units ring in turn until somebody pulls a plug, or the server drops the call with 482.
    What to do: let the last of them send calls to a desk, or end them.
    """
    walk = facts.walk
    if not walk.diverts_to(dwelling.id):
        return
    if Target(TargetKind.DWELLING, dwelling.id) not in _reach(walk, dwelling.id):
        yield HOLDS
        return
    loops: dict[tuple[str, ...], list[tuple[Entrance, Spans]]] = {}
    for entrance in sorted(walk.all(Entrance), key=lambda entrance: entrance.name):
        for targets, spans in _chains(walk, entrance, dwelling, End.LOOP):
            if any(target.kind is TargetKind.DESK for target in targets):
                continue  # a loop through a desk is told of the desk
            chain = tuple(target.id for target in targets)
            if chain[0] == dwelling.id == min(chain):  # of a loop's dwellings, one speaks
                loops.setdefault(chain, []).append((entrance, spans))
    yield from found_or_holds(_loop_found(walk, chain, where) for chain, where in loops.items())


def _loop_found(walk: Walk, chain: tuple[str, ...], where: list[tuple[Entrance, Spans]]) -> Found:
    dwellings = [walk.get(Dwelling, ident) for ident in chain]
    spans = week.union(span for _, at in where for span in at)
    return Found(
        f"calls from {some(named(walk, entrance) for entrance, _ in where)} go round in a loop:"
        f" {', '.join(one.door_label for one in dwellings)} ({tell_spans(spans)})",
        tuple(dwellings[1:-1]),
    )


@rule(
    over=Dwelling,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(PRACTICE,),
    finds=Example(
        "Calls pass through seven dwellings before anybody may take them.",
        both(
            plus(
                *(
                    Dwelling(id=f"more-{n}", door_label=f"30{n}", core="core-a", level="level-2", call_number=f"30{n}")
                    for n in range(3)
                )
            ),
            plus(
                *(
                    _divert(f"sent-{near}", near, far, DivertCause.ALWAYS)
                    for near, far in (
                        ("flat-1", "flat-2"),
                        ("flat-2", "flat-3"),
                        ("flat-3", "flat-4"),
                        ("flat-4", "more-0"),
                        ("more-0", "more-1"),
                        ("more-1", "more-2"),
                    )
                )
            ),
        ),
    ),
    passes=Example("101 sends its calls to 102.", plus(_divert("sent-1", "flat-1", "flat-2", DivertCause.ALWAYS))),
)
def call_sent_on_too_often(facts: Facts, dwelling: Dwelling) -> Said:
    """A call is sent on more often than anybody waits.

    Why it matters: each stage rings for half a minute; whoever is last in the row rings when the visitor has gone.
    What to do: shorten the row of diverts.
    """
    walk = facts.walk
    if not (walk.diverts_for(dwelling.id) or walk.diverts_for(None)):
        return
    if len(_reach(walk, dwelling.id)) <= DIVERTS_MOST:
        yield HOLDS
        return
    yield from found_or_holds(
        Found(
            f"calls from {named(walk, entrance)} to {named(walk, dwelling)} are sent on more than {DIVERTS_MOST} times"
            f" ({tell_spans(week.union(span for _, at in chains for span in at))})",
            (entrance,),
        )
        for entrance in walk.entrances_serving(dwelling)
        if (chains := list(_chains(walk, entrance, dwelling, End.TOO_OFTEN)))
    )


def _reach(walk: Walk, dwelling: str) -> set[Target]:
    """Return the dwellings and desks to which diverts can lead from a dwelling, whatever cause, entrance and hour."""
    general = walk.diverts_for(None)
    seen: set[Target] = set()
    left = [Target(TargetKind.DWELLING, dwelling)]
    while left:
        at = left.pop()
        if at.kind is TargetKind.DESK:
            diverts = walk.diverts_for_desk(at.id)
        else:
            diverts = (*walk.diverts_for(at.id), *(d for d in general if d.to_desk or d.to_dwelling != at.id))
        for target in map(target_of, diverts):
            if target is not None and target not in seen:
                seen.add(target)
                left.append(target)
    return seen


def _chains(walk: Walk, entrance: Entrance, dwelling: Dwelling, end: End) -> Iterator[tuple[tuple[Target, ...], Spans]]:
    """Yield each chain of dwellings and desks through which calls to a dwelling come to such an end, and when."""
    found: dict[tuple[Target, ...], list[tuple[int, int]]] = {}
    own = Target(TargetKind.DWELLING, dwelling.id)
    for stretch in partition_of(walk, entrance, dwelling):
        for call in set(stretch.behaviour.call.walk()):
            if call.end is end:
                chain = tuple(own if target == CALLED else target for target in call.chain)
                found.setdefault(chain, []).append((stretch.start_min, stretch.end_min))
    for chain in sorted(found):
        yield chain, week.union(found[chain])


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=(*PLANNING, Phase.COMMISSIONING),
    cites=(Cite("rfc3261", "section 10, registrations: who has none cannot be reached"), PRACTICE),
    finds=Example("The unit of 102 registers with something that is not there.", put(Unit, "uru-2", registrar="gone")),
    passes=Example(
        "It does so, but the desk takes the calls of 102.",
        both(
            put(Unit, "uru-2", registrar="gone"),
            plus(Divert(id="sent-1", cause=DivertCause.ALWAYS, dwelling="flat-2", to_desk="smu-desk")),
        ),
    ),
)
def dwelling_never_rung(facts: Facts, dwelling: Dwelling) -> Said:
    """Calls from an entrance that serves a dwelling never ring anybody.

    Why it matters: visitors press its key, hear nothing but a tone, and go away; the residents never know.
    What to do: let its receivers register with a VCU or SIP server that the site has, or mend the divert.
    """
    walk = facts.walk
    units = [unit for unit in walk.units_in(dwelling.id) if unit.kind is UnitKind.URU]
    diverts = (*walk.diverts_for(dwelling.id), *walk.diverts_for(None))
    if not units and not diverts:
        return  # a dwelling without a unit has a rule of its own
    if receivers(walk, dwelling.id) and not any(divert.cause is DivertCause.ALWAYS for divert in diverts):
        yield HOLDS
        return
    never = [
        entrance
        for entrance in walk.entrances_serving(dwelling)
        if not any(s.behaviour.call.first_rung or s.behaviour.call.end is End.SILENT
                   for s in partition_of(walk, entrance, dwelling))
    ]  # fmt: skip
    if never and units and all(unit.registrar is None for unit in units):
        yield lacks(units[0], "registrar")
    elif never:
        names = some(named(walk, entrance) for entrance in never)
        yield Found(f"calls to {named(walk, dwelling)} from {names} never ring anybody")
    else:
        yield HOLDS


@rule(
    over=Timetable,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(PRACTICE,),
    finds=Example(
        "The trade release has hours for holidays, and no holidays are listed.",
        put(Timetable, "times-trade", windows=(Window(days=(0, HOLIDAY), start_min=420, end_min=600),)),
    ),
    passes=Example(
        "It has such hours, and a holiday is listed.",
        both(
            put(Timetable, "times-trade", windows=(Window(days=(0, HOLIDAY), start_min=420, end_min=600),)),
            put_site(holidays=(date(2031, 5, 1),)),
        ),
    ),
)
def holidays_not_listed(facts: Facts, timetable: Timetable) -> Said:
    """A timetable speaks of holidays, and the site lists none.

    Why it matters: units follow a list of dates; without it every holiday is a weekday to them.
    What to do: list the dates of the coming year's holidays, and plan who enters the next ones.
    """
    hours = any(HOLIDAY in window.days for window in timetable.windows)
    if not (hours or timetable.closed_on_holidays):
        return
    if facts.walk.settings().holidays:
        yield HOLDS
    else:
        says = "has hours for holidays" if hours else "is closed on holidays"
        yield Found(f"{named(facts.walk, timetable)} {says}, and the site lists none")


@rule(
    over=Timetable,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "one day, one set of hours"),),
    finds=Example(
        "The trade release is closed on holidays, and has hours for them.",
        both(
            put(
                Timetable,
                "times-trade",
                windows=(Window(days=(0, HOLIDAY), start_min=420, end_min=600),),
                closed_on_holidays=True,
            ),
            put_site(holidays=(date(2031, 5, 1),)),
        ),
    ),
    passes=Example(
        "It is closed on holidays.",
        both(put(Timetable, "times-trade", closed_on_holidays=True), put_site(holidays=(date(2031, 5, 1),))),
    ),
)
def closed_with_holiday_hours(facts: Facts, timetable: Timetable) -> Said:
    """A timetable is closed on holidays and has hours for them.

    Why it matters: who wrote the hours expects a call or a release that never comes: closed is what holds.
    What to do: take the hours of holidays out, or do not close it.
    """
    if not timetable.closed_on_holidays:
        return
    if any(HOLIDAY in window.days for window in timetable.windows):
        yield Found(f"{named(facts.walk, timetable)} is closed on holidays and has hours for them; closed holds")
    else:
        yield HOLDS
