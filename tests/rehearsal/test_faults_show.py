"""Each fault put in on purpose shows the symptom that the trade sees (common practice)."""

from dataclasses import replace

import pytest

from doorwright.model.network import SipServer
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.rehearse.building import Building
from doorwright.rehearse.faults import FAULTS, UnfitError, with_faults
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import planned
from doorwright.rehearse.rehearsal import Rehearsal, rehearse
from doorwright.rehearse.symptoms import Symptom, symptoms
from doorwright.rehearse.world import World
from tests.rehearsal.wired_yard import WIRED_YARD

WALK = Walk(WIRED_YARD)
PLAN = planned(WALK)
PROOF = prove(WALK)

SERVED_WALK = Walk(
    WIRED_YARD.with_tables(
        {
            SipServer: (SipServer(id="server", name="Server", address="192.0.2.5"),),
            Unit: tuple(
                replace(unit, registrar="server") if unit.registrar in (None, "vcu-gate") else unit
                for unit in WIRED_YARD.units
            ),
        }
    )
)
"""The same yard with a server: whatever registered with the gate, and the gate itself, registers there."""

# The left column is the trade's table of causes, the right one what it says is seen (common practice).
SEEN = {
    ("port-off", "uru-3"): Symptom("uru-3", Look.DARK),
    ("open-pair", "uru-3"): Symptom("uru-3", Look.DARK),
    ("poe-budget", "uru-4"): Symptom("uru-4", Look.DARK),
    ("bad-pair", "vcu-porch"): Symptom("vcu-porch", Look.POOR_LINK, "*"),
    ("wrong-vlan", "uru-3"): Symptom("uru-3", Look.NO_REPLY),
    ("address-twice", "uru-3"): Symptom("uru-3", Look.TWO_MACS, "*"),
    ("wrong-gateway", "uru-3"): Symptom("uru-3", Look.NEAR_ONLY),
    ("registrar-address", "uru-3"): Symptom("uru-3", Look.NO_ATTEMPT),
    ("wrong-secret", "uru-3"): Symptom("uru-3", Look.REFUSED_401),
    ("wrong-secret", "vcu-porch"): Symptom("vcu-porch", Look.REFUSED_401),
    ("number-swapped", "uru-3"): Symptom("home-3", Look.RINGS_ELSEWHERE),
    ("number-twice", "uru-3"): Symptom("*", Look.TWO_RING),
    ("not-entered", "uru-3"): Symptom("uru-3", Look.REFUSED_404),
    ("wrong-serial", "uru-3"): Symptom("uru-3", Look.REFUSED_403),
    ("registrar-full", "vcu-gate"): Symptom("*", Look.REFUSED_403),
    ("server-full", "server"): Symptom("*", Look.REFUSED_503),
    ("firmware-step", "uru-3"): Symptom("uru-3", Look.NEVER_THOUGH),
    ("settings-cleared", "uru-3"): Symptom("uru-3", Look.ELSEWHERE, "192.168.1.100"),
    ("key-wrong", "vcu-porch"): Symptom("vcu-porch", Look.ONE_KEY, "*"),
    ("timetable-wrong", "vcu-gate"): Symptom("vcu-gate", Look.SOME_HOURS),
    ("clock-wrong", "vcu-gate"): Symptom("vcu-gate", Look.SOME_HOURS),
    ("muted", "uru-1"): Symptom("home-1", Look.NOT_HEARD),
    ("speech-blocked", "uru-1"): Symptom("home-1", Look.ONE_WAY),
    ("speech-blocked", "vcu-porch"): Symptom("vcu-porch", Look.ONE_WAY),
    ("speech-address", "uru-1"): Symptom("home-1", Look.ONE_WAY),
    ("codec-kept", "uru-1"): Symptom("home-1", Look.ONE_WAY),
    ("codec-not-shared", "uru-3"): Symptom("home-3", Look.NO_CODEC),
    ("codec-not-shared", "uru-2b"): Symptom("home-2", Look.NO_CODEC),
    ("picture-codec", "uru-1"): Symptom("home-1", Look.NO_PICTURE),
    ("picture-profile", "uru-1"): Symptom("home-1", Look.NO_PICTURE),
    ("uplink-full", "uru-1"): Symptom("vcu-porch", Look.NO_PICTURE),
    ("release-digit", "vcu-porch"): Symptom("vcu-porch", Look.RELEASE_DEAD),
    ("release-form", "vcu-porch"): Symptom("vcu-porch", Look.RELEASE_DEAD),
    ("right-missing", "vcu-porch"): Symptom("vcu-porch", Look.RELEASE_DEAD),
    ("release-contact", "vcu-porch"): Symptom("vcu-porch", Look.OTHER_DOOR),
    ("lock-cable", "vcu-porch"): Symptom("door-porch", Look.HELD),
    ("lock-supply", "vcu-porch"): Symptom("door-store", Look.HELD),
    ("strike-misaligned", "vcu-porch"): Symptom("door-porch", Look.HELD),
    ("release-short", "vcu-gate"): Symptom("door-gate", Look.HELD),
    ("no-standby", "uru-1"): Symptom("supply-b", Look.CUT, "6 units dark at once"),
    ("battery-old", "uru-1"): Symptom("supply-b", Look.CUT, "*"),
    ("registrations-lapse", "vcu-gate"): Symptom("uru-1", Look.CUT, "*"),
    ("router-rewrites", "uru-1"): Symptom("home-1", Look.THROUGH_ROUTER),
    ("router-forgets", "uru-1"): Symptom("home-1", Look.THROUGH_ROUTER),
}

# Every row of the trade's table of what goes wrong, in our words, and the faults that put each of its causes in.
ROWS = {
    "no power or no wire at one port": {"port-off", "poe-budget", "open-pair"},
    "a pair or connector that is bad, not broken": {"bad-pair"},
    "plugged into another VLAN": {"wrong-vlan"},
    "two units with one address": {"address-twice"},
    "the mask or the gateway entered wrongly": {"wrong-gateway"},
    "the registrar looked for at another address": {"registrar-address"},
    "the SIP secret not the same at both ends": {"wrong-secret"},
    "the call number not the same, or given twice": {"number-swapped", "number-twice"},
    "not entered at the registrar, or with another serial": {"not-entered", "wrong-serial"},
    "no room at the registrar": {"registrar-full", "server-full"},
    "firmware with another pairing": {"firmware-step"},
    "firmware that cleared the settings": {"settings-cleared"},
    "a key with another number": {"key-wrong"},
    "hours entered wrongly, or a clock that is": {"timetable-wrong", "clock-wrong"},
    "a receiver muted": {"muted"},
    "speech that does not come through": {"speech-blocked", "speech-address", "codec-kept", "codec-not-shared"},
    "a picture that does not come through": {"picture-codec", "picture-profile", "uplink-full"},
    "a release that is not understood, not allowed, or at another door": {
        "release-digit", "release-form", "right-missing", "release-contact",
    },
    "a lock that is freed and holds": {"lock-cable", "lock-supply", "strike-misaligned", "release-short"},
    "the mains fail": {"no-standby", "battery-old", "registrations-lapse"},
    "a router between that meddles": {"router-rewrites", "router-forgets"},
}  # fmt: skip


def rehearsed(*faults: tuple[str, str | None], seed: int = 4, walk: Walk = WALK) -> Rehearsal:
    plan = PLAN if walk is WALK else planned(walk)
    faulty, _ = with_faults(plan, faults, chance=World(seed=seed).chance("faults"))
    building = Building(
        faulty.boxes.values(), faulty.nets, plant=faulty.plant, power_cut_min=faulty.power_cut_min, seed=seed
    )
    return rehearse(walk, PROOF if walk is WALK else prove(walk), plan, building)


def is_like(seen: Symptom, wanted: Symptom) -> bool:
    return (
        seen.look is wanted.look and wanted.part in (seen.part, "*") and wanted.about in (seen.about, "*")
    )  # fmt: skip


def test_every_fault_has_a_case_and_says_what_it_looks_like() -> None:
    assert {(name, symptom.look) for (name, _), symptom in SEEN.items()} == {(f.name, f.look) for f in FAULTS.values()}


def test_every_row_of_the_table_has_its_faults_and_every_fault_a_row() -> None:
    assert len(ROWS) == 21  # the rows of the trade's table, counted by hand
    assert sorted(name for names in ROWS.values() for name in names) == sorted(FAULTS)


def test_without_a_fault_nothing_is_seen() -> None:
    for walk in (WALK, SERVED_WALK):
        made = rehearsed(walk=walk)
        assert not made.differing
        assert symptoms(planned(walk), made) == ()


@pytest.mark.parametrize(("fault", "at"), SEEN, ids=lambda text: text)
def test_the_fault_shows_what_the_trade_sees(fault: str, at: str) -> None:
    walk = SERVED_WALK if at == "server" else WALK
    seen = symptoms(planned(walk), rehearsed((fault, at), walk=walk))
    assert any(is_like(one, SEEN[fault, at]) for one in seen), seen


@pytest.mark.parametrize(
    "fault",
    ["port-off", "open-pair", "wrong-vlan", "wrong-secret", "registrar-address", "not-entered", "wrong-serial"],
)
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
        plan = planned(SERVED_WALK) if name == "server-full" else PLAN
        faulty, (where,) = with_faults(plan, ((name, None),), chance=World().chance("faults"))
        assert where in plan.boxes
        assert faulty != plan


def test_the_plan_itself_is_left_as_it_was() -> None:
    before = dict(PLAN.boxes)
    rehearsed(("port-off", "uru-1"), ("wrong-secret", "uru-3"))
    assert PLAN.boxes == before
