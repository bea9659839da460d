"""The proof of the call paths against a plain walk through every minute, written from docs/explain/call-paths.md alone.

The walk knows nothing of spans, kinds or groups. It asks of each of the 28 x 1440 minutes which timetables hold, and
follows the call anew for every state of them.
"""

from collections.abc import Iterator
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, ReleaseRight
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Key, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.call import Call, End, Target, TargetKind
from doorwright.paths.proof import Proof, prove, prove_entrance
from doorwright.paths.telling import tell_spans

HOL = 7
MINUTES = 1440
HOMES = ("h0", "h1", "h2", "h3", "h4")
CORE_OF = {"h0": "ca", "h1": "ca", "h2": "cb", "h3": "cb", "h4": "cc"}
BUILDING_OF = {"ca": "b1", "cb": "b1", "cc": "b2"}
ENTRANCES = ("e0", "e1")
DOORS = ("d0", "d1", "d2")
DESKS = ("s0", "s1", "s2")
TIMES = ("t0", "t1", "t2", "t3")


# the plain walk


def holds(timetable: Timetable, weekday: int, holiday: bool, after_holiday: bool) -> bytes:
    """Whether a timetable holds in each minute of such a day."""

    def windows_of(day: int, is_holiday: bool) -> list[Window]:
        if is_holiday and timetable.closed_on_holidays:
            return []
        named = [w for w in timetable.windows if HOL in w.days]
        return named if is_holiday and named else [w for w in timetable.windows if day in w.days]

    minutes = bytearray(MINUTES)
    for minute in range(MINUTES):
        for window in windows_of(weekday, holiday):
            if window.end_min > window.start_min:
                minutes[minute] |= window.start_min <= minute < window.end_min
            else:
                minutes[minute] |= minute >= window.start_min
        for window in windows_of((weekday - 1) % 7, after_holiday):
            if window.end_min <= window.start_min:
                minutes[minute] |= minute < window.end_min
    return bytes(minutes)


def axis(timetable: Timetable) -> bytes:
    kinds = [(h, a, d) for a in (False, True) for h in (False, True) for d in range(7)]
    return b"".join(holds(timetable, d, h, a) for h, a, d in kinds)


class Plain:
    """Follows one call by the letter of the written rules."""

    def __init__(self, site: Site) -> None:
        self.site = site
        self.dwelling = {d.id: d for d in site.dwellings}
        self.unit = {u.id: u for u in site.units}

    def registers(self, unit: Unit) -> bool:
        for _ in range(len(self.unit) + 1):
            if unit.kind is UnitKind.VCU:
                return True
            if unit.registrar not in self.unit:
                return False
            unit = self.unit[unit.registrar]
        return False

    def is_for(self, divert: Divert, at: str) -> bool:
        if at in self.dwelling:
            return divert.dwelling == at or (divert.dwelling is None and divert.desk is None)
        return divert.dwelling is None and divert.desk == at

    def best(self, cause: DivertCause, entrance: str, home: str, now: set[str]) -> Divert | None:
        fitting = [
            d
            for d in self.site.diverts
            if d.cause is cause
            and self.is_for(d, home)
            and (d.entrance is None or d.entrance == entrance)
            and (d.timetable is None or d.timetable in now)
            and not (d.dwelling is None and d.desk is None and d.to_desk is None and d.to_dwelling == home)
        ]
        for with_home, with_entrance in ((True, True), (True, False), (False, True), (False, False)):
            for timed in (True, False):
                level = [
                    d
                    for d in fitting
                    if (d.dwelling is not None, d.entrance is not None, d.timetable is not None)
                    == (with_home, with_entrance, timed)
                ]
                if level:
                    return min(level, key=lambda d: (d.to_desk or "", d.to_dwelling or "", d.timetable or "", d.id))
        return None

    def call(self, entrance: Entrance, home: str, now: set[str]) -> tuple[Any, ...]:
        mine = sorted((t for t in self.site.timetables if t.entrance == entrance.id), key=lambda t: t.name)
        hours = [t for t in mine if t.purpose is TimetablePurpose.CALL]
        if hours and all(t.id not in now for t in hours):
            return ("silent",)
        for t in mine:
            if t.purpose is TimetablePurpose.DIVERT and t.id in now and t.divert_to:
                return self.at(entrance, [t.divert_to], now)
        return self.at(entrance, [home], now)

    def there(self, ident: str) -> bool:
        return ident in self.dwelling or (ident in self.unit and self.unit[ident].kind is UnitKind.SMU)

    def at(self, entrance: Entrance, way: list[str], now: set[str]) -> tuple[Any, ...]:
        at = way[-1]
        if not self.there(at):
            return ("nobody",)
        always = self.best(DivertCause.ALWAYS, entrance.id, at, now)
        if always is not None:
            return self.send(always, entrance, way, now)
        if at in self.unit:
            ringing = [self.unit[at]] if self.registers(self.unit[at]) else []
        else:
            ringing = [u for u in self.site.units if u.dwelling == at and self.registers(u)]
        after = {}
        for cause in (DivertCause.NO_ANSWER, DivertCause.BUSY, DivertCause.NOT_REGISTERED):
            divert = self.best(cause, entrance.id, at, now)
            if divert is not None and (ringing or cause is DivertCause.NOT_REGISTERED):
                after[cause.value] = self.send(divert, entrance, way, now)
        if not ringing:
            return ("unheard", at, after)
        if at in self.unit:
            return ("rings", at, self.site.choices.ring_s, "all", after)
        home = self.dwelling[at]
        seconds = self.site.choices.ring_s if home.ring_s is None else home.ring_s
        mode = home.ring_mode or self.site.choices.ring_mode
        together = mode is RingMode.TOGETHER
        return ("rings", home.id, seconds, "all" if together else len(ringing), after)

    def send(self, divert: Divert, entrance: Entrance, way: list[str], now: set[str]) -> tuple[Any, ...]:
        target = divert.to_desk if divert.to_desk is not None else divert.to_dwelling
        known = self.dwelling if divert.to_desk is None else self.unit
        if target is None or target not in known or not self.there(target):
            return ("nobody",)
        if target in way:
            return ("loop", *way[way.index(target) :], target)
        if len(way) == 6:  # sent on five times
            return ("too often", *way, target)
        return self.at(entrance, [*way, target], now)

    def may_free(self, door: Door, who: str, entrance: Entrance, now: set[str]) -> bool:
        rights = [r for r in self.site.rights if r.door == door.id]
        core = CORE_OF.get(who, "")
        building = BUILDING_OF.get(core, "")
        if rights:
            return any(
                who in (*r.desks, *r.dwellings) or core in r.cores or building in r.buildings
                for r in rights
                if r.timetable is None or r.timetable in now
            )
        if who in DESKS:
            return who in desks_of(self.site, entrance)
        return who in served(entrance)


def served(entrance: Entrance) -> list[str]:
    return [
        home
        for home in HOMES
        if home in entrance.serves_dwellings
        or CORE_OF[home] in entrance.serves_cores
        or BUILDING_OF[CORE_OF[home]] in entrance.serves_buildings
    ]


def desks_of(site: Site, entrance: Entrance) -> set[str]:
    units = [u.id for u in site.units if u.entrance == entrance.id]
    keyed = {key.desk for key in site.keys if key.unit in units and key.desk is not None}
    return keyed | ({u.id for u in site.units if u.kind is UnitKind.SMU} if entrance.calls_desk else set())


def answerers(call: tuple[Any, ...]) -> Iterator[str]:
    if call[0] == "rings":
        yield call[1]
    if isinstance(call[-1], dict):
        for after in call[-1].values():
            yield from answerers(after)


# what the proof says, in the same form


def plainly(call: Call, home: str) -> tuple[Any, ...]:
    def name(target: Target | None) -> str:
        assert target is not None
        return home if target.kind is TargetKind.CALLED else target.id

    words = {End.SILENT: "silent", End.NOBODY: "nobody", End.LOOP: "loop", End.TOO_OFTEN: "too often"}
    if call.end in words:
        return (words[call.end], *map(name, call.chain))
    after = {cause.value: plainly(then, home) for cause, then in call.branches}
    if call.end is End.UNHEARD:
        return ("unheard", name(call.target), after)
    seconds = call.stages[0].ring_s
    many = "all" if call.stages[0].nth is None else len(call.stages)
    assert many == "all" or [stage.nth for stage in call.stages] == list(range(len(call.stages)))
    return ("rings", name(call.target), seconds, many, after)


# small sites at random

minutes = st.sampled_from((0, 60, 480, 481, 720, 1080, 1439)) | st.integers(0, 1439)
windows = st.builds(
    Window,
    days=st.lists(st.integers(0, 7), min_size=1, max_size=5, unique=True).map(tuple),
    start_min=minutes,
    end_min=minutes | st.just(1440),
)
times = st.none() | st.sampled_from((*TIMES, "t-gone"))


@st.composite
def sites(draw: st.DrawFn) -> Site:
    def some(values: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(draw(st.lists(st.sampled_from(values), unique=True, max_size=2)))

    units = [
        Unit(id=ident, name=ident, kind=UnitKind.VCU, profile="p", entrance=entrance)
        for ident, entrance in (("v", "e0"), ("w", "e0"), ("x", "e1"))
    ]
    for home in HOMES:
        count = draw(st.integers(0, 3))
        for i in range(count):
            registrar = draw(st.sampled_from(("v", "v", "v", None, "gone", f"{home}-0")))
            units.append(
                Unit(
                    id=f"{home}-{i}", name=f"{home} {i}", kind=UnitKind.URU, profile="p", dwelling=home, position=i,
                    registrar=registrar,
                )
            )  # fmt: skip
    units += [
        Unit(id=desk, name=desk, kind=UnitKind.SMU, profile="p", registrar=registrar)
        for desk, registrar in (("s0", "v"), ("s1", "v"), ("s2", None))
    ]
    to_desk = st.sampled_from((*DESKS, "gone", "h0-0"))
    timetables = tuple(
        Timetable(
            id=ident, name=ident, entrance=draw(st.sampled_from((*ENTRANCES, "elsewhere"))),
            purpose=draw(st.sampled_from(list(TimetablePurpose))),
            windows=tuple(draw(st.lists(windows, max_size=3))), divert_to=draw(st.none() | to_desk),
            closed_on_holidays=draw(st.booleans()),
        )
        for ident in TIMES
    )  # fmt: skip
    diverts = []
    for i in range(draw(st.sampled_from((0, 3, 6, 12)))):
        to_home = draw(st.booleans())
        diverts.append(
            Divert(
                id=f"x{i}", cause=draw(st.sampled_from(list(DivertCause))),
                dwelling=draw(st.none() | st.none() | st.sampled_from(HOMES[:2])),
                desk=draw(st.none() | st.sampled_from((*DESKS, "gone"))),
                entrance=draw(st.none() | st.sampled_from(ENTRANCES)), timetable=draw(times),
                to_dwelling=draw(st.sampled_from((*HOMES, "gone"))) if to_home else None,
                to_desk=None if to_home else draw(st.none() | to_desk),
            )
        )  # fmt: skip
    return Site(
        name="Random",
        choices=Choices(ring_mode=draw(st.sampled_from(list(RingMode))), ring_s=25),
        buildings=tuple(Building(id=b, name=b) for b in ("b1", "b2")),
        cores=tuple(Core(id=core, name=core, building=building) for core, building in BUILDING_OF.items()),
        levels=(Level(id="l", building="b1", name="G", order=0),),
        dwellings=tuple(
            Dwelling(
                id=home, door_label=home, core=CORE_OF[home], level="l",
                ring_mode=draw(st.none() | st.sampled_from(list(RingMode))), ring_s=draw(st.none() | st.just(40)),
            )
            for home in HOMES
        ),
        entrances=tuple(
            Entrance(
                id=ident, name=ident, serves_buildings=some(("b1", "b2")), serves_cores=some(("ca", "cb", "cc")),
                serves_dwellings=some((*HOMES, "gone")), calls_desk=draw(st.booleans()),
            )
            for ident in ENTRANCES
        ),
        doors=tuple(Door(id=d, name=d, entrance=draw(st.sampled_from(ENTRANCES))) for d in DOORS),
        units=tuple(units),
        keys=tuple(
            Key(id=f"k{i}", unit=draw(st.sampled_from(("v", "w", "x"))), module=0, slot=i + 1, desk=draw(to_desk))
            for i in range(draw(st.integers(0, 3)))
        ),
        timetables=timetables,
        diverts=tuple(diverts),
        rights=tuple(
            ReleaseRight(
                id=f"r{i}", door=draw(st.sampled_from(DOORS)), buildings=some(("b1", "b2")), cores=some(("ca", "cb")),
                dwellings=some(HOMES), desks=some(DESKS), timetable=draw(times),
            )
            for i in range(draw(st.integers(0, 3)))
        ),
    )  # fmt: skip


def check_whole_week(site: Site, proof: Proof) -> None:
    plain = Plain(site)
    held = [axis(t) for t in site.timetables]
    states = list(zip(*held, strict=True))
    kept: dict[tuple[int, ...], list[int]] = {}
    for minute, state in enumerate(states):
        kept.setdefault(state, []).append(minute)
    for entrance in site.entrances:
        assert sorted(proof.entrances[entrance.id].served) == sorted(served(entrance))
        desks = desks_of(site, entrance)
        assert {calls.desk for calls in proof.entrances[entrance.id].desks} == desks
        for home in (*served(entrance), *desks):
            told: list[Any] = [None] * len(states)
            seen: dict[int, Any] = {}
            end_min = 0
            of = proof.desk_stretches if home in desks else proof.stretches
            for stretch in of(entrance.id, home):
                assert stretch.start_min == end_min
                end_min = stretch.end_min
                said = seen.get(id(stretch.behaviour))
                if said is None:
                    frees = {
                        (home if free.target.kind is TargetKind.CALLED else free.target.id): set(free.doors)
                        for free in stretch.behaviour.frees
                    }
                    said = seen[id(stretch.behaviour)] = (plainly(stretch.behaviour.call, home), frees)
                told[stretch.start_min : stretch.end_min] = [said] * (stretch.end_min - stretch.start_min)
            assert end_min == len(states) == 28 * MINUTES
            for state, at in kept.items():
                now = {t.id for t, inside in zip(site.timetables, state, strict=True) if inside}
                call = plain.call(entrance, home, now)
                frees = {
                    who: {
                        d.id for d in site.doors if d.entrance == entrance.id and plain.may_free(d, who, entrance, now)
                    }
                    for who in answerers(call)
                }
                expected = (call, frees)
                for minute in at:
                    assert told[minute] is told[at[0]] or told[minute] == expected, (entrance.id, home, minute)
                assert told[at[0]] == expected, (entrance.id, home, at[0], state)


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(sites())
def test_the_proof_says_of_every_minute_what_a_plain_walk_finds(site: Site) -> None:
    walk = Walk(site)
    proof = prove(walk)
    check_whole_week(site, proof)
    for entrance in site.entrances:
        alone = prove_entrance(walk, entrance)
        assert (alone.groups, alone.silent, alone.trade) == (
            proof.entrances[entrance.id].groups, proof.entrances[entrance.id].silent, proof.entrances[entrance.id].trade
        )  # fmt: skip
        trade = [axis(t) for t in site.timetables if t.entrance == entrance.id and "trade" in t.purpose.value]
        freed = bytearray(28 * MINUTES)
        for start_min, end_min in alone.trade:
            freed[start_min:end_min] = b"\1" * (end_min - start_min)
            assert tell_spans(alone.trade)
        assert bytes(freed) == bytes(any(minute) for minute in zip(*trade, strict=True)) if trade else not any(freed)
    for found in proof.rounds:
        assert found.chain[0] == found.chain[-1] or found.end is End.TOO_OFTEN
        assert found.spans
