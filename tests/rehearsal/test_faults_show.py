"""Each fault put in on purpose shows the symptom that the trade sees (common practice)."""

import pytest

from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse.building import Building
from doorwright.rehearse.faults import FAULTS, UnfitError, with_faults
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import Rehearsal, rehearse
from doorwright.rehearse.symptoms import Symptom, symptoms
from doorwright.rehearse.world import World
from tests.rehearsal.yard import YARD

WALK = Walk(YARD)
PLAN = planned(WALK)
PROOF = prove(WALK)

# The left column is the trade's table of causes, the right one what it says is seen (common practice).
SEEN = {
    ("port-off", "uru-3"): Symptom("uru-3", Look.DARK),
    ("wrong-vlan", "uru-3"): Symptom("uru-3", Look.NO_REPLY),
    ("address-twice", "uru-3"): Symptom("uru-3", Look.TWO_MACS, "*"),
    ("wrong-gateway", "uru-3"): Symptom("uru-3", Look.NEAR_ONLY),
    ("registrar-address", "uru-3"): Symptom("uru-3", Look.NO_ATTEMPT),
    ("wrong-secret", "uru-3"): Symptom("uru-3", Look.REFUSED_401),
    ("wrong-secret", "vcu-porch"): Symptom("vcu-porch", Look.REFUSED_401),
    ("number-swapped", "uru-3"): Symptom("home-3", Look.RINGS_ELSEWHERE),
    ("number-twice", "uru-3"): Symptom("*", Look.TWO_RING),
    ("not-entered", "uru-3"): Symptom("uru-3", Look.REFUSED_404),
    ("registrar-full", "vcu-gate"): Symptom("*", Look.REFUSED_403),
    ("settings-cleared", "uru-3"): Symptom("uru-3", Look.ELSEWHERE, "192.168.1.100"),
    ("key-wrong", "vcu-porch"): Symptom("vcu-porch", Look.ONE_KEY, "*"),
    ("timetable-wrong", "vcu-gate"): Symptom("vcu-gate", Look.SOME_HOURS),
    ("clock-wrong", "vcu-gate"): Symptom("vcu-gate", Look.SOME_HOURS),
    ("muted", "uru-1"): Symptom("home-1", Look.NOT_HEARD),
    ("speech-blocked", "uru-1"): Symptom("home-1", Look.ONE_WAY),
    ("speech-blocked", "vcu-porch"): Symptom("vcu-porch", Look.ONE_WAY),
    ("release-digit", "vcu-porch"): Symptom("vcu-porch", Look.RELEASE_DEAD),
    ("release-form", "vcu-porch"): Symptom("vcu-porch", Look.RELEASE_DEAD),
    ("release-contact", "vcu-porch"): Symptom("vcu-porch", Look.OTHER_DOOR),
}


def rehearsed(*faults: tuple[str, str | None], seed: int = 4) -> Rehearsal:
    boxes, _ = with_faults(PLAN, faults, chance=World(seed=seed).chance("faults"))
    return rehearse(WALK, PROOF, PLAN, Building(boxes.values(), PLAN.nets, seed=seed))


def is_like(seen: Symptom, wanted: Symptom) -> bool:
    return (
        seen.look is wanted.look and wanted.part in (seen.part, "*") and wanted.about in (seen.about, "*")
    )  # fmt: skip


def test_every_fault_has_a_case_and_says_what_it_looks_like() -> None:
    assert {(name, symptom.look) for (name, _), symptom in SEEN.items()} == {(f.name, f.look) for f in FAULTS.values()}


@pytest.mark.parametrize(("fault", "at"), SEEN, ids=lambda text: text)
def test_the_fault_shows_what_the_trade_sees(fault: str, at: str) -> None:
    made = rehearsed((fault, at))
    seen = symptoms(PLAN, made)
    assert any(is_like(one, SEEN[fault, at]) for one in seen), seen
    off_line = [actor for actor in made.building.actors.values() if actor.registered is False]
    assert made.differing or off_line


@pytest.mark.parametrize("fault", ["port-off", "wrong-vlan", "wrong-secret", "registrar-address", "not-entered"])
def test_only_the_unit_with_the_fault_is_off_line(fault: str) -> None:
    actors = rehearsed((fault, "uru-3")).building.actors
    assert {ident for ident, actor in actors.items() if actor.registered is False} == {"uru-3"}


def test_attempts_with_a_wrong_secret_go_on_for_ever() -> None:
    desk = rehearsed(("wrong-secret", "uru-3")).building.actors["vcu-gate"].desk
    assert desk is not None
    codes = [one.code for one in desk.attempts if one.address == "198.51.100.13"]
    assert len(codes) > 4
    assert set(codes) == {401}


def test_swapped_numbers_ring_each_other() -> None:
    made = rehearsed(("number-swapped", "uru-1"))
    heard = {one.play.key: one.happened.rang for one in made.differing if not one.play.way and one.play.key}
    assert heard["key 0.1"]
    assert all("uru-1" not in group for group in heard["key 0.1"])


def test_two_homes_ring_where_a_number_was_entered_twice() -> None:
    groups = [group for one in rehearsed(("number-twice", "uru-3")).differing for group in one.happened.rang]
    assert any(len(group) == 2 and "uru-3" in group for group in groups)


def test_a_clock_that_is_late_by_an_hour_fails_at_the_edges_alone() -> None:
    made = rehearsed(("clock-wrong", "vcu-gate"))
    minutes = {one.play.minute for one in made.differing}
    # an hour late, the gate still rings homes at 08:00, and at 17:59 it is still office: 16:59 by its clock
    assert minutes == {8 * 60}


def test_a_fault_does_not_fit_everywhere() -> None:
    with pytest.raises(UnfitError, match="Receiver 1"):
        with_faults(PLAN, (("key-wrong", "uru-1"),), chance=World().chance("faults"))


def test_chance_picks_a_unit_that_can_have_the_fault() -> None:
    for name in FAULTS:
        boxes, (where,) = with_faults(PLAN, ((name, None),), chance=World().chance("faults"))
        assert where in PLAN.boxes
        assert boxes != PLAN.boxes


def test_the_plan_itself_is_left_as_it_was() -> None:
    before = dict(PLAN.boxes)
    rehearsed(("port-off", "uru-1"), ("wrong-secret", "uru-3"))
    assert PLAN.boxes == before
