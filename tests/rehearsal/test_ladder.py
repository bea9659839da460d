"""The ladder of a call: who takes part, in which order, what they send; each packet once."""

from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.model.walk import Walk
from doorwright.rehearse.actors import Mood
from doorwright.rehearse.box import KeyForm
from doorwright.rehearse.building import Building
from doorwright.rehearse.journal import Deed, Entry
from doorwright.rehearse.ladder import Happened, Ladder, Noted, Sent, Sort, is_of_a_call, ladder_of
from doorwright.rehearse.planned import planned
from doorwright.rehearse.wire import Carried
from tests.rehearsal.shared_router import GATE, INSIDE, OUTSIDE, RECEIVER_3, ROUTER, call_behind_it
from tests.rehearsal.yard import YARD

WALK = Walk(YARD)
MONDAY_0700 = 7 * 60


def happened_in(
    unit: str,
    number: str,
    *,
    loss_ratio: float = 0.0,
    seed: int = 0,
    says: KeyForm = KeyForm.EVENT,
    deaf: str = "",
    **moods: Mood,
) -> tuple[Ladder, Sequence[Happened]]:
    """Return the ladder of one call at seven on Monday, and what happened."""
    plan = planned(WALK)
    boxes = {
        ident: replace(box, says=says, hears=frozenset(KeyForm), deaf=ident == deaf)
        for ident, box in plan.boxes.items()
    }
    building = Building(boxes.values(), plan.nets, seed=seed, loss_ratio=loss_ratio)
    building.power_up()
    happened: list[Happened] = []
    building.wire.heard = building.journal.told = happened.append
    named = {ident.replace("_", "-"): mood for ident, mood in moods.items()}
    building.visit(unit, number, minute=MONDAY_0700, moods=named)
    return ladder_of(WALK, {ident: actor.box for ident, actor in building.actors.items()}, happened), happened


def told(ladder: Ladder) -> list[str]:
    """Return the steps in words: "who>whom what" and "who: what"."""
    names = [one.name for one in ladder.participants]
    return [
        f"{names[one.at]}: {one.words}"
        if isinstance(one, Noted)
        else f"{names[one.sender]}>{names[one.taker]} {one.words}"
        for one in ladder.steps
    ]


def test_a_call_that_is_taken() -> None:
    """Message by message as in RFC 3665 §3.1, from the gate (which routes) straight to the receiver."""
    ladder, _ = happened_in("vcu-gate", "01", uru_1=Mood.ANSWERS)
    assert [one.name for one in ladder.participants] == ["Gate unit", "Receiver 1"]
    assert [one.part for one in ladder.participants] == ["vcu-gate", "uru-1"]
    assert told(ladder) == [
        "Gate unit: visitor calls 01",
        "Gate unit>Receiver 1 INVITE 01",
        "Receiver 1: rang",
        "Receiver 1>Gate unit 180 Ringing (INVITE)",
        "Receiver 1: took the call",
        "Receiver 1>Gate unit 200 OK (INVITE)",
        "Gate unit>Receiver 1 ACK 01",
        "Gate unit>Receiver 1 speech",
        "Receiver 1: heard the other end",
        "Receiver 1>Gate unit speech",
        "Gate unit: heard the other end",
        "Receiver 1>Gate unit key 1",
        "Gate unit: digit 1 freed Gate leaf",
        "Gate unit>Receiver 1 report: speech came, none lost",
        "Receiver 1>Gate unit key 2",
        "Receiver 1>Gate unit report: speech came, none lost",
        "Receiver 1>Gate unit BYE vcu-0",
        "Gate unit: call over",
        "Gate unit>Receiver 1 200 OK (BYE)",
    ]


def test_speech_one_way_shows_in_the_reports() -> None:
    """RFC 3550 §6.4.1: who has heard nobody reports on nobody."""
    ladder, _ = happened_in("vcu-gate", "01", deaf="uru-1", uru_1=Mood.ANSWERS)
    assert [line for line in told(ladder) if "report" in line] == [
        "Gate unit>Receiver 1 report: speech came, none lost",
        "Receiver 1>Gate unit report: no speech came",
    ]


def test_time_counts_from_the_first_step() -> None:
    """Somebody answers after 2 s, a packet takes 1 ms, speech is said at once, after 1 s and after 2 s."""
    ladder, _ = happened_in("vcu-gate", "01", uru_1=Mood.ANSWERS)
    sent = [one for one in ladder.steps if isinstance(one, Sent)]
    assert ladder.steps[0].at_s == 0.0
    answer = next(one for one in sent if one.words == "200 OK (INVITE)")
    speech = next(one for one in sent if one.sort is Sort.SPEECH)
    assert answer.at_s == pytest.approx(2.001)
    assert speech.at_s == pytest.approx(2.002)
    assert speech.until_s == pytest.approx(4.002)
    assert len(speech.packets) == 3


def test_receivers_in_turn_come_in_as_they_are_called_and_are_cancelled() -> None:
    ladder, _ = happened_in("vcu-porch", "02", uru_2b=Mood.LETS_RING)
    names = [one.name for one in ladder.participants]
    assert names == ["Porch unit", "Gate unit", "Receiver 2", "Receiver 2 bedroom", "Desk"]
    said = told(ladder)
    cancelled = said.index("Receiver 2>Receiver 2 bedroom CANCEL 02-1")
    assert said.index("Receiver 2 bedroom: rang") < cancelled
    assert cancelled < said.index("Receiver 2 bedroom>Receiver 2 487 Request Terminated (INVITE)")
    assert said.index("Receiver 2>Gate unit 480 Temporarily Unavailable (INVITE)") < said.index("Desk: rang")


def test_keys_told_by_info() -> None:
    ladder, _ = happened_in("vcu-gate", "01", says=KeyForm.INFO, uru_1=Mood.ANSWERS)
    said = told(ladder)
    assert said.index("Receiver 1>Gate unit INFO vcu-0 key 1") < said.index("Gate unit: digit 1 freed Gate leaf")
    assert [one for one in ladder.steps if isinstance(one, Sent) and one.sort is Sort.KEY] == []


def test_a_packet_to_an_address_that_nobody_has() -> None:
    _, happened = happened_in("vcu-gate", "01", uru_1=Mood.ANSWERS)
    invite = next(one for one in happened if isinstance(one, Carried))
    gone = replace(invite, to=("198.51.100.99", 5060), taker=None, arrived=False)
    ladder = ladder_of(WALK, planned(WALK).boxes, [gone])
    assert [(one.part, one.name, one.address) for one in ladder.participants] == [
        ("vcu-gate", "Gate unit", "192.0.2.10"),
        ("", "nobody there", "198.51.100.99"),
    ]
    (step,) = ladder.steps
    assert isinstance(step, Sent)
    assert step.lost


def test_a_registration_amid_the_call_is_left_out() -> None:
    _, happened = happened_in("vcu-gate", "01", uru_1=Mood.ANSWERS)
    invite = next(one for one in happened if isinstance(one, Carried))
    register = replace(invite, data=invite.data.replace(b"INVITE", b"REGISTER"))
    answer = replace(invite, data=b"SIP/2.0 401 Unauthorized\r\nCSeq: 1 REGISTER\r\n\r\n")
    entry = Entry(0.0, Deed.NOT_REGISTERED, "uru-3", "408")
    assert [is_of_a_call(one) for one in (register, answer, entry, invite)] == [False, False, False, True]
    assert ladder_of(WALK, planned(WALK).boxes, [register, answer, entry]) == Ladder((), ())


def test_what_cannot_be_read_is_a_step_as_well() -> None:
    _, happened = happened_in("vcu-gate", "01", uru_1=Mood.ANSWERS)
    invite = next(one for one in happened if isinstance(one, Carried))
    ladder = ladder_of(WALK, planned(WALK).boxes, [replace(invite, data=b"\x00?")])
    assert told(ladder) == ["Gate unit>Receiver 1 cannot be read"]


@settings(max_examples=15, deadline=None)
@given(
    seed=st.integers(0, 10_000),
    loss_ratio=st.sampled_from([0.0, 0.1, 0.3, 0.5]),
    number=st.sampled_from(["01", "02", "04"]),
    unit=st.sampled_from(["vcu-gate", "vcu-porch"]),
)
def test_each_packet_of_a_call_is_in_one_step(seed: int, loss_ratio: float, number: str, unit: str) -> None:
    answers = Mood.ANSWERS
    ladder, happened = happened_in(
        unit, number, seed=seed, loss_ratio=loss_ratio, uru_1=answers, uru_2b=answers, uru_3=answers
    )  # fmt: skip
    sent = [one for one in ladder.steps if isinstance(one, Sent)]
    shown = [place for one in sent for place in one.packets]
    packets = [place for place, one in enumerate(happened) if isinstance(one, Carried) and is_of_a_call(one)]
    assert sorted(shown) == packets  # all, and none twice
    assert sum(one.lost_count for one in sent) == sum(
        not one.arrived for one in happened if isinstance(one, Carried) and is_of_a_call(one)
    )
    for one in sent:  # each in a step of its own two ends
        for place in one.packets:
            packet = happened[place]
            assert isinstance(packet, Carried)
            assert packet.jack.address == ladder.participants[one.sender].address
            assert packet.to[0] == ladder.participants[one.taker].address
    assert [one.at_s for one in ladder.steps] == sorted(one.at_s for one in ladder.steps)


def test_a_message_sent_again_says_so() -> None:
    """RFC 3261 §17.1.1.2: an INVITE without an answer is sent again after T1 = 0.5 s, then after 2 T1 more."""
    plan = planned(WALK)
    _, happened = happened_in("vcu-gate", "01", uru_1=Mood.ANSWERS)
    invite = next(one for one in happened if isinstance(one, Carried))
    copies = [replace(invite, at_s=invite.at_s + late_s, arrived=late_s == 1.5) for late_s in (0.0, 0.5, 1.5)]
    ladder = ladder_of(WALK, plan.boxes, copies)
    assert [(one.again, one.lost) for one in ladder.steps if isinstance(one, Sent)] == [
        (False, True), (True, True), (True, False),
    ]  # fmt: skip


def test_a_shared_router_is_one_participant_between_two() -> None:
    ladder, packets = call_behind_it()
    assert [(one.part, one.name, one.address) for one in ladder.participants] == [
        ("vcu-gate", "Gate unit", GATE),
        ("", ROUTER, f"{OUTSIDE} and {INSIDE}"),
        ("uru-3", "Receiver 3", RECEIVER_3),
    ]
    said = [one.partition(" (")[0] for one in told(ladder)]
    assert said[0] == "Gate unit: visitor calls 03"
    assert said[1:5] == [
        f"Gate unit>{ROUTER} INVITE 03",
        f"{ROUTER}>Receiver 3 INVITE 03",
        "Receiver 3: rang",
        f"Receiver 3>{ROUTER} 180 Ringing",
    ]
    sent = [one for one in ladder.steps if isinstance(one, Sent)]
    router = 1
    assert all(router in (one.sender, one.taker) for one in sent)  # nothing goes past it
    assert sum(len(one.packets) for one in sent) == len(packets)
    assert {one.sort for one in sent} >= {Sort.REQUEST, Sort.RESPONSE, Sort.SPEECH, Sort.KEY}
