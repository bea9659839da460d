"""Who rings and in which order, written out by hand on the sound site: the clauses of docs/explain/call-paths.md."""

from dataclasses import replace
from typing import Any

import pytest

from doorwright.model.calling import Divert, DivertCause, RingMode, TimetablePurpose, Window
from doorwright.model.door import ReleaseRight
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.call import CALLED, End, Stage, Target, TargetKind
from doorwright.paths.follow import receivers
from doorwright.paths.proof import Proof, prove
from doorwright.paths.telling import tell_call
from doorwright.paths.week import day_index
from doorwright.rules.example import both, plus, put
from doorwright.rules.sound import sound_site

DESK = Target(TargetKind.DESK, "smu-desk")
NOON, MIDNIGHT = 720, 0
MON, SUN = day_index(0), day_index(6)


def bare(**values: Any) -> Site:
    return replace(sound_site(), **({"diverts": (), "rights": ()} | values))


def divert(ident: str, to: str, **values: Any) -> Divert:
    target = {"to_desk": to} if to.startswith("smu") else {"to_dwelling": to}
    return Divert(id=ident, **({"cause": DivertCause.ALWAYS} | values | target))


def proved(site: Site) -> tuple[Walk, Proof]:
    walk = Walk(site)
    return walk, prove(walk)


def test_inside_a_divert_timetable_the_desk_rings_alone_and_outside_the_dwelling() -> None:
    _, proof = proved(bare())  # desk hours: Mon-Fri 08:00-18:00 at the main entrance
    by_day = proof.at("entrance-main", "flat-1", MON, 480)
    assert (by_day.call.target, by_day.call.stages) == (DESK, (Stage(None, 30),))
    for minute in (479, 1080):
        assert proof.at("entrance-main", "flat-1", MON, minute).call.target == CALLED
    assert proof.at("entrance-main", "flat-1", SUN, NOON).call.target == CALLED
    # Etc/UTC: no timetable of the desk has a holiday window, so a holiday is as its weekday
    assert proof.at("entrance-main", "flat-1", day_index(0, holiday=True), NOON).call.target == DESK


def test_receivers_ring_in_turn_by_position() -> None:
    site = put(Dwelling, "flat-1", ring_mode=RingMode.IN_TURN, ring_s=20)(bare())
    walk, proof = proved(site)
    call = proof.at("entrance-rear", "flat-1", MON, NOON).call
    assert call.stages == (Stage(0, 20), Stage(1, 20))
    assert [unit.id for unit in receivers(walk, "flat-1")] == ["uru-1", "uru-1b"]
    assert tell_call(walk, call) == "the dwelling called rings on 2 receivers in turn, 20 s each"


def test_a_secondary_whose_primary_registers_nowhere_does_not_ring() -> None:
    walk, proof = proved(put(Unit, "uru-1", registrar=None)(bare()))
    assert receivers(walk, "flat-1") == ()
    assert proof.at("entrance-rear", "flat-1", MON, NOON).call.end is End.UNHEARD
    (found,) = [one for one in proof.unreached if one.entrance == "entrance-rear"]
    assert (found.dwellings, found.ever) == (("flat-1",), False)


# most particular first: dwelling and entrance, dwelling, entrance, neither; each case takes the winner away
LADDER = (
    ("flat-1", "entrance-rear", "flat-2"),
    ("flat-1", None, "flat-4"),
    (None, "entrance-rear", "flat-3"),
    (None, None, "smu-desk"),
)


@pytest.mark.parametrize("gone", range(5))
def test_the_most_particular_divert_wins(gone: int) -> None:
    diverts = [
        divert(f"d{n}", to, dwelling=dwelling, entrance=entrance) for n, (dwelling, entrance, to) in enumerate(LADDER)
    ]
    # identifiers stand against the order, so that rank alone can decide; what is looked at is the first step
    by_cause = [replace(one, cause=DivertCause.BUSY) for one in diverts[gone:]]
    _, proof = proved(replace(bare(), diverts=tuple(reversed(by_cause))))
    call = proof.at("entrance-rear", "flat-1", MON, NOON).call
    expected = (
        [Target(TargetKind.DWELLING, "flat-2"), Target(TargetKind.DWELLING, "flat-4"),
         Target(TargetKind.DWELLING, "flat-3"), DESK, None]
    )[gone]  # fmt: skip
    assert (call.busy.target if call.busy else None) == expected
    assert call.no_answer is None


def test_a_divert_with_hours_goes_before_one_without_inside_them() -> None:
    site = bare(
        diverts=(
            divert("d1", "flat-2", dwelling="flat-1"),
            divert("d2", "smu-desk", dwelling="flat-1", timetable="times-trade"),
        )
    )
    _, proof = proved(site)  # trade hours: Mon-Sat 07:00-10:00
    assert proof.at("entrance-rear", "flat-1", MON, 420).call.target == DESK
    assert proof.at("entrance-rear", "flat-1", MON, 600).call.target == Target(TargetKind.DWELLING, "flat-2")


def test_a_general_divert_passes_over_the_dwelling_it_leads_to() -> None:
    _, proof = proved(bare(diverts=(divert("d1", "flat-2"),)))
    assert proof.at("entrance-rear", "flat-1", MON, NOON).call.target == Target(TargetKind.DWELLING, "flat-2")
    assert proof.at("entrance-rear", "flat-2", MON, NOON).call.target == CALLED
    assert proof.rounds == ()


def test_a_loop_ends_the_call_and_is_told_with_its_chain_and_hours() -> None:
    no_answer = DivertCause.NO_ANSWER
    walk, proof = proved(
        bare(
            diverts=(
                divert("d1", "flat-2", dwelling="flat-1", cause=no_answer),
                divert("d2", "flat-1", dwelling="flat-2", cause=no_answer, timetable="times-trade"),
            )
        )
    )
    call = proof.at("entrance-rear", "flat-1", MON, 420).call
    assert call.no_answer is not None
    assert call.no_answer.no_answer is not None
    assert call.no_answer.no_answer.end is End.LOOP
    assert tell_call(walk, call).endswith(
        "goes round in a loop (the dwelling called, dwelling 102, the dwelling called)]"
    )
    ends = {(found.entrance, found.dwellings) for found in proof.rounds}
    assert ends == {
        (e, (f,)) for e in ("entrance-main", "entrance-rear", "entrance-gate") for f in ("flat-1", "flat-2")
    }
    rear = next(found for found in proof.rounds if found.entrance == "entrance-rear")
    assert rear.spans[0] == (420, 600)  # Monday 07:00-10:00


def test_outside_its_call_hours_an_entrance_is_silent() -> None:
    site = put(Entrance, "entrance-gate", name="Gate")(bare())
    hours = replace(
        site.timetables[0],
        id="t",
        name="Calls",
        entrance="entrance-gate",
        purpose=TimetablePurpose.CALL,
        windows=(Window(days=(0,), start_min=480, end_min=1080),),
        divert_to=None,
    )
    _, proof = proved(replace(site, timetables=(*site.timetables, hours)))
    assert proof.at("entrance-gate", "flat-1", MON, 479).call.end is End.SILENT
    assert proof.at("entrance-gate", "flat-1", MON, 480).call.target == CALLED
    assert proof.silent["entrance-gate"][0] == (0, 480)
    assert set(proof.silent) == {"entrance-gate"}


def test_a_door_without_rights_is_free_to_those_served_and_one_with_rights_to_its_holders_alone() -> None:
    right = ReleaseRight(id="r", door="door-rear", dwellings=("flat-2",), timetable="times-trade")
    _, proof = proved(replace(bare(), rights=(right,)))
    assert proof.at("entrance-gate", "flat-1", MON, 420).frees[0].doors == ("door-gate",)
    assert proof.at("entrance-rear", "flat-1", MON, 420).frees[0].doors == ()
    assert proof.at("entrance-rear", "flat-2", MON, 420).frees[0].doors == ("door-rear",)
    assert proof.at("entrance-rear", "flat-2", MON, 600).frees[0].doors == ()
    # the desk takes calls at the main entrance, which calls it
    assert proof.at("entrance-main", "flat-1", MON, NOON).frees[0].doors == ("door-main",)
    assert proof.freed_by_nobody == ()
    assert len(proof.groups("entrance-rear")) == 2
    assert len(proof.groups("entrance-gate")) == 1


def test_a_dwelling_that_takes_diverted_calls_and_has_the_right_is_told_as_a_stranger() -> None:
    site = both(
        put(Entrance, "entrance-gate", serves_dwellings=("flat-1",)),
        plus(
            divert("d1", "flat-2", dwelling="flat-1"),
            ReleaseRight(id="r", door="door-gate", dwellings=("flat-2",)),
        ),
    )(bare())
    _, proof = proved(site)
    assert proof.freed_by_strangers == (("door-gate", Target(TargetKind.DWELLING, "flat-2")),)


def test_a_call_that_is_sent_on_too_often_ends() -> None:
    homes = [Dwelling(id=f"h{n}", door_label=f"H{n}", core="core-a", level="level-1") for n in range(8)]
    chain = [divert(f"d{n}", f"h{n + 1}", dwelling=f"h{n}") for n in range(7)]
    site = bare(diverts=tuple(chain))
    _, proof = proved(replace(site, dwellings=(*site.dwellings, *homes)))
    # from h2 it is sent on five times, to h7; from h1 it would be six
    assert proof.at("entrance-rear", "h2", MON, NOON).call.end is End.UNHEARD
    assert proof.at("entrance-rear", "h1", MON, NOON).call.end is End.TOO_OFTEN


def test_questions_about_what_is_not_there_are_refused() -> None:
    _, proof = proved(bare())
    with pytest.raises(LookupError, match="does not serve"):
        proof.stretches("entrance-main", "flat-9")
    with pytest.raises(ValueError, match="days are 0 to 27"):
        proof.at("entrance-main", "flat-1", 28, 0)
