"""What to correct where a call went otherwise than proved: where to look follows what differs first."""

from datetime import UTC, date, datetime

import pytest

from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.verdict import Subject
from doorwright.model.aspect import Aspect
from doorwright.model.rehearsed import CALLS, Apart, call_aspect, sum_text
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules import found
from doorwright.rules.catalogue import rules_of
from doorwright.rules.differences import differences
from doorwright.rules.judge import Assessment, judge
from doorwright.rules.rule import Facts
from doorwright.rules.sound import sound_site

PROVED = "URU 101 rang; URU 101 took it; digit 1 freed Main door"
REAR = Subject(Unit.KIND, "vcu-rear")


def seen(aspect: str, value: str, subject: Subject = REAR, stage: Stage = Stage.REHEARSED) -> Observation:
    return Observation(
        id=f"{subject.id}-{aspect}", stage=stage, subject=subject, aspect=aspect, value=value,
        seen_at=datetime(2031, 5, 5, 12, 0, tzinfo=UTC), seen_by="A. Planner",
    )  # fmt: skip


def judged(one: Observation) -> Assessment:
    facts = Facts(Walk(sound_site()), None, date(2031, 5, 6), observations=what_counts([one], one.stage))
    return judge(facts, rules_of(found))


def apart(happened: str, proved: str = PROVED, count: int = 3) -> Observation:
    told = Apart(count=count, of_count=3, when="Mon 08:00", happened=happened, proved=proved)
    return seen(call_aspect("key 1.1 to 101"), str(told))


# where to look is common practice, as the table of what goes wrong in docs/explain/rehearsal.md has it


@pytest.mark.parametrize(
    ("one", "words"),
    [
        (apart("no call goes through"), ("at VCU rear", "call hours", "clock")),
        (apart(PROVED, "no call goes through"), ("at VCU rear", "call hours", "clock")),
        (apart("nothing rang"), ("registered", "at VCU rear what key 1.1 calls", "at VCU main who rings")),
        (apart("URU 102 rang; URU 102 took it; no door freed"), ("at VCU rear what key 1.1 calls", "whoever rang")),
        (apart("URU 102 rang", count=1), ("hours, and its clock",)),
        (apart("URU 101 rang"), ("muted", "busy")),
        (apart(f"{PROVED}; speech one way or not at all"), ("RTP", "gateways")),
        (apart(PROVED, f"{PROVED}; the visitor was seen"), ("picture codecs", "links")),
        (apart("URU 101 rang; URU 101 took it; no door freed"), ("which digit frees which door", "RFC 4733")),
    ],
)
def test_where_to_look_follows_what_differs_first(one: Observation, words: tuple[str, ...]) -> None:
    (difference,) = differences(Walk(sound_site()), what_counts([one], Stage.REHEARSED))
    assert [word for word in words if word not in difference.to_do] == []
    assert (difference.part.label, difference.aspect) == ("VCU rear", "call: key 1.1 to 101")


def test_the_finding_tells_of_the_rehearsal_and_of_both_outcomes() -> None:
    (finding,) = judged(apart("nothing rang", count=2)).findings
    assert finding.rule == "found-call-differs"
    assert "key 1.1 to 101: 2 of 3 calls went otherwise than proved, first Mon 08:00: nothing rang" in finding.message
    assert f"proved: {PROVED}, in the rehearsal of 2031-05-05" in finding.message
    assert "found" not in finding.message


def test_calls_that_all_went_as_proved_are_judged_and_hold() -> None:
    assert judged(seen(CALLS, sum_text(3, 3))).findings == ()
    assert judged(seen(CALLS, sum_text(2, 3))).findings == ()  # the calls themselves have their own lines


def test_a_setting_is_told_of_a_rehearsed_building_as_rehearsed_and_of_a_real_one_as_found() -> None:
    uru = Subject(Unit.KIND, "uru-2")
    (rehearsed,) = judged(seen(Aspect.ADDRESS, "192.0.2.99", uru)).findings
    assert "URU 102 (dwelling 102): IP address 192.0.2.99 in the rehearsal of 2031-05-05, planned" in rehearsed.message
    (real,) = judged(seen(Aspect.ADDRESS, "192.0.2.99", uru, Stage.FOUND)).findings
    assert "found IP address 192.0.2.99 on 2031-05-05, planned" in real.message


def test_nobody_waits_for_a_rehearsed_unit_to_register() -> None:
    uru = Subject(Unit.KIND, "uru-2")
    (rehearsed,) = judged(seen(Aspect.REGISTERED, "no", uru)).findings
    assert "wait" not in rehearsed.message
    assert "the room at its registrar" in rehearsed.message
    (real,) = judged(seen(Aspect.REGISTERED, "no", uru, Stage.FOUND)).findings
    assert "wait some minutes" in real.message
