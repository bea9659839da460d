"""On drawn sites the actors, who know only their own settings and the wire, do what the call-path proof says."""

from dataclasses import replace
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.door import ReleaseRight
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse.building import Building
from doorwright.rehearse.observed import told_outcome, told_play
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import rehearse
from tests.rehearsal.yard import YARD

HOMES = tuple(f"home-{number}" for number in (1, 2, 3, 4))
GATES = ("gate", "porch")
HOURS = ("t0", "t1")
SERVER = SipServer(id="server", name="Server", address="192.0.2.5", registrations_max=50)

maybe_home = st.none() | st.sampled_from(HOMES)
windows = st.builds(
    Window,
    days=st.lists(st.integers(0, 7), min_size=1, max_size=4, unique=True).map(lambda days: tuple(sorted(days))),
    start_min=st.sampled_from((0, 60, 480, 1200)),
    end_min=st.sampled_from((60, 480, 1080, 1440)),
)


@st.composite
def diverts(draw: st.DrawFn, ident: str) -> Divert:
    """Draw a divert for a home, the desk, or everybody."""
    to_desk = draw(st.booleans())
    return Divert(
        id=ident,
        cause=draw(st.sampled_from(list(DivertCause))),
        dwelling=draw(maybe_home),
        entrance=draw(st.none() | st.sampled_from(GATES)),
        timetable=draw(st.none() | st.sampled_from(HOURS)),
        to_desk="smu" if to_desk else None,
        to_dwelling=None if to_desk else draw(st.sampled_from(HOMES)),
    )


@st.composite
def sites(draw: st.DrawFn) -> Site:
    """Draw how the yard rings, diverts, opens and frees, and whether it has a server."""
    served = draw(st.booleans())
    tables: dict[Any, tuple[Any, ...]] = {
        Divert: tuple(draw(diverts(f"d{number}")) for number in range(draw(st.integers(0, 4)))),
        Timetable: tuple(
            Timetable(
                id=ident, name=ident, entrance=draw(st.sampled_from(GATES)),
                purpose=draw(st.sampled_from(list(TimetablePurpose))),
                windows=tuple(draw(st.lists(windows, max_size=2))), divert_to=draw(st.none() | st.just("smu")),
                closed_on_holidays=draw(st.booleans()),
            )
            for ident in HOURS
        ),
        ReleaseRight: tuple(
            ReleaseRight(
                id=f"r{number}", door=draw(st.sampled_from(("door-gate", "door-porch", "door-store"))),
                dwellings=tuple(draw(st.lists(st.sampled_from(HOMES), unique=True, max_size=2))),
                cores=draw(st.sampled_from(((), ("core",)))), desks=draw(st.sampled_from(((), ("smu",)))),
                timetable=draw(st.none() | st.sampled_from(HOURS)),
            )
            for number in range(draw(st.integers(0, 2)))
        ),
        Dwelling: tuple(
            replace(
                home, ring_mode=draw(st.none() | st.sampled_from(list(RingMode))), ring_s=draw(st.none() | st.just(30))
            )
            for home in YARD.dwellings
        ),
        Entrance: tuple(
            replace(
                entrance, calls_desk=draw(st.booleans()),
                serves_buildings=draw(st.sampled_from((("house",), ()))),
                serves_dwellings=tuple(draw(st.lists(st.sampled_from(HOMES), unique=True, max_size=2))),
            )
            for entrance in YARD.entrances
        ),
    }  # fmt: skip
    if served:
        to_server = ("vcu-gate", "vcu-porch", "smu", "uru-1", "uru-2", "uru-3", "uru-4")
        both = draw(st.booleans())  # whether 02's second receiver registers with the server, too
        tables[SipServer] = (SERVER,)
        tables[Unit] = tuple(
            replace(unit, registrar="server") if unit.id in to_server or both else unit for unit in YARD.units
        )
    return YARD.with_tables(tables)


@settings(max_examples=25)
@given(sites())
def test_what_happens_is_what_is_proved(site: Site) -> None:
    walk = Walk(site)
    plan = planned(walk)
    made = rehearse(walk, prove(walk), plan, Building(plan.boxes.values(), plan.nets))
    assert all(actor.registered is not False for actor in made.building.actors.values())
    otherwise = [
        f"{one.play.unit} {told_play(walk, one.play)}: {told_outcome(walk, one.play.expected)} | "
        f"{told_outcome(walk, one.happened)}"
        for one in made.differing
    ]
    assert otherwise == []


BROKEN = st.fixed_dictionaries(
    {},
    optional={
        "address": st.sampled_from((None, "", "192.0.2.10", "198.51.100.11", "2001:db8::7", "nowhere")),
        "subnet": st.sampled_from((None, "net-doors", "net-homes", "gone")),
        "registrar": st.sampled_from((None, "gone", "vcu-gate", "uru-1", "uru-2", "vcu-porch", "smu")),
        "dwelling": st.sampled_from((None, "home-1", "gone")),
        "call_number": st.sampled_from((None, "01", "90", "9 0;x=<1>", "#é")),
        "position": st.sampled_from((None, 0, 1)),
        "entrance": st.sampled_from((None, "gate", "gone")),
        "profile": st.sampled_from(("gate", "gone")),
    },
)


@settings(max_examples=25)
@given(st.lists(BROKEN, min_size=len(YARD.units), max_size=len(YARD.units)))
def test_a_damaged_plan_is_rehearsed_as_far_as_it_goes(damage: list[dict[str, Any]]) -> None:
    units = tuple(replace(unit, **values) for unit, values in zip(YARD.units, damage, strict=True))
    walk = Walk(YARD.with_tables({Unit: units}))
    plan = planned(walk)
    made = rehearse(walk, prove(walk), plan, Building(plan.boxes.values(), plan.nets))
    assert plan.boxes.keys() | {one.id for one in plan.left_out} >= {unit.id for unit in units}
    assert all(told_play(walk, one.play) and told_outcome(walk, one.happened) for one in made.played)
