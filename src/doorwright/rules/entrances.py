"""Entrances: each serves somebody, each dwelling has a way in, and the times and heights at them work."""

from collections.abc import Iterator
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.calling import (
    DAY_MIN,
    DAYS,
    HOLIDAY,
    Divert,
    DivertCause,
    Timetable,
    TimetablePurpose,
    Window,
)
from doorwright.model.naming import named
from doorwright.model.place import Core, Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.rules.example import as_it_is, both, plus, put, without
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds

PLANNING: Final = (Phase.PLANNING, Phase.OPERATION)
WEEK_MIN: Final = 7 * DAY_MIN

VCU_HEIGHT_MM: Final = (750, 1200)
"""Approved Document M volume 2, paragraph 4.30: fine-hand controls 750 to 1200 mm, push buttons up to 1200 mm. It lies
within ADA 308.2.1 and 308.3.1, 380 to 1220 mm."""
URU_HEIGHT_MM: Final = (450, 1200)
"""Approved Document M volume 1, switches and sockets in dwellings."""


@rule(
    over=Entrance,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("iec62820-3-1"), Cite("practice")),
    finds=Example("The gate serves no dwelling any more.", put(Entrance, "entrance-gate", serves_dwellings=())),
    passes=Example(
        "The gate serves no dwelling, but calls the desk.",
        put(Entrance, "entrance-gate", serves_dwellings=(), calls_desk=True),
    ),
)
def entrance_serves_nobody(facts: Facts, entrance: Entrance) -> Said:
    """Nobody can be called from an entrance.

    Why it matters: visitors stand before a unit that reaches no one; most often an answer is missing from the survey.
    What to do: say which buildings, cores or dwellings it serves, or that it calls the desk.
    """
    if entrance.calls_desk or facts.walk.dwellings_served(entrance):
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, entrance)} serves no dwelling and does not call the desk")


@rule(
    over=Core,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-3-1"), Cite("practice")),
    finds=Example(
        "The three entrances serve every dwelling but 101.",
        both(
            put(Entrance, "entrance-main", serves_buildings=(), serves_dwellings=("flat-2", "flat-3", "flat-4")),
            put(Entrance, "entrance-rear", serves_cores=(), serves_dwellings=("flat-2", "flat-3", "flat-4")),
            put(Entrance, "entrance-gate", serves_dwellings=("flat-2", "flat-3", "flat-4")),
        ),
    ),
    passes=Example("Only the main entrance is left.", without(Entrance, "entrance-rear", "entrance-gate")),
)
def dwelling_without_entrance(facts: Facts, core: Core) -> Said:
    """No entrance serves a dwelling.

    Why it matters: visitors cannot call it from anywhere.
    What to do: let an entrance serve the dwelling, its core or its building.
    """
    walk = facts.walk
    if walk.entrances_naming(core.id) or walk.entrances_naming(core.building):
        yield HOLDS
        return
    yield from found_or_holds(
        Found(f"{named(walk, dwelling)} is served by no entrance", (dwelling,))
        for dwelling in walk.dwellings_of_core(core.id)
        if not walk.entrances_naming(dwelling.id)
    )


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "references of a plan lead somewhere"),),
    finds=Example("Dwelling 101 names a core that is not there.", put(Dwelling, "flat-1", core="core-z")),
    passes=Example("Dwelling 101 is in core A.", as_it_is),
)
def dwelling_nowhere(facts: Facts, dwelling: Dwelling) -> Said:
    """A dwelling is in a core that the site does not have.

    Why it matters: entrances serve buildings and cores; a dwelling outside all of them is served by accident or not.
    What to do: correct the dwelling's core, or add the core.
    """
    if facts.walk.find(Core, dwelling.core) is None:
        yield Found(f"{named(facts.walk, dwelling)} is in core {dwelling.core!r}, which the site does not have")
    else:
        yield HOLDS


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-1", "user receiver unit"), Cite("practice")),
    finds=Example("Dwelling 102 loses its unit.", without(Unit, "uru-2")),
    passes=Example("Dwelling 101 keeps one of its two units.", without(Unit, "uru-1b")),
)
def dwelling_without_uru(facts: Facts, dwelling: Dwelling) -> Said:
    """A dwelling has no user receiver unit.

    Why it matters: calls to it ring nowhere, and nobody in it can open the door.
    What to do: add a unit, or take the dwelling out of the plan if it is answered elsewhere.
    """
    if facts.walk.units_in(dwelling.id):
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, dwelling)} has no user receiver unit")


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-1", "security management unit"), Cite("practice")),
    finds=Example("The desk is taken away.", without(Unit, "smu-desk")),
    passes=Example(
        "The desk is taken away, and the main entrance calls none.",
        both(without(Unit, "smu-desk"), put(Entrance, "entrance-main", calls_desk=False)),
    ),
)
def entrance_calls_missing_desk(facts: Facts, entrance: Entrance) -> Said:
    """An entrance calls a desk, and the site has none.

    Why it matters: visitors press the key of a porter who cannot hear them.
    What to do: add the desk's unit (SMU), or say that the entrance calls no desk.
    """
    if not entrance.calls_desk or facts.walk.units_of_kind(UnitKind.SMU):
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, entrance)} calls the desk, and the site has no desk unit (SMU)")


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-1", "visitor call unit"), Cite("practice")),
    finds=Example("The gate loses its unit.", without(Unit, "vcu-gate")),
    passes=Example("Each entrance has a unit.", as_it_is),
)
def entrance_without_vcu(facts: Facts, entrance: Entrance) -> Said:
    """An entrance has no visitor call unit.

    Why it matters: visitors cannot call anyone there.
    What to do: add a unit, or take the entrance out of the plan if it is no way in for visitors.
    """
    if facts.walk.units_at(entrance.id):
        yield HOLDS
    else:
        yield Found(f"{named(facts.walk, entrance)} has no visitor call unit")


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-1", "kinds of unit"), Cite("practice", "references of a plan lead somewhere")),
    finds=Example("The unit of dwelling 102 names no dwelling.", put(Unit, "uru-2", dwelling=None)),
    passes=Example("A VCU stands at an entrance, a URU in a dwelling, the SMU in an office.", as_it_is),
)
def unit_belongs_nowhere(facts: Facts, unit: Unit) -> Said:
    """A unit belongs to no entrance or dwelling of the site.

    Why it matters: nobody knows where to mount it, whom it calls or for whom it answers, and most checks pass it by.
    What to do: give a visitor call unit its entrance, a user receiver unit its dwelling.
    """
    walk = facts.walk
    if unit.kind is UnitKind.SMU:
        return
    if unit.kind is UnitKind.VCU:
        word, named_ident, home = "entrance", unit.entrance, walk.find(Entrance, unit.entrance) is not None
    else:
        word, named_ident, home = "dwelling", unit.dwelling, walk.find(Dwelling, unit.dwelling) is not None
    if home:
        yield HOLDS
    elif named_ident:
        yield Found(f"{named(walk, unit)} belongs to {word} {named_ident!r}, which the site does not have")
    else:
        yield Found(f"{named(walk, unit)} belongs to no {word}")


@rule(
    over=Timetable,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("iec62820-1-1", "security management unit"), Cite("practice")),
    finds=Example("Calls divert to the unit of dwelling 101.", put(Timetable, "times-desk", divert_to="uru-1")),
    passes=Example(
        "It names no desk, and a divert of 102 uses its hours.",
        both(
            put(Timetable, "times-desk", divert_to=None),
            plus(
                Divert(
                    id="sent-1",
                    cause=DivertCause.ALWAYS,
                    dwelling="flat-2",
                    timetable="times-desk",
                    to_desk="smu-desk",
                )
            ),
        ),
    ),
)
def divert_to_no_desk(facts: Facts, timetable: Timetable) -> Said:
    """Calls divert to something that is no desk.

    Why it matters: during these hours calls go nowhere, or to a home that did not ask for them.
    What to do: name the desk (SMU) that takes the calls. A timetable without a desk is in order where a divert or a
    release right uses its hours.
    """
    if timetable.purpose is not TimetablePurpose.DIVERT:
        return
    desk = facts.walk.find(Unit, timetable.divert_to)
    if desk is not None and desk.kind is UnitKind.SMU:
        yield HOLDS
    elif desk is not None:
        yield Found(f"{named(facts.walk, timetable)} diverts to {named(facts.walk, desk)}, which is no desk", (desk,))
    elif timetable.divert_to:
        yield Found(f"{named(facts.walk, timetable)} diverts to {timetable.divert_to!r}, which the site does not have")
    elif facts.walk.users_of_hours(timetable.id):
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, timetable)} does not say which desk takes the calls, and no divert or right uses it"
        )


@rule(
    over=Timetable,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "a week has seven days, a day 1440 minutes"),),
    finds=Example("The trade release is left without windows.", put(Timetable, "times-trade", windows=())),
    passes=Example(
        "The trade release runs from 22:00 over midnight.",
        put(Timetable, "times-trade", windows=(Window(days=(0, 1), start_min=22 * 60, end_min=60),)),
    ),
)
def timetable_never_works(facts: Facts, timetable: Timetable) -> Said:
    """A timetable has no window, or one that cannot be.

    Why it matters: what it promises never happens, or the unit refuses the setting on site.
    What to do: give it windows with at least one day and times within the day.
    """
    if not timetable.windows:
        yield Found(f"{named(facts.walk, timetable)} has no window")
        return
    yield from found_or_holds(
        Found(
            f"{named(facts.walk, timetable)}: window {number} has days {window.days}, from minute {window.start_min}"
            f" to {window.end_min}; days are 0 to {HOLIDAY}, a holiday, minutes 0 to {DAY_MIN}"
        )
        for number, window in enumerate(timetable.windows, start=1)
        if not _possible(window)
    )


def _possible(window: Window) -> bool:
    days = bool(window.days) and all(0 <= day < len(DAYS) for day in window.days)
    return days and 0 <= window.start_min < DAY_MIN and 0 <= window.end_min <= DAY_MIN


@rule(
    over=Entrance,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("practice", "one purpose, one set of hours"),),
    finds=Example(
        "A second window of the trade release begins before the first ends.",
        put(
            Timetable,
            "times-trade",
            windows=(Window(days=(0,), start_min=420, end_min=600), Window(days=(0,), start_min=540, end_min=660)),
        ),
    ),
    passes=Example(
        "The second window begins when the first ends.",
        put(
            Timetable,
            "times-trade",
            windows=(Window(days=(0,), start_min=420, end_min=600), Window(days=(0,), start_min=600, end_min=660)),
        ),
    ),
)
def timetable_windows_overlap(facts: Facts, entrance: Entrance) -> Said:
    """Two windows for one purpose overlap at an entrance.

    Why it matters: units treat overlaps differently, some end at the first end; where calls divert to two desks at one
    time, nobody can say which answers.
    What to do: join the windows, or let one end where the next begins.
    """
    spans: dict[TimetablePurpose, list[tuple[int, int, Timetable]]] = {}
    for timetable in facts.walk.timetables_of(entrance.id):
        spans.setdefault(timetable.purpose, []).extend(_spans(timetable))
    if spans:
        yield from found_or_holds(
            Found(
                f"{named(facts.walk, entrance)}: windows in which {purpose} overlap:"
                f" {' and '.join(sorted({first.name, second.name}))}"
                f" on {DAYS[start_min // DAY_MIN]} at {_clock(start_min)}",
                tuple(dict.fromkeys((first, second))),
            )
            for purpose, weekly in spans.items()
            for start_min, first, second in _overlaps(weekly)
        )


def _spans(timetable: Timetable) -> Iterator[tuple[int, int, Timetable]]:
    """Yield when each window begins and ends, in minutes of the week; one that runs past its end is cut in two."""
    for window in filter(_possible, timetable.windows):
        overnight_min = DAY_MIN if window.end_min <= window.start_min else 0
        for day in window.days:
            start_min = day * DAY_MIN + window.start_min
            end_min = day * DAY_MIN + window.end_min + overnight_min
            if day == HOLIDAY and timetable.closed_on_holidays:
                continue
            if day == HOLIDAY:  # stands behind the week; which weekday comes next nobody knows
                yield start_min, min(end_min, WEEK_MIN + DAY_MIN), timetable
                continue
            yield start_min, min(end_min, WEEK_MIN), timetable
            if end_min > WEEK_MIN:
                yield 0, end_min - WEEK_MIN, timetable


def _overlaps(weekly: list[tuple[int, int, Timetable]]) -> Iterator[tuple[int, Timetable, Timetable]]:
    ordered = sorted(weekly, key=lambda span: (span[0], span[1], span[2].id))
    reach_min, last = -1, None
    for start_min, end_min, timetable in ordered:
        if last is not None and start_min < reach_min:
            yield start_min, last, timetable
        if end_min > reach_min:
            reach_min, last = end_min, timetable


def _clock(minute: int) -> str:
    return f"{minute % DAY_MIN // 60:02d}:{minute % 60:02d}"


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING, Phase.INSTALLATION),
    cites=(
        Cite("ad-m", "volume 2, paragraph 4.30; volume 1, switches and sockets"),
        Cite("ada", "308.2.1, 308.3.1"),
        Cite("bs8300", "10.5.2 of the 2001 edition"),
    ),
    finds=Example("The highest control of the main unit is at 1500 mm.", put(Unit, "vcu-main", height_mm=1500)),
    passes=Example("It is at 1200 mm.", put(Unit, "vcu-main", height_mm=1200)),
)
def control_out_of_reach(facts: Facts, unit: Unit) -> Said:
    """The controls of a unit are mounted out of reach.

    Why it matters: visitors and residents who sit in a wheelchair, are short, or cannot bend or stretch cannot use it.
    What to do: mount the highest control within the range. Approved Document M asks for 900 to 1000 mm at communal
    entrances of accessible homes, ADA for 380 to 1220 mm; the local code decides.
    """
    if unit.kind is UnitKind.SMU:
        return
    if unit.height_mm is None:
        yield lacks(unit, "height")
        return
    low_mm, high_mm = VCU_HEIGHT_MM if unit.kind is UnitKind.VCU else URU_HEIGHT_MM
    if low_mm <= unit.height_mm <= high_mm:
        yield HOLDS
    else:
        yield Found(
            f"{named(facts.walk, unit)}: highest control at {unit.height_mm} mm, commonly {low_mm} to {high_mm} mm;"
            " the local code decides"
        )
