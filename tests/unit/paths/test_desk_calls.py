"""Calls to a desk, by its key or its number, written out by hand on the sound site."""

from dataclasses import replace
from typing import Any

import pytest

from doorwright.model.calling import Divert, DivertCause, Timetable, TimetablePurpose, Window
from doorwright.model.door import ReleaseRight
from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.unit import Key, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.paths.call import CALLED, End, Stage, Target, TargetKind
from doorwright.paths.doubts import doubts
from doorwright.paths.follow import desks_called
from doorwright.paths.proof import Proof, prove
from doorwright.paths.week import day_index
from doorwright.rules.example import both, plus, put
from doorwright.rules.sound import sound_site

DESK, NIGHT = Target(TargetKind.DESK, "smu-desk"), Target(TargetKind.DESK, "smu-night")
MON = day_index(0)
NIGHT_DESK = Unit(id="smu-night", name="Night desk", kind=UnitKind.SMU, profile="smu-desk", registrar="vcu-main")
NIGHT_HOURS = Timetable(
    id="night", name="Night", entrance="entrance-main", purpose=TimetablePurpose.DIVERT,
    windows=(Window(days=tuple(range(7)), start_min=1320, end_min=360),),
)  # fmt: skip


def bare(**values: Any) -> Site:
    return replace(sound_site(), **({"diverts": (), "rights": (), "timetables": ()} | values))


def sent(ident: str, cause: DivertCause, **values: Any) -> Divert:
    return Divert(id=ident, cause=cause, **values)


def proved(site: Site) -> tuple[Walk, Proof]:
    walk = Walk(site)
    return walk, prove(walk)


def at(proof: Proof, minute: int, entrance: str = "entrance-main", desk: str = "smu-desk") -> Any:
    return proof.entrances[entrance].desk_calls(desk).at(MON * 1440 + minute)


def test_the_desk_is_called_by_its_key_and_by_its_number() -> None:
    walk, proof = proved(bare())
    assert {ident: tuple(calls.desk for calls in one.desks) for ident, one in proof.entrances.items()} == {
        "entrance-main": ("smu-desk",), "entrance-rear": (), "entrance-gate": (),
    }  # fmt: skip
    keyed = both(
        plus(Key(id="k", unit="vcu-rear", module=0, slot=1, desk="smu-desk"), NIGHT_DESK),
        put(Entrance, "entrance-gate", calls_desk=True),
    )(bare())
    walk = Walk(keyed)
    called = {e.id: desks_called(walk, e) for e in walk.all(Entrance)}
    assert called == {
        "entrance-main": ("smu-desk", "smu-night"),  # said to call the desk: every desk
        "entrance-rear": ("smu-desk",),  # has its key
        "entrance-gate": ("smu-desk", "smu-night"),
    }


def test_a_desk_rings_for_the_sites_seconds_and_may_free_the_door() -> None:
    _, proof = proved(bare())
    found = at(proof, 720)
    assert (found.call.target, found.call.stages) == (DESK, (Stage(None, 30),))
    assert found.frees[0].doors == ("door-main",)  # no right: the desk that is called may free it
    with pytest.raises(LookupError, match="does not call desk"):
        proof.desk_stretches("entrance-rear", "smu-desk")


def test_a_desk_without_the_right_may_not() -> None:
    _, proof = proved(bare(rights=(ReleaseRight(id="r", door="door-main", cores=("core-a",)),)))
    assert at(proof, 720).frees[0].doors == ()


def test_call_hours_hold_for_the_desk_too() -> None:
    hours = replace(
        NIGHT_HOURS, purpose=TimetablePurpose.CALL, windows=(Window(days=(0,), start_min=480, end_min=600),)
    )
    _, proof = proved(bare(timetables=(hours,)))
    assert at(proof, 479).call.end is End.SILENT
    assert at(proof, 480).call.target == DESK
    assert at(proof, 600).call.end is End.SILENT


def test_a_timetable_that_diverts_takes_the_calls_of_the_desk_key() -> None:
    site = bare(timetables=(replace(NIGHT_HOURS, divert_to="smu-night"),))
    _, proof = proved(plus(NIGHT_DESK)(site))
    assert at(proof, 1319).call.target == DESK
    assert at(proof, 1320).call.target == NIGHT


def test_the_desks_own_diverts_by_night_on_no_answer_and_unregistered() -> None:
    diverts = (
        sent("d1", DivertCause.ALWAYS, desk="smu-desk", timetable="night", to_desk="smu-night"),
        sent("d2", DivertCause.NO_ANSWER, desk="smu-desk", to_dwelling="flat-1"),
    )
    _, proof = proved(plus(NIGHT_DESK)(bare(diverts=diverts, timetables=(NIGHT_HOURS,))))
    assert at(proof, 1320).call.target == NIGHT
    by_day = at(proof, 720).call
    assert by_day.no_answer.target == Target(TargetKind.DWELLING, "flat-1")
    # divert timetables that name no desk divert nothing of themselves
    assert proof.at("entrance-main", "flat-2", MON, 1320).call.target == CALLED


def test_an_unregistered_desk_is_unheard_and_then_sent_on() -> None:
    site = put(Unit, "smu-desk", registrar="gone")(bare())
    _, proof = proved(site)
    assert at(proof, 720).call.end is End.UNHEARD
    (found,) = [one for one in proof.unreached if one.desk is not None]
    assert (found.entrance, found.desk, found.dwellings, found.ever) == ("entrance-main", "smu-desk", (), False)
    heard = plus(sent("d", DivertCause.NOT_REGISTERED, desk="smu-desk", to_dwelling="flat-1"))(site)
    assert at(prove(Walk(heard)), 720).call.first_rung == Target(TargetKind.DWELLING, "flat-1")


def test_diverts_for_all_dwellings_are_not_for_desks() -> None:
    _, proof = proved(bare(diverts=(sent("d", DivertCause.ALWAYS, to_dwelling="flat-1"),)))
    assert at(proof, 720).call.target == DESK


def test_a_call_that_comes_to_a_desk_meets_the_desks_diverts() -> None:
    diverts = (
        sent("d1", DivertCause.NO_ANSWER, dwelling="flat-1", to_desk="smu-desk"),
        sent("d2", DivertCause.NO_ANSWER, desk="smu-desk", to_dwelling="flat-2"),
        sent("d3", DivertCause.NO_ANSWER, dwelling="flat-2", to_desk="smu-desk"),
    )
    _, proof = proved(bare(diverts=diverts))
    call = proof.at("entrance-rear", "flat-1", MON, 720).call
    way = [call.target, call.no_answer.target, call.no_answer.no_answer.target]  # type: ignore[union-attr]
    assert way == [CALLED, DESK, Target(TargetKind.DWELLING, "flat-2")]
    loop = call.no_answer.no_answer.no_answer  # type: ignore[union-attr]
    assert loop is not None
    assert (loop.end, loop.chain) == (End.LOOP, (DESK, Target(TargetKind.DWELLING, "flat-2"), DESK))
    # the dwelling whose call comes back is told as the one called
    own = proof.at("entrance-rear", "flat-2", MON, 720).call
    assert own.no_answer.no_answer.chain == (CALLED, DESK, CALLED)  # type: ignore[union-attr]


def test_a_key_that_names_no_desk_rings_nobody() -> None:
    site = plus(Key(id="k", unit="vcu-rear", module=0, slot=1, desk="uru-1"))(bare())
    _, proof = proved(site)
    assert at(proof, 720, "entrance-rear", "uru-1").call.end is End.NOBODY


def test_doubts_of_many_entrances_and_dwellings_are_one_line() -> None:
    entrances = tuple(
        Entrance(id=f"e{n}", name=f"Entrance {n}", serves_buildings=("building-1",), calls_desk=True) for n in range(40)
    )
    site = replace(put(Unit, "smu-desk", registrar="gone")(bare()), entrances=entrances, doors=())
    site = plus(*(sent(f"d{n}", DivertCause.ALWAYS, dwelling=f"flat-{n}", to_desk="gone") for n in (1, 2)))(site)
    walk, proof = proved(site)
    told = doubts(walk, proof, entrances=[e.id for e in entrances], concerns=lambda _homes, _desk: True)
    names = "Entrance 0, Entrance 1, Entrance 2, Entrance 3, Entrance 4, Entrance 5 and 34 more"
    assert told == (
        f"calls from {names} to 101, 102 ring nobody ever",
        f"calls from {names} to desk Desk ring nobody ever",
    )
    (one,) = doubts(walk, proof, entrances=["e1"], concerns=lambda _homes, desk: desk is not None)
    assert one == "calls from Entrance 1 to desk Desk ring nobody ever"
